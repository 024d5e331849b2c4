package nest

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOneSection has the worked numbers of the rule. The 513 rows are those
// of the ganging example 5.6 of CIP4's XJDF specification; the 50 rows those
// of a textbook question (A 200, B 300 on 10 places); 550 is the published
// optimum of the cat food problem with one template (CSPLib problem 002).
// The others are computed by hand.
func TestOneSection(t *testing.T) {
	tests := []struct {
		name       string
		quantities []int
		lanes      int
		rows       int
		each       []int
	}{
		{"CIP4 ganging example", []int{1025, 975, 925, 875}, 8, 513, []int{2, 2, 2, 2}},
		{"two on ten places", []int{200, 300}, 10, 50, []int{4, 6}},
		{"cat food, one template", []int{250, 255, 260, 500, 500, 800, 1100}, 9, 550, []int{1, 1, 1, 1, 1, 2, 2}},
		{"three on four lanes", []int{5000, 3000, 1000}, 4, 3000, []int{2, 1, 1}},
		{"three on six lanes", []int{5000, 3000, 1000}, 6, 1667, []int{3, 2, 1}},
		{"three on nine lanes", []int{5000, 3000, 1000}, 9, 1000, []int{5, 3, 1}},
		{"five on six lanes", []int{1000, 500, 500, 450, 250}, 6, 500, []int{2, 1, 1, 1, 1}},
		{"the covers in one section", []int{4500, 9000, 16000}, 4, 9000, []int{1, 1, 2}},
		{"one label", []int{1}, 3, 1, []int{1}},
		{"as many lanes as versions", []int{7, 3}, 2, 7, []int{1, 1}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rows, each, possible := OneSection(tt.quantities, tt.lanes)
			require.True(t, possible)
			assert.Equal(t, tt.rows, rows)
			assert.Equal(t, tt.each, each)
		})
	}
	for name, quantities := range map[string][]int{"more versions than lanes": {1, 1, 1}, "nothing": nil} {
		_, _, possible := OneSection(quantities, 2)
		assert.False(t, possible, name)
	}
}

// TestOneSectionAgainstCounting tries every length from 1 up.
func TestOneSectionAgainstCounting(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 300 {
		quantities := make([]int, 1+rng.IntN(5))
		for i := range quantities {
			quantities[i] = 1 + rng.IntN(200)
		}
		lanes := len(quantities) + rng.IntN(6)
		want := 1
		for {
			sum := 0
			for _, q := range quantities {
				for done := 0; done < q; done += want {
					sum++
				}
			}
			if sum <= lanes {
				break
			}
			want++
		}
		rows, _, _ := OneSection(quantities, lanes)
		require.Equal(t, want, rows, "%v on %d lanes", quantities, lanes)
	}
}
