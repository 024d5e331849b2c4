package nest

import (
	"context"
	"math"
	"slices"
)

// Mend turns sections that were planned for another problem, yesterday's or a
// hand's, into a plan that passes Check, by changing what it must: lanes that
// may not hold their version are emptied, versions that are short get empty
// lanes, longer sections or new ones, and where rules are still broken a short
// annealing begins from there. Sections may have any number of lanes and hold
// any index; what the problem does not know counts as Empty. A plan that
// passes Check is returned as it is. False where that did not help.
//
// The same plan and seed give the same result.
func Mend(ctx context.Context, p Problem, plan Plan, seed int64) (Plan, bool) {
	if err := Validate(p); err != nil {
		return Plan{}, false
	}
	if Check(p, plan) == nil {
		return plan, true
	}
	in := compile(&p)
	d := in.adopt(plan)
	if len(d.rows) == 0 && in.needed > 0 {
		return Plan{}, false
	}
	in.supply(d)
	tries := []func() *draft{
		func() *draft { return d.clone() },
		func() *draft { return in.rework(ctx, d, newRandom(seed, 0), 0.002) },
		func() *draft { return in.rework(ctx, d, newRandom(seed, 1), 0.02) },
		func() *draft { return in.rework(ctx, d, newRandom(seed, 2), 0.05) },
	}
	for _, try := range tries {
		mended := try()
		if mended == nil {
			continue
		}
		in.finish(mended)
		if math.IsInf(mended.cost, 1) {
			continue
		}
		made := in.plan(mended)
		if Check(p, made) == nil {
			return made, true
		}
	}
	return Plan{}, false
}

// adopt takes over what a plan's sections may keep.
func (in *instance) adopt(plan Plan) *draft {
	d := &draft{}
	for _, s := range plan.Sections {
		lanes := make([]int16, in.lanes)
		prints := false
		for l, die := range in.lane {
			lanes[l] = int16(in.count)
			if die >= len(s.Lanes) {
				continue
			}
			v := s.Lanes[die]
			if v < 0 || v >= in.count || in.rules != nil && !in.rules.mayHold(l, v, in) {
				continue
			}
			lanes[l], prints = int16(v), true
		}
		if prints && s.Rows <= maxQuantity {
			d.rows = append(d.rows, in.length(max(1, s.Rows)))
			d.lanes = append(d.lanes, lanes...)
		}
	}
	for in.atMost > 0 && len(d.rows) > in.atMost {
		shortest := 0
		for k, rows := range d.rows {
			if rows < d.rows[shortest] {
				shortest = k
			}
		}
		d.rows = slices.Delete(d.rows, shortest, shortest+1)
		d.lanes = slices.Delete(d.lanes, shortest*in.lanes, (shortest+1)*in.lanes)
	}
	return d
}

// supply prints what is missing: in empty lanes, by longer sections, or in
// sections of their own.
func (in *instance) supply(d *draft) {
	missing := Problem{Lanes: in.lanes, Costs: Costs{Row: 1, Section: max(in.section, 1e-6)}, Limits: Limits{Frame: in.frame, LeastRows: in.least}}
	var which []int
	for v := range in.need[:in.count] {
		short, runs := in.shortOf(d, v)
		if short <= 0 || !runs && in.price[v].filler {
			continue
		}
		in.fillEmpty(d, v, short)
		if short, runs = in.shortOf(d, v); short <= 0 {
			continue
		}
		if runs {
			in.lengthen(d, v, short)
			continue
		}
		missing.Versions = append(missing.Versions, Version{ID: in.p.Versions[v].ID, Quantity: short})
		which = append(which, v)
	}
	if len(which) == 0 {
		return
	}
	added := compile(&missing).greedy(newRandom(0, 0))
	d.rows = append(d.rows, added.rows...)
	for _, v := range added.lanes {
		if int(v) == len(which) {
			v = int16(in.count)
		} else {
			v = int16(which[v])
		}
		d.lanes = append(d.lanes, v)
	}
}

// shortOf counts the labels that version v lacks; runs says whether it runs.
func (in *instance) shortOf(d *draft, v int) (short int, runs bool) {
	short = in.need[v]
	for i, w := range d.lanes {
		if int(w) == v {
			short -= d.rows[i/in.lanes]
			runs = true
		}
	}
	return short, runs
}

func (in *instance) fillEmpty(d *draft, v, short int) {
	for i, w := range d.lanes {
		if short <= 0 {
			return
		}
		if int(w) == in.count && (in.rules == nil || in.rules.mayHold(i%in.lanes, v, in)) {
			d.lanes[i] = int16(v)
			short -= d.rows[i/in.lanes]
		}
	}
}

// lengthen makes the section longer in which version v has most lanes.
func (in *instance) lengthen(d *draft, v, short int) {
	at, most := 0, 0
	for k := range d.rows {
		if n := countOf(d.lanes[k*in.lanes:(k+1)*in.lanes], int16(v)); n > most {
			at, most = k, n
		}
	}
	d.rows[at] = in.length(d.rows[at] + (short+most-1)/most)
}

// rework anneals from a draft, colder or hotter; nil where that met no plan.
func (in *instance) rework(ctx context.Context, d *draft, rng *random, hot float64) *draft {
	sections := len(d.rows) + 1
	if in.atMost > 0 {
		sections = in.atMost
	}
	if in.exact > 0 {
		sections = in.exact
	}
	d = d.clone()
	if len(d.rows) > sections {
		d.rows, d.lanes = d.rows[:sections], d.lanes[:sections*in.lanes]
	}
	s := newState(in, sections)
	s.load(d)
	s.fill()
	return s.anneal(ctx, annealing{moves: 2 * firstMoves, hot: hot, cold: 0.0005, phiStart: 0.7, rng: rng})
}
