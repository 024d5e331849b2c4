package nest

import (
	"slices"
	"sort"
)

// late says that some versions cannot be ready by their deadlines, and notes
// the minutes that they take at least.
func (d *decider) late(p Problem) bool {
	var times []float64
	for _, v := range p.Versions {
		if v.Deadline > 0 && !slices.Contains(times, v.Deadline) {
			times = append(times, v.Deadline)
		}
	}
	if len(times) == 0 {
		return false
	}
	sort.Float64s(times)
	c := newContents(p)
	for _, t := range times {
		group := c.dueBy(t)
		if len(group) == 0 {
			continue
		}
		enough := t * (1 + 2*checkTolerance)
		minutes := d.leastMinutes(c, group, 1, enough)
		if step := c.rollStep(group); minutes <= enough && step > 1 {
			// Either further sections follow, so that all up to here are whole
			// rolls, or everything runs by then.
			minutes = d.leastMinutes(c, group, step, enough)
			if minutes > enough {
				minutes = min(minutes, d.leastMinutes(c, c.needs(), 1, enough))
			}
		}
		if minutes > enough {
			d.minutes, d.group = minutes, group
			if c.p.Limits.WholeRolls {
				d.group = nil // other versions may have their part in it
			}
			return true
		}
	}
	return false
}

// dueBy lists the versions that run in every plan and must be ready by t: for
// their deadline, or because they are a rush and one that is due by t and no
// rush cannot share a section with any rush version, so that all of those run
// before it.
func (c *contents) dueBy(t float64) []int {
	in := make([]bool, len(c.p.Versions))
	due, behind := false, false
	for i, v := range c.p.Versions {
		if v.Deadline <= 0 || v.Deadline > t || !c.must[i] {
			continue
		}
		in[i], due = true, true
		behind = behind || !v.Rush && c.alone(i)
	}
	if !due {
		return nil
	}
	var list []int
	for i, v := range c.p.Versions {
		if in[i] || behind && v.Rush && c.must[i] {
			list = append(list, i)
		}
	}
	return list
}

// rollStep divides the rows of every section of whole customer rolls that
// holds one of the group, 1 where that is not required.
func (c *contents) rollStep(group []int) int {
	step := 0
	for _, i := range group {
		step = gcd(step, max(1, c.p.Versions[i].LabelsPerRoll))
	}
	if !c.p.Limits.WholeRolls || step > maxQuantity/max(1, c.p.Limits.Frame) {
		return 1
	}
	return step
}

// needs lists the versions that run in every plan.
func (c *contents) needs() (list []int) {
	for i, must := range c.must {
		if must {
			list = append(list, i)
		}
	}
	return list
}

// alone says that version i shares no section with a rush version.
func (c *contents) alone(i int) bool {
	for j, v := range c.p.Versions {
		if v.Rush && c.fits([]int{i, j}) != impossible {
			return false
		}
	}
	return true
}

// leastMinutes is a proven bound on the minutes, set-up included, after which
// the versions of a group can be ready. It stops early where it is seen to be
// above 'enough'. The rows of every section are a multiple of step.
//
// The sections of a plan up to the last that holds one of the group, all
// other versions taken out, are a plan of the group with the same rules but
// for: sets of Together that reach beyond it, deadlines, rush, splices and
// the exact number of sections. So none of those is asked of the group.
func (d *decider) leastMinutes(c *contents, group []int, step int, enough float64) float64 {
	p := c.p
	at := map[int]int{}
	g := Problem{
		Lanes: p.Lanes, Closed: p.Closed,
		Costs: Costs{
			Fixed:   p.Press.SetupMinutes - p.Press.ChangeoverMinutes,
			Row:     p.Press.RowMinutes,
			Section: p.Press.ChangeoverMinutes,
		},
		Limits: p.Limits,
	}
	g.Limits.Frame = lcm(max(1, p.Limits.Frame), step)
	if g.Limits.Sections > 0 {
		g.Limits.MostSections, g.Limits.Sections = g.Limits.Sections, 0
	}
	for n, i := range group {
		at[i] = n
		v := p.Versions[i]
		g.Versions = append(g.Versions, Version{
			ID: v.ID, Quantity: v.fewest(), LeastLanes: v.LeastLanes, MostLanes: c.usable(i),
			OnlyLanes: v.OnlyLanes, OnePiece: v.OnePiece, LabelsPerRoll: v.LabelsPerRoll,
		})
	}
	inside := func(sets [][]int, whole bool) (kept [][]int) {
		for _, set := range sets {
			var part []int
			for _, i := range set {
				if n, there := at[i]; there {
					part = append(part, n)
				}
			}
			if len(part) > 1 && (len(part) == len(set) || !whole) {
				kept = append(kept, part)
			}
		}
		return kept
	}
	g.Together, g.Apart = inside(p.Together, true), inside(p.Apart, false)
	in := compile(&g)
	rows := in.length(in.target)
	for v, need := range in.need[:in.count] {
		least := (need + g.Versions[v].MostLanes - 1) / g.Versions[v].MostLanes
		if g.Limits.MostSections == 1 || g.Versions[v].OnePiece {
			least = in.length(least)
		}
		rows = max(rows, least, in.crowd(v))
	}
	plain := p.Press.SetupMinutes + p.Press.RowMinutes*float64(rows)
	if plain > enough || p.Press.RowMinutes == 0 && p.Press.ChangeoverMinutes == 0 {
		return plain
	}
	quick := in.greedy(newRandom(1, 0))
	if in.finish(quick); in.money(quick.cost) <= enough {
		return plain // it is ready in time: nothing to prove
	}
	d.searches++
	s := newSearch(d.ctx, in, Options{Engine: d.engine, Work: refuteWork, Seed: 1})
	s.firstPlan()
	s.run()
	return max(plain, in.money(s.bound()))
}

// usable counts the lanes of a section that version i may have, at least 1.
func (c *contents) usable(i int) int {
	n := c.in.lanes
	if c.in.rules == nil {
		return n
	}
	if c.in.rules.allowed != nil {
		n = 0
		for l := range c.in.lane {
			if c.in.rules.mayHold(l, i, c.in) {
				n++
			}
		}
	}
	return max(1, min(n, c.in.rules.mostLane[i]))
}

// crowd is the least number of rows for all versions that keep to the lanes
// that version v may run in.
func (in *instance) crowd(v int) int {
	if in.rules == nil || in.rules.allowed == nil {
		return 0
	}
	labels, lanes := 0, 0
	for w := range in.need[:in.count] {
		inside := true
		for l := range in.lane {
			inside = inside && (!in.rules.mayHold(l, w, in) || in.rules.mayHold(l, v, in))
		}
		if inside {
			labels += in.need[w]
		}
	}
	for l := range in.lane {
		if in.rules.mayHold(l, v, in) {
			lanes++
		}
	}
	if lanes == 0 {
		return 0
	}
	return (labels + lanes - 1) / lanes
}
