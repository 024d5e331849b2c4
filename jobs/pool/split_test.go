package pool

import (
	"context"
	"errors"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/starter"
	"laneplan/nest"
)

// quickly plans for real, within a limit of work that is the same everywhere.
func quickly(ctx context.Context, g jobs.Gang) (float64, error) {
	p, err := g.Problem()
	if err != nil {
		return 0, err
	}
	r, err := nest.Solve(ctx, p, nest.Options{Work: 0.1, Seed: 1, Workers: 1})
	return r.Plan.Cost.Total, err
}

func TestALongAndAShortRunAreCheaperApart(t *testing.T) {
	// The long run belongs on the fast press with four lanes. In one set-up
	// there, twelve short versions take three changeovers of 2 minutes and
	// much web; on the small press their changeovers cost little.
	shop := testShop()
	shop.Presses[0].ChangeoverMin, shop.Presses[0].ChangeoverWeb = dec("15"), 40*jobs.Metre
	shop.Presses[1].ChangeoverMin, shop.Presses[1].ChangeoverWeb = dec("1"), 1*jobs.Metre
	lines := []jobs.OrderLine{line("1 long jar paper 60000 2026-12-02")}
	for _, text := range []string{"2 a jar paper 300 2026-12-02", "2 b jar paper 350 2026-12-02", "2 c jar paper 250 2026-12-02", "3 d jar paper 700 2026-12-03", "3 e jar paper 400 2026-12-03", "3 f jar paper 150 2026-12-03"} {
		lines = append(lines, line(text))
	}
	pooled, err := Pool(shop, lines, on(today))
	require.NoError(t, err)
	require.Len(t, pooled.Gangs, 1)
	p, err := SplitGangs(t.Context(), shop, pooled, quickly)
	require.NoError(t, err)
	require.Len(t, p.Splits, 1)
	split := p.Splits[0]
	assert.Equal(t, []string{pooled.Gangs[0].ID + "-a", pooled.Gangs[0].ID + "-b"}, split.Into)
	assert.True(t, split.Saves().IsPositive())
	assert.Equal(t, "big", p.Gangs[0].Press.ID)
	assert.Equal(t, "small", p.Gangs[1].Press.ID)
	assert.Equal(t, "1", p.Gangs[0].Orders[0].ID)
	assert.Equal(t, "its own set-up is cheaper than one with the others", p.Gangs[0].Alone)
	every(t, shop, lines, p)

	// What it says it saves is what planning both ways gives.
	two := 0.0
	for _, g := range p.Gangs {
		cost, err := quickly(t.Context(), g.Gang)
		require.NoError(t, err)
		two += cost
	}
	assert.InDelta(t, split.Two.InexactFloat64(), two, 1e-9)
	for _, g := range []jobs.Gang{pooled.Gangs[0].Gang} {
		one, err := quickly(t.Context(), g)
		require.NoError(t, err)
		assert.GreaterOrEqual(t, one, split.One.InexactFloat64()-1e-9)
	}
}

func TestTwoSetUpsThatCostMoreAreNotMade(t *testing.T) {
	shop := testShop()
	lines := []jobs.OrderLine{line("1 a jar paper 900 2026-12-02"), line("2 b jar paper 800 2026-12-02"), line("3 c jar paper 850 2026-12-02")}
	pooled, err := Pool(shop, lines, on(today))
	require.NoError(t, err)
	p, err := SplitGangs(t.Context(), shop, pooled, quickly)
	require.NoError(t, err)
	assert.Len(t, p.Gangs, 1)
	for _, s := range p.Splits {
		assert.Empty(t, s.Into)
		assert.False(t, s.Saves().IsPositive())
	}
}

func TestTheCheaperPlanDecidesThePress(t *testing.T) {
	// The planner of this test finds the big press cheap, whatever the
	// estimate said.
	shop := testShop()
	pooled, err := Pool(shop, []jobs.OrderLine{line("1 a jar paper 500 2026-12-02")}, on(today))
	require.NoError(t, err)
	require.Equal(t, "small", pooled.Gangs[0].Press.ID)
	p, err := SplitGangs(t.Context(), shop, pooled, func(_ context.Context, g jobs.Gang) (float64, error) {
		if g.Press.ID == "big" {
			return 1, nil
		}
		return 2, nil
	})
	require.NoError(t, err)
	assert.Equal(t, "big", p.Gangs[0].Press.ID)
	assert.Equal(t, pooled.Gangs[0].ID, p.Gangs[0].ID)
	assert.NotEmpty(t, p.Gangs[0].Alone)
	assert.Empty(t, p.Splits, "one order cannot be split")
}

func TestASplitGoesOnWhileItPays(t *testing.T) {
	// The planner of this test finds company dear, whatever the press.
	shop := testShop()
	third := shop.Presses[0]
	third.ID = "third"
	shop.Presses = append(shop.Presses, third)
	lines := []jobs.OrderLine{line("1 a jar paper 900 2026-12-02"), line("2 b jar paper 800 2026-12-02"), line("3 c jar paper 700 2026-12-02"), line("4 d jar paper 600 2026-12-02")}
	pooled, err := Pool(shop, lines, on(today))
	require.NoError(t, err)
	require.Len(t, pooled.Gangs, 1)
	plans := 0
	p, err := SplitGangs(t.Context(), shop, pooled, func(_ context.Context, g jobs.Gang) (float64, error) {
		plans++
		return 1000 * float64(len(g.Orders)*len(g.Orders)), nil
	})
	require.NoError(t, err)
	every(t, shop, lines, p)
	require.Len(t, p.Splits, 1)
	split := p.Splits[0]
	assert.Greater(t, len(split.Into), 2)
	used, cost := map[string]bool{}, 0.0
	for i, g := range p.Gangs {
		assert.Equal(t, split.Into[i], g.ID)
		assert.False(t, used[g.Die.ID+g.Press.ID], "no two of them on one die and press")
		used[g.Die.ID+g.Press.ID] = true
		cost += 1000 * float64(len(g.Orders)*len(g.Orders))
	}
	assert.InDelta(t, cost, split.Two.InexactFloat64(), 1e-9)
	assert.InDelta(t, 16000-cost, split.Saves().InexactFloat64(), 1e-9)
	assert.Less(t, plans, 40, "nothing is planned twice")
}

// twoOrders are pooled into one gang.
func twoOrders(t *testing.T) (*jobs.Shop, []jobs.OrderLine, Pooling) {
	t.Helper()
	shop := testShop()
	lines := []jobs.OrderLine{line("1 a jar paper 900 2026-12-02"), line("2 b jar paper 800 2026-12-02")}
	pooled, err := Pool(shop, lines, on(today))
	require.NoError(t, err)
	require.Len(t, pooled.Gangs, 1)
	return shop, lines, pooled
}

// onlyAlone plans single orders, and fails with err for several.
func onlyAlone(err error) Planner {
	return func(_ context.Context, g jobs.Gang) (float64, error) {
		if len(g.Orders) > 1 {
			return 0, err
		}
		return 10, nil
	}
}

func TestASplitThatAloneCanRunIsMade(t *testing.T) {
	shop, lines, pooled := twoOrders(t)
	p, err := SplitGangs(t.Context(), shop, pooled, onlyAlone(&nest.Infeasible{}))
	require.NoError(t, err)
	require.Len(t, p.Splits, 1)
	assert.Nil(t, p.Splits[0].One)
	assert.Len(t, p.Gangs, 2)
	every(t, shop, lines, p)
}

func TestWithoutAPlanForOneSetUpNothingIsSplit(t *testing.T) {
	shop, _, pooled := twoOrders(t)
	p, err := SplitGangs(t.Context(), shop, pooled, onlyAlone(&nest.NoPlan{}))
	require.NoError(t, err)
	assert.Equal(t, pooled, p)
}

func TestAPlannerThatBreaksEndsTheComparison(t *testing.T) {
	shop := testShop()
	pooled, err := Pool(shop, []jobs.OrderLine{line("1 a jar paper 500 2026-12-02")}, on(today))
	require.NoError(t, err)
	broken := errors.New("broken")
	_, err = SplitGangs(t.Context(), shop, pooled, func(context.Context, jobs.Gang) (float64, error) { return 0, broken })
	require.ErrorIs(t, err, broken)
	assert.ErrorContains(t, err, "gang "+pooled.Gangs[0].ID)
}

func TestAComparisonEndsWithItsContext(t *testing.T) {
	shop, _, pooled := twoOrders(t)
	ctx, cancel := context.WithCancel(t.Context())
	plans := 0
	_, err := SplitGangs(ctx, shop, pooled, func(context.Context, jobs.Gang) (float64, error) {
		plans++
		cancel()
		return 1, nil
	})
	require.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, 1, plans)
}

// byEstimate stands for a planner that is as good as the estimate, so that
// many books can be split.
func byEstimate(_ context.Context, g jobs.Gang) (float64, error) {
	cost, _ := estimate(g)
	return cost.InexactFloat64(), nil
}

func TestAnyBookIsSplitWhole(t *testing.T) {
	splits := 0
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 5))
		shop, lines := randomBook(r)
		shop.Presses[0].ChangeoverMin, shop.Presses[0].ChangeoverWeb = dec("15"), 40*jobs.Metre
		p, err := Pool(shop, lines, on(today))
		require.NoError(t, err)
		one, err := SplitGangs(t.Context(), shop, p, byEstimate)
		require.NoError(t, err)
		every(t, shop, lines, one)
		two, err := SplitGangs(t.Context(), shop, p, byEstimate)
		require.NoError(t, err)
		require.Equal(t, one, two)
		for _, s := range one.Splits {
			if s.Into != nil {
				splits++
				assert.True(t, s.Saves().IsPositive())
			}
		}
	}
	assert.Positive(t, splits, "some books are split")
}

func BenchmarkPool(b *testing.B) {
	shop, some, day, err := starter.Book()
	require.NoError(b, err)
	for _, size := range []struct {
		name  string
		times int
	}{{"42 lines", 1}, {"10,000 lines", 239}, {"100,000 lines", 2381}} {
		var lines []jobs.OrderLine
		for i := range size.times {
			for _, l := range some {
				l.Order = l.Order + "-" + string(rune('a'+i%26)) + string(rune('a'+i/26%26)) + string(rune('a'+i/676))
				lines = append(lines, l)
			}
		}
		b.Run(size.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Pool(shop, lines, day); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
