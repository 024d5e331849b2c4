package rest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"laneplan/jobs"
	"laneplan/nest"
)

// Planned is a plan of what is left. Gang is the rest with its press as the
// plan needs it, and Problem that gang's.
type Planned struct {
	Gang    jobs.Gang
	Problem nest.Problem
	Result  nest.Result
	// Continues says that the first section goes on with the lanes now on the
	// press, so that no changeover is paid for it.
	Continues bool
}

// quickWork is the search for each of the lengths that a continued section
// may have, before the best of them is searched for in earnest.
const quickWork = 0.2

// mostLengths of a continued section are tried.
const mostLengths = 10

// Plan plans what is left with the options of nest; with a time limit, half
// of it goes to the plan that starts with a changeover. The result's bound
// holds for every plan, whether it goes on with the lanes on the press or not.
// Where every version may be left out and printing any costs more than it
// earns, the plan has no sections. Errors are those of nest.Solve, and a
// jobs.Faults where the lanes that are left do not do.
func Plan(ctx context.Context, t Todo, o nest.Options) (Planned, error) {
	p, err := plan(ctx, t, o)
	if err != nil {
		return Planned{}, err
	}
	if ctx.Err() != nil { // perhaps between two of its searches
		p.Result.Stop = nest.StopContext
	}
	if left := leftOut(p.Problem); left <= p.Result.Plan.Cost.Total {
		p.Continues, p.Result.Plan = false, nest.Plan{}
		p.Result.Plan.Cost = nest.Recount(p.Problem, p.Result.Plan).Cost
	}
	return p, nil
}

// leftOut is what it costs to print nothing more; +Inf where something must
// be printed. A problem charges its set-up even then.
func leftOut(p nest.Problem) float64 {
	cost := 0.0
	for _, v := range p.Versions {
		if !v.Filler {
			return math.Inf(1)
		}
		cost += v.ElsewhereCost
	}
	return cost
}

func plan(ctx context.Context, t Todo, o nest.Options) (Planned, error) {
	fresh := Planned{Gang: t.Gang}
	var err error
	if fresh.Problem, err = t.Gang.Problem(); err != nil {
		return Planned{}, fmt.Errorf("the rest: %w", err)
	}
	on := t.continued
	goes := Planned{Gang: t.Gang, Continues: true}
	if t.Gang.Bare == nil {
		goes.Gang.Press = on
	}
	if goes.Problem, err = goes.Gang.Problem(); err != nil {
		return Planned{}, fmt.Errorf("the rest: %w", err)
	}
	if t.OnPress == nil {
		fresh.Result, err = nest.Solve(ctx, fresh.Problem, o)
		return fresh, err
	}

	// Whatever holds with a changeover before the first section holds without
	// one, and costs the same but for it. So the problem without bounds both,
	// and its plan is one of the fresh plans where dates and rolls allow it.
	half := o
	half.Time /= 2
	base, err := nest.Solve(ctx, goes.Problem, half)
	if err != nil {
		return Planned{}, err
	}
	fresh.Result = base
	fresh.Result.Bound += fresh.Problem.Costs.Fixed - goes.Problem.Costs.Fixed
	if fresh.Result.Plan, err = nest.PlaceRolls(fresh.Problem, base.Plan.Sections); err == nil {
		err = nest.Check(fresh.Problem, fresh.Result.Plan)
	}
	if err != nil {
		solved, err := nest.Solve(ctx, fresh.Problem, half)
		var infeasible *nest.Infeasible
		switch {
		case errors.As(err, &infeasible): // only going on is in time
			fresh.Result.Plan = nest.Plan{Cost: nest.Cost{Total: math.Inf(1)}}
		case err != nil:
			return Planned{}, err
		default:
			solved.Bound = math.Max(solved.Bound, fresh.Result.Bound)
			fresh.Result = solved
		}
	}
	goes.Result = base
	found := goes.goOn(ctx, t, o)
	if !found && math.IsInf(fresh.Result.Plan.Cost.Total, 1) {
		return Planned{}, &nest.NoPlan{Stop: base.Stop}
	}
	saved := 0.0
	if t.Gang.Bare != nil {
		// The file of a bare problem cannot say that the first section is
		// paid for; the choice knows it.
		saved = goes.Problem.Costs.Section
	}
	best := fresh
	if found && goes.Result.Plan.Cost.Total-saved < fresh.Result.Plan.Cost.Total {
		best = goes
	}
	best.settle(o)
	return best, nil
}

// settle states the gap of the plan that was chosen.
func (p *Planned) settle(o nest.Options) {
	r := &p.Result
	cost := r.Plan.Cost.Total
	r.Bound = math.Min(r.Bound, cost)
	r.Proven = cost-r.Bound <= math.Max(o.Unit/2, 1e-9*math.Abs(cost))
	if r.Gap = 0; r.Proven {
		r.Bound = cost
	} else if cost > 0 {
		r.Gap = (cost - r.Bound) / cost
	}
	if r.Stop == nest.StopProven && !r.Proven {
		// What was proven is another way to begin.
		if r.Stop = nest.StopTime; o.Work > 0 {
			r.Stop = nest.StopWork
		}
	}
}

// goOn searches the best plan whose first section goes on with the lanes on
// the press; false where it finds none.
func (p *Planned) goOn(ctx context.Context, t Todo, o nest.Options) bool {
	best, length := nest.Plan{Cost: nest.Cost{Total: math.Inf(1)}}, 0
	lengths := t.lengths(p.Problem)
	quick := nest.Options{Work: quickWork, Seed: o.Seed, Workers: o.Workers, Unit: o.Unit}
	if o.Work > 0 {
		quick.Work = min(quickWork, o.Work)
	}
	if o.Time > 0 {
		quick.Time = max(time.Millisecond, o.Time/4/time.Duration(max(1, len(lengths))))
	}
	for _, rows := range lengths {
		plan, work, ok := p.after(ctx, t, rows, quick)
		p.Result.Work += work
		if ok && plan.Cost.Total < best.Cost.Total {
			best, length = plan, rows
		}
	}
	if length == 0 {
		return false
	}
	earnest := o
	earnest.Progress = nil // its costs are those of a part
	earnest.Time /= 4
	plan, work, ok := p.after(ctx, t, length, earnest)
	p.Result.Work += work
	if ok && plan.Cost.Total < best.Cost.Total {
		best = plan
	}
	p.Result.Plan = best
	return true
}

// after plans what is left after so many rows more of the lanes on the press,
// and puts those rows before it; false where that keeps not every rule.
func (p *Planned) after(ctx context.Context, t Todo, rows int, o nest.Options) (plan nest.Plan, work float64, ok bool) {
	sections := []nest.Section{{Rows: rows, Lanes: t.OnPress}}
	sub, kept, ok := remaining(p.Problem, t.OnPress, rows)
	if !ok {
		return nest.Plan{}, 0, false
	}
	if len(kept) > 0 {
		r, err := nest.Solve(ctx, sub, o)
		if err != nil {
			return nest.Plan{}, r.Work, false
		}
		work = r.Work
		for _, s := range r.Plan.Sections {
			lanes := make([]int, len(s.Lanes))
			for lane, v := range s.Lanes {
				if lanes[lane] = v; v != nest.Empty {
					lanes[lane] = kept[v]
				}
			}
			sections = append(sections, nest.Section{Rows: s.Rows, Lanes: lanes})
		}
	}
	plan, err := nest.PlaceRolls(p.Problem, sections)
	if err != nil || nest.Check(p.Problem, plan) != nil {
		return nest.Plan{}, work, false
	}
	return plan, work, true
}

// lengths that a continued section may have: as it was planned, and those at
// which one of its versions has what is wanted of it.
func (t Todo) lengths(p nest.Problem) []int {
	frame := max(1, p.Limits.Frame)
	var all []int
	add := func(rows int) {
		rows = (max(rows, p.Limits.LeastRows, 1) + frame - 1) / frame * frame
		if !slices.Contains(all, rows) && len(all) < mostLengths {
			all = append(all, rows)
		}
	}
	if t.Left > 0 {
		add(t.Left)
	}
	lanes := map[int]int{}
	for _, v := range t.OnPress {
		if v != nest.Empty {
			lanes[v]++
		}
	}
	for v := range p.Versions {
		n := lanes[v]
		if n == 0 {
			continue
		}
		version := p.Versions[v]
		add((version.Quantity + n - 1) / n)
		if version.Fewest > 0 && !version.Filler {
			add((version.Fewest + n - 1) / n)
		}
		if most := version.Most / n / frame * frame; most > 0 {
			add(most)
		}
	}
	slices.Sort(all)
	return all
}

// remaining is the problem after so many rows of these lanes, and the
// versions that are still in it; false where it cannot be.
func remaining(p nest.Problem, lanes []int, rows int) (sub nest.Problem, kept []int, possible bool) {
	printed := make([]int, len(p.Versions))
	for _, v := range lanes {
		if v != nest.Empty {
			printed[v] += rows
		}
	}
	sub = p
	sub.Versions = nil
	index := map[int]int{}
	for i, v := range p.Versions {
		n := printed[i]
		fewest := v.Fewest
		if fewest == 0 {
			fewest = v.Quantity
		}
		if n >= v.Quantity || v.OnePiece && n >= fewest {
			continue
		}
		if v.OnePiece && n > 0 {
			return sub, nil, false
		}
		if n > 0 {
			v.Filler, v.ElsewhereCost = false, 0
			if v.Quantity, v.Fewest = v.Quantity-n, fewest-n; v.Fewest <= 0 {
				v.Filler, v.Fewest, v.ElsewhereCost = true, 1, v.ShortCost*float64(v.Quantity)
			}
			if v.Most > 0 {
				v.Most -= n
			}
		}
		index[i] = len(sub.Versions)
		sub.Versions = append(sub.Versions, v)
		kept = append(kept, i)
	}
	if sub.Limits.MostSections > 0 {
		if sub.Limits.MostSections--; sub.Limits.MostSections == 0 && len(kept) > 0 {
			return sub, nil, false
		}
	}
	sub.Together, sub.Apart = remapped(p.Together, index), remapped(p.Apart, index)
	sub.Press.SetupMinutes += p.Press.RowMinutes*float64(rows) + p.Press.ChangeoverMinutes
	if s := &sub.Stock; s.RollRows > 0 {
		// An estimate of where the roll stands: PlaceRolls settles it.
		s.SetupRows = math.Mod(s.SetupRows+float64(rows), s.RollRows) + s.ChangeoverRows
		if s.SetupRows+1 > s.RollRows {
			s.SetupRows = 0
		}
	}
	return sub, kept, true
}

func remapped(sets [][]int, index map[int]int) (out [][]int) {
	for _, set := range sets {
		var one []int
		for _, v := range set {
			if i, there := index[v]; there {
				one = append(one, i)
			}
		}
		if len(one) > 1 {
			out = append(out, one)
		}
	}
	return out
}
