package nest

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Alternative is the cheapest plan found with exactly so many sections.
type Alternative struct {
	Sections int
	Result   Result // its bound is one for exactly so many sections
	// None says why there is no plan: *Infeasible or *NoPlan; nil where there
	// is one.
	None error
	// Spare: an alternative with fewer sections needs no more rows, so that
	// the further section buys no web.
	Spare bool
}

// Alternatives plans a problem anew for every number of sections up to 'each'
// below and above those of a plan that Solve found, and returns them with the
// plan itself, fewest sections first. Downwards it ends at the first number
// that has no plan, which is listed; it stays within the problem's own
// limits. Where a limit of o.Work or o.Time is set, it is for all of them
// together, in equal shares.
//
// An alternative may turn out cheaper than what Solve had found; best is then
// that plan, with the bound of the first solve, and best of all that are as
// cheap is the one with the fewest sections.
func Alternatives(ctx context.Context, p Problem, found Result, each int, o Options) (best Result, list []Alternative, err error) {
	if p.Limits.Sections > 0 {
		return found, nil, fmt.Errorf("nest: exactly %d sections are asked for: there are no alternatives to them", p.Limits.Sections)
	}
	around := len(found.Plan.Sections)
	lowest := max(1, around-each)
	highest := around + each
	if most := p.Limits.MostSections; most > 0 {
		highest = min(highest, most)
	}
	left := highest - lowest
	if left > 0 {
		o.Work /= float64(left)
	}
	begun, total := time.Now(), o.Time
	plan := func(sections int, from Plan) (Alternative, error) {
		q := p
		q.Limits.Sections, q.Limits.MostSections = sections, 0
		o := o
		if total > 0 {
			o.Time = max(time.Millisecond, (total-time.Since(begun))/time.Duration(left))
		}
		left--
		if start, ok := resection(ctx, q, from, o.Seed); ok {
			o.Start = &start
		}
		r, err := Solve(ctx, q, o)
		var infeasible *Infeasible
		var none *NoPlan
		if errors.As(err, &infeasible) || errors.As(err, &none) {
			return Alternative{Sections: sections, Result: r, None: err}, nil
		}
		return Alternative{Sections: sections, Result: r}, err
	}
	list = []Alternative{{Sections: around, Result: found}}
	for k := around - 1; k >= lowest; k-- {
		a, err := plan(k, list[0].Result.Plan)
		if err != nil {
			return found, nil, err
		}
		list = append([]Alternative{a}, list...)
		if a.None != nil {
			break
		}
	}
	for k := around + 1; k <= highest; k++ {
		a, err := plan(k, list[len(list)-1].Result.Plan)
		if err != nil {
			return found, nil, err
		}
		list = append(list, a)
		if a.None != nil {
			break
		}
	}
	return settle(found, list), list, nil
}

// settle marks spare sections and finds the best plan of all.
func settle(found Result, list []Alternative) Result {
	best := found
	fewest := 0
	for i := range list {
		a := &list[i]
		if a.None != nil {
			continue
		}
		// What no plan can be cheaper than, none with so many sections can.
		if cost := a.Result.Plan.Cost.Total; found.Bound > a.Result.Bound && !a.Result.Proven {
			a.Result.Bound = min(found.Bound, cost)
			a.Result.Gap = gap(cost, a.Result.Bound)
		}
		rows := a.Result.Plan.rows()
		a.Spare = fewest > 0 && rows >= fewest
		if fewest == 0 || rows < fewest {
			fewest = rows
		}
		if a.Result.Plan.Cost.Total < best.Plan.Cost.Total*(1-1e-12)-1e-12 {
			best.Plan = a.Result.Plan
		}
	}
	best.Bound = min(best.Bound, best.Plan.Cost.Total)
	best.Gap = gap(best.Plan.Cost.Total, best.Bound)
	return best
}

func (p Plan) rows() int {
	n := 0
	for _, s := range p.Sections {
		n += s.Rows
	}
	return n
}

// resection makes of a plan one of the exact number of sections of q: by
// cutting its longest sections in two, or by mending. False where neither
// holds.
func resection(ctx context.Context, q Problem, plan Plan, seed int64) (Plan, bool) {
	if len(plan.Sections) == 0 {
		return Plan{}, false
	}
	frame := max(1, q.Limits.Frame)
	cut := Plan{Sections: append([]Section(nil), plan.Sections...)}
	for len(cut.Sections) < q.Limits.Sections {
		longest := 0
		for k, s := range cut.Sections {
			if s.Rows > cut.Sections[longest].Rows {
				longest = k
			}
		}
		s := cut.Sections[longest]
		first := (s.Rows/2 + frame - 1) / frame * frame
		cut.Sections[longest].Rows = first
		rest := Section{Rows: s.Rows - first, Lanes: append([]int(nil), s.Lanes...)}
		cut.Sections = append(cut.Sections[:longest+1], append([]Section{rest}, cut.Sections[longest+1:]...)...)
	}
	cut.Cost = Recount(q, cut).Cost
	return Mend(ctx, q, cut, seed)
}
