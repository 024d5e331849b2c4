// Package bench holds what the planner is measured against: ways of planning
// that people use or that the literature describes, and a generator of
// instances. Nothing here is used to plan; every plan that a method returns
// has passed nest.Check.
//
//	plan, err := bench.SortedBlocks(p)
//
// The baselines look at lanes, quantities and costs alone. Where a problem
// has other rules and a plan happens to break one, the method says so with
// ErrCannot.
package bench

import (
	"errors"
	"fmt"

	"laneplan/nest"
)

// ErrCannot says that a method has no plan for a problem: it does not know
// one of its rules, or found nothing within its limits.
var ErrCannot = errors.New("no plan by this method")

// finish prices a plan and sends it through the check.
func finish(p nest.Problem, method string, sections []nest.Section) (nest.Plan, error) {
	plan := nest.Plan{Sections: sections}
	plan.Cost = nest.Recount(p, plan).Cost
	if err := nest.Check(p, plan); err != nil {
		return nest.Plan{}, fmt.Errorf("%s: %w: %w", method, ErrCannot, err)
	}
	return plan, nil
}

// shop is a problem as the methods here see it.
type shop struct {
	nest.Problem
	open []int // lanes that are not closed, from 0
}

func newShop(p nest.Problem, method string) (shop, error) {
	if err := nest.Validate(p); err != nil {
		return shop{}, fmt.Errorf("%s: %w", method, err)
	}
	s := shop{Problem: p}
	closed := map[int]bool{}
	for _, lane := range p.Closed {
		closed[lane-1] = true
	}
	for lane := range p.Lanes {
		if !closed[lane] {
			s.open = append(s.open, lane)
		}
	}
	return s, nil
}

// section puts so many lanes of each version, in their order, into the open
// lanes; the rest stay empty. Rows are rounded up to whole frames.
func (s shop) section(rows int, versions, lanes []int) nest.Section {
	frame := max(s.Limits.Frame, 1)
	rows = max(rows, s.Limits.LeastRows, 1)
	section := nest.Section{Rows: (rows + frame - 1) / frame * frame, Lanes: make([]int, s.Lanes)}
	for lane := range section.Lanes {
		section.Lanes[lane] = nest.Empty
	}
	next := 0
	for i, version := range versions {
		for range lanes[i] {
			section.Lanes[s.open[next]] = version
			next++
		}
	}
	return section
}

// quantities of some versions.
func (s shop) quantities(versions []int) []int {
	q := make([]int, len(versions))
	for i, version := range versions {
		q[i] = s.Versions[version].Quantity
	}
	return q
}
