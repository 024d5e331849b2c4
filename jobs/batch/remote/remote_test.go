package remote

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/batch"
	"laneplan/jobs/queue"
	"laneplan/jobs/queue/queuetest"
)

func options(s *queuetest.Server) queue.Options {
	return queue.Options{
		Server: s.URL(), Version: "v1", Format: Format,
		AckWait: time.Second, RetryWait: time.Millisecond, Look: 300 * time.Millisecond,
	}
}

func runner(t *testing.T, o queue.Options) Runner {
	t.Helper()
	p, err := queue.NewPublisher(queuetest.Context(t), o)
	require.NoError(t, err)
	t.Cleanup(p.Close)
	return Runner{Publisher: p, AtATime: 4}
}

func work(t *testing.T, o queue.Options, plan func(context.Context, batch.Task) batch.Result) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- queue.Work(ctx, o, Handler(plan)) }()
	t.Cleanup(func() {
		cancel()
		queuetest.Receive(t, ended, "the worker's end")
	})
}

func tasks(t *testing.T, n int) []batch.Task {
	t.Helper()
	var all []batch.Task
	for i := range n {
		one := batch.Task{Round: 1, Gang: jobs.Gang{ID: fmt.Sprintf("gang %d", i)}, Work: 1}
		require.NoError(t, one.SetKey())
		all = append(all, one)
	}
	return all
}

func TestEveryTaskHasOneResult(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	r := runner(t, o)
	for range 2 {
		work(t, o, func(_ context.Context, task batch.Task) batch.Result {
			return batch.Result{Key: task.Key, Gang: task.Gang.ID, Work: task.Work}
		})
	}
	all := tasks(t, 30)
	got := map[string]batch.Result{}
	require.NoError(t, r.Run(queuetest.Context(t), all, func(r batch.Result) error {
		assert.NotContains(t, got, r.Key)
		got[r.Key] = r
		return nil
	}))
	require.Len(t, got, len(all))
	for _, task := range all {
		assert.Equal(t, batch.Result{Key: task.Key, Gang: task.Gang.ID, Work: 1}, got[task.Key])
	}
	require.NoError(t, r.Run(queuetest.Context(t), nil, nil), "no task, no result")
}

func TestAGangThatIsSetAsideIsLostAndTheOthersGoOn(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	r := runner(t, o)
	work(t, o, func(_ context.Context, task batch.Task) batch.Result {
		if task.Gang.ID == "gang 1" {
			return batch.Result{Work: math.NaN()} // JSON has none
		}
		return batch.Result{Key: task.Key, Gang: task.Gang.ID}
	})
	got := map[string]*batch.Failure{}
	require.NoError(t, r.Run(queuetest.Context(t), tasks(t, 3), func(r batch.Result) error {
		got[r.Gang] = r.Failure
		return nil
	}))
	require.Len(t, got, 3)
	assert.Nil(t, got["gang 0"])
	assert.Nil(t, got["gang 2"])
	require.NotNil(t, got["gang 1"])
	assert.Equal(t, batch.Lost, got["gang 1"].Kind)
	assert.Contains(t, got["gang 1"].Reason, "set aside after 3 tries: gang : store the result")
	assert.NotEmpty(t, got["gang 1"].Do)
}

func TestAnInterruptedRunHandsOnWhatWasCutShort(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	r := runner(t, o)
	begun := make(chan struct{}, 9)
	var calls atomic.Int64
	o.Jobs = 2
	work(t, o, func(ctx context.Context, task batch.Task) batch.Result {
		calls.Add(1)
		begun <- struct{}{}
		<-ctx.Done()
		return batch.Result{Key: task.Key, Gang: task.Gang.ID, CutShort: true}
	})
	ctx, cancel := context.WithCancel(queuetest.Context(t))
	go func() {
		defer cancel()
		for range 2 {
			select {
			case <-begun:
			case <-ctx.Done():
			}
		}
	}()
	var n int64
	require.NoError(t, r.Run(ctx, tasks(t, 9), func(r batch.Result) error {
		assert.True(t, r.CutShort)
		n++
		return nil
	}))
	assert.Equal(t, calls.Load(), n, "every task that was begun, and no other")
	assert.GreaterOrEqual(t, n, int64(2))
}

func TestAnErrorOfEachEndsTheRun(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	r := runner(t, o)
	work(t, o, func(_ context.Context, task batch.Task) batch.Result { return batch.Result{Key: task.Key} })
	full := errors.New("the disk is full")
	n := 0
	assert.ErrorIs(t, r.Run(queuetest.Context(t), tasks(t, 20), func(batch.Result) error {
		n++
		return full
	}), full)
	assert.Equal(t, 1, n)
}

func TestAServerThatRefusesUsEndsTheRun(t *testing.T) {
	s := queuetest.Start(t, "")
	r := runner(t, options(s))
	r.Publisher.Close()
	var fault *queue.Fault
	require.ErrorAs(t, r.Run(queuetest.Context(t), tasks(t, 3), func(batch.Result) error { return errors.New("there is none") }), &fault)
}

func TestHandlerRefusesWhatIsNoTask(t *testing.T) {
	h := Handler(func(context.Context, batch.Task) batch.Result { panic("not called") })
	_, err := h(queuetest.Context(t), queue.Task{Key: "k", Payload: []byte("{")})
	assert.ErrorContains(t, err, "not a task of a batch")
	_, err = h(queuetest.Context(t), queue.Task{Key: "k", Payload: []byte(`{"key": "other"}`)})
	assert.ErrorContains(t, err, "the task's key is k on the queue and other inside")
}
