package batch

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestTheShares(t *testing.T) {
	for name, tt := range map[string]struct {
		effort, least float64
		hopes, had    []float64
		want          []float64
	}{
		"alike gangs get the same":             {10, 0.1, []float64{5, 5}, []float64{1, 1}, []float64{5, 5}},
		"nothing to hope for gets nothing":     {10, 0.1, []float64{5, 0}, []float64{1, 1}, []float64{10, 0}},
		"the wide gap gets more, by its root":  {6, 0.1, []float64{16, 4}, []float64{1, 1}, []float64{13. / 3, 5. / 3}},
		"a share too small goes to the others": {1, 0.5, []float64{100, 1}, []float64{1, 1}, []float64{1, 0}},
		"too little for anybody":               {0.4, 0.5, []float64{5, 5}, []float64{1, 1}, []float64{0, 0}},
		"nobody":                               {1, 0.5, nil, nil, []float64{}},
	} {
		assert.InDeltaSlice(t, tt.want, share(tt.effort, tt.least, tt.hopes, tt.had), 1e-9, name)
	}
}

// No other way of sharing the effort is expected to save more.
func TestTheSharesAreTheBest(t *testing.T) {
	hopes, had := []float64{9, 4, 0.5, 30}, []float64{1, 2, 0.5, 10}
	saves := func(shares []float64) (sum float64) {
		for i, e := range shares {
			sum += 2 * hopes[i] * e / (had[i] + e)
		}
		return sum
	}
	best := share(12, 0, hopes, had)
	for i := range best {
		for j := range best {
			moved := append([]float64{}, best...)
			step := math.Min(0.01, moved[i])
			moved[i] -= step
			moved[j] += step
			assert.LessOrEqual(t, saves(moved), saves(best)+1e-9, "from %d to %d", i, j)
		}
	}
}

func TestWhatIsHopedFor(t *testing.T) {
	assert.Zero(t, hope(nil))
	assert.Zero(t, hope([]Round{{Cost: 10, Bound: 4, Proven: true}}))
	assert.InDelta(t, 2, hope([]Round{{Cost: 20, Bound: 10}}), 1e-9, "the usual share of the open money")
	helped, stuck := []Round{{Cost: 20, Bound: 10}, {Cost: 15, Bound: 10}}, []Round{{Cost: 20, Bound: 10}, {Cost: 20, Bound: 10}}
	assert.InDelta(t, 5*0.35, hope(helped), 1e-9)
	assert.InDelta(t, 10*0.1, hope(stuck), 1e-9)
}
