// Package oracle solves tiny gang problems by trying every plan. It exists to
// be believed, not to be fast: tests compare the planner with it. It shares no
// code with the planner nor with nest.Check, and its own tests compare it with
// plans counted by hand and with an even plainer enumeration.
//
//	a, err := oracle.Best(p)
//	// err: p is not tiny; !a.Feasible: no plan keeps the rules;
//	// otherwise a.Plan costs a.Plan.Cost.Total and no plan costs less
package oracle

import (
	"fmt"
	"math"
	"sort"

	"laneplan/nest"
)

// What counts as tiny. Beyond it an answer would take too long.
const (
	MostVersions = 3
	MostLanes    = 3
	MostSections = 3
	mostRows     = 40 // of one section
)

// Answer is the outcome of trying every plan.
type Answer struct {
	Feasible bool
	Plan     nest.Plan // a cheapest plan, cost stated; only where Feasible
}

// Best finds the cheapest plan of a tiny problem. It fails where the problem
// is faulty or not tiny: more than 3 versions, 3 lanes or 3 sections, or so
// many labels that a section could need more than 40 rows. A problem that
// does not limit its sections is tiny where the section cost alone shows that
// four sections cannot pay.
//
// What is tried: every number of sections up to three; for each, every tuple
// of lengths from the shortest legal one to the longest useful one, in whole
// frames; for each, every filling of all lanes that keeps the rules; for
// each, the fewest splices. Skipped is only what cannot be cheaper or cannot
// meet the demand, for reasons stated where it is skipped.
func Best(p nest.Problem) (Answer, error) {
	if err := nest.Validate(p); err != nil {
		return Answer{}, fmt.Errorf("oracle: %w", err)
	}
	s := newSearch(p)
	if len(p.Versions) > MostVersions || p.Lanes > MostLanes || s.longest > mostRows {
		return Answer{}, fmt.Errorf("oracle: %d versions, %d lanes, sections of up to %d rows: not tiny", len(p.Versions), p.Lanes, s.longest)
	}
	fewest, most := 0, MostSections
	limit := p.Limits.MostSections
	if exact := p.Limits.Sections; exact > 0 {
		fewest, limit = exact, exact
	}
	if limit > 0 {
		most = min(most, limit)
	}
	for _, rows := range s.lengths(fewest, most) {
		if s.least(rows) >= s.best {
			break // the tuples come in order of this least cost
		}
		s.fill(rows)
	}
	if limit == 0 || limit > MostSections {
		// Four or more sections were not tried. The least cost of k sections
		// grows with k, since no section earns more than it costs.
		four := make([]int, MostSections+1)
		for i := range four {
			four[i] = s.shortest
		}
		if fewest > MostSections || s.least(four) < s.best {
			return Answer{}, fmt.Errorf("oracle: more than %d sections might pay: not tiny", MostSections)
		}
	}
	return Answer{Feasible: !math.IsInf(s.best, 1), Plan: s.plan}, nil
}

// search holds what stays the same while plans are tried, and the best plan
// so far.
type search struct {
	p         nest.Problem
	shortest  int       // least legal rows of a section
	longest   int       // beyond it rows are useless
	fillings  []filling // every filling of the lanes that a section may have
	open      int       // lanes not closed
	sameLanes bool      // open lanes can be swapped without breaking a rule

	best float64
	plan nest.Plan
}

func newSearch(p nest.Problem) *search {
	s := &search{p: p, best: math.Inf(1), open: p.Lanes - len(p.Closed)}
	frame := max(p.Limits.Frame, 1)
	s.shortest = roundUp(max(p.Limits.LeastRows, 1), frame)

	// No section need be longer than the first multiple of the frame and of
	// every customer roll that reaches the least length and every version's
	// Quantity and Most. Cut a longer section to that: each of its versions
	// still has all labels that are ordered or billed, whole frames and whole
	// rolls stay whole, rows, labels, minutes and web only get less. (Where
	// the cut takes a splice away, a roll change at the section's end, which
	// costs nothing, keeps the next stretch of web no longer than it was.)
	unit, reach := frame, s.shortest
	for _, v := range p.Versions {
		if v.LabelsPerRoll > 0 {
			unit = lcm(unit, v.LabelsPerRoll)
		}
		reach = max(reach, v.Quantity, v.Most)
	}
	s.longest = roundUp(reach, unit)

	// Lanes differ only through OnlyLanes and through who is next to whom.
	s.sameLanes = len(p.Apart) == 0
	for _, v := range p.Versions {
		s.sameLanes = s.sameLanes && len(v.OnlyLanes) == 0
	}
	if len(p.Versions) <= MostVersions && p.Lanes <= MostLanes {
		s.fillings = legalFillings(p)
	}
	return s
}

// lengths lists every tuple of section lengths, cheapest first.
func (s *search) lengths(fewest, most int) [][]int {
	frame := max(s.p.Limits.Frame, 1)
	var all [][]int
	var extend func(rows []int)
	extend = func(rows []int) {
		if len(rows) >= fewest && len(rows) <= most {
			all = append(all, append([]int(nil), rows...))
		}
		if len(rows) >= most {
			return
		}
		for x := s.shortest; x <= s.longest; x += frame {
			extend(append(rows, x))
		}
	}
	extend(nil)
	sort.SliceStable(all, func(i, j int) bool { return s.least(all[i]) < s.least(all[j]) })
	return all
}

// least is what a plan with these lengths costs at least: rows, sections and
// the labels that must be printed, less all that could be earned.
func (s *search) least(rows []int) float64 {
	c := s.p.Costs
	cost := c.Fixed
	for k, x := range rows {
		cost += c.Row*float64(x) + c.Section
		if k > 0 {
			cost -= c.WholeRollSaving
		}
	}
	for _, v := range s.p.Versions {
		if !v.Filler {
			cost += v.LabelCost * float64(fewest(v))
		}
		cost -= v.OverPrice * float64(max(v.Most-v.Quantity, 0))
	}
	return cost
}

// fill tries every filling of every section of the given lengths.
func (s *search) fill(rows []int) {
	t := &attempt{search: s, rows: rows, planned: make([]int, len(s.p.Versions)), base: s.least(rows), rolls: map[string]splicing{}}
	t.remaining = make([]int, len(rows)+1)
	for k := len(rows) - 1; k >= 0; k-- {
		t.remaining[k] = t.remaining[k+1] + rows[k]
	}
	t.next()
}

// attempt is one tuple of lengths with the first sections filled.
type attempt struct {
	*search
	rows      []int
	remaining []int // rows from section k on
	base      float64
	chosen    []filling
	planned   []int
	used      int // versions of the chosen sections, a bit each
	newRuns   int // lane runs that are not carried
	rolls     map[string]splicing
}

// next fills one more section, or prices the plan when all are filled.
func (t *attempt) next() {
	k := len(t.chosen)
	if !t.reachable(k) {
		return
	}
	// base is least for any filling; lane runs come on top.
	if t.base+t.p.Costs.LaneRun*float64(t.newRuns) >= t.best {
		return
	}
	if k == len(t.rows) {
		t.price()
		return
	}
	for _, f := range t.fillings {
		// Where lanes can be swapped in the whole plan, one order of the first
		// section stands for all; where no lane run costs anything they can
		// even be swapped section by section.
		if t.sameLanes && !f.sorted && (k == 0 || t.p.Costs.LaneRun == 0) {
			continue
		}
		if !t.allowed(k, f) {
			continue
		}
		runs := 0
		for lane, i := range f.lanes {
			if i == nest.Empty {
				continue
			}
			t.planned[i] += t.rows[k]
			if k == 0 || t.chosen[k-1].lanes[lane] != i {
				runs++
			}
		}
		used := t.used
		t.chosen, t.used, t.newRuns = append(t.chosen, f), used|f.versions, t.newRuns+runs
		t.next()
		t.chosen, t.used, t.newRuns = t.chosen[:k], used, t.newRuns-runs
		for _, i := range f.lanes {
			if i != nest.Empty {
				t.planned[i] -= t.rows[k]
			}
		}
	}
}

// reachable says whether the rows from section k on can still give every
// version that must run its fewest labels, all lanes taken together.
func (t *attempt) reachable(k int) bool {
	missing := 0
	for i, v := range t.p.Versions {
		if !v.Filler || t.used>>i&1 == 1 {
			missing += max(fewest(v)-t.planned[i], 0)
		}
	}
	return missing <= t.open*t.remaining[k]
}

// allowed checks the rules that a section's filling meets or breaks together
// with its place, its length and the sections before it.
func (t *attempt) allowed(k int, f filling) bool {
	end := t.p.Press.SetupMinutes + t.p.Press.ChangeoverMinutes*float64(k)
	for _, x := range t.rows[:k+1] {
		end += t.p.Press.RowMinutes * float64(x)
	}
	for i, v := range t.p.Versions {
		if f.versions>>i&1 == 0 {
			continue
		}
		if v.OnePiece && t.used>>i&1 == 1 {
			return false
		}
		if v.Deadline > 0 && end > v.Deadline*(1+1e-9) {
			return false
		}
		if t.p.Limits.WholeRolls && k < len(t.rows)-1 && v.LabelsPerRoll > 0 && t.rows[k]%v.LabelsPerRoll != 0 {
			return false
		}
	}
	// The section before holds a rush version, and so by induction do all
	// before it.
	return k == 0 || !t.holdsRush(f) || t.holdsRush(t.chosen[k-1])
}

func (t *attempt) holdsRush(f filling) bool {
	for i, v := range t.p.Versions {
		if v.Rush && f.versions>>i&1 == 1 {
			return true
		}
	}
	return false
}

// price costs a complete filling, kind by kind, and keeps it if it is the
// cheapest so far.
func (t *attempt) price() {
	c := nest.Cost{Fixed: t.p.Costs.Fixed}
	for k, x := range t.rows {
		c.Rows += t.p.Costs.Row * float64(x)
		c.Sections += t.p.Costs.Section
		if k < len(t.rows)-1 && t.wholeRolls(k) {
			c.WholeRolls -= t.p.Costs.WholeRollSaving
		}
	}
	c.LaneRuns = t.p.Costs.LaneRun * float64(t.newRuns)
	for i, v := range t.p.Versions {
		n := t.planned[i]
		if n == 0 && v.Filler {
			c.Elsewhere += v.ElsewhereCost
			continue
		}
		if n < fewest(v) {
			return
		}
		c.Labels += v.LabelCost * float64(n)
		if n < v.Quantity {
			c.Shorts += v.ShortCost * float64(v.Quantity-n)
		} else if v.Most > 0 {
			c.Overs -= v.OverPrice * float64(min(n, v.Most)-v.Quantity)
		}
	}
	c.Total = c.Fixed + c.Rows + c.Sections + c.LaneRuns + c.Labels + c.Shorts + c.Overs + c.Elsewhere + c.WholeRolls
	if c.Total >= t.best {
		return
	}
	web, ok := t.fewestSplices()
	if !ok {
		return
	}
	c.Splices = t.p.Stock.SpliceCost * float64(len(web.splices))
	c.Total += c.Splices
	if c.Total >= t.best {
		return
	}
	t.best = c.Total
	t.plan = nest.Plan{Splices: web.splices, RollChanges: web.changes, Cost: c}
	for k, f := range t.chosen {
		t.plan.Sections = append(t.plan.Sections, nest.Section{Rows: t.rows[k], Lanes: append([]int(nil), f.lanes...)})
	}
}

// wholeRolls says whether section k earns the saving of whole rolls.
func (t *attempt) wholeRolls(k int) bool {
	for i, v := range t.p.Versions {
		if t.chosen[k].versions>>i&1 == 1 && (v.LabelsPerRoll == 0 || t.rows[k]%v.LabelsPerRoll != 0) {
			return false
		}
	}
	return true
}

func fewest(v nest.Version) int {
	if v.Fewest > 0 {
		return v.Fewest
	}
	return v.Quantity
}

func roundUp(n, unit int) int { return (n + unit - 1) / unit * unit }

func lcm(a, b int) int {
	x, y := a, b
	for y != 0 {
		x, y = y, x%y
	}
	return a / x * b
}
