package price_test

import (
	"context"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/price"
	"laneplan/jobs/price/game"
	"laneplan/nest"
	"laneplan/solver"
	"laneplan/solver/highs"
)

func newEngine(t testing.TB) solver.Solver {
	t.Helper()
	engine, err := highs.New(highs.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, engine.Close()) })
	return engine
}

// planned plans a gang within a fixed amount of work.
func planned(t testing.TB, g jobs.Gang) nest.Plan {
	t.Helper()
	problem, err := g.Problem()
	require.NoError(t, err)
	r, err := nest.Solve(context.Background(), problem, nest.Options{Work: 2, Seed: 1, Workers: 1})
	require.NoError(t, err)
	return r.Plan
}

func share(t *testing.T, g jobs.Gang, plan nest.Plan, rule game.Rule, o price.Options) price.Shares {
	t.Helper()
	c, err := price.NewCoalitions(g, plan, o)
	require.NoError(t, err)
	s, err := c.Share(context.Background(), rule)
	require.NoError(t, err)
	return s
}

func TestSharesOfAGangAddUpByEveryRule(t *testing.T) {
	engine := newEngine(t)
	g := bigMill(5)
	plan := planned(t, g)
	sheet, err := price.NewSheet(g, plan)
	require.NoError(t, err)
	c, err := price.NewCoalitions(g, plan, price.Options{Engine: engine})
	require.NoError(t, err)
	for _, rule := range game.Rules() {
		s, err := c.Share(context.Background(), rule)
		require.NoError(t, err)
		sum := decimal.Zero
		for _, order := range s.Orders {
			sum = sum.Add(order.Share)
			assert.True(t, order.Saving.Equal(order.Alone.Sub(order.Share)))
			assert.True(t, order.Share.Equal(order.Share.Round(2)), "%s: %s", rule, order.Share)
			assert.True(t, order.Added.LessThanOrEqual(order.Alone), "%s adds more than it costs alone", order.Order)
			require.NotNil(t, order.Quote)
			assert.True(t, order.Quote.Price.GreaterThan(order.Share), "a margin of 40 %%")
			if rule == game.Fair || rule == game.Nucleolus || rule == game.Separable {
				assert.True(t, order.Share.LessThanOrEqual(order.Alone), "%s: %s pays %s, alone %s", rule, order.Order, order.Share, order.Alone)
			}
			if rule == game.Fair {
				assert.True(t, order.Share.GreaterThanOrEqual(order.Added), "%s pays %s, adds %s", order.Order, order.Share, order.Added)
			}
		}
		assert.True(t, sheet.Total.Equal(sum), "%s: %s, want %s", rule, sum, sheet.Total)
	}
	assert.Equal(t, 30, c.Effort().Planned, "every sub-gang once, however many rules")
}

func TestSharesAreTheSameOnAnyNumberOfGoroutines(t *testing.T) {
	engine := newEngine(t)
	g := bigMill(4)
	plan := planned(t, g)
	one := share(t, g, plan, game.Fair, price.Options{Engine: engine, Workers: 1})
	three := share(t, g, plan, game.Fair, price.Options{Engine: engine, Workers: 3})
	assert.Equal(t, one, three)
}

func TestBeyondTheExactLimitSharesAreSampled(t *testing.T) {
	g := bigMill(5)
	plan := planned(t, g)
	s := share(t, g, plan, game.Shapley, price.Options{ExactOrders: 3, Samples: 20, Seed: 2})
	sum := decimal.Zero
	positive := 0
	for _, order := range s.Orders {
		sum = sum.Add(order.Share)
		if order.StdErr.IsPositive() {
			positive++
		}
	}
	assert.True(t, s.Total.Equal(sum))
	assert.Positive(t, positive, "standard errors are shown")
	assert.Contains(t, strings.Join(s.Notes, "\n"), "shares are the mean of 20 random orders of arrival")
	fair := share(t, g, plan, game.Fair, price.Options{ExactOrders: 3})
	assert.Nil(t, fair.Core)
	assert.Contains(t, strings.Join(fair.Notes, "\n"), "core not tested")
}

func TestNotesSayWhatARuleCouldNotPromise(t *testing.T) {
	// Two orders whose gang costs more than both apart: the mill's plan with
	// a needless section.
	g := spiceMill()
	plan := millPlan()
	plan.Sections = append(plan.Sections, nest.Section{Rows: 4000, Lanes: []int{0, 1, 2, nest.Empty}})
	s := share(t, g, plan, game.Fair, price.Options{Engine: newEngine(t)})
	notes := strings.Join(s.Notes, "\n")
	assert.Contains(t, notes, "dividing the gang is cheaper")
	assert.Contains(t, notes, "the core is empty")
	assert.Contains(t, notes, "more than alone")
}

func TestNotesSayWhatAWorkLimitCut(t *testing.T) {
	g := bigMill(5)
	s := share(t, g, planned(t, g), game.Fair, price.Options{Engine: newEngine(t), Work: 1e-6})
	assert.Contains(t, strings.Join(s.Notes, "\n"), "planned up to a work limit")
}

func TestOrdersThatThePlanLeavesOutCarryNothing(t *testing.T) {
	g := spiceMill()
	g.Orders[1].Filler = true
	g.Orders[1].Versions[0].ElsewhereCost = dec("1")
	plan := nest.Plan{Sections: []nest.Section{{Rows: 1000, Lanes: []int{0, 0, 1, 1}}, {Rows: 500, Lanes: []int{0, 0, 0, 0}}}}
	s := share(t, g, plan, game.Proportional, price.Options{})
	require.Len(t, s.Orders, 1)
	assert.Equal(t, "o1", s.Orders[0].Order)
	assert.True(t, s.Orders[0].Share.Equal(s.Total))
	assert.Contains(t, s.Notes, "order o2 is left out of this plan and carries no share")
}

func TestVersionsOfABareProblemAreOrdersOfTheirOwn(t *testing.T) {
	g := jobs.Gang{ID: "covers", Die: jobs.Die{Lanes: 4}, Bare: &jobs.BareCosts{Row: dec("13.44"), Section: dec("18676")},
		Orders: []jobs.Order{{Versions: []jobs.Version{{ID: "A", Quantity: 4500}, {ID: "B", Quantity: 9000}, {ID: "C", Quantity: 16000}}}}}
	s := share(t, g, planned(t, g), game.Fair, price.Options{Engine: newEngine(t)})
	require.Len(t, s.Orders, 3)
	assert.Equal(t, "136472", s.Total.String())
	// Alone: one section of a quarter of the labels, 18676 + 13.44 · rows.
	for i, want := range []string{"33796", "48916", "72436"} {
		assert.Equal(t, want, s.Orders[i].Alone.String(), s.Orders[i].Order)
	}
}

func TestAloneMayBeCheaperOnAnotherPress(t *testing.T) {
	g := spiceMill()
	own := g
	own.Orders = g.Orders[1:]
	own.Press.ID, own.Press.SetupMinutes, own.Press.SetupWeb = "p2", dec("1"), jobs.Metre
	plan := millPlan()
	here := share(t, g, plan, game.Proportional, price.Options{})
	there := share(t, g, plan, game.Proportional, price.Options{Apart: map[string]jobs.Gang{"o2": own}})
	assert.True(t, there.Orders[1].Alone.LessThan(here.Orders[1].Alone))
	assert.True(t, there.Orders[0].Alone.Equal(here.Orders[0].Alone))
}

func TestSharingStopsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	g := bigMill(4)
	c, err := price.NewCoalitions(g, planned(t, g), price.Options{})
	require.NoError(t, err)
	_, err = c.Share(ctx, game.Proportional)
	assert.ErrorIs(t, err, context.Canceled)
}

func TestTheShopFileKnowsEveryRule(t *testing.T) {
	var names []string
	for _, rule := range game.Rules() {
		names = append(names, string(rule))
	}
	assert.Equal(t, jobs.ShareRules, names)
}
