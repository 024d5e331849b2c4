package nest

import (
	"context"
	"errors"
	"slices"
	"time"
)

// Setter tells why a section is as long as it is: what would be wrong with it
// one frame shorter.
type Setter struct {
	// Versions would be below Fewest.
	Versions []int
	// Unbilled versions would be short, or shorter, of what was ordered, which
	// costs money but is allowed.
	Unbilled []int
	// Least: the section has its least length. Rolls: its lane runs would no
	// longer be whole customer rolls, where that is required.
	Least, Rolls bool
}

// Setters explains the lengths of a plan's sections, one each. The plan has
// passed Check.
func Setters(p Problem, plan Plan) []Setter {
	in, count := compile(&p), Recount(p, plan)
	out := make([]Setter, len(plan.Sections))
	for k, s := range plan.Sections {
		shorter := s.Rows - in.frame
		out[k].Least = shorter < in.least
		for i, v := range p.Versions {
			lanes := 0
			for _, held := range s.Lanes {
				if held == i {
					lanes++
				}
			}
			if lanes == 0 {
				continue
			}
			left := count.Versions[i].Planned - lanes*in.frame
			if left < v.fewest() {
				out[k].Versions = append(out[k].Versions, i)
			} else if left < v.Quantity && v.ShortCost > 0 {
				out[k].Unbilled = append(out[k].Unbilled, i)
			}
			if n := v.LabelsPerRoll; p.Limits.WholeRolls && k < len(plan.Sections)-1 && n > 0 && shorter%n != 0 {
				out[k].Rolls = true
			}
		}
	}
	return out
}

// OverCost is the money of what a version prints beyond its order, or below.
// Total is the sum.
type OverCost struct {
	// Web is the share of its overs and scrap in the cost of rows: each lane
	// that is not closed bears an equal part of a row.
	Web    float64
	Labels float64 // ink of overs and scrap
	Billed float64 // earned by overs, negative
	Short  float64 // lost by labels below the order
	Total  float64
}

// OverCosts counts them for every version, and what empty lanes take of the
// cost of rows. The cost of rows is the web of what was ordered and printed,
// of overs and scrap, and of empty lanes.
func OverCosts(p Problem, plan Plan) (versions []OverCost, empty float64) {
	count := Recount(p, plan)
	lane := p.Costs.Row / float64(p.Lanes-len(p.Closed))
	versions = make([]OverCost, len(p.Versions))
	for i, v := range p.Versions {
		n := count.Versions[i]
		over := float64(n.Overs + n.Scrap)
		c := OverCost{Web: lane * over, Labels: v.LabelCost * over, Short: v.ShortCost * float64(n.Unders)}
		if v.Most > 0 {
			c.Billed = 0 - v.OverPrice*float64(n.Overs)
		}
		c.Total = c.Web + c.Labels + c.Billed + c.Short
		versions[i] = c
	}
	return versions, lane * float64(count.Idle)
}

// Question is a problem that differs from another in one thing.
type Question struct {
	Problem Problem
	// Start is a plan to begin from, mended where it does not hold; nil for
	// none.
	Start *Plan
	// Relaxes: every plan of the other problem is one of this at no higher
	// cost (lanes of a version that is left out are empty in it). Restricts:
	// the other way round. Both are for the caller to know, and sharpen what
	// is proven.
	Relaxes, Restricts bool
}

// Change is what the answer to a question says of the cost of the cheapest
// plan: it changes by at least Least and by at most Most, both proven; Found
// is between the cheapest plans that were found. Less than 0 is a saving.
type Change struct {
	Result             Result
	None               error // no plan: *Infeasible or *NoPlan; nil where there is one
	Found, Least, Most float64
	Asked              bool // false where the context ended before
}

// Ask plans every question and compares the outcome with base, the outcome of
// the problem as it is. A limit of o.Work is for each question, one of o.Time
// for all together. Before every question 'about' is called with its index,
// if it is not nil.
func Ask(ctx context.Context, base Result, questions []Question, o Options, about func(int)) ([]Change, error) {
	begun, total := time.Now(), o.Time
	out := make([]Change, len(questions))
	for i, q := range questions {
		if ctx.Err() != nil {
			break
		}
		if about != nil {
			about(i)
		}
		o := o
		if total > 0 {
			o.Time = max(time.Millisecond, (total-time.Since(begun))/time.Duration(len(questions)-i))
		}
		o.Start = nil
		if q.Start != nil {
			if start, ok := Mend(ctx, q.Problem, *q.Start, o.Seed); ok {
				o.Start = &start
			}
		}
		r, err := Solve(ctx, q.Problem, o)
		if err != nil && ctx.Err() != nil {
			break
		}
		var infeasible *Infeasible
		var none *NoPlan
		switch {
		case errors.As(err, &infeasible), errors.As(err, &none):
			out[i] = Change{Result: r, None: err, Asked: true}
			continue
		case err != nil:
			return out, err
		}
		cost, bound := r.Plan.Cost.Total, r.Bound
		out[i] = Change{
			Result: r, Asked: true,
			Found: cost - base.Plan.Cost.Total, Least: bound - base.Plan.Cost.Total, Most: cost - base.Bound,
		}
		if q.Relaxes {
			out[i].Most = min(out[i].Most, 0)
		}
		if q.Restricts {
			out[i].Least = max(out[i].Least, 0)
		}
	}
	return out, nil
}

// MayLeaveOut says that a problem without one version relaxes it, in the
// sense of Question: where a plan with the lanes of that version empty keeps
// every rule and costs no more. Left aside are an exact number of sections,
// overs that earn money, and a rush version whose going may turn the order of
// sections round where that matters.
func MayLeaveOut(p Problem, version int) bool {
	v := p.Versions[version]
	ordered := p.Costs.LaneRun > 0
	for _, other := range p.Versions {
		ordered = ordered || other.Deadline > 0
	}
	return p.Limits.Sections == 0 && v.OverPrice == 0 && (!v.Rush || !ordered)
}

// Tolerates says that a problem with other tolerances, and no other
// difference, relaxes p, and that it restricts p.
func Tolerates(p, other Problem) (relaxes, restricts bool) {
	relaxes, restricts = true, true
	most := func(v Version) int { // labels that may be billed
		if v.OverPrice == 0 {
			return 0
		}
		return v.Most
	}
	for i, v := range p.Versions {
		w := other.Versions[i]
		relaxes = relaxes && w.fewest() <= v.fewest() && most(w) >= most(v)
		restricts = restricts && w.fewest() >= v.fewest() && most(w) <= most(v)
	}
	return relaxes, restricts
}

// Without takes one version out of a plan: its lanes are empty, the versions
// after it count one less. Sections that print nothing any more are gone.
func (p Plan) Without(version int) Plan {
	var out Plan
	for _, s := range p.Sections {
		lanes := slices.Clone(s.Lanes)
		prints := false
		for l, v := range lanes {
			switch {
			case v == version:
				lanes[l] = Empty
			case v > version:
				lanes[l] = v - 1
			}
			prints = prints || lanes[l] != Empty
		}
		if prints {
			out.Sections = append(out.Sections, Section{Rows: s.Rows, Lanes: lanes})
		}
	}
	return out
}
