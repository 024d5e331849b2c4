package ledger_test

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/ledger"
	"laneplan/jobs/planfile"
	"laneplan/jobs/rest"
	"laneplan/nest"
)

func TestAPrintRunBecomesAnEntry(t *testing.T) {
	tenth := decimal.RequireFromString("0.1")
	g := jobs.Gang{
		ID: "g", Die: jobs.Die{ID: "d", Lanes: 2}, Bare: &jobs.BareCosts{Row: decimal.NewFromInt(2), Section: decimal.NewFromInt(30)},
		Orders: []jobs.Order{
			{ID: "1", Customer: "mill", Versions: []jobs.Version{{ID: "A", Quantity: 100, Overs: &tenth}, {ID: "B", Quantity: 200}}},
			{ID: "2", Filler: true, Versions: []jobs.Version{{ID: "C", Quantity: 50, ElsewhereCost: decimal.NewFromInt(5)}}},
		},
	}
	problem, err := g.Problem()
	require.NoError(t, err)
	plan := nest.Plan{Sections: []nest.Section{{Rows: 120, Lanes: []int{0, 1}}, {Rows: 80, Lanes: []int{1, nest.Empty}}}}
	described, err := planfile.Describe(g, problem, nest.Result{Plan: plan, Stop: nest.StopWork}, planfile.Run{})
	require.NoError(t, err)
	count, err := rest.Tally(g, plan, rest.Done{
		Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 115}}},
		Spoiled:  []rest.Stretch{{Section: 1, Lanes: []int{2}, From: rest.Mark{Rows: 6}, To: rest.Mark{Rows: 10}, Reason: "crease"}},
	})
	require.NoError(t, err)

	e := ledger.Printed(g, described, count)
	assert.Equal(t, ledger.KindPrinted, e.Kind)
	assert.Equal(t, ledger.PlanHash(described), e.Plan)
	assert.Equal(t, "260", e.Cost.Truncate(0).String(), "115 rows and a section; what the customers take is not in it")
	assert.Empty(t, e.Stop)
	assert.Nil(t, e.Bound)
	assert.Equal(t, []int{115, 1}, []int{e.Rows, e.Sections})
	assert.Equal(t, []ledger.Section{{Number: 1, Planned: 120, Printed: 115}}, e.Printed)
	assert.Equal(t, []ledger.Spoil{{Section: 1, Lane: 2, FromRow: 6, ThruRow: 10, Reason: "crease"}}, e.Spoiled)
	assert.Equal(t, []ledger.Version{
		{ID: "A", Ordered: 100, Planned: 120, Good: 115, Overs: 10, Scrap: 5},
		{ID: "B", Ordered: 200, Planned: 200, Good: 110, Spoiled: 5, Unders: 90},
	}, e.Orders[0].Versions)
	assert.Equal(t, []ledger.Version{{ID: "C", Ordered: 50, LeftOut: true}}, e.Orders[1].Versions, "a filler that was left out is not short")
}
