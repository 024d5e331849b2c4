package queue

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
)

// Publisher hands tasks to workers and waits for their results. It is for any
// number of goroutines.
type Publisher struct {
	store  *store
	places chan struct{} // one for every task on the queue
	begun  time.Time

	mu      sync.Mutex
	waiters map[string][]chan struct{} // by id; told when the task has an outcome
	alone   time.Time                  // when we last looked whether workers are there
}

// NewPublisher connects to the server and makes the queue where it is not
// there yet. Errors that the user can mend are *Fault.
func NewPublisher(ctx context.Context, o Options) (*Publisher, error) {
	s, err := open(ctx, o)
	if err != nil {
		return nil, err
	}
	p := &Publisher{store: s, places: make(chan struct{}, s.o.InFlight), begun: time.Now(), waiters: map[string][]chan struct{}{}}
	if _, err := s.Subscribe(s.doneSubject("*"), p.tell); err != nil {
		s.Close()
		return nil, err
	}
	return p, nil
}

// Close ends the connection. Tasks on the queue stay there.
func (p *Publisher) Close() { p.store.Close() }

// Do has a worker do the task and returns the result. A result that is there
// already, of a publisher that was killed say, is returned at once; a task
// that an earlier call saw set aside is tried anew.
//
// When ctx ends, the task is withdrawn: where a worker is at it, Do waits up
// to Options.Grace for what the worker has by then and returns it as CutShort;
// else it returns the context's cause. Other errors: *Aside, and *Fault where
// the server refuses us from now on.
func (p *Publisher) Do(ctx context.Context, t Task) (Result, error) {
	if err := t.validate(); err != nil {
		return Result{}, err
	}
	select {
	case p.places <- struct{}{}:
		defer func() { <-p.places }()
	case <-ctx.Done():
		return Result{}, context.Cause(ctx)
	}
	w := p.wait(t)
	defer p.leave(w)
	return w.result(ctx)
}

// Forget drops what the server has of a task, once its result is safe
// elsewhere. What nobody forgets the server drops after a week.
func (p *Publisher) Forget(ctx context.Context, key string) error {
	at := p.store.place(key)
	if err := p.store.takeOff(ctx, at.subject); err != nil { // its acknowledgement may be lost
		return err
	}
	return p.store.clear(ctx, at.id)
}

// wait begins to listen for the outcome of a task.
func (p *Publisher) wait(t Task) *wait {
	w := &wait{at: p.store.place(t.Key), store: p.store, t: t, told: make(chan struct{}, 1), lookForWorkers: p.lookForWorkers}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.waiters[w.at.id] = append(p.waiters[w.at.id], w.told)
	return w
}

func (p *Publisher) leave(w *wait) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.waiters[w.at.id] = slices.DeleteFunc(p.waiters[w.at.id], func(c chan struct{}) bool { return c == w.told })
	if len(p.waiters[w.at.id]) == 0 {
		delete(p.waiters, w.at.id)
	}
}

// tell is called when a worker says that a task has an outcome.
func (p *Publisher) tell(m *nats.Msg) {
	task := m.Subject[strings.LastIndex(m.Subject, ".")+1:]
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, told := range p.waiters[task] {
		select {
		case told <- struct{}{}:
		default:
		}
	}
}

// lookForWorkers says so, now and then, where tasks wait and no worker of our
// version is there.
func (p *Publisher) lookForWorkers(ctx context.Context) {
	o := p.store.o
	p.mu.Lock()
	soon := time.Since(p.alone) < 12*o.Look || time.Since(p.begun) < 2*o.Look
	if !soon {
		p.alone = time.Now()
	}
	p.mu.Unlock()
	if soon {
		return
	}
	places, others, err := p.workers(ctx)
	if err != nil || places > 0 {
		return
	}
	text := "no worker of this version takes tasks from the queue; they wait"
	if len(others) > 0 {
		text = "the workers at the queue are of another version and leave our tasks to others; they wait"
	}
	o.Log.Warn(text, "queue", o.Name, "version", o.edition(), "workers", others)
}

// Places is how many tasks the workers of our version do at a time: those that
// wait for one, and the tasks that are at work.
func (p *Publisher) Places(ctx context.Context) (int, error) {
	places, _, err := p.workers(ctx)
	return places, err
}

// workers counts the places at workers of our version, and says which other
// versions have workers.
func (p *Publisher) workers(ctx context.Context) (places int, others []string, err error) {
	err = p.store.ask(ctx, func(ctx context.Context) error {
		places, others = 0, nil
		list := p.store.tasks.ListConsumers(ctx)
		for c := range list.Info() {
			n := c.NumWaiting + c.NumAckPending
			switch {
			case n == 0: // nobody
			case c.Name == consumerName(p.store.o.token()):
				places += n
			default:
				others = append(others, edition(c.Config.Metadata[headerVersion], c.Config.Metadata[headerFormat]))
			}
		}
		slices.Sort(others)
		return list.Err()
	})
	return places, others, err
}

// place is where a task is on the server.
type place struct{ id, subject string }

func (s *store) place(key string) place {
	id := s.o.id(key)
	return place{id, s.subject(s.o.token(), id)}
}

// edition is version and format as people read them.
func edition(version, format string) string {
	return fmt.Sprintf("%s (format %s)", version, format)
}

func (o Options) edition() string { return edition(o.Version, fmt.Sprint(o.Format)) }
