package ledger_test

import (
	"encoding/json"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake"
	"laneplan/jobs/ledger"
	"laneplan/jobs/planfile"
	"laneplan/nest"
)

func TestAPlanBecomesAnEntry(t *testing.T) {
	gang, err := intake.ReadFile("../../testdata/bare/covers.yaml")
	require.NoError(t, err)
	problem, err := gang.Problem()
	require.NoError(t, err)
	plan := nest.Plan{Sections: []nest.Section{{Rows: 2875, Lanes: []int{2, 2, 2, 2}}, {Rows: 4500, Lanes: []int{0, 1, 1, 2}}}}
	described, err := planfile.Describe(gang, problem, nest.Result{Plan: plan, Bound: 100_000, Gap: 0.25, Stop: nest.StopWork}, planfile.Run{})
	require.NoError(t, err)

	e := ledger.Planned(gang, described)
	assert.Equal(t, ledger.KindPlanned, e.Kind)
	assert.Equal(t, "136472.00", e.Cost.StringFixed(2))
	assert.Equal(t, "100000", e.Bound.String())
	assert.Equal(t, "0.25", e.Gap.String())
	assert.Equal(t, "work limit", e.Stop)
	assert.Equal(t, 7375, e.Rows)
	assert.Nil(t, e.Web, "a bare problem has no lengths")
	require.Len(t, e.Orders, len(gang.Orders))
	versions := e.Orders[0].Versions
	require.Len(t, versions, 3)
	assert.Equal(t, ledger.Version{ID: "A", Ordered: 4500, Planned: 4500}, versions[0])

	t.Run("what it leaves for another day counts there", func(t *testing.T) {
		e, bare := e, ledger.Entry{}
		e.LeaveOut(decimal.RequireFromString("6472.50"))
		assert.Equal(t, []string{"129999.50", "93527.50"}, []string{e.Cost.StringFixed(2), e.Bound.StringFixed(2)})
		bare.LeaveOut(decimal.RequireFromString("1"))
		assert.Equal(t, ledger.Entry{}, bare)
	})
	t.Run("its hash is of what runs", func(t *testing.T) {
		same := described
		same.Cost, same.Solve = nil, nil
		assert.Equal(t, e.Plan, ledger.PlanHash(same))
		var other planfile.Gang
		text, err := json.Marshal(described)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(text, &other))
		assert.Equal(t, e.Plan, ledger.PlanHash(other))
		other.Sections[1].Rows++
		assert.NotEqual(t, e.Plan, ledger.PlanHash(other))
	})
}
