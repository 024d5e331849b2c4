package main

import (
	"errors"
	"runtime"
	"time"

	"github.com/spf13/cobra"

	"laneplan/jobs/batch/remote"
	"laneplan/jobs/queue"
	"laneplan/solver/highs"
)

// workerFlags of the command worker.
type workerFlags struct {
	queue        *string
	jobs, memory count
	engine       string
	deadAfter    span
	log          *choice
}

func workerCommand(a *app) *cobra.Command {
	f := workerFlags{deadAfter: span(30 * time.Second)}
	c := &cobra.Command{
		Use:   "worker --queue nats://HOST:4222",
		Short: "Plan gangs for batches of other machines, which a queue hands out",
		Long: `worker takes gangs from a queue, a NATS server with JetStream, plans them as
batch does, and sends plans and documents back. Start as many as you like on as
many machines as you like, each of the same version as the batch: a worker of
another version says so and leaves the gangs to others.

It runs until it is told to end. SIGTERM or Ctrl-C ends it within five seconds:
a gang that is done is handed over, another one given back, and the next worker
begins it anew. Kill it, and the gang moves on after --dead-after. A gang that
fails or kills its worker three times is set aside; its batch goes on and says
why.

` + queueHelp(),
		Example: `  laneplan worker --queue nats://queue.mill.example:4222
  LANEPLAN_QUEUE_LOGIN=/etc/laneplan/login laneplan worker --queue tls://queue.mill.example:4222 --jobs 4`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return a.worker(&f) },
	}
	flags := c.Flags()
	flags.SortFlags = false
	f.queue = addQueueFlag(flags, "address of the queue server; several of one cluster with commas between them")
	flags.Var(&f.jobs, "jobs", "plan so many gangs at a time (default: one a core)")
	flags.Lookup("jobs").DefValue = ""
	flags.StringVar(&f.engine, "engine", "", "path or name of a highs executable to use instead of the embedded engine")
	flags.Var(&f.memory, "memory", "most memory of one run of the embedded engine, in MiB (default 1024)")
	flags.Lookup("memory").DefValue = ""
	flags.Var(&f.deadAfter, "dead-after", "a worker that gives no sign of life for so long counts as dead; the same for all workers")
	f.log = choiceFlag(c, "log", "", "how events are written to standard error", "text", "json")
	return c
}

func (a *app) worker(f *workerFlags) error {
	switch {
	case *f.queue == "":
		return usage("--queue: want the address of the queue server, such as nats://host:4222")
	case time.Duration(f.deadAfter) < time.Second:
		return usage("--dead-after: want a second or more, got %s", &f.deadAfter)
	}
	if f.jobs == 0 {
		f.jobs = count(runtime.GOMAXPROCS(0))
	}
	engine, err := highs.New(highs.Options{Executable: f.engine, Solves: int(f.jobs) + 1, MemoryMB: int(f.memory)})
	if err != nil {
		return usage("%w", err)
	}
	defer engine.Close()
	o := queueOptions(*f.queue, logOf(a.stderr, f.log.word))
	o.Jobs, o.AckWait = int(f.jobs), time.Duration(f.deadAfter)
	err = queue.Work(a.ctx, o, remote.Handler(planWith(engine)))
	if a.ctx.Err() != nil && errors.Is(err, a.ctx.Err()) {
		return interrupted("told to end; what was not done is given back")
	}
	return queueFault(err)
}
