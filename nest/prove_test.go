package nest

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTooFewFramesToCut: the cheapest plan has two sections of one frame. That
// none of three sections is as cheap says nothing about it: it cannot be cut into
// three.
func TestTooFewFramesToCut(t *testing.T) {
	p := Problem{Lanes: 3, Costs: Costs{Fixed: 1.25, Row: 0.5, Section: 2.5, LaneRun: 1}, Versions: []Version{
		{ID: "A", Quantity: 2, LabelsPerRoll: 6, MostSplices: 1},
		{ID: "B", Quantity: 10},
		{ID: "C", Quantity: 1, LabelCost: 0.25, OnlyLanes: []int{1, 2}, Filler: true, ElsewhereCost: 6.75}}}
	p.Limits.MostSections, p.Limits.Frame = 3, 3
	p.Stock.RollRows, p.Stock.SetupRows, p.Stock.ChangeoverRows, p.Stock.SpliceCost = 5.25, 1.75, 0.75, 1.25
	p.Apart = [][]int{{0, 2}}
	best := Plan{Sections: []Section{{Rows: 3, Lanes: []int{0, 1, 1}}, {Rows: 3, Lanes: []int{2, 1, 1}}}, RollChanges: []int{1}}
	best.Cost = Recount(p, best).Cost
	require.NoError(t, Check(p, best))
	require.InDelta(t, 14, best.Cost.Total, 1e-9)
	r, err := Solve(t.Context(), p, Options{Engine: testEngine(t), Work: 0.05, Seed: 1})
	require.NoError(t, err)
	assert.LessOrEqual(t, r.Bound, 14+1e-9)
	assert.GreaterOrEqual(t, r.Plan.Cost.Total, 14-1e-9)
}

// TestOnePieceIsNotCut: the cheapest plan has two sections, and cut into three
// its version of one piece would be in two.
func TestOnePieceIsNotCut(t *testing.T) {
	p := Problem{Lanes: 3, Closed: []int{1}, Costs: Costs{Fixed: 1, Row: 0.5, Section: 0.25, WholeRollSaving: 0.125}, Versions: []Version{
		{ID: "A", Quantity: 1, Fewest: 1, ShortCost: 0.75, OnlyLanes: []int{3}, LabelsPerRoll: 3},
		{ID: "B", Quantity: 9, OnePiece: true, Rush: true}}}
	p.Limits.MostSections, p.Limits.WholeRolls = 3, true
	best := Plan{Sections: []Section{{Rows: 5, Lanes: []int{-1, 1, 1}}, {Rows: 1, Lanes: []int{-1, -1, 0}}}}
	best.Cost = Recount(p, best).Cost
	require.NoError(t, Check(p, best))
	require.InDelta(t, 4.5, best.Cost.Total, 1e-9)
	r, err := Solve(t.Context(), p, Options{Engine: testEngine(t), Work: 0.05, Seed: 1})
	require.NoError(t, err)
	assert.LessOrEqual(t, r.Bound, 4.5+1e-9)
}
