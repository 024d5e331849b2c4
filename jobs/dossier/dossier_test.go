package dossier

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
	"laneplan/jobs/pool"
	"laneplan/jobs/price"
	"laneplan/jobs/price/game"
	"laneplan/jobs/starter"
	"laneplan/nest"
)

// pouches is a gang of three orders of the spice mill with a plan of it.
func pouches(t *testing.T) (jobs.Gang, nest.Problem, planfile.Gang) {
	t.Helper()
	shop, lines, day, err := starter.Book()
	require.NoError(t, err)
	pooling, err := pool.Pool(shop, lines, day)
	require.NoError(t, err)
	for _, g := range pooling.Gangs {
		if g.ID != "pouch-100x150-pp-60-laminate" {
			continue
		}
		require.Len(t, g.Orders, 3)
		problem, err := g.Problem()
		require.NoError(t, err)
		result, err := nest.Solve(t.Context(), problem, nest.Options{Work: 0.05, Seed: 1})
		require.NoError(t, err)
		plan, err := planfile.Describe(g.Gang, problem, result, planfile.Run{})
		require.NoError(t, err)
		return g.Gang, problem, plan
	}
	require.Fail(t, "no such gang")
	return jobs.Gang{}, nest.Problem{}, planfile.Gang{}
}

func TestWhatTheDocumentsSay(t *testing.T) {
	g, problem, plan := pouches(t)
	evening := time.Date(2026, 11, 30, 22, 15, 0, 0, time.FixedZone("", 3600))

	t.Run("without savings", func(t *testing.T) {
		job, err := New(t.Context(), g, problem, plan, Options{Printed: evening, NoSavings: true})
		require.NoError(t, err)
		assert.Equal(t, time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC), job.Printed, "the day of the shop's clock, and no more")
		assert.Empty(t, job.Money)
		assert.Empty(t, job.MoneyRule)
	})
	t.Run("with savings", func(t *testing.T) {
		g := g
		g.Pricing.Rule = string(game.Shapley) // it needs no engine
		job, err := New(t.Context(), g, problem, plan, Options{Printed: evening})
		require.NoError(t, err)
		require.Len(t, job.Money, 3)
		assert.Equal(t, g.Pricing.Rule, job.MoneyRule)
		shares := decimal.Zero
		for i, m := range job.Money {
			assert.Equal(t, g.Orders[i].ID, m.Order)
			assert.Equal(t, m.Saving.StringFixed(2), m.Alone.Sub(m.Share).StringFixed(2), m.Order)
			shares = shares.Add(m.Share)
		}
		sections, err := plan.Plan(problem)
		require.NoError(t, err)
		sheet, err := price.NewSheet(g, sections)
		require.NoError(t, err)
		assert.Equal(t, sheet.Total.StringFixed(2), shares.StringFixed(2), "the orders pay the whole cost sheet, to the cent")
	})
	t.Run("after the end of its time", func(t *testing.T) {
		ended, cancel := context.WithCancel(t.Context())
		cancel()
		job, err := New(ended, g, problem, plan, Options{Printed: evening})
		require.NoError(t, err)
		assert.Empty(t, job.Money, "the plan has its documents all the same")
	})
	t.Run("with a rule that is none", func(t *testing.T) {
		g := g
		g.Pricing.Rule = "by lot"
		_, err := New(t.Context(), g, problem, plan, Options{Printed: evening})
		var savings *SavingsError
		require.ErrorAs(t, err, &savings)
		assert.ErrorAs(t, err, new(jobs.Faults))
		assert.ErrorContains(t, err, "gang pouch-100x150-pp-60-laminate: savings: pricing.rule")
	})
	t.Run("with a rule that needs the engine, and none", func(t *testing.T) {
		_, err := New(t.Context(), g, problem, plan, Options{Printed: evening})
		var savings *SavingsError
		require.ErrorAs(t, err, &savings)
		assert.ErrorContains(t, err, "needs an engine")
	})
	t.Run("of another gang's plan", func(t *testing.T) {
		g := g
		g.Orders = g.Orders[:1]
		_, err := New(t.Context(), g, problem, plan, Options{Printed: evening})
		var savings *SavingsError
		require.Error(t, err)
		assert.False(t, errors.As(err, &savings), "it is one of the ticket: %v", err)
	})
}

func TestWhereThereIsSomethingToTell(t *testing.T) {
	of := func(orders int) jobs.Gang {
		var g jobs.Gang
		for i := range orders {
			g.Orders = append(g.Orders, jobs.Order{ID: fmt.Sprint(i)})
		}
		return g
	}
	for orders, want := range map[int]bool{0: false, 1: false, 2: true, game.MostPlayers: true, game.MostPlayers + 1: false} {
		assert.Equal(t, want, HasSavings(of(orders)), "%d orders", orders)
	}
	bare := of(2)
	bare.Bare = &jobs.BareCosts{}
	assert.False(t, HasSavings(bare), "abstract costs are nobody's money")
}
