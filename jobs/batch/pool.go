package batch

import (
	"context"
	"runtime"
	"sync"
	"time"
)

// Runner works tasks off, several at a time, in any order. It calls each for
// every result, one at a time, from one goroutine; an error of each ends the
// run and is returned. When ctx ends it starts nothing more, hands on within
// five seconds what was cut short, and returns nil: tasks without a result
// were not reached. One task's failure never ends the others.
type Runner interface {
	Run(ctx context.Context, tasks []Task, each func(Result) error) error
}

// Pool is the Runner of this process.
type Pool struct {
	// Jobs are the tasks that run at a time; 0 is one a core.
	Jobs int
	// Plan works one task off.
	Plan func(context.Context, Task) Result
	// Grace is how long a task may take to stop: when ctx ends, and beyond its
	// own GiveUp. A task that takes longer is abandoned. 0 is 4 seconds.
	Grace time.Duration
}

// Run is described at Runner.
func (p Pool) Run(ctx context.Context, tasks []Task, each func(Result) error) error {
	work, stop := context.WithCancel(ctx)
	defer stop()
	queue, results := make(chan Task), make(chan Result)
	var group sync.WaitGroup
	n := p.Jobs
	if n == 0 {
		n = runtime.GOMAXPROCS(0)
	}
	n = min(n, len(tasks))
	for range n {
		group.Go(func() {
			for t := range queue {
				if t.Workers == 0 { // few tasks share all cores
					t.Workers = max(1, runtime.GOMAXPROCS(0)/n)
				}
				if r, known := p.watched(work, t); known {
					results <- r
				}
			}
		})
	}
	go func() {
		defer close(results)
		defer group.Wait()
		defer close(queue)
		for _, t := range tasks {
			select {
			case queue <- t:
			case <-work.Done():
				return
			}
		}
	}()
	var err error
	for r := range results {
		if err == nil {
			if err = each(r); err != nil {
				stop()
			}
		}
	}
	return err
}

// watched works a task off, and leaves it behind where it does not stop when
// it should. The result is not known where ctx ended and the task did not.
func (p Pool) watched(ctx context.Context, t Task) (r Result, known bool) {
	grace := p.Grace
	if grace == 0 {
		grace = 4 * time.Second
	}
	done := make(chan Result, 1)
	go func() { done <- p.Plan(ctx, t) }()
	var late <-chan time.Time // never, where the task may take for ever
	if t.GiveUp > 0 {
		timer := time.NewTimer(t.GiveUp + grace)
		defer timer.Stop()
		late = timer.C
	}
	select {
	case r = <-done:
		return r, true
	case <-late:
		return Result{Key: t.Key, Gang: t.Gang.ID, Failure: Fail(TimedOut, "given up after %s; it could not be stopped", t.GiveUp)}, true
	case <-ctx.Done():
	}
	timer := time.NewTimer(grace)
	defer timer.Stop()
	select {
	case r = <-done:
		return r, true
	case <-timer.C:
		return Result{}, false
	}
}
