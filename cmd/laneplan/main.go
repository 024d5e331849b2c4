// Command laneplan plans gang runs of self-adhesive labels: which version runs
// in which lane for how many rows, section by section, at the least money.
//
// One file holds one command: flags in, calls, exit code out. What is read,
// computed and written is for the packages under jobs and nest.
//
//	laneplan plan spices.yaml --time 30s
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() {
		<-ctx.Done()
		stop() // a second Ctrl-C ends the program at once
	}()
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run is the whole program: everything but the process itself. When ctx ends,
// a search stops and its best plan is written.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	a := &app{ctx: ctx, stdout: stdout, stderr: stderr, isTerminal: terminal}
	return a.run(args)
}
