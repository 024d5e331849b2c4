package nest_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
)

func TestRollsArePlacedInSectionsThatStandFixed(t *testing.T) {
	p := nest.Problem{
		Lanes: 2, Closed: []int{2},
		Versions: []nest.Version{{ID: "A", Quantity: 900}, {ID: "B", Quantity: 500}},
		Costs:    nest.Costs{Row: 1, Section: 10},
		Stock:    nest.Stock{RollRows: 600, SetupRows: 100, ChangeoverRows: 10, SpliceRows: 5, SpliceCost: 7},
	}
	sections := []nest.Section{{Rows: 900, Lanes: []int{0, nest.Empty}}, {Rows: 500, Lanes: []int{1, nest.Empty}}}
	plan, err := nest.PlaceRolls(p, sections)
	require.NoError(t, err)
	require.NoError(t, nest.Check(p, plan))
	assert.Equal(t, sections, plan.Sections)
	assert.Equal(t, []int{500}, plan.Splices)
	assert.Equal(t, []int{1}, plan.RollChanges)
	assert.InDelta(t, 1400+20+7, plan.Cost.Total, 1e-9)

	t.Run("not where a customer takes no splice", func(t *testing.T) {
		p := p
		p.Versions = []nest.Version{{ID: "A", Quantity: 900, LabelsPerRoll: 900, MostSplices: -1}, {ID: "B", Quantity: 500}}
		_, err := nest.PlaceRolls(p, sections)
		assert.ErrorContains(t, err, "no parent roll can end")
	})
	t.Run("not for lanes and versions that are not there", func(t *testing.T) {
		_, err := nest.PlaceRolls(p, []nest.Section{{Rows: 1, Lanes: []int{0}}})
		assert.ErrorContains(t, err, "section 1 names 1 lanes, the die has 2")
		_, err = nest.PlaceRolls(p, []nest.Section{{Rows: 1, Lanes: []int{2, 0}}})
		assert.ErrorContains(t, err, "there is no version 2")
		_, err = nest.PlaceRolls(nest.Problem{}, nil)
		assert.Error(t, err)
	})
}
