package compare

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/nest"
)

// covers is the problem of the book covers; its cheapest plan, by full
// enumeration, costs 136,472.
func covers(t *testing.T) jobs.Gang {
	t.Helper()
	g, err := intake.ReadFile("../../testdata/bare/covers.yaml")
	require.NoError(t, err)
	return g
}

// impossible is a gang that no plan prints: its first version is bound to one
// lane and wants two.
func impossible(t *testing.T) jobs.Gang {
	t.Helper()
	g := covers(t)
	g.Orders[0].ID = "impossible"
	g.Orders[0].Versions[0].OnlyLanes, g.Orders[0].Versions[0].LeastLanes = []int{1}, 2
	return g
}

func TestWhatAGangCosts(t *testing.T) {
	for range 2 { // the same each time
		cost, err := Cost(t.Context(), covers(t))
		require.NoError(t, err)
		assert.InDelta(t, 136472, cost, 1e-6)
	}
	_, err := Cost(t.Context(), impossible(t))
	var infeasible *nest.Infeasible
	assert.ErrorAs(t, err, &infeasible)

	ended, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = Cost(ended, covers(t))
	var none *nest.NoPlan
	require.ErrorAs(t, err, &none)
	assert.Equal(t, nest.StopContext, none.Stop)

	broken := covers(t)
	broken.Orders[0].Versions[0].Quantity = -1
	_, err = Cost(t.Context(), broken)
	assert.ErrorAs(t, err, new(jobs.Faults))
}

func TestOrdersAlone(t *testing.T) {
	twice := covers(t)
	costs, unknown, err := Alone(t.Context(), []jobs.Gang{covers(t), impossible(t), twice})
	require.NoError(t, err)
	require.Len(t, costs, 2)
	for _, cost := range costs {
		assert.Equal(t, "136472.00", cost.StringFixed(2))
	}
	assert.Equal(t, []string{"impossible"}, unknown)

	twice.ID = "broken"
	twice.Orders[0].Versions[0].Quantity = -1
	_, _, err = Alone(t.Context(), []jobs.Gang{twice})
	assert.ErrorContains(t, err, "broken alone: ")

	ended, cancel := context.WithCancel(t.Context())
	cancel()
	costs, unknown, err = Alone(ended, []jobs.Gang{covers(t), impossible(t)})
	require.NoError(t, err)
	assert.Empty(t, costs)
	assert.Len(t, unknown, 2, "what no plan was made for is not known")
}

func TestTheSmallestUnitOfMoney(t *testing.T) {
	for currency, want := range map[string]float64{"EUR": 0.01, "JPY": 1, "KWD": 0.001} { // ISO 4217: 2, 0 and 3 decimals
		assert.InDelta(t, want, Unit(jobs.Gang{Currency: currency}), 1e-12, currency)
	}
}
