package nest_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
	"laneplan/nest/oracle"
)

func TestAlternatives(t *testing.T) {
	p := nest.Problem{
		Lanes: 4, Costs: nest.Costs{Row: 13.44, Section: 18676},
		Versions: []nest.Version{{ID: "A", Quantity: 4500}, {ID: "B", Quantity: 9000}, {ID: "C", Quantity: 16000}},
	}
	found, err := nest.Solve(context.Background(), p, nest.Options{Work: 1, Seed: 1})
	require.NoError(t, err)
	best, list, err := nest.Alternatives(context.Background(), p, found, 2, nest.Options{Work: 4, Seed: 1})
	require.NoError(t, err)
	assert.InDelta(t, 136472, best.Plan.Cost.Total, 1e-6)
	require.Len(t, list, 4, "1 to 4 sections: none is below 1")
	for i, a := range list {
		assert.Equal(t, i+1, a.Sections)
		require.NoError(t, a.None)
		assert.Len(t, a.Result.Plan.Sections, a.Sections)
	}
	assert.InDelta(t, 139636, list[0].Result.Plan.Cost.Total, 1e-6, "A, B, C and C for 9000 rows")
	// The optimum prints nothing but what is ordered: 29500 labels in 7375
	// rows of 4 lanes. So no further section can save a row.
	assert.False(t, list[1].Spare)
	assert.True(t, list[2].Spare)
	assert.InDelta(t, 136472+18676, list[2].Result.Plan.Cost.Total, 1e-6)
	assert.True(t, list[3].Spare)
}

func TestAlternativesEndWhereThereIsNoPlan(t *testing.T) {
	p, _ := yesterday()
	p.Lanes = 2
	found, err := nest.Solve(context.Background(), p, nest.Options{Work: 0.5, Seed: 1})
	require.NoError(t, err)
	_, list, err := nest.Alternatives(context.Background(), p, found, 5, nest.Options{Work: 1, Seed: 1})
	require.NoError(t, err)
	var e *nest.Infeasible
	require.ErrorAs(t, list[0].None, &e)
	assert.Equal(t, 1, list[0].Sections, "four versions in two lanes want two sections")
	assert.Contains(t, e.Error(), "3 versions must run")
	p.Limits.MostSections = len(found.Plan.Sections)
	_, list, err = nest.Alternatives(context.Background(), p, found, 5, nest.Options{Work: 1, Seed: 1})
	require.NoError(t, err)
	assert.Equal(t, p.Limits.MostSections, list[len(list)-1].Sections, "no more than the problem allows")
	p.Limits.Sections = p.Limits.MostSections
	_, _, err = nest.Alternatives(context.Background(), p, found, 1, nest.Options{Work: 1})
	assert.ErrorContains(t, err, "exactly")
}

// Alternatives of tiny problems are what trying every plan finds, and a
// section more costs never more than a changeover where rules allow to cut
// one.
func TestAlternativesAgainstExhaustiveSearch(t *testing.T) {
	compared, optimal := 0, 0
	for n := range 40 {
		p := tinyCase(n, oracle.Plain)
		p.Limits.Sections = 0
		found, err := nest.Solve(context.Background(), p, nest.Options{Work: tinyWork, Seed: 1})
		if err != nil {
			continue
		}
		_, list, err := nest.Alternatives(context.Background(), p, found, 1, nest.Options{Work: 3 * tinyWork, Seed: 1})
		require.NoError(t, err)
		for _, a := range list {
			q := p
			q.Limits.Sections, q.Limits.MostSections = a.Sections, 0
			want, err := oracle.Best(q)
			if err != nil {
				continue
			}
			compared++
			if a.None != nil {
				assert.False(t, want.Feasible, "case %d", n)
				optimal++
				continue
			}
			require.True(t, want.Feasible, "case %d", n)
			assert.GreaterOrEqual(t, a.Result.Plan.Cost.Total, want.Plan.Cost.Total-1e-9, "case %d", n)
			if a.Result.Plan.Cost.Total <= want.Plan.Cost.Total+1e-9 {
				optimal++
			}
		}
	}
	assert.Greater(t, compared, 30)
	assert.Greater(t, float64(optimal), 0.9*float64(compared))
}
