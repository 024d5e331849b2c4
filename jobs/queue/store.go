package queue

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// layout is the version of what stands on the server: streams, subjects,
// headers and records. Another layout needs a queue of another name.
const layout = "1"

// layoutKey is where a stream says its layout.
const layoutKey = "laneplan-layout"

const (
	// keepFor is how long outcomes and objects stay that nobody fetches or
	// forgets, and how long the consumer of a version without workers stays.
	keepFor = 7 * 24 * time.Hour
	// mostPending is how many tasks are at work at a time, over all workers
	// of a version.
	mostPending = 1_000
	// headroom is what a message needs beside its payload, generously.
	headroom = 8 << 10
)

// Headers of a task's message.
const (
	headerKey     = "Laneplan-Key"  // quoted as a Go string
	headerName    = "Laneplan-Name" // quoted too; absent where the task has none
	headerVersion = "Laneplan-Version"
	headerFormat  = "Laneplan-Format"
	headerObject  = "Laneplan-Object" // of the payload; absent where the message holds it
)

// store is a queue on its server.
type store struct {
	*line
	o      Options
	js     jetstream.JetStream
	tasks  jetstream.Stream
	state  jetstream.KeyValue
	object jetstream.ObjectStore
}

// open connects and finds the queue, or makes it where it is not there yet.
// What stands there already is left as it is: whoever runs the server may have
// given it more replicas or other limits.
func open(ctx context.Context, o Options) (*store, error) {
	o, err := o.settle()
	if err != nil {
		return nil, err
	}
	l, err := dial(ctx, o)
	if err != nil {
		return nil, err
	}
	s := &store{line: l, o: o}
	if err := s.make(ctx); err != nil {
		l.Close()
		return nil, err
	}
	return s, nil
}

func (s *store) make(ctx context.Context) (err error) {
	if s.js, err = jetstream.New(s.Conn, jetstream.WithDefaultTimeout(answerWait)); err != nil {
		return err
	}
	// Only now: later a server that is shutting down says no, too.
	var off error
	err = s.ask(ctx, func(ctx context.Context) error {
		_, err := s.js.AccountInfo(ctx)
		if errors.Is(err, jetstream.ErrJetStreamNotEnabled) || errors.Is(err, jetstream.ErrJetStreamNotEnabledForAccount) {
			off, err = err, nil
		}
		return err
	})
	if err != nil {
		return doing("ask for JetStream", err)
	}
	if off != nil {
		return fault("the queue server at %s has no JetStream for our user: %w", s.o.Server, off)
	}
	name := s.o.Name
	config := jetstream.StreamConfig{
		Name: name + "-tasks", Description: "laneplan: tasks that wait or are at work",
		Subjects:  []string{name + ".tasks.>"},
		Retention: jetstream.WorkQueuePolicy, Discard: jetstream.DiscardNew,
		MaxMsgs: int64(s.o.Waiting), MaxAge: keepFor, Storage: jetstream.FileStorage,
		Metadata: map[string]string{layoutKey: layout},
	}
	s.tasks, err = get(ctx, s.line, func(ctx context.Context) (jetstream.Stream, error) {
		return findOrMake(func() (jetstream.Stream, error) { return s.js.Stream(ctx, config.Name) }, jetstream.ErrStreamNotFound,
			func() (jetstream.Stream, error) { return s.js.CreateStream(ctx, config) })
	})
	if err != nil {
		return doing("the stream of tasks", err)
	}
	if got := s.tasks.CachedInfo().Config; got.Retention != jetstream.WorkQueuePolicy || got.Metadata[layoutKey] != layout {
		return fault("stream %s on the queue server is not one of a queue of layout %s: another version of laneplan or another program made it: remove it, or use another account", config.Name, layout)
	}
	s.state, err = get(ctx, s.line, func(ctx context.Context) (jetstream.KeyValue, error) {
		return findOrMake(func() (jetstream.KeyValue, error) { return s.js.KeyValue(ctx, name+"-state") }, jetstream.ErrBucketNotFound,
			func() (jetstream.KeyValue, error) {
				return s.js.CreateKeyValue(ctx, jetstream.KeyValueConfig{
					Bucket: name + "-state", Description: "laneplan: outcomes and tries of tasks", TTL: keepFor,
				})
			})
	})
	if err != nil {
		return doing("the bucket of outcomes", err)
	}
	s.object, err = get(ctx, s.line, func(ctx context.Context) (jetstream.ObjectStore, error) {
		return findOrMake(func() (jetstream.ObjectStore, error) { return s.js.ObjectStore(ctx, name+"-data") }, jetstream.ErrBucketNotFound,
			func() (jetstream.ObjectStore, error) {
				return s.js.CreateObjectStore(ctx, jetstream.ObjectStoreConfig{
					Bucket: name + "-data", Description: "laneplan: results and large payloads", TTL: keepFor,
				})
			})
	})
	return doing("the object store", err)
}

// findOrMake finds what another one may be making at this moment.
func findOrMake[T any](find func() (T, error), notFound error, create func() (T, error)) (T, error) {
	value, err := find()
	if !errors.Is(err, notFound) {
		return value, err
	}
	if value, err = create(); errors.Is(err, jetstream.ErrStreamNameAlreadyInUse) || errors.Is(err, jetstream.ErrBucketExists) {
		return find()
	}
	return value, err
}

// subject of a task's message; task is an id or *.
func (s *store) subject(token, task string) string {
	return fmt.Sprintf("%s.tasks.%s.%s", s.o.Name, token, task)
}

// doneSubject is where workers say that a task has an outcome.
func (s *store) doneSubject(task string) string { return s.o.Name + ".done." + task }

// atSubject is where whoever is at a task listens.
func (s *store) atSubject(task string) string { return s.o.Name + ".at." + task }

// What is said to whoever is at a task.
const (
	wordHere = "are you there" // answered at once
	wordEnd  = "end"           // answered when what there is, is stored
)

// The kinds of outcome.
const (
	kindDone  = "done"
	kindCut   = "cut short"
	kindAside = "set aside"
)

// outcome is how a task ended. It is created once and stays until its
// publisher forgets it.
type outcome struct {
	Kind    string   `json:"kind"`
	Key     string   `json:"key"`
	Worker  string   `json:"worker,omitempty"`
	Object  string   `json:"object,omitempty"`  // of the result
	Reasons []string `json:"reasons,omitempty"` // why each try failed
}

func outcomeKey(task string) string { return "outcome." + task }
func triesKey(task string) string   { return "tries." + task }

// outcome of a task, or nil where it has none.
func (s *store) outcome(ctx context.Context, task string) (*outcome, error) {
	var found outcome
	revision, err := s.record(ctx, outcomeKey(task), &found)
	if err != nil || revision == 0 {
		return nil, err
	}
	return &found, nil
}

// record reads a record of the state bucket; revision 0 says that there is
// none.
func (s *store) record(ctx context.Context, key string, into any) (revision uint64, err error) {
	entry, err := get(ctx, s.line, func(ctx context.Context) (jetstream.KeyValueEntry, error) { return s.state.Get(ctx, key) })
	switch {
	case errors.Is(err, jetstream.ErrKeyNotFound): // also ErrKeyDeleted
		return 0, nil
	case err != nil:
		return 0, doing("read "+key, err)
	}
	if err := json.Unmarshal(entry.Value(), into); err != nil {
		return 0, fmt.Errorf("read %s: not written by a worker: %w", key, err)
	}
	return entry.Revision(), nil
}

// conclude stores the outcome of a task unless it has one already; kept says
// whether ours is the one that counts.
func (s *store) conclude(ctx context.Context, task string, o outcome) (kept bool, err error) {
	text, err := json.Marshal(o)
	if err != nil {
		return false, err
	}
	err = s.ask(ctx, func(ctx context.Context) error {
		_, err := s.state.Create(ctx, outcomeKey(task), text)
		return err
	})
	if errors.Is(err, jetstream.ErrKeyExists) {
		// Perhaps by ourselves, in a request whose answer was lost.
		first, err := s.outcome(ctx, task)
		return err == nil && first != nil && first.Worker == o.Worker && first.Object == o.Object, err
	}
	return err == nil, doing("store the outcome", err)
}

// clear forgets what is known of a task, so that it may be done again.
func (s *store) clear(ctx context.Context, task string) error {
	known, err := s.outcome(ctx, task)
	if err != nil {
		return err
	}
	if known != nil {
		if err := s.drop(ctx, known.Object); err != nil {
			return err
		}
	}
	for _, key := range []string{outcomeKey(task), triesKey(task)} {
		if err := s.forget(ctx, key); err != nil {
			return err
		}
	}
	return nil
}

func (s *store) forget(ctx context.Context, key string) error {
	return doing("forget "+key, s.ask(ctx, func(ctx context.Context) error { return s.state.Purge(ctx, key) }))
}

// put stores an object under a name that begins with what it is and that
// nothing had before, so that no reader ever sees it change.
func (s *store) put(ctx context.Context, what, task string, content []byte) (name string, err error) {
	name = what + "." + task + "." + rand.Text()
	// A chunk is a message, too.
	chunk := min(128<<10, max(1, int(s.MaxPayload())-headroom))
	err = s.transfer(ctx, func(ctx context.Context) error {
		_, err := s.object.Put(ctx, jetstream.ObjectMeta{
			Name: name, Opts: &jetstream.ObjectMetaOptions{ChunkSize: uint32(chunk)},
		}, bytes.NewReader(content))
		return err
	})
	return name, doing("store the "+what, err)
}

// fetch reads an object; its digest is checked on the way.
func (s *store) fetch(ctx context.Context, name string) ([]byte, error) {
	var content []byte
	err := s.transfer(ctx, func(ctx context.Context) (err error) {
		content, err = s.object.GetBytes(ctx, name)
		return err
	})
	return content, doing("fetch "+name, err)
}

// transfer is askFor for an object, which goes over in many messages. Whatever
// one of them met (a reader that fell behind, a digest that is not right for
// it), the next time may be better.
func (s *store) transfer(ctx context.Context, request func(ctx context.Context) error) (err error) {
	for range 5 {
		err = s.askFor(ctx, transferWait, request)
		if err == nil || ctx.Err() != nil || s.IsClosed() || errors.Is(err, jetstream.ErrObjectNotFound) {
			return err
		}
		s.o.Log.Warn("an object did not come through", "error", err)
		if err := rest(ctx, retryWait); err != nil {
			return err
		}
	}
	return err
}

// drop deletes an object; "" and what is gone already are fine.
func (s *store) drop(ctx context.Context, name string) error {
	if name == "" {
		return nil
	}
	err := s.ask(ctx, func(ctx context.Context) error { return s.object.Delete(ctx, name) })
	if errors.Is(err, jetstream.ErrObjectNotFound) {
		return nil
	}
	return doing("delete "+name, err)
}

// waits says whether the message of a task is on the stream.
func (s *store) waits(ctx context.Context, subject string) (bool, error) {
	subjects, err := s.subjects(ctx, subject)
	return len(subjects) > 0, err
}

// subjects are those of the tasks on the stream, as far as they match.
func (s *store) subjects(ctx context.Context, subject string) (map[string]uint64, error) {
	info, err := get(ctx, s.line, func(ctx context.Context) (*jetstream.StreamInfo, error) {
		return s.tasks.Info(ctx, jetstream.WithSubjectFilter(subject))
	})
	if err != nil {
		return nil, doing("look for tasks", err)
	}
	return info.State.Subjects, nil
}

// takeOff takes a task off the stream, whoever is at it.
func (s *store) takeOff(ctx context.Context, subject string) error {
	return doing("take a task off the queue", s.ask(ctx, func(ctx context.Context) error {
		return s.tasks.Purge(ctx, jetstream.WithPurgeSubject(subject))
	}))
}

// message of a task on the stream; nil is none.
func (s *store) message(ctx context.Context, subject string) (*jetstream.RawStreamMsg, error) {
	m, err := get(ctx, s.line, func(ctx context.Context) (*jetstream.RawStreamMsg, error) {
		return s.tasks.GetLastMsgForSubject(ctx, subject)
	})
	if errors.Is(err, jetstream.ErrMsgNotFound) {
		return nil, nil
	}
	return m, doing("look for the task", err)
}

// wire is a task as it goes over the wire.
func (s *store) wire(subject string, t Task, object string) *nats.Msg {
	m := nats.NewMsg(subject)
	m.Header.Set(headerKey, fmt.Sprintf("%+q", t.Key))
	if t.Name != "" {
		m.Header.Set(headerName, fmt.Sprintf("%+q", t.Name))
	}
	m.Header.Set(headerVersion, s.o.Version)
	m.Header.Set(headerFormat, fmt.Sprint(s.o.Format))
	if object != "" {
		m.Header.Set(headerObject, object)
	} else {
		m.Data = t.Payload
	}
	return m
}
