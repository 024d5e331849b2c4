package nest

import (
	"time"

	"laneplan/solver"
)

// Options steer a solve. The zero value searches to a proven optimum with the
// Go search alone, however long that takes, so give a limit.
type Options struct {
	// Engine solves the linear and integer programmes; nil leaves out what
	// needs one (the bound is then weaker).
	Engine solver.Solver
	// Gap at which to stop: (cost - bound) / cost.
	Gap float64
	// Work limit in units of a million annealing moves (or what takes as
	// long, on our machine about 0.1 s of one core); 0 is none. The same seed
	// and work limit give the same plan on any number of cores.
	Work float64
	// Time limit; 0 is none. Results that a time limit cut are not
	// reproducible.
	Time time.Duration
	Seed int64
	// Workers is the number of goroutines; 0 is the number of cores.
	Workers int
	// Start is a plan to begin from; it must pass Check.
	Start *Plan
	// Progress, if not nil, is called from one goroutine whenever the
	// incumbent or the bound got better.
	Progress func(Progress)
}

// Progress of a running solve.
type Progress struct {
	Elapsed   time.Duration
	Work      float64 // units as in Options
	Cost      float64 // of the incumbent; +Inf before the first
	Bound     float64
	Gap       float64
	FoundBy   string // which part of the search got better
	Sections  int
	Completed bool // the last call
}

// Stop says what ended a solve.
type Stop int

// The reasons to stop.
const (
	StopProven Stop = iota // the bound meets the cost
	StopGap                // Options.Gap reached
	StopWork
	StopTime
	StopContext
)

// String names the reason in plain words.
func (s Stop) String() string {
	return [...]string{"proven", "gap", "work limit", "time limit", "interrupted"}[s]
}

// Result of a solve: the best plan found (it passed Check), and no plan costs
// less than Bound.
type Result struct {
	Plan   Plan
	Bound  float64
	Gap    float64 // (cost - bound) / cost, never negative
	Proven bool
	Stop   Stop
	Work   float64
	Time   time.Duration
	Seed   int64
}
