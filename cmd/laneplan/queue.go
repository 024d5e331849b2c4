package main

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"strings"

	"github.com/spf13/pflag"

	"laneplan/jobs/batch"
	"laneplan/jobs/batch/remote"
	"laneplan/jobs/queue"
	"laneplan/solver/highs"
)

// queueFiles are the variables that name the files of package queue. The files
// hold the secrets: neither flags nor variables do, since others on the same
// machine may see them.
var queueFiles = []struct {
	variable, help string
	file           func(*queue.Files) *string
}{
	{"LANEPLAN_QUEUE_CREDENTIALS", "credentials of a user (.creds)", func(f *queue.Files) *string { return &f.Credentials }},
	{"LANEPLAN_QUEUE_NKEY", "or the seed of a user's NKey", func(f *queue.Files) *string { return &f.NKey }},
	{"LANEPLAN_QUEUE_LOGIN", "or one line, user:password", func(f *queue.Files) *string { return &f.Login }},
	{"LANEPLAN_QUEUE_CA", "certificates (PEM) that the server's is signed by", func(f *queue.Files) *string { return &f.CA }},
	{"LANEPLAN_QUEUE_CERTIFICATE", "our own certificate (PEM), where the server wants one", func(f *queue.Files) *string { return &f.Certificate }},
	{"LANEPLAN_QUEUE_KEY", "its key (PEM)", func(f *queue.Files) *string { return &f.Key }},
}

// queueHelp is what the commands say of the queue's files.
func queueHelp() string {
	var b strings.Builder
	b.WriteString("Secrets and certificates of the queue are in files, which the environment names:\n")
	for _, f := range queueFiles {
		b.WriteString("\n  " + f.variable + strings.Repeat(" ", 28-len(f.variable)) + f.help)
	}
	return b.String()
}

func addQueueFlag(flags *pflag.FlagSet, help string) *string {
	return flags.String("queue", "", help)
}

// queueOptions are those that batch and worker share.
func queueOptions(server string, log *slog.Logger) queue.Options {
	o := queue.Options{Server: server, Version: versionText(), Format: remote.Format, Log: log}
	for _, f := range queueFiles {
		*f.file(&o.Files) = os.Getenv(f.variable)
	}
	return o
}

// leastAtATime are the gangs that are on the queue at least, so that workers
// that come later find work.
const leastAtATime = 64

// runner works a batch off: in this process, or with --queue in workers.
// slots is how many gangs it plans at a time.
func (a *app) runner(f *batchFlags, log *slog.Logger) (runner batch.Runner, slots int, end func(), err error) {
	if *f.queue == "" {
		engine, err := highs.New(highs.Options{Executable: f.engine, Solves: int(f.jobs) + 1, MemoryMB: int(f.memory)})
		if err != nil {
			return nil, 0, nil, usage("%w", err)
		}
		return batch.Pool{Jobs: int(f.jobs), Plan: planWith(engine)}, int(f.jobs), func() { _ = engine.Close() }, nil
	}
	o := queueOptions(*f.queue, log)
	o.InFlight = max(leastAtATime, 2*int(f.jobs))
	publisher, err := queue.NewPublisher(a.ctx, o)
	if err != nil {
		return nil, 0, nil, queueFault(err)
	}
	slots = int(f.jobs)
	if !f.flags.Changed("jobs") {
		if slots, err = publisher.Places(a.ctx); err != nil {
			publisher.Close()
			return nil, 0, nil, queueFault(err)
		}
		if slots == 0 {
			log.Warn("no worker of this version is at the queue yet; the budget is shared out as for one", "version", o.Version)
			slots = 1
		}
	}
	return remote.Runner{Publisher: publisher, AtATime: max(leastAtATime, 2*slots)}, slots, publisher.Close, nil
}

// planWith plans a task of a batch with an engine.
func planWith(engine *highs.Engine) func(context.Context, batch.Task) batch.Result {
	return func(ctx context.Context, t batch.Task) batch.Result { return batch.Plan(ctx, engine, t) }
}

// queueFault says which flag a fault of the queue is of.
func queueFault(err error) error {
	var fault *queue.Fault
	if errors.As(err, &fault) {
		return usage("--queue: %w\nhint: laneplan worker --help lists the variables that name credentials and certificates", err)
	}
	return err
}
