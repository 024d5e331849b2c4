package jobs

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"laneplan/nest"
)

// past is the deadline in minutes of a version that was due before the press
// starts: no plan meets it.
const past = 1e-6

// Problem turns a gang into what the planner solves; versions stand in the
// order of Entries. A gang that Check finds fault with has none: the error is
// then a Faults.
//
// Money is exact until it becomes a float here. Costs.Section is that of a
// changeover and Costs.Fixed what the set-up costs more than one, so that
// sections - 1 changeovers are paid.
//
// A short label costs its unit price; where none is known it costs nothing.
// Splice minutes do not count against due dates.
func (g Gang) Problem() (nest.Problem, error) {
	if faults := g.Check(); len(faults) > 0 {
		return nest.Problem{}, faults
	}
	costs := g.UnitCosts()
	p := nest.Problem{
		Lanes:  g.Die.Lanes,
		Closed: slices.Clone(g.Die.ClosedLanes),
		Costs: nest.Costs{
			Fixed:   float(costs.Setup.Sub(costs.Changeover)),
			Row:     float(costs.Row),
			Section: float(costs.Changeover),
			LaneRun: float(costs.LaneRun),
		},
		Limits: nest.Limits{
			Sections:           g.Rules.Sections,
			MostSections:       g.Rules.MostSections,
			VersionsPerSection: g.Rules.VersionsPerSection,
			Frame:              g.Die.FrameRows,
			LeastRows:          g.leastRows(),
			WholeRolls:         g.Rules.WholeRolls == WholeRollsRequired,
		},
		Press: nest.Press{
			SetupMinutes:      float(g.Press.SetupMinutes),
			RowMinutes:        float(g.Press.RunMinutes(g.Die.Pitch())),
			ChangeoverMinutes: float(g.Press.ChangeoverMin),
		},
		Stock: g.parentRolls(costs),
	}
	if g.Rules.WholeRolls == WholeRollsPreferred {
		p.Costs.WholeRollSaving = float(g.Rules.WholeRollSaving)
	}
	indices := map[string]int{}
	for i, entry := range g.Entries() {
		version, err := g.demand(entry)
		if err != nil {
			return nest.Problem{}, err
		}
		indices[entry.Version.ID] = i
		p.Versions = append(p.Versions, version)
	}
	p.Together = setsOf(g.Rules.Together, indices)
	p.Apart = setsOf(g.Rules.Apart, indices)
	return p, nil
}

// demand is one version as the planner sees it.
func (g Gang) demand(e Entry) (nest.Version, error) {
	v, tolerance := *e.Version, g.Tolerance(*e.Version)
	ink, err := g.Rates.LabelInk(v)
	if err != nil {
		return nest.Version{}, fmt.Errorf("gang %s: %w", g.ID, err)
	}
	d := nest.Version{
		ID: v.ID, Quantity: v.Quantity,
		Fewest:     tolerance.Fewest(v.Quantity),
		Most:       tolerance.Most(v.Quantity),
		ShortCost:  float(v.UnitPrice),
		LabelCost:  float(ink),
		LeastLanes: v.LeastLanes, MostLanes: v.MostLanes,
		OnlyLanes:     g.allowedLanes(v),
		OnePiece:      v.OnePiece,
		Rush:          e.Order.Rush,
		LabelsPerRoll: v.LabelsPerRoll,
		Filler:        e.Order.Filler || tolerance.Optional(),
	}
	if tolerance.BillOvers {
		d.OverPrice = float(v.UnitPrice)
	}
	if d.Filler {
		d.ElsewhereCost = float(g.leftOutCost(e))
	}
	if !e.Order.Due.IsZero() && !g.Press.Start.IsZero() {
		d.Deadline = max(past, float(g.MinutesUntil(e.Order.Due)))
	}
	if v.MostSplices != nil {
		if d.MostSplices = *v.MostSplices; d.MostSplices == 0 {
			d.MostSplices = -1
		}
	}
	return d, nil
}

// leftOutCost is what it costs that a plan leaves a version out: to print it
// another day, or what is not billed where nobody prints it.
func (g Gang) leftOutCost(e Entry) decimal.Decimal {
	if e.Order.Filler {
		return e.Version.ElsewhereCost
	}
	return e.Version.UnitPrice.Mul(whole(e.Version.Quantity))
}

// allowedLanes are the lanes that may hold a version; nil is any.
func (g Gang) allowedLanes(v Version) []int {
	if len(v.NotLanes) == 0 {
		return slices.Clone(v.OnlyLanes)
	}
	only, not := laneSet(v.OnlyLanes, g.Die.Lanes), laneSet(v.NotLanes, g.Die.Lanes)
	var allowed []int
	for lane := 1; lane <= g.Die.Lanes; lane++ {
		if !not[lane] && (len(v.OnlyLanes) == 0 || only[lane]) {
			allowed = append(allowed, lane)
		}
	}
	return allowed
}

// leastRows of a section, by rows and by length.
func (g Gang) leastRows() int {
	least := g.Rules.LeastRows
	if pitch := g.Die.Pitch(); pitch > 0 && g.Rules.LeastSection > 0 {
		least = max(least, int((g.Rules.LeastSection+pitch-1)/pitch))
	}
	return least
}

// parentRolls tells where parent rolls end, in rows.
func (g Gang) parentRolls(costs UnitCosts) nest.Stock {
	pitch := g.Die.Pitch()
	if g.Bare != nil || g.Stock.RollLength == 0 {
		return nest.Stock{}
	}
	rows := func(length Length) float64 { return float64(length) / float64(pitch) }
	return nest.Stock{
		RollRows:       rows(g.Stock.RollLength),
		SetupRows:      rows(g.rollUsed() + g.Press.SetupLength(pitch)),
		ChangeoverRows: rows(g.Press.ChangeoverWeb),
		SpliceRows:     rows(g.Stock.SpliceWeb),
		SpliceCost:     float(costs.Splice),
	}
}

func setsOf(sets [][]string, indices map[string]int) [][]int {
	var all [][]int
	for _, set := range sets {
		var one []int
		for _, id := range set {
			one = append(one, indices[id])
		}
		all = append(all, one)
	}
	return all
}

func float(d decimal.Decimal) float64 { return d.InexactFloat64() }
