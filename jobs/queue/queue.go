// Package queue moves tasks from a publisher to workers on any machines, and
// their results back, over a NATS server with JetStream. It knows nothing of
// what a task or a result means: both are bytes under a key.
//
// A publisher hands over tasks and waits:
//
//	p, err := queue.NewPublisher(ctx, o)
//	r, err := p.Do(ctx, queue.Task{Key: hash, Payload: gang})
//
// and a worker, in as many processes as there are, takes them:
//
//	err := queue.Work(ctx, o, func(ctx context.Context, t queue.Task) ([]byte, error) { … })
//
// What is on the server:
//
//   - A work-queue stream with one message a task, on a subject made of the
//     publisher's version and the task's key. A key that waits already is not
//     stored twice. A worker's consumer sees only the subjects of its own
//     version, so it cannot use up the tries of a task that others could do.
//   - A key-value bucket with the outcome of every task and the tries of those
//     at work. An outcome is created, never overwritten: the first result of a
//     key counts, whoever else finishes the same task later.
//   - An object store with results, and with payloads too large for a message.
//     They are found through the outcome or the message and never overwritten.
//
// A worker acknowledges a task only after its outcome is stored, and tells the
// server again and again that it is at work. Where it dies the server hands
// the task to another one; where the server forgets a task, its publisher
// publishes it again.
package queue

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"regexp"
	"strings"
	"time"
)

// Task is one piece of work.
type Task struct {
	// Key names the task and everything that went into it: two tasks of one
	// key are one task. From 1 to 1,000 bytes; any text.
	Key string
	// Name is what logs call the task beside its key, up to 1,000 bytes; it
	// may be empty.
	Name    string
	Payload []byte
}

// Handler does one task. It returns soon after ctx ends: with its result so
// far where context.Cause(ctx) is ErrWithdrawn (the result is then handed over
// as cut short), with anything otherwise. An error or a panic is a failed try.
type Handler func(ctx context.Context, t Task) ([]byte, error)

// Result of a task.
type Result struct {
	Data   []byte
	Worker string // host name and process of who did it
	// CutShort says that the publisher's context ended and this is what the
	// worker had by then. It is not kept on the server.
	CutShort bool
}

// ErrWithdrawn is the cause with which a handler's context ends when the
// publisher no longer waits for the task.
var ErrWithdrawn = errors.New("the task was withdrawn")

// Aside is the error of a task that was set aside after its last try.
type Aside struct {
	Reasons []string // why each try failed, oldest first
}

func (a *Aside) Error() string {
	return fmt.Sprintf("set aside after %d tries: %s", len(a.Reasons), strings.Join(a.Reasons, "; "))
}

// Options of publishers and workers. Server and Version must be given; every
// other zero value means what its comment says.
type Options struct {
	// Server is the address, such as nats://host:4222 or tls://host:4222, or
	// several of one cluster with commas between them. It holds no user and
	// no password.
	Server string
	// Files that hold secrets and certificates.
	Files Files
	// Name of the queue, for several on one server: letters, digits, - and _;
	// "" is laneplan.
	Name string
	// Version of the program and Format of its payloads. A worker takes only
	// tasks of its own version and format.
	Version string
	Format  int
	// Log is told what happens; nil tells nobody.
	Log *slog.Logger

	// Jobs is how many tasks a worker does at a time; 0 is 1.
	Jobs int
	// InFlight is how many tasks a publisher has on the queue at a time; 0 is
	// 64.
	InFlight int
	// Waiting is how many tasks wait on the queue or are at work, of all its
	// publishers; more are refused, and their publishers wait. It counts when
	// the queue is made; 0 is 10,000.
	Waiting int
	// AckWait is how long the server waits for a sign of life before it hands
	// a task to another worker; 0 is 30 seconds.
	AckWait time.Duration
	// Tries is how often a task is tried before it is set aside; 0 is 3. A
	// task that a worker gives back is not a try.
	Tries int
	// RetryWait is how long a failed task rests; 0 is 5 seconds.
	RetryWait time.Duration
	// Grace is how long a worker takes to end, and how long a publisher waits
	// for a result that is cut short; 0 is 5 seconds.
	Grace time.Duration
	// Look is how often those who wait look for what they may have missed; 0
	// is 5 seconds.
	Look time.Duration
}

// nameForm is what JetStream allows in names of streams and buckets.
var nameForm = regexp.MustCompile(`^[A-Za-z0-9_-]{1,40}$`)

// settle fills in the defaults and refuses what makes no sense.
func (o Options) settle() (Options, error) {
	for _, n := range []struct {
		name  string
		value int
	}{{"Jobs", o.Jobs}, {"InFlight", o.InFlight}, {"Waiting", o.Waiting}, {"Tries", o.Tries}, {"Format", o.Format},
		{"AckWait", int(o.AckWait)}, {"RetryWait", int(o.RetryWait)}, {"Grace", int(o.Grace)}, {"Look", int(o.Look)}} {
		if n.value < 0 {
			return o, fmt.Errorf("queue: %s %d is negative", n.name, n.value)
		}
	}
	if o.Version == "" {
		return o, errors.New("queue: no Version is given")
	}
	defaultTo(&o.Name, "laneplan")
	if !nameForm.MatchString(o.Name) {
		return o, fmt.Errorf("queue: Name %q: want up to 40 letters, digits, - and _", o.Name)
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	defaultTo(&o.Jobs, 1)
	defaultTo(&o.InFlight, 64)
	defaultTo(&o.Waiting, 10_000)
	defaultTo(&o.AckWait, 30*time.Second)
	defaultTo(&o.Tries, 3)
	defaultTo(&o.RetryWait, 5*time.Second)
	defaultTo(&o.Grace, 5*time.Second)
	defaultTo(&o.Look, 5*time.Second)
	return o, nil
}

func defaultTo[T comparable](value *T, standard T) {
	var zero T
	if *value == zero {
		*value = standard
	}
}

// notInToken is what a subject's token cannot hold.
var notInToken = regexp.MustCompile(`[^A-Za-z0-9_-]+`)

// token is version and format as part of a subject. Two versions may share
// one; the headers of a task tell them apart.
func (o Options) token() string {
	return fmt.Sprintf("%.60s-f%d", notInToken.ReplaceAllString(o.Version, "_"), o.Format)
}

// id of a key on the server, where not every key could be a name. A key of
// another version is another one.
func (o Options) id(key string) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%q %d %q", o.Version, o.Format, key))
	return hex.EncodeToString(sum[:])
}

func (t Task) validate() error {
	if t.Key == "" || len(t.Key) > 1000 {
		return fmt.Errorf("queue: a task's key has %d bytes, want from 1 to 1,000", len(t.Key))
	}
	if len(t.Name) > 1000 {
		return fmt.Errorf("queue: a task's name has %d bytes, want at most 1,000", len(t.Name))
	}
	return nil
}

// self names this process in outcomes and messages.
func self() string {
	host, err := os.Hostname()
	if err != nil {
		host = "unknown host"
	}
	return fmt.Sprintf("%s:%d", host, os.Getpid())
}
