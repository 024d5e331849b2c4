package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/intake/fault"
	"laneplan/jobs/queue"
	"laneplan/nest"
)

// The exit codes.
const (
	exitDone        = 0   // done, the plan checked
	exitFailure     = 1   // our own failure
	exitInput       = 2   // bad input or usage
	exitInfeasible  = 3   // no plan can meet the demands
	exitPartly      = 4   // a batch in which some gangs failed
	exitInterrupted = 130 // nothing half-written
)

// coded is an error that knows its exit code.
type coded struct {
	code int
	err  error
}

func (c *coded) Error() string { return c.err.Error() }
func (c *coded) Unwrap() error { return c.err }

// usage is a fault of the command line, in one sentence.
func usage(format string, values ...any) error {
	return &coded{exitInput, fmt.Errorf(format, values...)}
}

// interrupted ends the program as Ctrl-C does; the plan, if there is one, is
// written.
func interrupted(format string, values ...any) error {
	return &coded{exitInterrupted, fmt.Errorf(format, values...)}
}

// code is the exit code of an error.
func (a *app) code(err error) int {
	var known *coded
	var inFile fault.List
	var inGang jobs.Faults
	var inProblem *nest.Fault
	var atQueue *queue.Fault
	var infeasible *nest.Infeasible
	var noPlan *nest.NoPlan
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &known):
		return known.code
	case errors.As(err, &infeasible):
		return exitInfeasible
	case errors.As(err, &inFile), errors.As(err, &inGang), errors.As(err, &inProblem), errors.As(err, &atQueue):
		return exitInput
	case errors.Is(err, context.Canceled), errors.As(err, &noPlan) && noPlan.Stop == nest.StopContext:
		return exitInterrupted
	case !a.started: // cobra refused the command line
		return exitInput
	}
	return exitFailure
}

// end prints an error and gives its exit code. Faults of a file stand as they
// are, since they begin with its name.
func (a *app) end(err error) int {
	code := a.code(err)
	if err == nil {
		return code
	}
	text := err.Error()
	var inFile fault.List
	if !errors.As(err, &inFile) {
		text = "laneplan: " + text
	}
	if code == exitInput && !a.started && !strings.Contains(text, "hint:") {
		text += "\nhint: see laneplan --help"
	}
	fmt.Fprintln(a.stderr, text)
	return code
}
