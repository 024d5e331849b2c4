package queue

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// wait is one task that a publisher waits for.
type wait struct {
	at place
	*store
	t              Task
	told           chan struct{} // when there is news
	object         string        // of the payload
	published      bool
	lookForWorkers func(context.Context)
}

// result publishes the task and waits for its result, as Publisher.Do says.
func (w *wait) result(ctx context.Context) (Result, error) {
	o, err := w.outcome(ctx, w.at.id)
	if err == nil && o != nil && o.Kind != kindDone { // of an earlier night
		o, err = nil, w.clear(ctx, w.at.id)
	}
	for err == nil {
		if o == nil {
			o, err = w.await(ctx)
		}
		if err != nil {
			break
		}
		if o.Kind == kindAside {
			return Result{}, &Aside{Reasons: o.Reasons}
		}
		r, gone := w.fetched(ctx, o)
		if !errors.Is(gone, jetstream.ErrObjectNotFound) {
			return r, gone
		}
		o, err = nil, w.clear(ctx, w.at.id) // another publisher of this key was quicker
	}
	if ctx.Err() != nil && w.published {
		return w.withdraw(ctx)
	}
	return Result{}, err
}

func (w *wait) fetched(ctx context.Context, o *outcome) (Result, error) {
	data, err := w.fetch(ctx, o.Object)
	return Result{Data: data, Worker: o.Worker, CutShort: o.Kind == kindCut}, err
}

// errFull says that the stream takes no more tasks for now.
var errFull = errors.New("the queue is full")

// storeFailed is the server's code for a stream at its limits, among other
// failures to store (JSStreamStoreFailedF in the server's errors.json).
const storeFailed jetstream.ErrorCode = 10077

// publish puts the task on the stream, unless it is there already.
func (w *wait) publish(ctx context.Context) error {
	if int64(len(w.t.Payload)) > w.MaxPayload()-headroom {
		object, err := w.put(ctx, "payload", w.at.id, w.t.Payload)
		if err != nil {
			return err
		}
		w.object = object
	}
	w.published = true // perhaps, even where we never hear of it
	for said := false; ; said = true {
		err := w.ask(ctx, func(ctx context.Context) error {
			_, err := w.js.PublishMsg(ctx, w.wire(w.at.subject, w.t, w.object),
				jetstream.WithExpectStream(w.tasks.CachedInfo().Config.Name), jetstream.WithExpectLastSequencePerSubject(0))
			if code(err) == storeFailed {
				return fmt.Errorf("%w (%v)", errFull, err) // no longer one that passes by itself
			}
			return err
		})
		switch {
		case err == nil:
			return nil
		case outOfSequence(err):
			// It is there: of another publisher, or of a request of ours whose
			// answer was lost.
			return w.dropUnused(ctx)
		case !errors.Is(err, errFull):
			return doing("publish the task", err)
		}
		if !said {
			w.o.Log.Warn("a task waits before the queue", "queue", w.o.Name, "error", err)
		}
		if err := rest(ctx, w.o.Look); err != nil {
			return err
		}
	}
}

// dropUnused deletes our payload object where the message on the stream does
// not name it: its own is as good.
func (w *wait) dropUnused(ctx context.Context) error {
	if w.object == "" {
		return nil
	}
	m, err := w.message(ctx, w.at.subject)
	if err != nil || m != nil && m.Header.Get(headerObject) == w.object {
		return err
	}
	unused := w.object
	w.object = ""
	return w.drop(ctx, unused)
}

// await publishes the task and waits for its outcome.
func (w *wait) await(ctx context.Context) (*outcome, error) {
	if err := w.publish(ctx); err != nil {
		return nil, err
	}
	for {
		select {
		case <-w.told:
		case <-time.After(w.o.Look):
		case <-ctx.Done():
			return nil, context.Cause(ctx)
		case <-w.closed.Done():
			return nil, context.Cause(w.closed)
		}
		if o, err := w.look(ctx); o != nil || err != nil {
			return o, err
		}
	}
}

// look looks for the outcome, and where there is none for the task: one that
// the server lost is published again.
func (w *wait) look(ctx context.Context) (*outcome, error) {
	o, err := w.ended(ctx)
	if o != nil || err != nil {
		return o, err
	}
	waits, err := w.waits(ctx, w.at.subject)
	if err != nil {
		return nil, err
	}
	if waits {
		w.lookForWorkers(ctx)
		return nil, nil
	}
	// The outcome is stored before the task goes.
	if o, err = w.ended(ctx); o != nil || err != nil {
		return o, err
	}
	if err := w.clear(ctx, w.at.id); err != nil {
		return nil, err
	}
	w.o.Log.Warn("the queue server lost a task; it is published again", "name", w.t.Name, "key", w.t.Key)
	return nil, w.publish(ctx)
}

// ended is the outcome of the task; one that was cut short, when another
// publisher withdrew the same task, is none.
func (w *wait) ended(ctx context.Context) (*outcome, error) {
	o, err := w.outcome(ctx, w.at.id)
	if err != nil || o == nil || o.Kind == kindCut {
		return nil, err
	}
	return o, nil
}

// withdraw takes the task back after ctx ended.
func (w *wait) withdraw(ended context.Context) (Result, error) {
	cause := context.Cause(ended)
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ended), w.o.Grace)
	defer cancel()
	err := w.takeOff(ctx, w.at.subject)
	if err == nil {
		// Whoever is at the task answers when what it has is stored.
		_, err = w.RequestWithContext(ctx, w.atSubject(w.at.id), []byte(wordEnd))
	}
	if errors.Is(err, nats.ErrNoResponders) {
		cause = fmt.Errorf("no worker was at it: %w", cause)
		_ = w.drop(ctx, w.object) // else after a week
	} else if err != nil {
		w.o.Log.Warn("a task may stay on the queue", "name", w.t.Name, "key", w.t.Key, "error", err)
	}
	o, err := w.outcome(ctx, w.at.id)
	if err != nil || o == nil || o.Kind == kindAside {
		return Result{}, cause
	}
	r, err := w.fetched(ctx, o)
	if err != nil {
		return Result{}, cause
	}
	if r.CutShort {
		if err := w.clear(ctx, w.at.id); err != nil {
			w.o.Log.Warn("what was cut short stays on the queue server", "name", w.t.Name, "key", w.t.Key, "error", err)
		}
	}
	return r, nil
}
