package nest_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
	"laneplan/nest/bench"
	"laneplan/solver/highs"
)

// published is one instance of testdata/published/published.json; each names its source.
type published struct {
	Name        string
	Lanes       int
	Demand      []int
	RowCost     float64 `json:"row_cost"`
	SectionCost float64 `json:"section_cost"`
	Sections    int
	BestKnown   struct {
		Cost     float64
		Rows     int
		Sections int
		Status   string
	} `json:"best_known"`
	Source string
}

func (q published) problem() nest.Problem {
	p := nest.Problem{
		Lanes:  q.Lanes,
		Costs:  nest.Costs{Row: q.RowCost, Section: q.SectionCost},
		Limits: nest.Limits{Sections: q.Sections},
	}
	for i, quantity := range q.Demand {
		p.Versions = append(p.Versions, nest.Version{ID: fmt.Sprintf("V%02d", i+1), Quantity: quantity})
	}
	return p
}

func readPublished(t *testing.T) []published {
	t.Helper()
	text, err := os.ReadFile("../testdata/published/published.json")
	require.NoError(t, err)
	var all []published
	require.NoError(t, json.Unmarshal(text, &all))
	require.Len(t, all, 11)
	return all
}

// TestPublishedInstances solves every published instance for a moment: no
// bound is above the best cost known, and nothing is cheaper than what is
// known to be optimal.
func TestPublishedInstances(t *testing.T) {
	engine, err := highs.New(highs.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, engine.Close()) })
	for _, q := range readPublished(t) {
		t.Run(q.Name, func(t *testing.T) {
			require.NotEmpty(t, q.Source)
			p := q.problem()
			r, err := nest.Solve(context.Background(), p, nest.Options{Engine: engine, Work: 2, Seed: 1})
			require.NoError(t, err)
			require.NoError(t, nest.Check(p, r.Plan))
			slack := 1e-9 * q.BestKnown.Cost
			assert.LessOrEqual(t, r.Bound, q.BestKnown.Cost+slack, "the bound is above a cost that is known to be possible")
			if strings.HasPrefix(q.BestKnown.Status, "optimal") {
				assert.GreaterOrEqual(t, r.Plan.Cost.Total, q.BestKnown.Cost-slack, "cheaper than the optimum")
			}
			if r.Proven {
				assert.LessOrEqual(t, r.Plan.Cost.Total, q.BestKnown.Cost+slack, "called proven, but dearer than the best known")
			}
			t.Logf("cost %.2f, best known %.2f, bound %.2f, proven %v", r.Plan.Cost.Total, q.BestKnown.Cost, r.Bound, r.Proven)
		})
	}
}

// TestOneSectionOnPublishedInstances: the one-section rule is exact, so on
// the instances of one template it gives the best known rows; elsewhere
// nothing that the baselines do is cheaper than what is known.
func TestOneSectionOnPublishedInstances(t *testing.T) {
	single := 0
	for _, q := range readPublished(t) {
		if q.Sections == 1 {
			plan, err := bench.OneSection(q.problem())
			require.NoError(t, err)
			assert.Equal(t, q.BestKnown.Rows, plan.Sections[0].Rows, q.Name)
			single++
			continue
		}
		free := q.problem()
		free.Limits.Sections = 0 // a baseline does not count sections
		for _, method := range []func(nest.Problem) (nest.Plan, error){bench.EachAlone, bench.SortedBlocks} {
			plan, err := method(free)
			require.NoError(t, err, q.Name)
			if q.Sections == 0 {
				assert.GreaterOrEqual(t, plan.Cost.Total, q.BestKnown.Cost, q.Name)
			}
		}
	}
	assert.Equal(t, 2, single, "cat food and herbs with one template")
}
