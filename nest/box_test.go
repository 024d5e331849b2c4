package nest

import (
	"fmt"
	"math"
	"math/rand"
	"sort"
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
		asked := make([]demand, versions)
		sort.Ints(demands)
		for v, d := range demands {
			asked[v] = demand{fewest: d, peak: d, useful: d, cap: lanes, plain: true, skip: math.Inf(1), frame: 1, lanes: lanes}
		}
		b, ok := newBoxSearch(asked, lanes, sections, rows, rows, least, float64(lanes*rows-total), 0)
		require.True(t, ok)
		if more := r.Intn(4); more > 0 { // from what a question about more rows left open
			from, ok := newBoxSearch(asked, lanes, sections, rows+more, rows+more, least, float64(lanes*(rows+more)-total), 0)
			require.True(t, ok)
			if from.run(r.Intn(100)) == refuted {
				require.False(t, enumerate(demands, lanes, sections, rows, least))
				continue
			}
			b.inherit(from, true)
		}
		got := b.run(1 << 40)
		want := enumerate(demands, lanes, sections, rows, least)
		name := fmt.Sprint(demands, " lanes ", lanes, " sections ", sections, " rows ", rows, " least ", least)
		require.NotEqual(t, undecided, got, name)
		require.Equal(t, want, got == feasible, name)
		seen[want]++
		if got == feasible {
			checkBox(t, b, rows, name)
		}
	}
	require.Greater(t, seen[true], 500)
	require.Greater(t, seen[false], 500)
}

// TestPruneKeepsEveryPlan: whatever prices, full sections, covers and rows say of
// a box, each of its points that holds a plan stays in it.
func TestPruneKeepsEveryPlan(t *testing.T) {
	r := rand.New(rand.NewSource(5))
	pruned, narrowed, kept := 0, 0, 0
	for n := range 6000 {
		var b *boxSearch
		var ok bool
		var name string
		if n%2 == 0 {
			b, name = plainQuestion(t, r)
		} else {
			p := moneyProblem(r)
			require.NoError(t, Validate(p))
			in := compile(&p)
			box := in.newBox(nil)
			sections, cost := 1+r.Intn(3), box.least()*(1+r.Float64()/3)
			name = fmt.Sprintf("%+v, %d sections, cost %v", p, sections, cost)
			b, ok = box.ask(sections, cost)
			require.True(t, ok, name)
		}
		if b.answer == refuted || b.high > 60 {
			continue
		}
		at := b.stack[0]
		for range r.Intn(12) {
			parent := at
			if b.prune(&parent) {
				break
			}
			low, high, point := b.split(&parent)
			if point {
				break
			}
			part := low
			if r.Intn(2) == 0 {
				part = high
			}
			if part.propagate() {
				at = part
			}
		}
		if r.Intn(2) == 0 { // any prices will do
			for k := range b.sections {
				at.mu[k] = float64(r.Intn(2*b.high)-b.high/2) / 2
			}
		}
		before := at
		gone := b.prune(&at)
		if gone {
			pruned++
		} else if at.l != before.l || at.u != before.u {
			narrowed++
		}
		points := b.half()
		var try func(k int, x box)
		try = func(k int, x box) {
			if k < b.sections {
				for rows := before.l[k]; rows <= before.u[k]; rows++ {
					x.l[k], x.u[k] = rows, rows
					if k == 0 || rows <= x.l[k-1] {
						try(k+1, x)
					}
				}
				return
			}
			if x.propagate() && points.decide(&x) == feasible {
				kept++
				require.False(t, gone, "%s: %v is in %v", name, x, before)
				for k := range b.sections {
					require.LessOrEqual(t, at.l[k], x.l[k], "%s: %v is in %v", name, x, before)
					require.GreaterOrEqual(t, at.u[k], x.u[k], "%s: %v is in %v", name, x, before)
				}
			}
		}
		try(0, before)
	}
	require.Greater(t, pruned, 100)
	require.Greater(t, narrowed, 100)
	require.Greater(t, kept, 100)
}

// TestNarrowSortsSections: the first version's cover raises the shorter section
// above the longer one, and the second's rows count on sorted ones. Lengths of 12
// and 9 are within the slack of both.
func TestNarrowSortsSections(t *testing.T) {
	var asked []demand
	for _, d := range []int{17, 12} {
		asked = append(asked, demand{fewest: d, peak: d, useful: d, cap: 2, plain: true, skip: math.Inf(1), frame: 1, lanes: 3})
	}
	b, ok := newBoxSearch(asked, 3, 2, 16, 24, 7, 2, 0)
	require.True(t, ok)
	n := box{sections: 2, l: [boxSections]int{7, 7}, u: [boxSections]int{14, 10}, low: 16, high: 24}
	_, ok = b.list(&n)
	require.True(t, ok)
	prices, gradient := [boxSections]float64{12, 8}, [boxSections]float64{}
	b.lagrangian(&prices, &gradient)
	b.thin(3)
	require.Equal(t, []int{0, 1, 2}, b.from, "one cover each")
	b.spareWaste, b.sparePrice = 2, 2
	changed, ok := b.narrow(&n)
	require.True(t, ok)
	require.True(t, changed)
	require.LessOrEqual(t, n.l[0], 12)
	require.LessOrEqual(t, n.l[1], 9)
	require.GreaterOrEqual(t, n.u[0], 12)
	require.GreaterOrEqual(t, n.u[1], 9)
}

// plainQuestion draws a question in which labels are free: with a given number of
// rows or a range of them, and now and then fewer lanes for a version or one piece.
func plainQuestion(t *testing.T, r *rand.Rand) (b *boxSearch, name string) {
	lanes, sections, versions := 2+r.Intn(3), 2+r.Intn(3), 2+r.Intn(6)
	demands := make([]int, versions)
	total := 0
	for v := range demands {
		demands[v] = 1 + r.Intn(60/sections)
		total += demands[v]
	}
	sort.Sort(sort.Reverse(sort.IntSlice(demands)))
	asked := make([]demand, versions)
	for v, d := range demands {
		asked[v] = demand{fewest: d, peak: d, useful: d, cap: lanes, plain: true, skip: math.Inf(1), frame: 1, lanes: lanes}
		if r.Intn(4) == 0 {
			asked[v].cap = 1 + r.Intn(lanes)
		}
		asked[v].onePiece = r.Intn(8) == 0
	}
	high := (total+lanes-1)/lanes + r.Intn(5)
	low := high - r.Intn(2)*r.Intn(8)
	name = fmt.Sprint(demands, " lanes ", lanes, " sections ", sections, " rows ", low, " to ", high)
	b, ok := newBoxSearch(asked, lanes, sections, low, high, 1, float64(lanes*high-total), 0)
	require.True(t, ok, name)
	return b, name
}

// checkBox recounts a plan that the box search found.
func checkBox(t *testing.T, b *boxSearch, want int, name string) {
	used := make([]int, b.sections)
	rows := 0
	for k, x := range b.found {
		rows += x
		require.GreaterOrEqual(t, x, b.least, name)
		if k > 0 {
			require.LessOrEqual(t, x, b.found[k-1], name)
		}
	}
	require.Equal(t, want, rows, name)
	for i, d := range b.demand {
		require.Len(t, b.counts[i], b.times[i]*b.sections, name)
		for j := 0; j < b.times[i]; j++ {
			printed := 0
			for k := 0; k < b.sections; k++ {
				a := b.counts[i][j*b.sections+k]
				printed += a * b.found[k]
				used[k] += a
			}
			require.GreaterOrEqual(t, printed, d.peak, name)
		}
	}
	for _, n := range used {
		require.LessOrEqual(t, n, b.lanes, name)
	}
}

// cheapest is the least that so many sections can cost beside their number,
// by trying every length tuple up to 'longest' rows in all and every
// assignment: web, labels and, for every version, as many lane starts as the
// section with the most of it has lanes.
func cheapest(in *instance, sections, longest int) float64 {
	best := math.Inf(1)
	x, left := make([]int, sections), make([]int, sections)
	var assign func(v int, cost float64)
	assign = func(v int, cost float64) {
		if v == in.count {
			best = math.Min(best, cost)
			return
		}
		var give func(k, printed, most int)
		give = func(k, printed, most int) {
			if k == sections {
				if printed >= in.need[v] || printed == 0 && in.price[v].filler {
					assign(v+1, cost+in.labels(v, printed, 1)+in.laneRun*float64(most))
				}
				return
			}
			for a := 0; a <= min(left[k], in.rules.mostLane[v]); a++ {
				if a > 0 && printed > 0 && in.rules.onePiece[v] {
					break
				}
				left[k] -= a
				give(k+1, printed+a*x[k], max(most, a))
				left[k] += a
			}
		}
		give(0, 0, 0)
	}
	var lengths func(k, rest int)
	lengths = func(k, rest int) {
		if k == sections {
			total := 0
			for j := range left {
				left[j] = in.lanes
				total += x[j]
			}
			assign(0, float64(total))
			return
		}
		most := rest
		if k > 0 {
			most = min(most, x[k-1])
		}
		for x[k] = in.least; x[k] <= most; x[k] += in.frame {
			lengths(k+1, rest-x[k])
		}
	}
	lengths(0, longest)
	return best
}

// moneyProblem draws a problem with unders, prices for labels, fillers, lane
// starts, frames, most lanes and one piece.
func moneyProblem(r *rand.Rand) Problem {
	p := Problem{Lanes: 1 + r.Intn(3), Costs: Costs{Row: 1, LaneRun: float64(r.Intn(2)) * r.Float64() * 3}}
	p.Limits.Frame, p.Limits.LeastRows = 1+r.Intn(2), r.Intn(3)
	p.Limits.VersionsPerSection = 99 // so that there are rules
	for v := 1 + r.Intn(3); v > 0; v-- {
		w := Version{ID: fmt.Sprint(v), Quantity: 1 + r.Intn(10)}
		if r.Intn(2) == 0 {
			w.Fewest, w.ShortCost = max(1, w.Quantity-r.Intn(4)), r.Float64()
		}
		if r.Intn(2) == 0 {
			w.LabelCost = r.Float64() / 2
		}
		if r.Intn(3) == 0 {
			w.Most, w.OverPrice = w.Quantity+1+r.Intn(3), w.ShortCost*r.Float64()*1.2
		}
		if r.Intn(4) == 0 {
			w.Filler, w.ElsewhereCost = true, r.Float64()*float64(w.Quantity)
		}
		if r.Intn(4) == 0 {
			w.MostLanes = 1 + r.Intn(p.Lanes)
		}
		w.OnePiece = r.Intn(4) == 0
		p.Versions = append(p.Versions, w)
	}
	return p
}

// TestBoxSearchWeighsMoney: with unders, prices for labels, fillers, lane
// starts, frames, most lanes and one piece, the box search draws the line
// between yes and no where plain enumeration finds the least cost.
func TestBoxSearchWeighsMoney(t *testing.T) {
	r := rand.New(rand.NewSource(11))
	seen := 0
	for n := 0; n < 1500; n++ {
		p := moneyProblem(r)
		require.NoError(t, Validate(p))
		in := compile(&p)
		sections := 1 + r.Intn(2)
		longest := 0
		for _, q := range in.most[:in.count] {
			longest += min(q, 16) + 2
		}
		least := cheapest(in, sections, longest)
		if math.IsInf(least, 1) {
			continue
		}
		flat := false
		box := in.newBox(nil)
		for _, d := range box.demands {
			flat = flat || d.flat
		}
		name := fmt.Sprintf("%+v, %d sections, least %v", p, sections, least)
		require.LessOrEqual(t, box.least(), least+1e-9, name)
		if spares := newSpareBound(box); spares != nil {
			require.LessOrEqual(t, spares.rest(sections, math.Inf(1)), least+1e-6, name)
		}
		for _, off := range []float64{-1, -0.01, 0.01, 2} {
			if box.plain {
				off = math.Copysign(math.Ceil(math.Abs(off))*float64(in.frame), off)
				off = math.Max(off, 0) + math.Min(off, 0)
			}
			s, ok := box.ask(sections, least+off)
			require.True(t, ok)
			if r.Intn(2) == 0 { // from what a question about more money left open
				from, ok := box.ask(sections, least+off+float64(r.Intn(3)*p.Limits.Frame))
				require.True(t, ok)
				from.run(r.Intn(100))
				s = box.askLess(from, least+off)
			}
			got := s.run(1 << 40)
			require.NotEqual(t, undecided, got, name)
			if off > 0 {
				require.Equal(t, feasible, got, "%s, asked %v", name, least+off)
			} else if !flat { // a flat demand is a relaxation only
				require.Equal(t, refuted, got, "%s, asked %v", name, least+off)
			}
		}
		seen++
	}
	require.Greater(t, seen, 1000)
}
