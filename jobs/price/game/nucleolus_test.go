package game_test

import (
	"context"
	"math"
	"math/rand"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/price/game"
	"laneplan/solver"
	"laneplan/solver/highs"
)

// newEngine is the engine that the product uses.
func newEngine(t testing.TB) solver.Solver {
	t.Helper()
	engine, err := highs.New(highs.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, engine.Close()) })
	return engine
}

func TestPublishedNucleoli(t *testing.T) {
	tests := []struct {
		name   string
		source string
		g      game.Game
		want   []float64
		places int32 // of the published figures
		core   bool
	}{
		{"runway 8, 11, 13, 18", "game: Littlechild and Owen 1973; result derived", airport(8, 11, 13, 18), []float64{3.25, 3.25, 3.25, 8.25}, 9, true},
		{"runway 1500, 2200, 3000", "derived", airport(1500, 2200, 3000), []float64{2200. / 3, 2200. / 3, 4600. / 3}, 9, true},
		{"taxi of three", "data: B. Nalebuff; result derived", taxi(), []float64{3.5, 4.75, 9.75}, 9, true},
		{"value game of four", "CRAN CoopGame manual, nucleolus", valueGame(), []float64{-3.5, -4.5, -5.5, -7.5}, 9, true},
		{"claims of 100, 200, 300 on 100", "R. Aumann and M. Maschler 1985; CRAN CoopGame manual", bankruptcy(100, 100, 200, 300), []float64{-100. / 3, -100. / 3, -100. / 3}, 9, true},
		{"on 200", "the same", bankruptcy(200, 100, 200, 300), []float64{-50, -75, -75}, 9, true},
		{"on 300", "the same", bankruptcy(300, 100, 200, 300), []float64{-50, -100, -150}, 9, true},
		{"empty core", "derived", emptyCore(), []float64{160. / 3, 160. / 3, 160. / 3}, 9, false},
		{"two label orders", "derived: half of what is saved to each", game.Table(2, []float64{0, 150, 55, 183.35}), []float64{139.175, 44.175}, 9, true},
		{"one player", "", game.Table(1, []float64{0, 7}), []float64{7}, 9, true},
		{"nothing to share", "", game.Table(3, make([]float64, 8)), []float64{0, 0, 0}, 9, true},
	}
	engine := newEngine(t)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			split, err := game.Share(context.Background(), tt.g, game.Nucleolus, game.Options{Engine: engine})
			require.NoError(t, err)
			assert.InDeltaSlice(t, tt.want, split.Shares, 1e-6, tt.source)
			assert.Equal(t, tt.core, split.Core.Exists)
			assert.Empty(t, split.Fallback)
		})
	}
}

func TestEmptyCoreIsSaidAndItsLeastViolationShown(t *testing.T) {
	// Derived: singles 60, pairs 100, all 160. Each pair pays 106.67.
	split, err := game.Share(context.Background(), emptyCore(), game.Fair, game.Options{Engine: newEngine(t)})
	require.NoError(t, err)
	assert.False(t, split.Core.Exists)
	assert.InDelta(t, 20./3, split.Core.Violation, 1e-6)
	assert.ElementsMatch(t, []game.Coalition{3, 5, 6}, split.Core.Blocking)
	assert.NotEmpty(t, split.Fallback, "each adds 60, which is 180 in all")
	assert.InDeltaSlice(t, []float64{160. / 3, 160. / 3, 160. / 3}, split.Shares, 1e-6)
}

// The oracle: the nucleolus by its definition. Among all splits on a grid of
// steps that add up, it takes the one whose complaints, sorted from the
// largest, come first.
func TestNucleolusAgainstASearchOfAllSplits(t *testing.T) {
	engine := newEngine(t)
	random := rand.New(rand.NewSource(12))
	for range 12 {
		// Multiples of 12 keep the nucleolus of three players on the grid:
		// its denominators are 1 to 4.
		costs := make([]float64, 8)
		for c := range costs[1:] {
			costs[c+1] = float64(12 * random.Intn(10))
		}
		g := game.Table(3, costs)
		split, err := game.Share(context.Background(), g, game.Nucleolus, game.Options{Engine: engine})
		require.NoError(t, err)
		bounded := split.Fallback == ""
		best := []float64(nil)
		var at []float64
		total := int(costs[7])
		for x := -240; x <= 360; x++ {
			for y := -240; y <= 360; y++ {
				shares := []float64{float64(x), float64(y), float64(total - x - y)}
				if bounded && (shares[0] > costs[1] || shares[1] > costs[2] || shares[2] > costs[4]) {
					continue
				}
				if c := complaints(shares, costs); best == nil || lexicographically(c, best) {
					best, at = c, shares
				}
			}
		}
		assert.InDeltaSlice(t, at, split.Shares, 1e-6, "%v", costs)
	}
}

func complaints(shares, costs []float64) []float64 {
	list := make([]float64, 0, len(costs))
	for c := 1; c < len(costs)-1; c++ {
		sum := -costs[c]
		for i, share := range shares {
			if game.Coalition(c).Has(i) {
				sum += share
			}
		}
		at := len(list)
		for at > 0 && list[at-1] < sum {
			at--
		}
		list = append(list[:at], append([]float64{sum}, list[at:]...)...)
	}
	return list
}

func lexicographically(a, b []float64) bool {
	for i := range a {
		if a[i] != b[i] {
			return a[i] < b[i]
		}
	}
	return false
}

// Degenerate games have many coalitions with one and the same complaint; the
// rounds must still end at the only answer. A game of identical players
// shares evenly, a sum of own costs charges each its own.
func TestNucleolusOfDegenerateGames(t *testing.T) {
	engine := newEngine(t)
	alike := table(8, func(c game.Coalition) float64 { return 10 * math.Sqrt(float64(c.Size())) })
	split, err := game.Share(context.Background(), alike, game.Nucleolus, game.Options{Engine: engine})
	require.NoError(t, err)
	for _, share := range split.Shares {
		assert.InDelta(t, 10*math.Sqrt(8)/8, share, 1e-6)
	}
	own := []float64{5, 0, 17, 3, 11, 5, 8}
	split, err = game.Share(context.Background(), table(7, func(c game.Coalition) float64 {
		sum := 0.0
		for _, i := range c.Players() {
			sum += own[i]
		}
		return sum
	}), game.Nucleolus, game.Options{Engine: engine})
	require.NoError(t, err)
	assert.InDeltaSlice(t, own, split.Shares, 1e-6)
	// The airport game of twelve, by Littlechild's recursion: the least of
	// need/(players that share it), here at k+1 at each step.
	needs := []float64{4, 4, 6, 7, 7, 9, 12, 20, 20, 31, 44, 80}
	split, err = game.Share(context.Background(), airport(needs...), game.Nucleolus, game.Options{Engine: engine})
	require.NoError(t, err)
	assert.InDeltaSlice(t, airportNucleolus(needs), split.Shares, 1e-6)
}

// airportNucleolus is the recursion of S. C. Littlechild, 'A simple
// expression for the nucleolus in a special case', 1974 (from memory): with
// needs sorted, every player of the next group pays the smallest of
// (need of j − paid so far) / (players from the next up to j, and one more),
// where the last player of all has no 'one more' but pays the rest.
func airportNucleolus(needs []float64) []float64 {
	n := len(needs)
	shares := make([]float64, n)
	paid := 0.0
	for next := 0; next < n-1; {
		least, last := math.Inf(1), next
		for j := next; j < n-1; j++ {
			if each := (needs[j] - paid) / float64(j-next+2); each <= least {
				least, last = each, j
			}
		}
		if each := (needs[n-1] - paid) / float64(n-next); each <= least {
			least, last = each, n-2
		}
		for j := next; j <= last; j++ {
			shares[j] = least
			paid += least
		}
		next = last + 1
	}
	shares[n-1] = needs[n-1] - paid
	return shares
}

func TestSharesAddUpToTheCentForEveryRule(t *testing.T) {
	engine := newEngine(t)
	random := rand.New(rand.NewSource(1))
	for range 12 {
		players := 1 + random.Intn(7)
		costs := labelGame(random, players)
		g := game.Table(players, costs)
		total := decimal.NewFromFloat(costs[len(costs)-1])
		for _, rule := range game.Rules() {
			split, err := game.Share(context.Background(), g, rule, game.Options{Engine: engine})
			require.NoError(t, err, rule)
			money, err := game.ToMinor(total, split.Shares, 2)
			require.NoError(t, err, rule)
			sum := decimal.Zero
			for _, share := range money {
				sum = sum.Add(share)
				assert.True(t, share.Equal(share.Round(2)))
			}
			assert.True(t, total.Equal(sum), "%s: %s, want %s", rule, sum, total)
		}
	}
}

// What Fair promises: between what a player adds and what it pays alone, to
// the cent, wherever such a split exists; and in the core where there is one.
func TestFairKeepsItsPromise(t *testing.T) {
	engine := newEngine(t)
	random := rand.New(rand.NewSource(2))
	fits, cores, empty := 0, 0, 0
	for k := range 40 {
		players := 2 + random.Intn(5)
		costs := labelGame(random, players)
		if k%4 == 0 { // dearer together, so that some games have no core
			costs[len(costs)-1] = math.Round(costs[len(costs)-1]*104) / 100
		}
		g := game.Table(players, costs)
		split, err := game.Share(context.Background(), g, game.Fair, game.Options{Engine: engine})
		require.NoError(t, err)
		limits, err := game.LimitsOf(context.Background(), g)
		require.NoError(t, err)
		money, err := game.ToMinor(decimal.NewFromFloat(limits.Total), split.Shares, 2)
		require.NoError(t, err)
		shares := make([]float64, players)
		for i := range money {
			shares[i] = money[i].InexactFloat64()
		}
		if limits.Fit() {
			fits++
			assert.Empty(t, limits.Breaches(shares, 1e-9), "%v", costs)
			assert.Empty(t, split.Fallback)
		} else {
			assert.NotEmpty(t, split.Fallback)
		}
		worst := complaints(split.Shares, costs)[0]
		// Where the core is empty, keeping every player's limits may cost a
		// larger group more than the least violation.
		assert.GreaterOrEqual(t, worst, split.Core.Violation-1e-6*limits.Total, "no complaint is below the least possible")
		if split.Core.Exists {
			cores++
			assert.InDelta(t, split.Core.Violation, worst, 1e-6*limits.Total, "in the core the limits hold by themselves")
			assert.LessOrEqual(t, worst, 1e-6*limits.Total)
		} else {
			empty++
			assert.Positive(t, split.Core.Violation)
		}
	}
	assert.Positive(t, fits)
	assert.Positive(t, cores)
	assert.Positive(t, empty)
}

func TestBeyondTheLimitFairStillKeepsThePromise(t *testing.T) {
	random := rand.New(rand.NewSource(4))
	g := game.Table(6, labelGame(random, 6))
	split, err := game.Share(context.Background(), g, game.Fair, game.Options{ExactPlayers: 5})
	require.NoError(t, err, "no engine is needed")
	assert.Nil(t, split.Core)
	assert.NotEmpty(t, split.Fallback)
	limits, err := game.LimitsOf(context.Background(), g)
	require.NoError(t, err)
	require.True(t, limits.Fit())
	assert.Empty(t, limits.Breaches(split.Shares, 1e-9))
	_, err = game.Share(context.Background(), g, game.Nucleolus, game.Options{ExactPlayers: 5, Engine: newEngine(t)})
	assert.ErrorIs(t, err, game.ErrTooManyPlayers)
}

func BenchmarkNucleolusOfTwelve(b *testing.B) {
	engine := newEngine(b)
	g := game.Table(12, labelGame(rand.New(rand.NewSource(6)), 12))
	for b.Loop() {
		_, err := game.Share(context.Background(), g, game.Fair, game.Options{Engine: engine})
		require.NoError(b, err)
	}
}
