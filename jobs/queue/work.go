package queue

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// Work takes tasks of our version and has the handler do them, Options.Jobs
// at a time, until ctx ends or the server refuses us. When ctx ends, tasks
// that are done within two fifths of Options.Grace are handed over and the
// others given back, which is no try of theirs; Work returns the context's
// cause within Options.Grace. Errors that the user can mend are *Fault.
func Work(ctx context.Context, o Options, h Handler) error {
	s, err := open(ctx, o)
	if err != nil {
		return err
	}
	defer s.Close()
	w := &worker{store: s, handler: h, name: self(), refused: map[string]bool{}}
	if err := w.enlist(ctx); err != nil {
		return err
	}
	w.o.Log.Info("worker waits for tasks", "queue", w.o.Name, "server", w.o.Server, "version", w.o.edition(), "jobs", w.o.Jobs)
	if err := w.lookAround(ctx); err != nil {
		return err
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	defer context.AfterFunc(w.closed, func() { stop(context.Cause(w.closed)) })()
	var jobs sync.WaitGroup
	for range w.o.Jobs {
		jobs.Go(func() {
			if err := w.take(ctx); err != nil {
				stop(err)
			}
		})
	}
	jobs.Wait()
	return context.Cause(ctx)
}

// worker is one process that takes tasks.
type worker struct {
	*store
	handler Handler
	name    string

	mu       sync.Mutex
	consumer jetstream.Consumer
	looked   time.Time       // when we last looked for tasks of other versions
	refused  map[string]bool // versions of which we said so
}

// consumerName of the workers of a version.
func consumerName(token string) string { return "workers-" + token }

// enlist finds or makes the consumer that all workers of our version share.
func (w *worker) enlist(ctx context.Context) error {
	c, err := get(ctx, w.line, func(ctx context.Context) (jetstream.Consumer, error) {
		return w.tasks.CreateOrUpdateConsumer(ctx, jetstream.ConsumerConfig{
			Durable: consumerName(w.o.token()), Description: "laneplan: workers of " + w.o.edition(),
			FilterSubject: w.subject(w.o.token(), "*"),
			AckPolicy:     jetstream.AckExplicitPolicy, AckWait: w.o.AckWait,
			MaxDeliver:        -1, // we count tries ourselves: a task given back is none
			MaxAckPending:     mostPending,
			InactiveThreshold: keepFor,
			Metadata:          map[string]string{headerVersion: w.o.Version, headerFormat: fmt.Sprint(w.o.Format)},
		})
	})
	w.mu.Lock()
	w.consumer = c
	w.mu.Unlock()
	return doing("the consumer of this version's workers", err)
}

// take takes one task after the other.
func (w *worker) take(ctx context.Context) error {
	for ctx.Err() == nil {
		m, err := w.next(ctx)
		switch {
		case m != nil:
			w.do(ctx, m)
		case ctx.Err() != nil || w.IsClosed():
			<-ctx.Done()
		case errors.Is(err, jetstream.ErrConsumerDeleted), errors.Is(err, jetstream.ErrConsumerNotFound), errors.Is(err, nats.ErrNoResponders):
			// Gone with the server's disk, or after a week without us.
			err := w.enlist(ctx)
			if err == nil {
				err = rest(ctx, retryWait)
			}
			if err != nil && ctx.Err() == nil {
				return err
			}
		case err == nil || passing(err):
			if err := w.lookAround(ctx); err != nil {
				w.o.Log.Warn("cannot look for tasks of other versions", "error", err)
			}
		default:
			return doing("take a task", err)
		}
	}
	return nil
}

// next waits for a task, for no longer than Options.Look; nil is none.
func (w *worker) next(ctx context.Context) (jetstream.Msg, error) {
	session := w.session()
	if session.Err() != nil { // the server is away
		return nil, rest(ctx, retryWait)
	}
	ctx, cancel := context.WithTimeout(ctx, w.o.Look)
	defer cancel()
	defer context.AfterFunc(session, cancel)()
	w.mu.Lock()
	consumer := w.consumer
	w.mu.Unlock()
	return consumer.Next(jetstream.FetchContext(ctx))
}

// lookAround says once of every other version of which tasks wait that they
// are not for us.
func (w *worker) lookAround(ctx context.Context) error {
	w.mu.Lock()
	soon := time.Since(w.looked) < w.o.Look/2
	if !soon {
		w.looked = time.Now()
	}
	w.mu.Unlock()
	if soon || w.session().Err() != nil {
		return nil
	}
	subjects, err := w.subjects(ctx, w.subject("*", "*"))
	if err != nil {
		return err
	}
	foreign := map[string]string{} // one subject of every other version
	for subject := range subjects {
		if token := strings.Split(subject, ".")[2]; token != w.o.token() {
			foreign[token] = subject
		}
	}
	for _, subject := range foreign {
		m, err := w.message(ctx, subject)
		if err != nil {
			return err
		}
		if m != nil {
			w.refuse(m.Header)
		}
	}
	return nil
}

// refuse says once of a version that we leave its tasks to others.
func (w *worker) refuse(h nats.Header) {
	other := edition(h.Get(headerVersion), h.Get(headerFormat))
	w.mu.Lock()
	said := w.refused[other]
	w.refused[other] = true
	w.mu.Unlock()
	if !said {
		w.o.Log.Warn("tasks of another version wait; this worker leaves them to workers of that version",
			"queue", w.o.Name, "tasks", other, "worker", w.o.edition())
	}
}
