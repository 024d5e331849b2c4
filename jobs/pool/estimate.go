package pool

import (
	"cmp"
	"slices"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
)

// estimate is the cost of a plan by hand: versions sorted by quantity, cut
// into blocks of at most as many as there are lanes, each block one section in
// which every version has the lanes that end it soonest. The cuts are the
// cheapest (dynamic programme over the sorted versions):
//
//	cost(0) = set-up - changeover
//	cost(n) = min over k ≤ lanes of cost(n-k) + changeover + row × R(n-k+1..n) + lane runs
//
// with R the least rows of one section (jobs.OneSection). Fillers are in it:
// it compares dies and presses for the same versions. The minutes are those of
// that plan on the press, set-up included.
func estimate(g jobs.Gang) (cost, minutes decimal.Decimal) {
	var quantities []int
	for _, e := range g.Entries() {
		quantities = append(quantities, e.Version.Quantity)
	}
	slices.SortFunc(quantities, func(a, b int) int { return cmp.Compare(b, a) })
	costs, lanes := g.UnitCosts(), len(g.Die.OpenLanes())
	frame := max(1, g.Die.FrameRows)
	row, changeover, laneRun := costs.Row.InexactFloat64(), costs.Changeover.InexactFloat64(), costs.LaneRun.InexactFloat64()
	best := make([]float64, len(quantities)+1)
	blocks := make([]struct{ versions, rows int }, len(quantities)+1) // the last of the cheapest
	for n := 1; n <= len(quantities); n++ {
		for k := 1; k <= min(lanes, n); k++ {
			rows, each, _ := jobs.OneSection(quantities[n-k:n], lanes)
			used := 0
			for _, lanes := range each {
				used += lanes
			}
			rows = (rows + frame - 1) / frame * frame
			cost := best[n-k] + changeover + row*float64(rows) + laneRun*float64(used)
			if k == 1 || cost < best[n] {
				best[n] = cost
				blocks[n].versions, blocks[n].rows = k, rows
			}
		}
	}
	sections, allRows := 0, 0
	for n := len(quantities); n > 0; n -= blocks[n].versions {
		sections++
		allRows += blocks[n].rows
	}
	cost = decimal.NewFromFloat(best[len(quantities)]).Add(costs.Setup).Sub(costs.Changeover).Round(6)
	return cost, pressMinutes(g, allRows, sections)
}
