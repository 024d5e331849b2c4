package nest

import (
	"math"
	"slices"
	"sort"
)

// The box search answers, exactly, whether K sections of R rows in all can
// print every demand: lengths x_1 ≥ … ≥ x_K with Σx = R, lane counts a with
// Σ_v a_vk ≤ L and a_v·x ≥ d_v.
//
// The waste budget W = L·R - Σd (overs and idle lanes) is tiny near the
// optimum, so a box l ≤ x ≤ u is refuted by adding up what every version
// must waste in it. For each version the covers are listed that are minimal
// for u (a·u ≥ d, no lane can go); a cover that is minimal at some x in the
// box contains one of them, which wastes no more and takes no more lanes. A
// box falls when the least wastes, or their Lagrangian over the lanes of the
// sections,
//
//	max over μ ≥ 0 of Σ_v min_a (waste(a) + μ·a) - L·Σμ,
//
// exceed W; otherwise its relatively widest side is halved. A box of one
// point is decided by dynamic programming over the lanes used.
//
// Every multiplier is a multiple of 2^-10 and every sum stays below 2^42, so
// that the comparisons are exact in float64 and a refutation is a proof.

type verdict int

const (
	undecided verdict = iota
	refuted
	feasible
)

const (
	boxSections = 10 // lanes used are packed in 6 bits a section
	boxLanes    = 63
	boxTotal    = 1 << 42
	subgradient = 20
)

// boxSearch is one question; it can be run in portions.
type boxSearch struct {
	sections, lanes, rows, least int
	demand                       []int // distinct, descending
	times                        []int // how often each demand occurs
	budget                       int   // W
	stack                        []box
	steps                        int // work done: covers looked at
	nodes                        int
	answer                       verdict
	found                        []int   // lengths
	counts                       [][]int // by distinct demand and occurrence: lanes in each section
	stateLimit                   int
	room                         []int // lanes of every section, then starts where they are limited

	covers []int16 // scratch: K counts a cover
	waste  []float64
	from   []int // first cover of each demand
	cover  []int16
}

type box struct {
	l, u []int
	mu   []float64
}

// newBoxSearch asks whether the demands fit into so many sections of so many
// rows in all, each at least 'least' rows long. ok is false where the
// question is too large for the method.
func newBoxSearch(demands []int, lanes, sections, rows, least int) (b *boxSearch, ok bool) {
	if sections > boxSections || lanes > boxLanes || sections < 1 || rows >= boxTotal/lanes {
		return nil, false
	}
	b = &boxSearch{sections: sections, lanes: lanes, rows: rows, least: max(1, least), stateLimit: 1 << 20}
	sorted := append([]int(nil), demands...)
	sort.Sort(sort.Reverse(sort.IntSlice(sorted)))
	total := 0
	for _, d := range sorted {
		if d <= 0 {
			continue
		}
		total += d
		if n := len(b.demand); n > 0 && b.demand[n-1] == d {
			b.times[n-1]++
		} else {
			b.demand, b.times = append(b.demand, d), append(b.times, 1)
		}
	}
	b.budget = lanes*rows - total
	root := box{l: make([]int, sections), u: make([]int, sections), mu: make([]float64, sections)}
	for k := range root.l {
		root.l[k] = b.least
		root.u[k] = rows
	}
	b.cover = make([]int16, sections)
	for range sections {
		b.room = append(b.room, lanes)
	}
	if b.budget < 0 || !b.propagate(&root) {
		b.answer = refuted
		return b, true
	}
	b.stack = []box{root}
	return b, true
}

// limitStarts also asks that all versions together start in at most so many
// lanes. A version that fills a lanes of some section must start a times, so
// Σ_v max_k a_vk counts at least as a further lane capacity does. To be called
// before run; false where the question becomes too large.
func (b *boxSearch) limitStarts(starts int) bool {
	if len(b.room) >= boxSections || starts > boxLanes {
		return false
	}
	b.room = append(b.room, starts)
	for i := range b.stack {
		b.stack[i].mu = append(b.stack[i].mu, 0)
	}
	return true
}

// propagate narrows a box by Σx = R and x_1 ≥ … ≥ x_K; false where it is
// empty.
func (b *boxSearch) propagate(n *box) bool {
	K := b.sections
	for changed := true; changed; {
		changed = false
		sumL, sumU := 0, 0
		for k := 0; k < K; k++ {
			if k > 0 && n.u[k] > n.u[k-1] {
				n.u[k] = n.u[k-1]
				changed = true
			}
			if j := K - 1 - k; j < K-1 && n.l[j] < n.l[j+1] {
				n.l[j] = n.l[j+1]
				changed = true
			}
		}
		for k := 0; k < K; k++ {
			if n.l[k] > n.u[k] {
				return false
			}
			sumL, sumU = sumL+n.l[k], sumU+n.u[k]
		}
		if sumL > b.rows || sumU < b.rows {
			return false
		}
		for k := 0; k < K; k++ {
			if lo := b.rows - (sumU - n.u[k]); lo > n.l[k] {
				sumL += lo - n.l[k]
				n.l[k] = lo
				changed = true
			}
			if hi := b.rows - (sumL - n.l[k]); hi < n.u[k] {
				sumU += hi - n.u[k]
				n.u[k] = hi
				changed = true
			}
		}
	}
	return true
}

// run works until the question is answered or about so many steps are spent.
func (b *boxSearch) run(budget int) verdict {
	stop := b.steps + budget
	for b.answer == undecided && b.steps < stop {
		if len(b.stack) == 0 {
			b.answer = refuted
			break
		}
		n := b.stack[len(b.stack)-1]
		b.stack = b.stack[:len(b.stack)-1]
		b.nodes++
		if b.prune(&n) {
			continue
		}
		k, width := -1, 0.0
		for j := range n.l {
			if w := float64(n.u[j]-n.l[j]) / float64(n.u[j]); w > width {
				k, width = j, w
			}
		}
		if k < 0 {
			switch b.decide(n.l) {
			case feasible:
				b.answer = feasible
			case undecided: // too many states: the question stays open
				b.stack = append(b.stack, n)
				return undecided
			}
			continue
		}
		mid := n.l[k] + (n.u[k]-n.l[k])/2
		low := box{append([]int(nil), n.l...), append([]int(nil), n.u...), n.mu}
		high := box{n.l, n.u, append([]float64(nil), n.mu...)}
		low.u[k], high.l[k] = mid, mid+1
		if b.propagate(&low) {
			b.stack = append(b.stack, low)
		}
		if b.propagate(&high) {
			b.stack = append(b.stack, high)
		}
	}
	return b.answer
}

// listCovers lists the covers of demand d that are minimal for u, and what
// each wastes at least in the box; covers that waste more than the budget
// are left out.
func (b *boxSearch) listCovers(n *box, d int) {
	K := b.sections
	var walk func(k, left int)
	walk = func(k, left int) {
		b.steps++
		u := n.u[k]
		finish := (left + u - 1) / u
		if finish <= b.lanes {
			b.cover[k] = int16(finish)
			if w := b.leastWaste(n, d); w <= b.budget {
				b.covers = append(b.covers, b.cover...)
				if len(b.room) > K {
					b.covers = append(b.covers, slices.Max(b.cover))
				}
				b.waste = append(b.waste, float64(w))
			}
		}
		if k+1 < K {
			// Later sections are no longer than this one, so 'left' must
			// stay within what they can print.
			rest := 0
			for j := k + 1; j < K; j++ {
				rest += n.u[j]
			}
			rest *= b.lanes
			for a := min(finish-1, b.lanes); a >= 0; a-- {
				if left-a*u > rest {
					break
				}
				b.cover[k] = int16(a)
				walk(k+1, left-a*u)
			}
		}
		b.cover[k] = 0
	}
	walk(0, d)
}

// leastWaste is the least of a·x - d over the box with Σx = R, not below 0:
// what is left of R goes to the sections with the fewest lanes first.
func (b *boxSearch) leastWaste(n *box, d int) int {
	slack, total := b.rows, -d
	for k, a := range b.cover {
		total += int(a) * n.l[k]
		slack -= n.l[k]
	}
	if total > b.budget {
		return total
	}
	// Sections come in no order of a, and K is small: select the least again
	// and again.
	var done uint32
	for slack > 0 {
		k := -1
		for j, a := range b.cover {
			if done&(1<<j) == 0 && (k < 0 || a < b.cover[k]) {
				k = j
			}
		}
		if k < 0 {
			break
		}
		done |= 1 << k
		room := min(slack, n.u[k]-n.l[k])
		total += int(b.cover[k]) * room
		slack -= room
	}
	return max(0, total)
}

// prune says that a box holds no plan.
func (b *boxSearch) prune(n *box) bool {
	D := len(b.room)
	b.covers, b.waste = b.covers[:0], b.waste[:0]
	b.from = b.from[:0]
	least := 0.0
	for i, d := range b.demand {
		b.from = append(b.from, len(b.waste))
		b.listCovers(n, d)
		low := math.Inf(1)
		for _, w := range b.waste[b.from[i]:] {
			low = math.Min(low, w)
		}
		least += low * float64(b.times[i])
		if least > float64(b.budget) { // also where there is no cover at all
			return true
		}
	}
	b.from = append(b.from, len(b.waste))

	// A multiplier cannot be worth more than the rows of its section.
	mu := n.mu
	var gradient [boxSections]float64
	step := 1.0
	best := least
	bestMu := append([]float64(nil), mu...)
	for t := 0; t < subgradient; t++ {
		value := 0.0
		for k := 0; k < D; k++ {
			value -= float64(b.room[k]) * mu[k]
			gradient[k] = -float64(b.room[k])
		}
		for i := range b.demand {
			low, at := math.Inf(1), -1
			for c := b.from[i]; c < b.from[i+1]; c++ {
				cost := b.waste[c]
				cover := b.covers[c*D : c*D+D]
				for k, a := range cover {
					cost += mu[k] * float64(a)
				}
				if cost < low {
					low, at = cost, c
				}
			}
			times := float64(b.times[i])
			value += times * low
			for k, a := range b.covers[at*D : at*D+D] {
				gradient[k] += times * float64(a)
			}
		}
		b.steps += len(b.waste)
		if value > float64(b.budget) {
			return true
		}
		if value > best {
			best = value
			copy(bestMu, mu)
		} else if t > 2 {
			step *= 0.7
		}
		norm := 0.0
		for k := 0; k < D; k++ {
			if gradient[k] < 0 && mu[k] == 0 {
				gradient[k] = 0
			}
			norm += gradient[k] * gradient[k]
		}
		if norm == 0 {
			break
		}
		length := step * (float64(b.budget) - value + 1 + 0.05*float64(b.budget)) / norm
		for k := 0; k < D; k++ {
			m := mu[k] + length*gradient[k]
			mu[k] = math.Min(math.Max(0, math.Round(m*1024)/1024), float64(b.rows))
		}
	}
	copy(mu, bestMu)
	return false
}

// decide answers for one point: a dynamic programme over the lanes used in
// every section, version by version.
func (b *boxSearch) decide(x []int) verdict {
	n := box{l: x, u: x}
	K, D := b.sections, len(b.room)
	b.covers, b.waste = b.covers[:0], b.waste[:0]
	b.from = b.from[:0]
	type item struct{ demand, from, to int }
	var items []item
	for i, d := range b.demand {
		from := len(b.waste)
		b.listCovers(&n, d)
		for j := 0; j < b.times[i]; j++ {
			items = append(items, item{i, from, len(b.waste)})
		}
	}
	// Versions with few covers first keep the states few.
	sort.SliceStable(items, func(i, j int) bool { return items[i].to-items[i].from < items[j].to-items[j].from })
	rest := make([]int, len(items)+1) // least waste of the items from here on
	for i := len(items) - 1; i >= 0; i-- {
		low := math.Inf(1)
		for _, w := range b.waste[items[i].from:items[i].to] {
			low = math.Min(low, w)
		}
		if math.IsInf(low, 1) {
			return refuted
		}
		rest[i] = rest[i+1] + int(low)
	}
	packed := make([]uint64, len(b.waste))
	for c := range packed {
		for k := 0; k < D; k++ {
			packed[c] |= uint64(b.covers[c*D+k]) << (6 * k)
		}
	}
	type state struct {
		used  uint64
		waste int
		from  int32 // index in the level before
		cover int32
	}
	levels := make([][]state, len(items)+1)
	levels[0] = []state{{}}
	total := 0
	room := uint64(0)
	for k, n := range b.room {
		room |= uint64(n) << (6 * k)
	}
	for i, it := range items {
		seen := make(map[uint64]struct{}, len(levels[i])*2)
		var next []state
		for s, st := range levels[i] {
			for c := it.from; c < it.to; c++ {
				w := st.waste + int(b.waste[c])
				if w+rest[i+1] > b.budget {
					continue
				}
				used := st.used + packed[c]
				if !fits(used, st.used, packed[c], room, D) {
					continue
				}
				if _, known := seen[used]; known {
					continue
				}
				seen[used] = struct{}{}
				next = append(next, state{used, w, int32(s), int32(c)})
			}
			b.steps += 4 * (it.to - it.from)
		}
		if len(next) == 0 {
			return refuted
		}
		if total += len(next); total > b.stateLimit {
			return undecided
		}
		levels[i+1] = next
	}
	b.found = append([]int(nil), x...)
	b.counts = make([][]int, len(b.demand))
	at := 0
	for i := len(items); i > 0; i-- {
		st := levels[i][at]
		counts := make([]int, K)
		for k := range counts {
			counts[k] = int(b.covers[int(st.cover)*D+k])
		}
		d := items[i-1].demand
		b.counts[d] = append(b.counts[d], counts...)
		at = int(st.from)
	}
	return feasible
}

// fits says that no section holds more than its lanes. Fields are 6 bits and
// lanes at most 63, so a field may carry into the next: compare one by one.
func fits(_, a, c, room uint64, sections int) bool {
	for k := 0; k < sections; k++ {
		shift := 6 * k
		if a>>shift&63+c>>shift&63 > room>>shift&63 {
			return false
		}
	}
	return true
}
