package queue

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/queue/queuetest"
)

// handle does what a task's payload says.
func handle(ctx context.Context, t Task) ([]byte, error) {
	order, rest, _ := strings.Cut(string(t.Payload), " ")
	switch order {
	case "upper":
		return bytes.ToUpper([]byte(rest)), nil
	case "fail":
		return nil, errors.New(rest)
	case "panic":
		panic(rest)
	case "die":
		os.Exit(3)
	case "while": // the file is there
		for {
			if _, err := os.Stat(rest); err != nil {
				return []byte("done"), nil
			}
			select {
			case <-ctx.Done():
				return []byte("so far"), nil
			case <-time.After(5 * time.Millisecond):
			}
		}
	}
	return nil, fmt.Errorf("no such order: %q", order)
}

// options for tests: everything that is waited for comes soon, and a worker
// that says nothing for a second counts as dead.
func options(s *queuetest.Server) Options {
	return Options{
		Server: s.URL(), Version: "v1", Format: 1,
		AckWait: time.Second, RetryWait: time.Millisecond, Look: 300 * time.Millisecond,
	}
}

func publisher(t *testing.T, o Options) *Publisher {
	t.Helper()
	p, err := NewPublisher(queuetest.Context(t), o)
	require.NoError(t, err)
	t.Cleanup(p.Close)
	return p
}

// work runs a worker in this process until stop or the end of the test.
func work(t *testing.T, o Options, h Handler) (stop func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- Work(ctx, o, h) }()
	stop = sync.OnceValue(func() error {
		cancel()
		return queuetest.Receive(t, ended, "the worker's end")
	})
	t.Cleanup(func() { _ = stop() })
	return stop
}

// logged is a log that a test reads.
type logged struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func newLog(o *Options) *logged {
	l := &logged{}
	o.Log = slog.New(slog.NewTextHandler(l, nil))
	return l
}

func (l *logged) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *logged) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// said waits until the words stand in the log.
func (l *logged) said(t *testing.T, words string) {
	t.Helper()
	queuetest.Until(t, fmt.Sprintf("the log says %q", words), func() bool { return strings.Contains(l.String(), words) })
}

// hold is a file that tasks wait for.
func hold(t *testing.T) (path string, release func()) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "hold")
	require.NoError(t, os.WriteFile(path, nil, 0o600))
	return path, func() { require.NoError(t, os.Remove(path)) }
}

// asked is a Do under way; it ends with its context, which a test limits.
type asked struct {
	r   Result
	err error
}

func ask(ctx context.Context, p *Publisher, key, payload string) <-chan asked {
	out := make(chan asked, 1)
	go func() {
		r, err := p.Do(ctx, Task{Key: key, Payload: []byte(payload)})
		out <- asked{r, err}
	}()
	return out
}

// tasks waits until the server holds so many tasks.
func tasks(t *testing.T, p *Publisher, n uint64) {
	t.Helper()
	queuetest.Until(t, fmt.Sprintf("the server holds %d tasks", n), func() bool {
		info, err := p.store.tasks.Info(queuetest.Context(t))
		require.NoError(t, err)
		return info.State.Msgs == n
	})
}

// noMore waits until the server holds no task any more, and checks that it
// holds no try and no payload, and so many results.
func noMore(t *testing.T, p *Publisher, results int) {
	t.Helper()
	tasks(t, p, 0)
	keys, err := p.store.state.ListKeys(queuetest.Context(t))
	require.NoError(t, err)
	n := 0
	for key := range keys.Keys() {
		assert.NotContains(t, key, "tries.")
		n++
	}
	assert.Equal(t, results, n, "outcomes")
	objects, err := p.store.object.List(queuetest.Context(t))
	if results > 0 {
		require.NoError(t, err)
	}
	for _, o := range objects {
		assert.Contains(t, o.Name, "result.")
	}
	assert.Len(t, objects, results, "objects")
}

func TestEveryTaskComesBackOnceFromThreeWorkers(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	p := publisher(t, o)
	o.Jobs = 2
	var calls atomic.Int64
	var stops []func() error
	for range 3 {
		stops = append(stops, work(t, o, func(ctx context.Context, task Task) ([]byte, error) {
			calls.Add(1)
			return handle(ctx, task)
		}))
	}
	const n = 60
	var answers []<-chan asked
	for i := range n {
		answers = append(answers, ask(queuetest.Context(t), p, fmt.Sprintf("täsk %d\n", i), fmt.Sprintf("upper no %d", i)))
	}
	for i, answer := range answers {
		a := <-answer
		require.NoError(t, a.err)
		assert.Equal(t, fmt.Sprintf("NO %d", i), string(a.r.Data))
		assert.False(t, a.r.CutShort)
		assert.Equal(t, self(), a.r.Worker)
	}
	for _, stop := range stops {
		assert.ErrorIs(t, stop(), context.Canceled)
	}
	assert.EqualValues(t, n, calls.Load())
	noMore(t, p, n)
	for i := range n {
		require.NoError(t, p.Forget(queuetest.Context(t), fmt.Sprintf("täsk %d\n", i)))
	}
	noMore(t, p, 0)
}

func TestPayloadsAndResultsBeyondAMessage(t *testing.T) {
	o := options(queuetest.Start(t, "max_payload: 20000"))
	p := publisher(t, o)
	work(t, o, handle)
	for _, size := range []int{0, 1, 10_000, 12_000, 20_000, 3_000_000} {
		r, err := p.Do(queuetest.Context(t), Task{Key: fmt.Sprint(size), Payload: []byte("upper " + strings.Repeat("x", size))})
		require.NoError(t, err)
		assert.Equal(t, strings.Repeat("X", size), string(r.Data))
	}
	noMore(t, p, 6)
}

func TestAKeyIsDoneOnceHoweverOftenItIsAsked(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	one, two := publisher(t, o), publisher(t, o)
	path, release := hold(t)
	var answers []<-chan asked
	for _, p := range []*Publisher{one, one, two} {
		answers = append(answers, ask(queuetest.Context(t), p, "K", "while "+path))
	}
	var calls atomic.Int64
	begun := make(chan struct{}, 9)
	work(t, o, func(ctx context.Context, task Task) ([]byte, error) {
		calls.Add(1)
		begun <- struct{}{}
		return handle(ctx, task)
	})
	queuetest.Receive(t, begun, "the begin of the task")
	answers = append(answers, ask(queuetest.Context(t), two, "K", "while "+path))
	release()
	for _, answer := range answers {
		a := <-answer
		require.NoError(t, a.err)
		assert.Equal(t, "done", string(a.r.Data))
	}
	// A publisher that comes later, after one that was killed say.
	r, err := publisher(t, o).Do(queuetest.Context(t), Task{Key: "K", Payload: []byte("fail")})
	require.NoError(t, err)
	assert.Equal(t, "done", string(r.Data))
	assert.EqualValues(t, 1, calls.Load())
	noMore(t, one, 1)
}

func TestAPoisonTaskIsSetAsideWithItsReasons(t *testing.T) {
	o := options(queuetest.Start(t, "max_payload: 20000"))
	p := publisher(t, o)
	work(t, o, handle)
	for _, tt := range []struct{ name, payload, want string }{
		{"an error", "fail out of ink", "out of ink (worker " + self() + ")"},
		{"a panic", "panic lost my lanes", "panic: lost my lanes (worker " + self() + ")"},
		{"a payload and a reason too large for a message", "fail " + strings.Repeat("ä", 50_000), strings.Repeat("ä", 500) + "… (worker"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for range 2 { // and again: an explicit rerun tries anew
				_, err := p.Do(queuetest.Context(t), Task{Key: tt.name, Payload: []byte(tt.payload)})
				var aside *Aside
				require.ErrorAs(t, err, &aside)
				require.Len(t, aside.Reasons, 3)
				for _, reason := range aside.Reasons {
					assert.Contains(t, reason, tt.want)
				}
				assert.Contains(t, err.Error(), "set aside after 3 tries: ")
			}
			r, err := p.Do(queuetest.Context(t), Task{Key: "good", Payload: []byte("upper a")})
			require.NoError(t, err)
			assert.Equal(t, "A", string(r.Data), "the others go on")
			require.NoError(t, p.Forget(queuetest.Context(t), tt.name))
		})
	}
	noMore(t, p, 1)
}

func TestATaskStaysWithItsWorkerHoweverOftenItIsHandedOut(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	p := publisher(t, o)
	path, release := hold(t)
	var begun atomic.Int64
	taken := make(chan struct{}, 9)
	h := func(ctx context.Context, task Task) ([]byte, error) {
		begun.Add(1)
		taken <- struct{}{}
		return handle(ctx, task)
	}
	heard, err := p.store.SubscribeSync(p.store.atSubject(p.store.o.id("K")))
	require.NoError(t, err)
	slow := o
	slow.AckWait = time.Hour // it gives no sign of life by itself, as if the server was away
	work(t, slow, h)
	answer := ask(queuetest.Context(t), p, "K", "while "+path)
	queuetest.Receive(t, taken, "the begin of the task")
	o.AckWait = 50 * time.Millisecond
	for range 2 {
		work(t, o, h)
	}
	for range 2 * 3 { // more often than tries, and once when it was begun
		m, err := heard.NextMsgWithContext(queuetest.Context(t))
		require.NoError(t, err)
		assert.Equal(t, wordHere, string(m.Data))
	}
	assert.EqualValues(t, 1, begun.Load())
	release()
	a := <-answer
	require.NoError(t, a.err)
	assert.Equal(t, "done", string(a.r.Data))
}

func TestAPublisherThatIsToldToEndGetsWhatThereIs(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	p := publisher(t, o)
	path, release := hold(t)
	defer release()
	begun := make(chan string, 9)
	work(t, o, func(ctx context.Context, task Task) ([]byte, error) {
		begun <- task.Key
		return handle(ctx, task)
	})
	over := errors.New("the night is over")
	working, endWorking := context.WithCancelCause(queuetest.Context(t))
	waiting, endWaiting := context.WithCancelCause(queuetest.Context(t))
	answer := ask(working, p, "at work", "while "+path)
	queuetest.Receive(t, begun, "the begin of the task")
	idle := ask(waiting, p, "waits", "while "+path)
	tasks(t, p, 2)
	endWaiting(over) // while the worker is at the other one
	i := <-idle
	require.ErrorIs(t, i.err, over)
	assert.Contains(t, i.err.Error(), "no worker was at it")
	endWorking(over)
	a := <-answer
	require.NoError(t, a.err)
	assert.Equal(t, Result{Data: []byte("so far"), Worker: self(), CutShort: true}, a.r)
	good := <-ask(queuetest.Context(t), p, "good", "upper a")
	require.NoError(t, good.err)
	require.NoError(t, p.Forget(queuetest.Context(t), "good"))
	noMore(t, p, 0)
}

func TestAWorkerOfAnotherVersionLeavesTasksToOthers(t *testing.T) {
	s := queuetest.Start(t, "")
	for _, tt := range []struct {
		name, version string
		format        int
	}{
		{"another version", "v2", 1},
		{"another format", "v1", 2},
		{"a version with the same token", "v1\xff", 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			ours := options(s)
			ours.Name = strings.ReplaceAll(tt.name, " ", "-")
			ours.Version = "v1.0"
			if tt.format == 1 && tt.version != "v2" {
				tt.version = "v1_0"
			}
			theirs := ours
			theirs.Version, theirs.Format = tt.version, tt.format
			said, heard := newLog(&theirs), newLog(&ours)
			p := publisher(t, ours)
			answer := ask(queuetest.Context(t), p, "K", "upper a")
			work(t, theirs, func(context.Context, Task) ([]byte, error) {
				t.Error("it took the task")
				return nil, nil
			})
			said.said(t, `"tasks of another version wait; this worker leaves them to workers of that version"`)
			said.said(t, `tasks="v1.0 (format 1)"`)
			if tt.version == "v2" {
				heard.said(t, "the workers at the queue are of another version")
				heard.said(t, "v2 (format 1)")
			}
			work(t, ours, handle)
			a := <-answer
			require.NoError(t, a.err)
			assert.Equal(t, "A", string(a.r.Data))
			assert.Equal(t, 1, strings.Count(said.String(), "tasks of another version"), "one sentence")
		})
	}
}

func TestAPublisherSaysThatNoWorkerIsThere(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	heard := newLog(&o)
	answer := ask(queuetest.Context(t), publisher(t, o), "K", "upper a")
	heard.said(t, "no worker of this version takes tasks from the queue; they wait")
	work(t, o, handle)
	require.NoError(t, (<-answer).err)
}

func TestAFullQueueHoldsPublishersBack(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	o.Waiting, o.Look = 2, 50*time.Millisecond
	heard := newLog(&o)
	p := publisher(t, o)
	var answers []<-chan asked
	for i := range 6 {
		answers = append(answers, ask(queuetest.Context(t), p, fmt.Sprint(i), "upper a"))
	}
	heard.said(t, "a task waits before the queue")
	info, err := p.store.tasks.Info(queuetest.Context(t))
	require.NoError(t, err)
	assert.EqualValues(t, 2, info.State.Msgs)
	work(t, o, handle)
	for _, answer := range answers {
		require.NoError(t, (<-answer).err)
	}
}

func TestAPublisherHasSoManyTasksInFlight(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	o.InFlight = 3
	p := publisher(t, o)
	o.Jobs = 10
	var now, most atomic.Int64
	work(t, o, func(ctx context.Context, task Task) ([]byte, error) {
		n := now.Add(1)
		for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
		}
		defer now.Add(-1)
		return handle(ctx, task)
	})
	var answers []<-chan asked
	for i := range 30 {
		answers = append(answers, ask(queuetest.Context(t), p, fmt.Sprint(i), "upper a"))
	}
	for _, answer := range answers {
		require.NoError(t, (<-answer).err)
	}
	assert.LessOrEqual(t, most.Load(), int64(3))
}

func TestATaskThatTheServerLostIsPublishedAgain(t *testing.T) {
	o := options(queuetest.Start(t, "max_payload: 20000"))
	heard := newLog(&o)
	p := publisher(t, o)
	answer := ask(queuetest.Context(t), p, "K", "upper "+strings.Repeat("a", 50_000))
	tasks(t, p, 1)
	require.NoError(t, p.store.tasks.Purge(queuetest.Context(t)))
	heard.said(t, "the queue server lost a task; it is published again")
	work(t, o, handle)
	a := <-answer
	require.NoError(t, a.err)
	assert.Len(t, a.r.Data, 50_000)
}

func TestNothingIsLostWhenTheServerRestartsAgainAndAgain(t *testing.T) {
	s := queuetest.Start(t, "")
	o := options(s)
	p := publisher(t, o)
	work(t, o, handle)
	o.Jobs = 2
	work(t, o, handle)
	var answers []<-chan asked
	for i := range 40 {
		answers = append(answers, ask(queuetest.Context(t), p, fmt.Sprint(i), fmt.Sprintf("upper no %d", i)))
	}
	for i, answer := range answers {
		a := <-answer
		require.NoError(t, a.err)
		assert.Equal(t, fmt.Sprintf("NO %d", i), string(a.r.Data))
		if i%12 == 0 {
			s.Stop()
			s.Run(t)
		}
	}
}

func TestOptionsAndTasksThatMakeNoSense(t *testing.T) {
	for _, tt := range []struct {
		o    Options
		want string
	}{
		{Options{}, "no Version is given"},
		{Options{Version: "v1", Jobs: -1}, "Jobs -1 is negative"},
		{Options{Version: "v1", Grace: -1}, "Grace -1 is negative"},
		{Options{Version: "v1", Name: "a.b"}, `Name "a.b": want up to 40 letters`},
	} {
		_, err := NewPublisher(queuetest.Context(t), tt.o)
		assert.ErrorContains(t, err, tt.want)
	}
	p := publisher(t, options(queuetest.Start(t, "")))
	for _, key := range []string{"", strings.Repeat("k", 1001)} {
		_, err := p.Do(queuetest.Context(t), Task{Key: key})
		assert.ErrorContains(t, err, "want from 1 to 1,000")
	}
	_, err := p.Do(queuetest.Context(t), Task{Key: "k", Name: strings.Repeat("n", 1001)})
	assert.ErrorContains(t, err, "a task's name has 1001 bytes, want at most 1,000")
	o, err := Options{Version: "v1"}.settle()
	require.NoError(t, err)
	o.Log = nil
	assert.Equal(t, Options{
		Version: "v1", Name: "laneplan", Jobs: 1, InFlight: 64, Waiting: 10_000, Tries: 3,
		AckWait: 30 * time.Second, RetryWait: 5 * time.Second, Grace: 5 * time.Second, Look: 5 * time.Second,
	}, o, "the defaults")
}
