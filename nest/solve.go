package nest

import (
	"context"
	"fmt"
	"math"
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
	// and work limit give the same plan on any number of cores. Where it comes
	// before the first plan, one unit more is spent on finding one.
	Work float64
	// Time limit; 0 is none. Results that a time limit cut are not
	// reproducible.
	Time time.Duration
	Seed int64
	// Workers is the number of goroutines; 0 is the number of cores.
	Workers int
	// Unit is the smallest unit of money: a plan within half of it of the
	// bound counts as proven. 0 is none.
	Unit float64
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

// Solve searches the cheapest plan for a problem and proves a bound on what
// any plan must cost. It stops at the proof, at a limit of the options or
// when ctx ends, always with the best plan, which passed Check.
//
// Errors: a fault in the problem (see Validate) or in the options;
// *Infeasible where no plan can meet the demands; *NoPlan where a limit came
// before the first plan.
func Solve(ctx context.Context, p Problem, o Options) (Result, error) {
	if err := Validate(p); err != nil {
		return Result{}, err
	}
	if err := o.validate(); err != nil {
		return Result{}, err
	}
	limited := ctx
	if o.Time > 0 {
		var cancel context.CancelFunc
		limited, cancel = context.WithTimeout(ctx, o.Time)
		defer cancel()
	}
	if e := clash(limited, p, o.Engine); e != nil {
		return Result{}, e
	}
	in := compile(&p)
	s := newSearch(limited, in, o)
	if o.Start != nil {
		if err := Check(p, *o.Start); err != nil {
			return Result{}, fmt.Errorf("the starting plan: %w", err)
		}
		d := in.draftOf(*o.Start)
		in.finish(d)
		s.merge([]outcome{{drafts: []*draft{d}, by: "starting plan"}})
	}
	s.firstPlan()
	s.run()
	r := Result{Stop: s.stop, Work: s.work, Time: time.Since(s.started), Seed: o.Seed}
	if s.best == nil {
		return r, &NoPlan{Stop: s.stop}
	}
	r.Plan = in.plan(s.best)
	if o.Start != nil && o.Start.Cost.Total <= r.Plan.Cost.Total {
		r.Plan = *o.Start
	}
	if err := Check(p, r.Plan); err != nil {
		return r, fmt.Errorf("internal error: the plan breaks a rule: %w", err)
	}
	r.Bound = math.Min(math.Max(in.money(s.bound()), plainBound(p)), r.Plan.Cost.Total)
	r.Gap = gap(r.Plan.Cost.Total, r.Bound)
	if s.stop == StopProven {
		r.Bound, r.Gap, r.Proven = r.Plan.Cost.Total, 0, true
	}
	if s.engineErr != nil {
		return r, s.engineErr
	}
	return r, nil
}

// plainBound needs no search, for one that ended before it had a bound: what
// is paid whatever runs, less all that can be earned. A section's whole-roll
// saving counts for nothing where the section costs as much.
func plainBound(p Problem) float64 {
	if p.Costs.WholeRollSaving > p.Costs.Section {
		return math.Inf(-1)
	}
	bound := p.Costs.Fixed
	for _, v := range p.Versions {
		bound -= v.OverPrice * float64(max(0, v.Most-v.Quantity))
	}
	return bound
}

func (o *Options) validate() error {
	switch {
	case o.Gap < 0 || o.Gap >= 1 || math.IsNaN(o.Gap):
		return fmt.Errorf("nest: Gap %v is not between 0 and 1", o.Gap)
	case o.Work < 0 || math.IsNaN(o.Work):
		return fmt.Errorf("nest: Work %v is negative", o.Work)
	case o.Time < 0:
		return fmt.Errorf("nest: Time %v is negative", o.Time)
	case o.Workers < 0:
		return fmt.Errorf("nest: Workers %d is negative", o.Workers)
	case o.Unit < 0 || math.IsNaN(o.Unit):
		return fmt.Errorf("nest: Unit %v is negative", o.Unit)
	}
	return nil
}
