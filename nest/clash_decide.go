package nest

import (
	"context"
	"math"
	"slices"

	"laneplan/solver"
)

// Whether a problem has a plan is decided in three steps, each of which may
// leave it open.
//
// Contents: without deadlines and limits on splices a section can be made as
// long as anything needs, so all that counts is which versions share a
// section: those that Together joins, in at most the sections allowed, each
// section with a placement in lanes that keeps its rules. That is decided by
// trying, up to a limit.
//
// Minutes: the versions that are due by a time t, planned alone with minutes
// for costs, must be done by t. What the planner proves as a bound on that is
// a refusal where it is above t.
//
// Splices: a customer roll of n labels in a section of x rows crosses at
// least ⌈min(n, x)/parent roll⌉ - 1 splices.
//
// What is neither refused nor seen to have a plan gets a short search for
// one.

type answer int

const (
	unsure answer = iota
	possible
	impossible
)

// The trials after which contents are left open.
const (
	packTrials  = 20_000
	placeTrials = 5_000
)

type decider struct {
	ctx      context.Context
	engine   solver.Solver
	searches int     // for bounds on minutes
	group    []int   // versions of the last refusal by time; nil for another
	minutes  float64 // that the versions of the last refusal by time take at least
}

// refuted says that no plan keeps the problem's rules.
func (d *decider) refuted(p Problem) bool {
	return d.quick(p) == impossible || d.late(p)
}

// decide goes as far as finding a plan.
func (d *decider) decide(p Problem) answer {
	if v := d.quick(p); v != unsure {
		return v
	}
	if d.late(p) {
		return impossible
	}
	s := newSearch(d.ctx, compile(&p), Options{Engine: d.engine, Work: witnessWork, Seed: 1})
	s.firstPlan()
	s.run()
	if s.best != nil {
		return possible
	}
	return unsure
}

// quick decides without any search for plans: contents and splices.
func (d *decider) quick(p Problem) answer {
	d.minutes, d.group = 0, nil
	c := newContents(p)
	v := c.decide()
	if v == impossible {
		return impossible
	}
	timed, spliced := false, false
	for i, version := range p.Versions {
		if !c.must[i] && p.Limits.Sections == 0 {
			continue // a filler can be left out
		}
		timed = timed || version.Deadline > 0
		if p.Stock.RollRows > 0 && version.MostSplices != 0 && version.LabelsPerRoll > 0 {
			spliced = true
			if c.must[i] && c.tooManySplices(i) {
				return impossible
			}
		}
	}
	if timed || spliced && !c.withoutSplices() || c.tooLong() {
		return unsure
	}
	return v
}

// contents decides which versions can share sections.
type contents struct {
	p      Problem
	in     *instance
	most   int     // sections; 0 is free
	each   int     // versions of one section
	groups [][]int // versions that run together
	must   []bool  // versions that run in every plan: no fillers, or with one that is none
	trials int
}

func newContents(p Problem) *contents {
	c := &contents{p: p, in: compile(&p)}
	c.most, c.each = c.in.atMost, c.in.lanes
	if n := p.Limits.VersionsPerSection; n > 0 {
		c.each = min(c.each, n)
	}
	group := make([]int, len(p.Versions))
	for i := range group {
		group[i] = i
	}
	for _, set := range p.Together {
		for _, i := range set[1:] {
			from, to := group[i], group[set[0]]
			for j := range group {
				if group[j] == from {
					group[j] = to
				}
			}
		}
	}
	at := map[int]int{}
	for i, g := range group {
		if _, known := at[g]; !known {
			at[g] = len(c.groups)
			c.groups = append(c.groups, nil)
		}
		c.groups[at[g]] = append(c.groups[at[g]], i)
	}
	c.must = make([]bool, len(p.Versions))
	for _, g := range c.groups {
		needed := c.needed(g)
		for _, i := range g {
			c.must[i] = needed
		}
	}
	return c
}

func (c *contents) needed(group []int) bool {
	return slices.ContainsFunc(group, func(i int) bool { return !c.p.Versions[i].Filler })
}

func (c *contents) decide() answer {
	var needed [][]int
	alone := 0          // groups that fit into a section of their own
	undecided := false  // about one of them
	repeatable := false // one of them may run in any number of sections
	for _, g := range c.groups {
		fits := c.fits(g)
		switch {
		case c.needed(g):
			if fits == impossible {
				return impossible
			}
			needed = append(needed, g)
		case fits == impossible:
			continue
		}
		alone++
		undecided = undecided || fits == unsure
		onePiece := slices.ContainsFunc(g, func(i int) bool { return c.p.Versions[i].OnePiece })
		repeatable = repeatable || !onePiece
	}
	if exact := c.p.Limits.Sections; exact > alone && !repeatable {
		return impossible
	}
	v := possible
	if c.most > 0 {
		v = c.pack(needed)
	}
	if v == possible && undecided {
		return unsure
	}
	return v
}

// lanesOf is the least number of lanes that version i takes of a section.
func (c *contents) lanesOf(i int) int { return max(1, c.p.Versions[i].LeastLanes) }

// pack puts groups into at most so many sections.
func (c *contents) pack(groups [][]int) answer {
	versions, lanes := 0, 0
	size := func(g []int) (n int) {
		for _, i := range g {
			n += c.lanesOf(i)
		}
		return n
	}
	var all []int
	for _, g := range groups {
		versions += len(g)
		lanes += size(g)
		all = append(all, g...)
	}
	if versions > c.most*c.each || lanes > c.most*c.in.lanes || !c.flows(all, c.most) {
		return impossible
	}
	groups = slices.Clone(groups)
	slices.SortStableFunc(groups, func(a, b []int) int { return size(b) - size(a) })
	var sections [][]int
	undecided := false
	var put func(n int) answer
	put = func(n int) answer {
		if n == len(groups) {
			return possible
		}
		if c.trials++; c.trials > packTrials {
			return unsure
		}
		for k := range sections {
			both := slices.Concat(sections[k], groups[n])
			switch c.fits(both) {
			case impossible:
				continue
			case unsure:
				undecided = true
				continue
			}
			was := sections[k]
			sections[k] = both
			v := put(n + 1)
			sections[k] = was
			if v != impossible {
				return v
			}
		}
		if len(sections) == c.most {
			return impossible
		}
		sections = append(sections, groups[n])
		v := put(n + 1)
		sections = sections[:len(sections)-1]
		return v
	}
	v := put(0)
	if v == impossible && undecided {
		return unsure
	}
	return v
}

// flows says whether the versions find their lanes in so many sections,
// whoever they share them with: a lane holds one version of each section.
func (c *contents) flows(versions []int, sections int) bool {
	if c.in.rules == nil || c.in.rules.allowed == nil {
		return true
	}
	held := make([][]int, c.in.lanes) // versions that a lane holds, once a section
	var find func(i int, seen []bool) bool
	find = func(i int, seen []bool) bool {
		for l := range held {
			if seen[l] || !c.in.rules.mayHold(l, i, c.in) {
				continue
			}
			seen[l] = true
			if len(held[l]) < sections {
				held[l] = append(held[l], i)
				return true
			}
			for n, other := range held[l] {
				if find(other, seen) {
					held[l][n] = i
					return true
				}
			}
		}
		return false
	}
	for _, i := range versions {
		for range c.lanesOf(i) {
			if !find(i, make([]bool, c.in.lanes)) {
				return false
			}
		}
	}
	return true
}

// fits says whether one section can hold the versions.
func (c *contents) fits(versions []int) answer {
	lanes := 0
	for _, i := range versions {
		lanes += c.lanesOf(i)
	}
	if len(versions) > c.each || lanes > c.in.lanes || !c.flows(versions, 1) {
		return impossible
	}
	if c.in.rules == nil || c.in.rules.apart == nil {
		return possible
	}
	return c.place(versions)
}

// place tries to place versions lane by lane, look-alikes apart.
func (c *contents) place(versions []int) answer {
	in, n := c.in, c.in.count
	left := make([]int, n+1)
	total := 0
	for _, i := range versions {
		left[i] = c.lanesOf(i)
		total += left[i]
	}
	trials := 0
	var put func(lane, before, total int) answer
	put = func(lane, before, total int) answer {
		if total == 0 {
			return possible
		}
		if total > in.lanes-lane {
			return impossible
		}
		if trials++; trials > placeTrials {
			return unsure
		}
		if lane == 0 || in.lane[lane] != in.lane[lane-1]+1 {
			before = n // nothing stands beside this lane
		}
		for _, i := range versions {
			if left[i] == 0 || !in.rules.mayHold(lane, i, in) || in.rules.apart[before*(n+1)+i] {
				continue
			}
			left[i]--
			v := put(lane+1, i, total-1)
			left[i]++
			if v != impossible {
				return v
			}
		}
		return put(lane+1, n, total)
	}
	return put(0, n, total)
}

// tooManySplices says that a customer roll of version i has more splices than
// it may in every plan.
func (c *contents) tooManySplices(i int) bool {
	v := c.p.Versions[i]
	sections := c.most
	if v.OnePiece {
		sections = 1
	}
	rows := c.in.least
	if sections > 0 {
		lanes := c.in.lanes
		if v.MostLanes > 0 {
			lanes = min(lanes, v.MostLanes)
		}
		// The longest of its sections prints an equal part at the least.
		most := lanes * sections
		rows = c.in.length((v.fewest() + most - 1) / most)
	}
	roll := float64(min(v.LabelsPerRoll, rows))
	return math.Ceil(roll/c.p.Stock.RollRows*(1-1e-12))-1 > float64(max(v.MostSplices, 0))
}

// withoutSplices says that sections can be so short that each has a parent
// roll of its own.
func (c *contents) withoutSplices() bool {
	stock := c.p.Stock
	longest := stock.RollRows - max(stock.SetupRows, stock.ChangeoverRows)
	if c.most > 0 || c.p.Limits.WholeRolls || float64(c.in.least) > longest {
		return false
	}
	for i, v := range c.p.Versions {
		lanes := max(1, v.LeastLanes)
		if c.must[i] && v.OnePiece && float64(c.in.length((v.fewest()+lanes-1)/lanes)) > longest {
			return false
		}
	}
	return true
}

// tooLong says that whole frames and customer rolls may need a section longer
// than any may be.
func (c *contents) tooLong() bool {
	step := max(1, c.p.Limits.Frame)
	for _, v := range c.p.Versions {
		if n := v.LabelsPerRoll; c.p.Limits.WholeRolls && n > 0 {
			if step = lcm(step, n); step > maxQuantity {
				return true
			}
		}
	}
	return false
}
