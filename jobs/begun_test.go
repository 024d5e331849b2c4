package jobs_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/nest"
)

func TestNumbersOfLabelsStandInThePlaceOfFractions(t *testing.T) {
	g := shop()
	v := &g.Orders[0].Versions[0]
	v.Fewest, v.Most = number(300), number(900)
	p, err := g.Problem()
	require.NoError(t, err)
	assert.Equal(t, 300, p.Versions[0].Fewest)
	assert.Equal(t, 900, p.Versions[0].Most)
	assert.False(t, p.Versions[0].Filler)

	v.Fewest, v.Most = number(334), number(332)
	_, err = g.Problem()
	assert.ErrorContains(t, err, "orders[0].versions[0].fewest: want 0 to the 333 labels ordered, got 334")
	assert.ErrorContains(t, err, "orders[0].versions[0].most: want at least the 333 labels ordered, got 332")
}

// What is short of a version that may be left out costs what is not billed,
// in the problem as in the measures.
func TestAVersionThatNeedsNoLabelMayBeLeftOut(t *testing.T) {
	g := bare(100, 100)
	v := &g.Orders[0].Versions[1]
	v.Fewest, v.UnitPrice = number(0), money("0.25")
	p, err := g.Problem()
	require.NoError(t, err)
	assert.True(t, p.Versions[1].Filler)
	assert.InDelta(t, 25, p.Versions[1].ElsewhereCost, 1e-9)
	plan := nest.Plan{Sections: []nest.Section{{Rows: 25, Lanes: []int{0, 0, 0, 0}}}}
	plan.Cost = nest.Recount(p, plan).Cost
	require.NoError(t, nest.Check(p, plan))
	m, err := g.Measure(plan)
	require.NoError(t, err)
	assert.InDelta(t, plan.Cost.Total, m.Total.InexactFloat64(), 1e-6)
	assert.Contains(t, m.Money, jobs.Money{Kind: jobs.KindUnders, Amount: money("25.00")})
}

func TestARestCountsWhatIsGone(t *testing.T) {
	g := shop()
	due := g.Orders[0].Due
	before, err := g.Problem()
	require.NoError(t, err)
	// From 6:00 on the 26th to the end of the 27th: two days of 16 hours.
	assert.InDelta(t, 32*60, before.Versions[0].Deadline, 1e-9)

	stopped := time.Date(2026, 11, 27, 7, 30, 0, 0, time.UTC)
	gone := g.Press.WorkingMinutes(stopped)
	assert.Equal(t, "1050", gone.String(), "16 hours and an hour and a half")
	g.Begun = &jobs.Begun{RollUsed: 120 * jobs.Metre, MinutesGone: gone}
	p, err := g.Problem()
	require.NoError(t, err)
	assert.InDelta(t, 32*60-1050, p.Versions[0].Deadline, 1e-9)
	assert.InDelta(t, before.Stock.SetupRows+1200, p.Stock.SetupRows, 1e-9, "a row is 0.1 m")
	assert.InDelta(t, before.Costs.Fixed, p.Costs.Fixed, 1e-9, "web of an earlier plan costs nothing here")

	g.Begun.MinutesGone = money("100000")
	assert.True(t, g.MinutesUntil(due).IsZero())
	g.Begun.RollUsed = 999*jobs.Metre + 500*jobs.Millimetre
	_, err = g.Problem()
	assert.ErrorContains(t, err, "want a parent roll longer than that, got 1000m")
	assert.True(t, g.Press.WorkingMinutes(time.Time{}).IsZero())
}
