package nest_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
)

// A search that ends before it has proven anything still states a bound and a
// gap that are numbers.
func TestALittleWorkStatesABound(t *testing.T) {
	p := nest.Problem{
		Lanes: 4, Apart: [][]int{{0, 1}},
		Costs: nest.Costs{Row: 0.0179, Section: 9.52, Fixed: 2},
		Versions: []nest.Version{
			{ID: "A", Quantity: 121, Fewest: 106, Most: 199, ShortCost: 0.04},
			{ID: "B", Quantity: 310, Fewest: 291, Most: 407, OverPrice: 0.01},
			{ID: "D", Quantity: 657, Fewest: 631, ShortCost: 0.04, OnePiece: true},
		},
		Stock: nest.Stock{RollRows: 1500, SetupRows: 815, ChangeoverRows: 50, SpliceCost: 0.208, SpliceRows: 20},
	}
	r, err := nest.Solve(t.Context(), p, nest.Options{Work: 0.05, Seed: 1, Unit: 0.01})
	require.NoError(t, err)
	assert.GreaterOrEqual(t, r.Bound, 2-0.97)
	assert.Less(t, r.Bound, r.Plan.Cost.Total)
	assert.False(t, math.IsInf(r.Gap, 0))
}
