package game_test

import (
	"context"
	"math/rand"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/price/game"
)

// labelGame is a random game as label gangs make them, in whole cents: a
// shared set-up, a run that the longest order drives and a part for each,
// with noise, closed so that more players never cost less and a coalition may
// split.
func labelGame(random *rand.Rand, players int) []float64 {
	setup := float64(random.Intn(9000))
	own, run := make([]float64, players), make([]float64, players)
	for i := range own {
		own[i], run[i] = float64(random.Intn(5000)), float64(4*random.Intn(5000))
	}
	costs := make([]float64, 1<<uint(players))
	for c := game.Coalition(1); c <= game.Everyone(players); c++ {
		sum, longest := 0.0, 0.0
		for _, i := range c.Players() {
			sum += own[i] + run[i]/4
			longest = max(longest, run[i])
		}
		costs[c] = setup + max(longest, sum) + float64(random.Intn(2000))
	}
	for c := game.Everyone(players); c > 0; c-- {
		for i := range players {
			if !c.Has(i) {
				costs[c] = min(costs[c], costs[c.With(i)])
			}
		}
	}
	for c := game.Coalition(1); c <= game.Everyone(players); c++ {
		for part := (c - 1) & c; part > 0; part = (part - 1) & c {
			costs[c] = min(costs[c], costs[part]+costs[c&^part])
		}
	}
	for c := range costs {
		costs[c] /= 100
	}
	return costs
}

func TestSampledShapleyNearsTheExactValue(t *testing.T) {
	random := rand.New(rand.NewSource(3))
	g := game.Table(8, labelGame(random, 8))
	exact, err := game.Share(context.Background(), g, game.Shapley, game.Options{})
	require.NoError(t, err)
	sampled, err := game.Share(context.Background(), g, game.Shapley, game.Options{ExactPlayers: 2, Samples: 2000, Seed: 5})
	require.NoError(t, err)
	assert.Equal(t, 2000, sampled.Samples)
	sum := 0.0
	for i, share := range sampled.Shares {
		assert.Positive(t, sampled.StdErr[i])
		assert.InDelta(t, exact.Shares[i], share, 4*sampled.StdErr[i], "player %d", i)
		sum += share - exact.Shares[i]
	}
	assert.InDelta(t, 0, sum, 1e-9)
	again, err := game.Share(context.Background(), g, game.Shapley, game.Options{ExactPlayers: 2, Samples: 2000, Seed: 5})
	require.NoError(t, err)
	assert.Equal(t, sampled, again, "the same seed draws the same orders")
}

func TestMinorUnitsAddUp(t *testing.T) {
	tests := []struct {
		name   string
		total  string
		places int32
		shares []float64
		want   []string
	}{
		{"thirds of a euro", "1", 2, []float64{1. / 3, 1. / 3, 1. / 3}, []string{"0.34", "0.33", "0.33"}},
		{"largest remainder first", "10", 2, []float64{3.331, 3.335, 3.334}, []string{"3.33", "3.34", "3.33"}},
		{"yen", "100", 0, []float64{50.5, 49.5}, []string{"51", "49"}},
		{"dinar", "0.01", 3, []float64{0.005, 0.005}, []string{"0.005", "0.005"}},
		{"a float just below a whole cent", "95.2", 2, []float64{95.0999999999, 0.1000000001}, []string{"95.1", "0.1"}},
		{"a negative share", "5", 2, []float64{-0.005, 5.005}, []string{"0", "5"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := game.ToMinor(decimal.RequireFromString(tt.total), tt.shares, tt.places)
			require.NoError(t, err)
			text := make([]string, len(got))
			for i, share := range got {
				text[i] = share.String()
			}
			assert.Equal(t, tt.want, text)
		})
	}
	_, err := game.ToMinor(decimal.NewFromInt(10), []float64{3, 3}, 2)
	assert.EqualError(t, err, "game: the shares miss the total 10 by 4")
}

func TestUnknownRuleNamesTheKnown(t *testing.T) {
	_, err := game.ParseRule("fairest")
	assert.EqualError(t, err, `unknown rule "fairest", want one of fair, proportional, equal-savings, separable, shapley, nucleolus`)
	rule, err := game.ParseRule("")
	require.NoError(t, err)
	assert.Equal(t, game.Fair, rule)
	_, err = game.Share(context.Background(), taxi(), "fairest", game.Options{})
	assert.ErrorContains(t, err, "unknown rule")
}
