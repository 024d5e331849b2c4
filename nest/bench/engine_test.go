package bench

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
	"laneplan/nest/oracle"
	"laneplan/solver/highs"
)

func newEngine(t testing.TB) *highs.Engine {
	t.Helper()
	engine, err := highs.New(highs.Options{Solves: 1})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, engine.Close()) })
	return engine
}

// TestTextbookOnTheCovers: the collection of D. Romero, UNAM, shows a plan of
// 139280.96; 136472.00 is the optimum by enumeration.
func TestTextbookOnTheCovers(t *testing.T) {
	p := problem(4, 13.44, 18676, 4500, 9000, 16000)
	plan, r, err := Textbook(context.Background(), p, newEngine(t), TextbookOptions{Sections: 2})
	require.NoError(t, err)
	assert.InDelta(t, 136472, plan.Cost.Total, 1e-6)
	assert.InDelta(t, 136472, r.Bound, 136472*1e-4)
}

// TestTextbookAgainstOracle: to the end, the model finds the optimum of tiny
// problems.
func TestTextbookAgainstOracle(t *testing.T) {
	engine := newEngine(t)
	rng := rand.New(rand.NewPCG(21, 22))
	for n := range 40 {
		p := oracle.Plain(rng)
		p.Costs.LaneRun = 0 // the model does not see carried lanes
		p.Limits.Sections, p.Limits.MostSections = p.Limits.Sections%3, min(p.Limits.MostSections, 2)
		if p.Limits.Sections+p.Limits.MostSections == 0 {
			p.Limits.MostSections = 2
		}
		want, err := oracle.Best(p)
		require.NoError(t, err)
		plan, _, err := Textbook(context.Background(), p, engine, TextbookOptions{Sections: p.Limits.MostSections})
		if !want.Feasible {
			require.ErrorIs(t, err, ErrCannot, "%d: %+v", n, p)
			continue
		}
		require.NoError(t, err, "%d: %+v", n, p)
		require.InDelta(t, want.Plan.Cost.Total, plan.Cost.Total, 1e-6+1e-4*want.Plan.Cost.Total, "%d: %+v", n, p)
	}
}

func TestTextbookRefusesWhatWouldFillTheMemory(t *testing.T) {
	spec := Spec{Versions: 200, Lanes: 5, Quantities: Round, SectionRows: 300}
	_, _, err := Textbook(context.Background(), spec.Problem(), nil, TextbookOptions{})
	require.ErrorIs(t, err, ErrCannot)
	assert.ErrorContains(t, err, "84084 columns, at most 60000 are tried")
}

func TestAnnealLPOnTheCovers(t *testing.T) {
	p := problem(4, 13.44, 18676, 4500, 9000, 16000)
	engine := newEngine(t)
	plan, err := AnnealLP(context.Background(), p, engine, AnnealOptions{Seed: 1, Moves: 400})
	require.NoError(t, err)
	assert.InDelta(t, 136472, plan.Cost.Total, 1e-6, "%+v", plan)

	again, err := AnnealLP(context.Background(), p, engine, AnnealOptions{Seed: 1, Moves: 400})
	require.NoError(t, err)
	assert.Equal(t, plan, again, "the same seed gives the same plan")
}

// TestAnnealLPKeepsLimits: with the number of sections given it plans for
// just that number, and says so where it cannot.
func TestAnnealLPKeepsLimits(t *testing.T) {
	engine := newEngine(t)
	p := problem(3, 1, 10, 5, 5, 10)
	for _, sections := range []int{1, 2, 3} {
		p.Limits.Sections = sections
		plan, err := AnnealLP(context.Background(), p, engine, AnnealOptions{Moves: 60})
		require.NoError(t, err)
		assert.Len(t, plan.Sections, sections)
	}
	p = problem(2, 1, 10, 5, 5, 10)
	p.Limits.MostSections = 1
	_, err := AnnealLP(context.Background(), p, engine, AnnealOptions{Moves: 60})
	require.ErrorIs(t, err, ErrCannot)
}

// TestAnnealLPStartsAgain: with programmes left it goes on from other lanes
// and keeps the best; a few programmes are a few plans.
func TestAnnealLPStartsAgain(t *testing.T) {
	p, engine := Instances()[7].Problem(), newEngine(t)
	cost := func(o AnnealOptions) float64 {
		o.Seed, o.Moves, o.MostSections = 1, 40, 3
		plan, err := AnnealLP(context.Background(), p, engine, o)
		require.NoError(t, err)
		return plan.Cost.Total
	}
	once := cost(AnnealOptions{})
	again := cost(AnnealOptions{Again: true, Programmes: 1500})
	assert.Less(t, again, once)
	assert.Equal(t, again, cost(AnnealOptions{Again: true, Programmes: 1500}), "counted, not timed")
	assert.Greater(t, cost(AnnealOptions{Programmes: 2}), once)
}

func TestAnnealLPStopsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := AnnealLP(ctx, problem(3, 1, 10, 5, 5, 10), newEngine(t), AnnealOptions{})
	require.ErrorIs(t, err, ErrCannot)
}

// TestMethodsOnInstances: on a few instances of the benchmark what the
// methods return has passed the check and does not cost less than the labels
// need at the very least.
func TestMethodsOnInstances(t *testing.T) {
	engine := newEngine(t)
	for _, spec := range Instances()[:2] {
		p := spec.Problem()
		labels := 0
		for _, v := range p.Versions {
			labels += v.Quantity
		}
		least := p.Costs.Row*float64((labels+p.Lanes-1)/p.Lanes) + p.Costs.Section
		annealed, err := AnnealLP(context.Background(), p, engine, AnnealOptions{Seed: 1, Moves: 150})
		require.NoError(t, err, spec.Name())
		written, _, err := Textbook(context.Background(), p, engine, TextbookOptions{NodeLimit: 20, WorkLimit: 1})
		for _, plan := range []nest.Plan{annealed, written} {
			if err == nil {
				require.NoError(t, nest.Check(p, plan))
				require.GreaterOrEqual(t, plan.Cost.Total, least, spec.Name())
			}
		}
		blocks, err := SortedBlocks(p)
		require.NoError(t, err)
		assert.Less(t, annealed.Cost.Total, blocks.Cost.Total, "%s: annealing with an LP is better than sorted blocks", spec.Name())
	}
}
