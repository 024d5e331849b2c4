package nest

import (
	"cmp"
	"context"
	"slices"

	"laneplan/solver"
)

// Why a problem has no plan is told by a set of its rules that clash: they
// cannot be kept together, and where that could be decided none of them can
// be left out. The way is a deletion filter: rule after rule is left out, and
// stays out while what remains is still refused (clash_decide.go says how).

// Term is one rule of a problem that takes part in a clash.
type Term struct {
	Rule    Rule
	Version int // index of the version whose rule it is; -1 for the others
	// Set is the index in Together or Apart, and for RuleClosed the lane from
	// 1; -1 for the others.
	Set int
}

// The work that finding a clash may take, in units of Options: of one search
// for a bound on minutes or for a plan that shows that a rule is needed.
const (
	refuteWork  = 0.02
	witnessWork = 0.05
	// The search for a smaller clash than the filter's tries so many subsets
	// and spends a search for a plan on so many of them.
	subsetTrials, subsetDecisions = 4000, 50
	// The filter ends, and leaves the rest of the rules in, after so many
	// searches; a clash of more rules than mostChecked is not checked for ones
	// that could be left out.
	filterSearches, mostChecked = 30, 20
)

// clash looks for rules that no plan can keep together; nil where it finds
// none. It is quick where there are no deadlines, and spends a little work
// where there are.
func clash(ctx context.Context, p Problem, engine solver.Solver) *Infeasible {
	d := decider{ctx: ctx, engine: engine}
	if !d.refuted(p) {
		return nil
	}
	all := terms(p)
	if group := d.group; group != nil {
		near := slices.DeleteFunc(slices.Clone(all), func(t Term) bool { return t.Version >= 0 && !slices.Contains(group, t.Version) })
		if d.refuted(Only(p, near)) {
			all = near
		}
	}
	d.searches = 0
	var least []Term
	for _, order := range [][]Term{all, turned(all)} {
		if found := d.filter(p, order); least == nil || len(found) < len(least) {
			least = found
		}
	}
	smaller, smallest := d.smaller(p, all, len(least))
	if smaller != nil {
		least = smaller
	}
	e := &Infeasible{Terms: sorted(all, least), Irreducible: len(least) <= mostChecked, Smallest: smallest}
	d.searches = 0
	for i := 0; i < len(e.Terms) && e.Irreducible; i++ {
		e.Irreducible = e.Irreducible && d.decide(Only(p, without(e.Terms, i))) == possible
	}
	e.Smallest = e.Smallest && e.Irreducible
	d.refuted(Only(p, e.Terms)) // for its evidence
	e.Minutes = d.minutes
	e.Reasons = []string{sentence(p, e)}
	return e
}

// filter leaves out what is not needed for a refusal: first in blocks, then
// one by one.
func (d *decider) filter(p Problem, kept []Term) []Term {
	kept = slices.Clone(kept)
	for size := max(1, len(kept)/2); ; size /= 2 {
		for at := 0; at < len(kept); {
			fewer := slices.Concat(kept[:at], kept[min(at+size, len(kept)):])
			if d.searches < filterSearches && d.refuted(Only(p, fewer)) {
				kept = fewer
			} else {
				at += size
			}
		}
		if size <= 1 {
			return kept
		}
	}
}

// smaller looks for a clash of fewer rules than 'size' among all subsets,
// the smallest first; none is true where every one of them was found to have
// a plan or was given one.
func (d *decider) smaller(p Problem, all []Term, size int) (found []Term, none bool) {
	trials, decisions := 0, 0
	for n := 0; n < size; n++ {
		chosen := make([]Term, 0, n)
		var try func(from int) bool // false: out of trials
		undecided := false
		try = func(from int) bool {
			if len(chosen) == n {
				if trials++; trials > subsetTrials {
					return false
				}
				subset := Only(p, chosen)
				v := d.quick(subset)
				if v == unsure {
					if decisions++; decisions <= subsetDecisions {
						v = d.decide(subset)
					}
				}
				if v == impossible {
					found = slices.Clone(chosen)
				}
				undecided = undecided || v == unsure
				return found == nil
			}
			for i := from; i <= len(all)-(n-len(chosen)); i++ {
				chosen = append(chosen, all[i])
				if !try(i + 1) {
					return false
				}
				chosen = chosen[:len(chosen)-1]
			}
			return true
		}
		if !try(0) {
			return found, found != nil
		}
		if undecided {
			return nil, false
		}
	}
	return nil, true
}

// terms lists every rule of a problem that can be left out, the plainest to
// tell last: the filter keeps those where it has a choice.
func terms(p Problem) []Term {
	var list []Term
	add := func(there bool, rule Rule, version, set int) {
		if there {
			list = append(list, Term{rule, version, set})
		}
	}
	add(p.Stock.RollRows > 0, RuleRollLength, -1, -1)
	add(p.Limits.WholeRolls, RuleWholeRolls, -1, -1)
	add(p.Limits.Frame > 1, RuleFrame, -1, -1)
	add(p.Limits.LeastRows > 1, RuleLeastRows, -1, -1)
	for s := range p.Apart {
		add(true, RuleApart, -1, s)
	}
	// Of versions alike the first are kept.
	last := len(p.Versions) - 1
	for i := last; i >= 0; i-- {
		v := p.Versions[i]
		add(v.Rush, RuleRush, i, -1)
		add(v.MostSplices != 0 && v.LabelsPerRoll > 0, RuleSplicesPerRoll, i, -1)
		add(v.OnePiece, RuleOnePiece, i, -1)
		add(v.MostLanes > 0 && v.MostLanes < p.Lanes, RuleMostLanes, i, -1)
		add(v.LeastLanes > 1, RuleLeastLanes, i, -1)
	}
	for s := range p.Together {
		add(true, RuleTogether, -1, s)
	}
	for i := last; i >= 0; i-- {
		v := p.Versions[i]
		add(len(v.OnlyLanes) > 0, RuleOnlyLanes, i, -1)
		add(v.Deadline > 0, RuleDeadline, i, -1)
	}
	for _, lane := range slices.Sorted(slices.Values(p.Closed)) {
		add(true, RuleClosed, -1, lane)
	}
	for i := last; i >= 0; i-- {
		add(!p.Versions[i].Filler, RuleDemand, i, -1)
	}
	add(p.Limits.VersionsPerSection > 0, RuleVersionsPerSection, -1, -1)
	add(p.Limits.MostSections > 0 && p.Limits.Sections == 0, RuleMostSections, -1, -1)
	add(p.Limits.Sections > 0, RuleSections, -1, -1)
	return list
}

// Only gives the problem that keeps none of its rules but these.
func Only(p Problem, kept []Term) Problem {
	has := map[Term]bool{}
	for _, t := range kept {
		has[t] = true
	}
	rule := func(rule Rule) bool { return has[Term{rule, -1, -1}] }
	full := p
	p.Closed, p.Together, p.Apart = nil, nil, nil
	for _, lane := range full.Closed {
		if has[Term{RuleClosed, -1, lane}] {
			p.Closed = append(p.Closed, lane)
		}
	}
	for s, set := range full.Together {
		if has[Term{RuleTogether, -1, s}] {
			p.Together = append(p.Together, set)
		}
	}
	for s, set := range full.Apart {
		if has[Term{RuleApart, -1, s}] {
			p.Apart = append(p.Apart, set)
		}
	}
	p.Limits = Limits{}
	if rule(RuleSections) {
		p.Limits.Sections = full.Limits.Sections
	}
	if rule(RuleMostSections) {
		p.Limits.MostSections = full.Limits.MostSections
	}
	if rule(RuleVersionsPerSection) {
		p.Limits.VersionsPerSection = full.Limits.VersionsPerSection
	}
	if rule(RuleFrame) {
		p.Limits.Frame = full.Limits.Frame
	}
	if rule(RuleLeastRows) {
		p.Limits.LeastRows = full.Limits.LeastRows
	}
	p.Limits.WholeRolls = rule(RuleWholeRolls)
	if !rule(RuleRollLength) {
		p.Stock = Stock{}
	}
	p.Versions = make([]Version, len(full.Versions))
	for i, v := range full.Versions {
		of := func(rule Rule) bool { return has[Term{rule, i, -1}] }
		v.Filler = !of(RuleDemand)
		if !of(RuleOnlyLanes) {
			v.OnlyLanes = nil
		}
		if !of(RuleLeastLanes) {
			v.LeastLanes = 0
		}
		if !of(RuleMostLanes) {
			v.MostLanes = 0
		}
		v.OnePiece, v.Rush = of(RuleOnePiece), of(RuleRush)
		if !of(RuleDeadline) {
			v.Deadline = 0
		}
		if !of(RuleSplicesPerRoll) {
			v.MostSplices = 0
		}
		p.Versions[i] = v
	}
	return p
}

func without(kept []Term, i int) []Term { return slices.Concat(kept[:i], kept[i+1:]) }

func turned(list []Term) []Term {
	list = slices.Clone(list)
	slices.Reverse(list)
	return list
}

// sorted puts terms in the order of their rules in all, then of versions.
func sorted(all, some []Term) []Term {
	rank := func(t Term) int { return slices.IndexFunc(all, func(u Term) bool { return u.Rule == t.Rule }) }
	return slices.SortedFunc(slices.Values(some), func(a, b Term) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(a.Version, b.Version), cmp.Compare(a.Set, b.Set))
	})
}
