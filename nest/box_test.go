package nest

import (
	"fmt"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"
)

// enumerate answers the same question as the box search by trying every
// length tuple and every assignment of lane counts, with no bound at all.
func enumerate(demands []int, lanes, sections, rows, least int) bool {
	x := make([]int, sections)
	left := make([]int, sections)
	var assign func(v int) bool
	assign = func(v int) bool {
		if v == len(demands) {
			return true
		}
		var give func(k, need int) bool
		give = func(k, need int) bool {
			if need <= 0 {
				return assign(v + 1)
			}
			if k == sections {
				return false
			}
			for a := 0; a <= left[k]; a++ {
				left[k] -= a
				ok := give(k+1, need-a*x[k])
				left[k] += a
				if ok {
					return true
				}
			}
			return false
		}
		return give(0, demands[v])
	}
	var lengths func(k, rest int) bool
	lengths = func(k, rest int) bool {
		if k == sections-1 {
			x[k] = rest
			if rest < least || k > 0 && rest > x[k-1] {
				return false
			}
			for j := range left {
				left[j] = lanes
			}
			return assign(0)
		}
		for x[k] = least; x[k] <= rest; x[k]++ {
			if k > 0 && x[k] > x[k-1] {
				break
			}
			if lengths(k+1, rest-x[k]) {
				return true
			}
		}
		return false
	}
	return lengths(0, rows)
}

func TestBoxSearchAgreesWithEnumeration(t *testing.T) {
	r := rand.New(rand.NewSource(7))
	seen := map[bool]int{}
	for n := 0; n < 6000; n++ {
		lanes, sections, versions := 1+r.Intn(4), 1+r.Intn(3), 1+r.Intn(5)
		least := 1 + r.Intn(2)*r.Intn(3)
		demands := make([]int, versions)
		total := 0
		for v := range demands {
			demands[v] = 1 + r.Intn(20)
			total += demands[v]
		}
		rows := (total+lanes-1)/lanes + r.Intn(4)
		b, ok := newBoxSearch(demands, lanes, sections, rows, least)
		require.True(t, ok)
		got := b.run(1 << 40)
		want := enumerate(demands, lanes, sections, rows, least)
		name := fmt.Sprint(demands, " lanes ", lanes, " sections ", sections, " rows ", rows, " least ", least)
		require.NotEqual(t, undecided, got, name)
		require.Equal(t, want, got == feasible, name)
		seen[want]++
		if got == feasible {
			checkBox(t, b, name)
		}
	}
	require.Greater(t, seen[true], 500)
	require.Greater(t, seen[false], 500)
}

// checkBox recounts a plan that the box search found.
func checkBox(t *testing.T, b *boxSearch, name string) {
	used := make([]int, b.sections)
	rows := 0
	for k, x := range b.found {
		rows += x
		require.GreaterOrEqual(t, x, b.least, name)
		if k > 0 {
			require.LessOrEqual(t, x, b.found[k-1], name)
		}
	}
	require.Equal(t, b.rows, rows, name)
	for i, d := range b.demand {
		require.Len(t, b.counts[i], b.times[i]*b.sections, name)
		for j := 0; j < b.times[i]; j++ {
			printed := 0
			for k := 0; k < b.sections; k++ {
				a := b.counts[i][j*b.sections+k]
				printed += a * b.found[k]
				used[k] += a
			}
			require.GreaterOrEqual(t, printed, d, name)
		}
	}
	for _, n := range used {
		require.LessOrEqual(t, n, b.lanes, name)
	}
}
