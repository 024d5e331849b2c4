// Package remote runs a batch over a work queue: the tasks of package batch as
// those of package queue. A publisher's side is a batch.Runner,
//
//	p, err := queue.NewPublisher(ctx, queue.Options{Server: "nats://host:4222", Version: version, Format: remote.Format})
//	runner := remote.Runner{Publisher: p}
//
// and a worker's side, with the planner of package batch, a queue.Handler:
//
//	err := queue.Work(ctx, o, remote.Handler(func(ctx context.Context, t batch.Task) batch.Result { return batch.Plan(ctx, engine, t) }))
package remote

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"

	"laneplan/jobs/batch"
	"laneplan/jobs/queue"
)

// Format of tasks and results as they go over the queue. What a new field
// means to a worker that does not know it decides whether it needs a new
// number; the program's version is compared, too.
const Format = 1

// Runner is the batch.Runner whose tasks workers on other machines work off.
type Runner struct {
	Publisher *queue.Publisher
	// AtATime are the tasks that are on the queue at a time, from 1: enough
	// that no worker waits for the next.
	AtATime int
}

// Run is described at batch.Runner. A task that was set aside is a failure of
// its gang; an error that ends the run is a *queue.Fault. A result stays on the
// server until each has taken it, so that a batch that is killed finds it when
// it is run again.
func (r Runner) Run(ctx context.Context, tasks []batch.Task, each func(batch.Result) error) error {
	work, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	queued, results := make(chan batch.Task), make(chan batch.Result)
	var group sync.WaitGroup
	for range min(max(1, r.AtATime), len(tasks)) {
		group.Go(func() {
			for t := range queued {
				result, known, err := r.do(work, t)
				if err != nil {
					stop(err)
				}
				if known {
					results <- result
				}
			}
		})
	}
	go func() {
		defer close(results)
		defer group.Wait()
		defer close(queued)
		for _, t := range tasks {
			select {
			case queued <- t:
			case <-work.Done():
				return
			}
		}
	}()
	taken := true
	for result := range results {
		if !taken {
			continue
		}
		if err := each(result); err != nil {
			taken = false
			stop(err)
			continue
		}
		if err := r.Publisher.Forget(work, result.Key); err != nil && work.Err() == nil {
			stop(err)
		}
	}
	if err := context.Cause(work); ctx.Err() == nil && err != nil {
		return err
	}
	return nil
}

// do has one task done. known says whether there is a result; an error is one
// after which no task can be done any more.
func (r Runner) do(ctx context.Context, t batch.Task) (result batch.Result, known bool, err error) {
	failed := func(kind batch.Kind, format string, values ...any) (batch.Result, bool, error) {
		return batch.Result{Key: t.Key, Gang: t.Gang.ID, Failure: batch.Fail(kind, format, values...)}, true, nil
	}
	payload, err := t.Encode()
	if err != nil {
		return failed(batch.Broken, "%v", err)
	}
	answer, err := r.Publisher.Do(ctx, queue.Task{Key: t.Key, Name: name(t), Payload: payload})
	var aside *queue.Aside
	var fault *queue.Fault
	switch {
	case err == nil:
	case errors.As(err, &aside):
		return failed(batch.Lost, "%v", aside)
	case errors.As(err, &fault):
		return batch.Result{}, false, err
	case ctx.Err() != nil:
		return batch.Result{}, false, nil
	default:
		return failed(batch.Broken, "the queue did not take it: %v", err)
	}
	if result, err = batch.DecodeResult(answer.Data); err != nil {
		return failed(batch.Broken, "worker %s: %v", answer.Worker, err)
	}
	return result, true, nil
}

// name of a task in the logs of workers.
func name(t batch.Task) string {
	id := strings.ToValidUTF8(t.Gang.ID, "?")
	if len(id) > 200 {
		id = strings.ToValidUTF8(id[:200], "") + "…"
	}
	return fmt.Sprintf("%s, round %d", id, t.Round)
}

// Handler has plan work off what comes over the queue. A task whose time to
// give up is over, and which does not stop, is left behind as batch.Pool does.
func Handler(plan func(context.Context, batch.Task) batch.Result) queue.Handler {
	return func(ctx context.Context, t queue.Task) (data []byte, err error) {
		task, err := batch.DecodeTask(t.Payload)
		if err != nil {
			return nil, err
		}
		if task.Key != t.Key {
			return nil, fmt.Errorf("the task's key is %s on the queue and %s inside", t.Key, task.Key)
		}
		pool := batch.Pool{Jobs: 1, Plan: plan}
		err = pool.Run(ctx, []batch.Task{task}, func(r batch.Result) error {
			data, err = r.Encode()
			return err
		})
		if err == nil && data == nil {
			err = fmt.Errorf("the planner did not stop: %w", context.Cause(ctx))
		}
		return data, err
	}
}
