package queue

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

const (
	// hereWait is how long a worker has to say that it is at a task.
	hereWait = time.Second
	// mostReason is how many bytes of a reason are kept: records are messages.
	mostReason = 1000
)

// try is one try at a task. It stands in the state bucket from before the
// handler begins, so that a try that ends with its worker counts, too.
type try struct {
	ID     string `json:"id"`
	Worker string `json:"worker"`
	Reason string `json:"reason,omitempty"` // why it failed; "" while it goes on, and where its worker died
}

func (t try) why() string {
	if t.Reason == "" {
		return "the worker " + t.Worker + " ended in the middle of it"
	}
	return t.Reason + " (worker " + t.Worker + ")"
}

// attempt is a message that a worker is at.
type attempt struct {
	*worker
	m   jetstream.Msg
	t   Task
	id  string
	log *slog.Logger // names the task
	try try
}

// do does one task, whatever comes of it: the handler's panics and errors are
// failed tries.
func (w *worker) do(ctx context.Context, m jetstream.Msg) {
	h := m.Headers()
	if h.Get(headerVersion) != w.o.Version || h.Get(headerFormat) != fmt.Sprint(w.o.Format) {
		w.refuse(h)
		_ = m.NakWithDelay(w.o.RetryWait)
		return
	}
	key, err := strconv.Unquote(h.Get(headerKey))
	if err != nil {
		w.o.Log.Warn("a message on the queue is no task; it is dropped", "subject", m.Subject())
		_ = m.TermWithReason("no task")
		return
	}
	log := w.o.Log.With("key", key)
	name, err := strconv.Unquote(h.Get(headerName))
	if err == nil {
		log = w.o.Log.With("name", name, "key", key)
	}
	a := &attempt{worker: w, m: m, t: Task{Key: key, Name: name}, id: w.o.id(key), log: log, try: try{ID: rand.Text(), Worker: w.name}}
	stop := a.beat()
	defer stop()
	if err := a.run(ctx); err != nil && ctx.Err() == nil {
		// The server keeps the message and hands it out again.
		log.Warn("a task is left to others", "error", err)
		_ = m.NakWithDelay(w.o.RetryWait)
	}
}

// beat tells the server that we are at the task, until stop is called.
func (a *attempt) beat() (stop func()) {
	done := make(chan struct{})
	var beating sync.WaitGroup
	beating.Go(func() {
		ticker := time.NewTicker(max(time.Millisecond, a.o.AckWait/3))
		defer ticker.Stop()
		for {
			select {
			case <-ticker.C:
				_ = a.m.InProgress() // where it does not come through, the next may
			case <-done:
				return
			}
		}
	})
	return func() {
		close(done)
		beating.Wait()
	}
}

// run does the task and stores what came of it.
func (a *attempt) run(ctx context.Context) error {
	known, err := a.outcome(ctx, a.id)
	if err != nil {
		return err
	}
	if known != nil && known.Kind != kindCut { // done twice, or its acknowledgement was lost
		return a.ack(ctx)
	}
	if a.somebodyIsAtIt(ctx) { // the server was away and heard no sign of life
		return a.m.NakWithDelay(a.o.AckWait)
	}
	tries, err := a.begin(ctx)
	if err != nil {
		return err
	}
	if len(tries) > a.o.Tries { // the last worker ended in the middle of it
		return a.setAside(ctx, tries[:a.o.Tries])
	}
	a.t.Payload = a.m.Data()
	if object := a.m.Headers().Get(headerObject); object != "" {
		if a.t.Payload, err = a.fetch(ctx, object); err != nil {
			return a.fail(ctx, err)
		}
	}
	withdrawn := make(chan *nats.Msg, 1)
	sub, err := a.Subscribe(a.atSubject(a.id), func(m *nats.Msg) {
		if string(m.Data) == wordHere {
			_ = m.Respond(nil)
			return
		}
		select {
		case withdrawn <- m:
		default:
		}
	})
	if err != nil {
		return errors.Join(err, a.unbegin(ctx))
	}
	defer func() {
		_ = sub.Unsubscribe()
		select {
		case m := <-withdrawn: // a moment too late
			_ = m.Respond(nil)
		default:
		}
	}()
	// From here on a publisher that withdraws the task reaches us; did one
	// take it off the stream before?
	if waits, err := a.waits(ctx, a.m.Subject()); err != nil || !waits {
		return errors.Join(err, a.forget(ctx, triesKey(a.id)))
	}
	a.log.Info("task begun", "try", len(tries))
	return a.await(ctx, withdrawn)
}

// somebodyIsAtIt asks whether another worker is at the task and alive. Of a
// task that was handed out before, it asks again: after the server was away
// that worker may be back a moment later than we are.
func (a *attempt) somebodyIsAtIt(ctx context.Context) bool {
	ctx, cancel := context.WithTimeout(ctx, hereWait)
	defer cancel()
	delivery, err := a.m.Metadata()
	again := err == nil && delivery.NumDelivered > 1
	for {
		_, err := a.RequestWithContext(ctx, a.atSubject(a.id), []byte(wordHere))
		if err == nil {
			return true
		}
		if !again || !errors.Is(err, nats.ErrNoResponders) || rest(ctx, hereWait/10) != nil {
			return false
		}
	}
}

// done is what a handler returned.
type done struct {
	data []byte
	err  error
}

// await runs the handler and deals with its end, the publisher's and ours.
func (a *attempt) await(ctx context.Context, withdrawn <-chan *nats.Msg) error {
	inner, stop := context.WithCancelCause(context.WithoutCancel(ctx))
	defer stop(nil)
	ended := make(chan done, 1)
	go func() { ended <- a.handle(inner) }()

	var withdrawal *nats.Msg
	var tooLate <-chan time.Time
	ending := ctx.Done()
	for {
		select {
		case d := <-ended:
			return a.close(ctx, d, withdrawal, context.Cause(inner) != nil)
		case withdrawal = <-withdrawn:
			stop(ErrWithdrawn)
		case <-ending:
			// A plan that is nearly done is handed over; after that there is
			// just time to give the task back.
			ending = nil
			time.AfterFunc(a.o.Grace*2/5, func() { stop(context.Cause(ctx)) })
			tooLate = time.After(a.o.Grace * 3 / 5)
		case <-tooLate:
			return a.giveBack(ctx)
		}
	}
}

// handle runs the handler; its panic is an error.
func (a *attempt) handle(ctx context.Context) (d done) {
	defer func() {
		if r := recover(); r != nil {
			a.log.Error("a task panicked", "panic", r, "stack", string(debug.Stack()))
			d = done{err: fmt.Errorf("panic: %v", r)}
		}
	}()
	data, err := a.handler(ctx, a.t)
	return done{data, err}
}

// close stores what the handler made of the task. What a worker that ends has
// cut short is given back instead.
func (a *attempt) close(ctx context.Context, d done, withdrawal *nats.Msg, stopped bool) error {
	switch {
	case withdrawal != nil:
		return a.handOver(ctx, d, withdrawal)
	case stopped:
		return a.giveBack(ctx)
	case d.err != nil:
		return a.fail(ctx, d.err)
	}
	return a.keep(ctx, kindDone, d.data)
}

// keep stores a result. The first one of a key counts.
func (a *attempt) keep(ctx context.Context, kind string, data []byte) error {
	ctx, cancel := a.last(ctx)
	defer cancel()
	object, err := a.put(ctx, "result", a.id, data)
	if err != nil {
		return err
	}
	kept, err := a.conclude(ctx, a.id, outcome{Kind: kind, Key: a.t.Key, Worker: a.name, Object: object})
	if err != nil {
		return err
	}
	if !kept {
		a.log.Info("another worker was first; this result is not used")
		if err := a.drop(ctx, object); err != nil {
			return err
		}
	} else {
		a.log.Info("task " + kind)
	}
	return a.finish(ctx)
}

// finish tells everyone that the task has its outcome.
func (a *attempt) finish(ctx context.Context) error {
	ctx, cancel := a.last(ctx)
	defer cancel()
	defer func() { _ = a.Publish(a.doneSubject(a.id), nil) }() // who does not hear it looks
	if err := a.drop(ctx, a.m.Headers().Get(headerObject)); err != nil {
		return err
	}
	if err := a.forget(ctx, triesKey(a.id)); err != nil {
		return err
	}
	return a.ack(ctx)
}

// ack takes the task off the queue, and knows that it did.
func (a *attempt) ack(ctx context.Context) error {
	return doing("acknowledge", a.ask(ctx, func(ctx context.Context) error {
		err := a.m.DoubleAck(ctx)
		if errors.Is(err, jetstream.ErrMsgAlreadyAckd) { // before its answer was lost
			return nil
		}
		return err
	}))
}

// last is a context for the end of a try: while the worker runs it does not
// end, and when the worker ends there is a little time left.
func (a *attempt) last(ctx context.Context) (context.Context, context.CancelFunc) {
	inner, cancel := context.WithCancelCause(context.WithoutCancel(ctx))
	stop := context.AfterFunc(ctx, func() {
		time.AfterFunc(a.o.Grace/5, func() { cancel(context.Cause(ctx)) })
	})
	return inner, func() {
		stop()
		cancel(nil)
	}
}

// handOver stores what the handler had when the publisher withdrew the task,
// and answers the publisher, which waits for that. A task that was done all
// the same is done.
func (a *attempt) handOver(ctx context.Context, d done, withdrawal *nats.Msg) error {
	defer func() { _ = withdrawal.Respond(nil) }()
	a.log.Info("task withdrawn")
	if d.err != nil || d.data == nil {
		return a.finish(ctx)
	}
	return a.keep(ctx, kindCut, d.data)
}

// fail notes why a try failed, and sets the task aside after the last.
func (a *attempt) fail(ctx context.Context, reason error) error {
	a.log.Warn("task failed", "error", reason)
	ctx, cancel := a.last(ctx)
	defer cancel()
	a.try.Reason = brief(reason.Error())
	tries, err := a.change(ctx, func(tries []try) []try {
		if i := slices.IndexFunc(tries, a.mine); i >= 0 {
			tries[i] = a.try
			return tries
		}
		return append(tries, a.try)
	})
	if err != nil {
		return err
	}
	if len(tries) >= a.o.Tries && !slices.ContainsFunc(tries, func(t try) bool { return t.Reason == "" }) {
		return a.setAside(ctx, tries)
	}
	return a.m.NakWithDelay(a.o.RetryWait)
}

// brief is a text cut to what a record holds.
func brief(text string) string {
	text = strings.ToValidUTF8(text, "?")
	if len(text) <= mostReason {
		return text
	}
	return strings.ToValidUTF8(text[:mostReason], "") + "…"
}

// setAside gives the task up, with the reason of every try.
func (a *attempt) setAside(ctx context.Context, tries []try) error {
	o := outcome{Kind: kindAside, Key: a.t.Key, Worker: a.name}
	for _, t := range tries {
		o.Reasons = append(o.Reasons, t.why())
	}
	a.log.Error("task set aside", "reasons", o.Reasons)
	if _, err := a.conclude(ctx, a.id, o); err != nil {
		return err
	}
	return a.finish(ctx)
}

// giveBack lets another worker begin at once. It is not a try.
func (a *attempt) giveBack(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), a.o.Grace*2/5)
	defer cancel()
	a.log.Info("task given back")
	if err := a.unbegin(ctx); err != nil {
		return err
	}
	if err := a.m.Nak(); err != nil {
		return err
	}
	return a.FlushWithContext(ctx)
}

func (a *attempt) mine(t try) bool { return t.ID == a.try.ID }

// begin notes our try and returns all of them, ours last.
func (a *attempt) begin(ctx context.Context) ([]try, error) {
	return a.change(ctx, func(tries []try) []try { return append(slices.DeleteFunc(tries, a.mine), a.try) })
}

// unbegin strikes our try out.
func (a *attempt) unbegin(ctx context.Context) error {
	_, err := a.change(ctx, func(tries []try) []try { return slices.DeleteFunc(tries, a.mine) })
	return err
}

// change rewrites the tries of the task, again where another worker was
// quicker.
func (a *attempt) change(ctx context.Context, change func([]try) []try) ([]try, error) {
	for {
		var tries []try
		revision, err := a.record(ctx, triesKey(a.id), &tries)
		if err != nil {
			return nil, err
		}
		tries = change(tries)
		text, err := json.Marshal(tries)
		if err != nil {
			return nil, err
		}
		err = a.ask(ctx, func(ctx context.Context) error {
			if revision == 0 {
				_, err := a.state.Create(ctx, triesKey(a.id), text)
				return err
			}
			_, err := a.state.Update(ctx, triesKey(a.id), text, revision)
			return err
		})
		if err == nil {
			return tries, nil
		}
		if !outOfSequence(err) {
			return nil, doing("note the try", err)
		}
	}
}
