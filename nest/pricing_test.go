package nest

import (
	"context"
	"fmt"
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// bestColumn is the least value of a column by trying all lane counts.
func bestColumn(b *bounder, x int, at multipliers) float64 {
	in := b.in
	lanes := make([]int, in.count)
	best := math.Inf(1)
	var try func(v, left, versions int, gain float64)
	try = func(v, left, versions int, gain float64) {
		if v == in.count {
			for w, set := range b.setOf {
				for _, u := range set {
					if (lanes[w] > 0) != (lanes[u] > 0) {
						return
					}
				}
			}
			if b.versions == 0 || versions <= b.versions {
				best = math.Min(best, in.row*float64(x)-gain)
			}
			return
		}
		for j := 0; j <= min(left, b.most[v]); j++ {
			if j > 0 && j < b.fewestLanes[v] {
				continue
			}
			lanes[v] = j
			if j == 0 {
				try(v+1, left, versions, gain)
			} else {
				try(v+1, left-j, versions+1, gain+b.gain(v, j, x, at))
			}
		}
		lanes[v] = 0
	}
	try(0, in.lanes, 0, 0)
	return best
}

// TestPricingFindsTheBestColumn: with limits on lanes, versions of a section
// and versions that run together, the knapsack finds what trying all finds, its
// column is worth what it says, and the hulls are not above it.
func TestPricingFindsTheBestColumn(t *testing.T) {
	r := rand.New(rand.NewSource(9))
	for n := 0; n < 400; n++ {
		p := Problem{Lanes: 1 + r.Intn(6), Costs: Costs{Row: 1}}
		p.Limits.VersionsPerSection = r.Intn(4)
		for v := 1 + r.Intn(5); v > 0; v-- {
			w := Version{ID: fmt.Sprint(v), Quantity: 5 + r.Intn(60)}
			w.LeastLanes = r.Intn(min(3, p.Lanes+1))
			if r.Intn(3) == 0 {
				w.MostLanes = max(1, w.LeastLanes) + r.Intn(2)
			}
			p.Versions = append(p.Versions, w)
		}
		if len(p.Versions) > 2 && r.Intn(2) == 0 {
			p.Together = [][]int{{0, 1}}
			if r.Intn(2) == 0 {
				p.Together = append(p.Together, []int{1, 2})
			}
		}
		b := newBounder(compile(&p))
		at := multipliers{pi: make([]float64, len(p.Versions)), rho: make([]float64, len(b.cuts))}
		for v := range at.pi {
			at.pi[v] = r.Float64() / 2
		}
		for c := range at.rho {
			at.rho[c] = float64(r.Intn(2)) * r.Float64() * 10
		}
		price := b.newPricer(&lengthNode{}, at)
		for _, x := range b.lengths {
			value, lanes := price.exact(x)
			name := fmt.Sprintf("%+v, %d rows", p, x)
			require.InDelta(t, bestColumn(b, x, at), value, 1e-9, name)
			require.LessOrEqual(t, price.relaxed(x), value+1e-9, name)
			worth := float64(x)
			for v, j := range lanes {
				if j > 0 {
					worth -= b.gain(v, j, x, at)
				}
			}
			require.InDelta(t, value, worth, 1e-9, name)
		}
	}
}

// TestBoundKnowsWhatStandsTogether: two versions of very different quantities
// that must share their sections waste what the programme without the rule does
// not see.
func TestBoundKnowsWhatStandsTogether(t *testing.T) {
	engine := testEngine(t)
	bound := func(rule func(*Problem)) float64 {
		p := Problem{Lanes: 2, Costs: Costs{Row: 1}, Versions: []Version{
			{ID: "A", Quantity: 400}, {ID: "B", Quantity: 100}, {ID: "C", Quantity: 400}, {ID: "D", Quantity: 100}}}
		rule(&p)
		b := newBounder(compile(&p))
		_, err := b.improve(context.Background(), engine, 2, math.Inf(1), 0.5, false)
		require.NoError(t, err)
		return b.cost(2)
	}
	free := bound(func(*Problem) {})
	assert.InDelta(t, 500, free, 1)
	assert.InDelta(t, 800, bound(func(p *Problem) { p.Together = [][]int{{0, 1}, {2, 3}} }), 1)
	assert.Greater(t, bound(func(p *Problem) { p.Limits.VersionsPerSection = 1 }), free, "two sections are too few")
}
