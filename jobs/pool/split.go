package pool

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/nest"
)

// Planner plans a gang for a first comparison and returns what its plan
// costs. A *nest.Infeasible says that the gang cannot run so, a *nest.NoPlan
// that it is not known; any other error ends the comparison. The same gang has
// to cost the same each time.
type Planner func(ctx context.Context, g jobs.Gang) (float64, error)

// Split is what a comparison of one set-up with several gave.
type Split struct {
	Gang string // the gang as it was pooled
	// Into are the two or more gangs that take its place; empty where one
	// set-up is cheaper.
	Into []string
	// One and Two are the costs of the plans found for one set-up and for the
	// cheapest two or more; One is nil where it is proven that one set-up has
	// no plan.
	One *decimal.Decimal
	Two decimal.Decimal
}

// Saves is what several set-ups cost less than one; negative where they cost
// more.
func (s Split) Saves() decimal.Decimal {
	if s.One == nil {
		return decimal.Decimal{}
	}
	return s.One.Sub(s.Two)
}

// How much of a comparison is planned in earnest; the rest is estimated.
const (
	mostOptions    = 3  // dies on presses for one set-up
	mostCuts       = 32 // places to cut a gang's orders in two
	mostCandidates = 3  // pairs of set-ups that are planned
	// hopeful is how far above the estimate of one set-up that of two may be
	// to be planned all the same, since both are estimates.
	hopeful = 1.05
)

// SplitGangs plans every gang that more than one die or press can run, first
// in one set-up on the most promising ones, then cut in two on different
// ones, and keeps what costs least. Two set-ups on one and the same die and
// press are tried only where a set-up costs less than a changeover: otherwise
// one gang with a changeover between them is never dearer. What was cut in two
// is cut again, on dies and presses that none of the others has, as long as
// that costs less.
//
// Fillers that stay out cost the same on both sides. Orders stay whole, and
// on each side at least one of them is due in the window.
func SplitGangs(ctx context.Context, shop *jobs.Shop, p Pooling, plan Planner) (Pooling, error) {
	s := splitter{pooler: newPooler(shop, &p), plan: plan, costs: map[string]cost{}}
	var gangs []Gang
	for _, g := range p.Gangs {
		into, split, err := s.compare(ctx, g, nil)
		if err == nil && split != nil && split.Into != nil {
			into, err = s.again(ctx, into, split)
		}
		if err != nil {
			return Pooling{}, fmt.Errorf("gang %s: %w", g.ID, err)
		}
		gangs = append(gangs, into...)
		if split != nil {
			p.Splits = append(p.Splits, *split)
		}
	}
	p.Gangs = gangs
	p.sequence()
	return p, nil
}

type splitter struct {
	*pooler
	plan  Planner
	costs map[string]cost // of what was planned, by place
}

// cost of a gang: +Inf where it cannot run so, or where that is not known.
type cost struct {
	money float64
	known bool
}

// place is a gang's orders, die and press: what decides its cost.
func place(g Gang) string {
	text := g.Die.ID + "\x00" + g.Press.ID
	for _, one := range g.parts {
		text += "\x00" + one.order + "\x00" + one.lines[0].Version
	}
	return text
}

// costOf plans a gang, once.
func (s *splitter) costOf(ctx context.Context, g Gang) (money float64, known bool, err error) {
	if c, have := s.costs[place(g)]; have {
		return c.money, c.known, nil
	}
	if ctx.Err() != nil {
		return 0, false, context.Cause(ctx)
	}
	c := cost{known: true}
	c.money, err = s.plan(ctx, g.Gang)
	var infeasible *nest.Infeasible
	var none *nest.NoPlan
	switch {
	case errors.As(err, &infeasible):
		c, err = cost{math.Inf(1), true}, nil
	case errors.As(err, &none):
		c, err = cost{math.Inf(1), false}, nil
	}
	if err == nil {
		s.costs[place(g)] = c
	}
	return c.money, c.known, err
}

// again cuts the gangs of a split once more where that costs less, until none
// of them is cut.
func (s *splitter) again(ctx context.Context, gangs []Gang, split *Split) ([]Gang, error) {
	for i := 0; i < len(gangs); i++ {
		var taken []option
		for j, other := range gangs {
			if j != i {
				taken = append(taken, option{other.Die, other.Press})
			}
		}
		into, deeper, err := s.compare(ctx, gangs[i], taken)
		if err != nil {
			return nil, err
		}
		if deeper == nil || deeper.Into == nil || deeper.One == nil {
			continue
		}
		split.Two = split.Two.Sub(deeper.Saves())
		gangs = slices.Replace(gangs, i, i+1, into...)
		i-- // its parts may be cut again
	}
	split.Into = nil
	for i := range gangs {
		gangs[i].ID = split.Gang + "-" + letters(i)
		split.Into = append(split.Into, gangs[i].ID)
	}
	return gangs, nil
}

// letters counts a, b, …, z, aa, ab, …
func letters(n int) string {
	text := string(rune('a' + n%26))
	if n >= 26 {
		return letters(n/26-1) + text
	}
	return text
}

// pair is a gang cut in two.
type pair struct{ first, second Gang }

func (p pair) estimate() float64 {
	return p.first.Estimate.Add(p.second.Estimate).InexactFloat64()
}

// compare one set-up of a gang with two, none of them on the dies and presses
// that are taken.
func (s *splitter) compare(ctx context.Context, g Gang, taken []option) ([]Gang, *Split, error) {
	if len(g.options) < 2 && !cheapSetup(g.Gang) {
		return []Gang{g}, nil, nil
	}
	var singles []Gang
	for _, o := range g.options {
		if !slices.ContainsFunc(taken, func(t option) bool { return t.die.ID == o.die.ID && t.press.ID == o.press.ID }) {
			single := s.build(g.parts, o, g.options)
			single.ID, single.Alone = g.ID, g.Alone
			singles = append(singles, single)
		}
	}
	if len(singles) == 0 {
		return []Gang{g}, nil, nil
	}
	slices.SortStableFunc(singles, func(a, b Gang) int { return a.Estimate.Cmp(b.Estimate) })
	singles = singles[:min(mostOptions, len(singles))]
	one, oneCost, oneKnown := g, math.Inf(1), true
	for _, single := range singles {
		cost, known, err := s.costOf(ctx, single)
		if err != nil {
			return nil, nil, err
		}
		oneKnown = oneKnown && known
		if cost < oneCost {
			one, oneCost = single, cost
		}
	}
	if math.IsInf(oneCost, 1) && !oneKnown {
		return []Gang{g}, nil, nil // nothing to compare with
	}
	best, bestCost := pair{}, math.Inf(1)
	for _, candidate := range s.candidates(g, singles, oneCost) {
		first, _, err := s.costOf(ctx, candidate.first)
		if err != nil {
			return nil, nil, err
		}
		if first >= min(oneCost, bestCost) {
			continue
		}
		second, _, err := s.costOf(ctx, candidate.second)
		if err != nil {
			return nil, nil, err
		}
		if first+second < bestCost {
			best, bestCost = candidate, first+second
		}
	}
	if math.IsInf(bestCost, 1) {
		return []Gang{one}, nil, nil
	}
	split := &Split{Gang: g.ID, Two: decimal.NewFromFloat(bestCost)}
	if !math.IsInf(oneCost, 1) {
		cost := decimal.NewFromFloat(oneCost)
		split.One = &cost
	}
	if bestCost >= oneCost {
		return []Gang{one}, split, nil
	}
	into := []Gang{best.first, best.second}
	for i := range into {
		into[i].ID = g.ID + "-" + letters(i)
		if len(into[i].parts) == 1 {
			into[i].Alone = "its own set-up is cheaper than one with the others"
		}
		split.Into = append(split.Into, into[i].ID)
	}
	return into, split, nil
}

// candidates are the most promising cuts by estimate: the orders stand by
// their largest version, long runs first, and are cut at one place; each side
// goes to another die or press.
func (s *splitter) candidates(g Gang, singles []Gang, oneCost float64) []pair {
	parts := slices.Clone(g.parts)
	slices.SortStableFunc(parts, func(a, b part) int { return cmp.Compare(b.largest(), a.largest()) })
	limit := oneCost
	if math.IsInf(limit, 1) {
		limit = math.MaxFloat64
	} else {
		// A plan may beat its estimate on both sides alike.
		limit = hopeful * max(oneCost, singles[0].Estimate.InexactFloat64())
	}
	var pairs []pair
	step := max(1, (len(parts)-1)/mostCuts)
	for cut := 1; cut < len(parts); cut += step {
		left, right := parts[:cut], parts[cut:]
		if !s.anyDue(left) || !s.anyDue(right) {
			continue
		}
		var sides [2][]Gang
		for i, side := range [][]part{left, right} {
			for _, single := range singles {
				sides[i] = append(sides[i], s.build(sorted(side), option{single.Die, s.shopPress(single.Press.ID)}, g.options))
			}
		}
		for i, first := range sides[0] {
			for j, second := range sides[1] {
				if p := (pair{first, second}); (i != j || cheapSetup(first.Gang)) && p.estimate() <= limit {
					pairs = append(pairs, p)
				}
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.estimate(), b.estimate()) })
	return pairs[:min(mostCandidates, len(pairs))]
}

// cheapSetup tells whether a set-up costs less than a changeover.
func cheapSetup(g jobs.Gang) bool {
	costs := g.UnitCosts()
	return costs.Setup.LessThan(costs.Changeover)
}

// shopPress is the press as the shop file has it, without today's start.
func (s *splitter) shopPress(id string) jobs.Press {
	press, _ := s.shop.Press(id)
	return press
}

func (s *splitter) anyDue(parts []part) bool {
	return slices.ContainsFunc(parts, func(one part) bool { return s.into.due(one) })
}

// sorted puts parts back in the order that Pool gives them.
func sorted(parts []part) []part {
	parts = slices.Clone(parts)
	sortParts(parts)
	return parts
}

func (p part) largest() int {
	most := 0
	for _, line := range p.lines {
		most = max(most, line.Quantity)
	}
	return most
}
