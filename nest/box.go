package nest

import (
	"math"

	"github.com/sourcegraph/conc"
)

// The box search answers, exactly, whether K sections can meet every demand
// within a budget: lengths x_1 ≥ … ≥ x_K with Σx within given limits, lane
// counts a with Σ_v a_vk ≤ L, and
//
//	Σ_v excess_v(a_v·x, max_k a_vk) + Σ_k (L - Σ_v a_vk)·x_k ≤ W,
//
// the excess of the versions (see demand) and the web of idle lanes. Where
// labels and lane starts are free that is the waste of L·R - Σd units that R
// rows allow.
//
// The budget is tiny near the optimum, so a box l ≤ x ≤ u is refuted by
// adding up what every version must waste in it. For each version the covers
// are listed that are minimal for u (a·u reaches the number of labels beyond
// which more are a loss, no lane can go) or fall short of it within the
// tolerance; a cover that is worth having at some x in the box contains one
// of them, which wastes no more and takes no more lanes. A box falls when the
// least wastes, or their Lagrangian over the lanes of the sections,
//
//	max over μ ≥ 0 of Σ_v min_a (waste(a) + μ·a) - L·Σμ,
//
// exceed W; otherwise its widest side is halved (see width). (The web of idle
// lanes does not help here: a listed cover may take fewer lanes than the one
// that it stands for.) A box of one point is decided by dynamic programming
// over the lanes used.
//
// Every waste is rounded down to a grain, a power of two so small that no sum
// has more than 50 bits above it and so large that the noise of computing the
// waste is below it; multipliers are multiples of 2^-10. So the comparisons
// are exact in float64 and a refutation is a proof.

type verdict int

const (
	undecided verdict = iota
	refuted
	feasible
)

const (
	boxSections = 10 // lanes used are packed in 6 bits a section
	boxLanes    = 63
	subgradient = 14
	coarsest    = 1.0 / (1 << 10) // grain, and the steps of multipliers
)

// boxSearch is one question; it can be run in portions.
type boxSearch struct {
	sections, lanes, least int
	demand                 []demand // distinct, the largest first
	times                  []int    // how often each occurs
	budget                 float64  // W, in units
	grain                  float64
	stack                  []box
	steps                  int // work done: covers looked at
	nodes                  int
	answer                 verdict
	found                  []int   // lengths
	wasted                 float64 // what the found plan takes of the budget
	counts                 [][]int // by distinct demand and occurrence: lanes in each section
	stateLimit             int
	finding                bool // a plan is hoped for rather than none

	covers []int16 // scratch: K counts a cover
	waste  []float64
	from   []int     // first cover of each demand
	priced []float64 // the covers under the multipliers
	lowest []float64 // of each demand
	cover  []int16

	singles *boxSingles // nil where there is nothing to gain
}

type box struct {
	l, u      []int
	low, high int // limits of Σx
	mu        []float64
}

// newBoxSearch asks whether the demands, equal ones side by side, fit into so
// many sections of low to high frames in all, each at least 'least' long,
// within the budget; 'noise' is how far rounding in float64 may put an excess
// or the budget off. ok is false where the question is too large for the
// method.
func newBoxSearch(demands []demand, lanes, sections, low, high, least int, budget, noise float64) (b *boxSearch, ok bool) {
	if sections > boxSections || lanes > boxLanes || sections < 1 {
		return nil, false
	}
	largest := (float64(high)*float64(lanes*sections) + budget) * float64(len(demands)+2)
	grain := math.Ldexp(1, -40)
	for grain < math.Max(largest/(1<<50), 2*noise) {
		grain *= 2
	}
	if grain > coarsest {
		return nil, false
	}
	b = &boxSearch{sections: sections, lanes: lanes, least: max(1, least), grain: grain, stateLimit: 1 << 20}
	b.budget = math.Ceil((budget+noise)/grain) * grain
	for i, d := range demands {
		if i > 0 && d == demands[i-1] {
			b.times[len(b.times)-1]++
		} else {
			b.demand, b.times = append(b.demand, d), append(b.times, 1)
		}
	}
	root := box{l: make([]int, sections), u: make([]int, sections), low: max(low, sections*b.least), high: high, mu: make([]float64, sections)}
	for k := range root.l {
		root.l[k] = b.least
		root.u[k] = high
	}
	b.cover = make([]int16, sections)
	b.singles = newBoxSingles(b)
	if b.budget < 0 || !root.propagate() {
		b.answer = refuted
		return b, true
	}
	b.stack = []box{root}
	return b, true
}

// propagate narrows a box by Σx and x_1 ≥ … ≥ x_K; false where it is empty.
func (n *box) propagate() bool {
	K := len(n.l)
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
		n.low, n.high = max(n.low, sumL), min(n.high, sumU)
		if n.low > n.high {
			return false
		}
		for k := 0; k < K; k++ {
			if lo := n.low - (sumU - n.u[k]); lo > n.l[k] {
				sumL += lo - n.l[k]
				n.l[k] = lo
				changed = true
			}
			if hi := n.high - (sumL - n.l[k]); hi < n.u[k] {
				sumU += hi - n.u[k]
				n.u[k] = hi
				changed = true
			}
		}
	}
	return true
}

// runTwice is run on two cores: each gets every other open box and half of the
// steps. What it finds does not depend on how many cores there are.
func (b *boxSearch) runTwice(budget int) verdict {
	const enough = 100_000 // steps that are worth a second core
	if len(b.stack) < 2 || budget < enough {
		return b.run(budget)
	}
	halves := [2]*boxSearch{b.half(), b.half()}
	for i, n := range b.stack {
		h := halves[i%2]
		h.stack = append(h.stack, n)
	}
	var wg conc.WaitGroup
	for _, h := range halves {
		wg.Go(func() { h.run(budget / 2) })
	}
	wg.Wait()
	b.stack = b.stack[:0]
	for i := range max(len(halves[0].stack), len(halves[1].stack)) {
		for _, h := range halves {
			if i < len(h.stack) {
				b.stack = append(b.stack, h.stack[i])
			}
		}
	}
	for _, h := range halves {
		b.steps += h.steps
		b.nodes += h.nodes
		if h.answer == feasible && b.answer == undecided {
			b.answer, b.found, b.wasted, b.counts = feasible, h.found, h.wasted, h.counts
		}
	}
	if b.answer == undecided && len(b.stack) == 0 {
		b.answer = refuted
	}
	return b.answer
}

// half is the same question with no boxes yet.
func (b *boxSearch) half() *boxSearch {
	h := &boxSearch{
		sections: b.sections, lanes: b.lanes, least: b.least, demand: b.demand, times: b.times,
		budget: b.budget, grain: b.grain, stateLimit: b.stateLimit, finding: b.finding, cover: make([]int16, b.sections),
	}
	h.singles = newBoxSingles(h)
	return h
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
			if w := b.width(n.l[j], n.u[j]); w > width {
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
		low := box{append([]int(nil), n.l...), append([]int(nil), n.u...), n.low, n.high, n.mu}
		high := box{n.l, n.u, n.low, n.high, append([]float64(nil), n.mu...)}
		if b.width(n.low, n.high)*sumWeight > width {
			low.high = n.low + (n.high-n.low)/2
			high.low = low.high + 1
		} else {
			low.u[k] = n.l[k] + (n.u[k]-n.l[k])/2
			high.l[k] = low.u[k] + 1
		}
		if low.propagate() {
			b.stack = append(b.stack, low)
		}
		if high.propagate() {
			b.stack = append(b.stack, high)
		}
	}
	return b.answer
}

// width of a side. To refute, it is the frames: they are what a box can waste.
// To find a plan, short sections want to be fixed as early as long ones.
func (b *boxSearch) width(low, high int) float64 {
	if b.finding {
		return float64(high-low) / float64(high)
	}
	return float64(high - low)
}

// sumWeight is how much narrower than a side the limits of Σx are kept: they
// narrow every side.
const sumWeight = 4

// listCovers lists the covers of a demand that are worth having, and what
// each wastes at least in the box; those that waste more than the budget are
// left out.
func (b *boxSearch) listCovers(n *box, d *demand) {
	K := b.sections
	add := func() {
		if w := b.round(b.leastWaste(n, d), d); w <= b.budget {
			b.covers = append(b.covers, b.cover...)
			b.waste = append(b.waste, w)
		}
	}
	if skip := b.round(d.skip, d); skip <= b.budget {
		b.covers = append(b.covers, make([]int16, K)...)
		b.waste = append(b.waste, skip)
	}
	if d.onePiece {
		for k, u := range n.u {
			for a := min(d.cap, (d.useful+u-1)/u); a > 0 && a*u >= d.fewest; a-- {
				b.cover[k] = int16(a)
				b.steps++
				add()
			}
			b.cover[k] = 0
		}
		return
	}
	short := d.useful - d.fewest
	var later [boxSections + 1]int // units that the sections from k on can print
	for k := K - 1; k >= 0; k-- {
		later[k] = later[k+1] + n.u[k]*d.cap
	}
	var walk func(k, left int)
	walk = func(k, left int) {
		b.steps++
		u := n.u[k]
		finish := (left + u - 1) / u
		if finish <= d.cap {
			b.cover[k] = int16(finish)
			add()
		}
		// Later sections are no longer than this one, so 'left' must stay
		// within what they can print.
		rest := short + later[k+1]
		for a := min(finish-1, d.cap); a >= 0 && left-a*u <= rest; a-- {
			b.cover[k] = int16(a)
			if k+1 < K {
				walk(k+1, left-a*u)
			} else {
				add()
			}
		}
		b.cover[k] = 0
	}
	walk(0, d.useful)
}

// round gives a multiple of the grain that is not above the true excess.
func (b *boxSearch) round(excess float64, d *demand) float64 {
	if d.plain && d.start == 0 {
		return max(0, excess) // a whole number
	}
	return math.Max(0, math.Floor(excess/b.grain-0.5)*b.grain)
}

// leastWaste is the least excess that a cover can have in the box.
func (b *boxSearch) leastWaste(n *box, d *demand) float64 {
	least, most, reach, widest := 0, 0, 0, int16(0)
	slack, over := n.low, -n.high
	for k, a := range b.cover {
		l, u := n.l[k], n.u[k]
		least += int(a) * l
		reach += int(a) * u
		slack -= l
		over += u
		if a == 0 { // what has no lane takes it for nothing
			slack -= u - l
			over -= u - l
		}
		widest = max(widest, a)
	}
	if widest == 0 {
		if d.fewest > 0 {
			return math.Inf(1)
		}
		return d.excess(0, 1)
	}
	// What is left of Σx goes to the sections with the fewest lanes first,
	// and what is too much is taken from them.
	least += b.spread(n, slack)
	if least >= d.peak {
		return d.excess(least, int(widest))
	}
	if reach >= d.peak {
		// A cover with more lanes may contain this one: the limits of Σx
		// must not cut what it can reach.
		return d.excess(d.peak, int(widest))
	}
	if most = reach - b.spread(n, over); most < d.fewest {
		return math.Inf(1)
	}
	return d.excess(most, int(widest))
}

// spread is the least that so many frames count in the lanes of the cover,
// where each section that has some has room for u - l.
func (b *boxSearch) spread(n *box, frames int) int {
	// Sections come in no order of a, and K is small: select the least again
	// and again.
	total := 0
	var done uint32
	for frames > 0 {
		k := -1
		for j, a := range b.cover {
			if a > 0 && done&(1<<j) == 0 && (k < 0 || a < b.cover[k]) {
				k = j
			}
		}
		if k < 0 {
			break
		}
		done |= 1 << k
		room := min(frames, n.u[k]-n.l[k])
		total += int(b.cover[k]) * room
		frames -= room
	}
	return total
}

// prune says that a box holds no plan.
func (b *boxSearch) prune(n *box) bool {
	K, L := b.sections, float64(b.lanes)
	b.covers, b.waste = b.covers[:0], b.waste[:0]
	b.from = b.from[:0]
	least := 0.0
	for i := range b.demand {
		b.from = append(b.from, len(b.waste))
		b.listCovers(n, &b.demand[i])
		low := math.Inf(1)
		for _, w := range b.waste[b.from[i]:] {
			if w < low {
				low = w
			}
		}
		least += low * float64(b.times[i])
		if least > b.budget { // also where there is no cover at all
			return true
		}
	}
	b.from = append(b.from, len(b.waste))
	b.priced = append(b.priced[:0], b.waste...)
	b.lowest = append(b.lowest[:0], make([]float64, len(b.demand))...)

	mu := n.mu
	var gradient [boxSections]float64
	step := 1.0
	best := least
	bestMu := append([]float64(nil), mu...)
	for t := 0; t < subgradient; t++ {
		value := 0.0
		for k := 0; k < K; k++ {
			value -= L * mu[k]
			gradient[k] = -L
		}
		for i := range b.demand {
			low, at := math.Inf(1), -1
			for c := b.from[i]; c < b.from[i+1]; c++ {
				cost := b.waste[c]
				cover := b.covers[c*K : c*K+K]
				for k, a := range cover {
					cost += mu[k] * float64(a)
				}
				b.priced[c] = cost
				if cost < low {
					low, at = cost, c
				}
			}
			b.lowest[i] = low
			times := float64(b.times[i])
			value += times * low
			for k, a := range b.covers[at*K : at*K+K] {
				gradient[k] += times * float64(a)
			}
		}
		b.steps += len(b.waste)
		if value > b.budget {
			return true
		}
		if value > best {
			best = value
			copy(bestMu, mu)
			b.thin(b.budget - value)
		} else if t > 2 {
			step *= 0.7
		}
		norm := 0.0
		for k := 0; k < K; k++ {
			if gradient[k] < 0 && mu[k] == 0 {
				gradient[k] = 0
			}
			norm += gradient[k] * gradient[k]
		}
		if norm == 0 {
			break
		}
		length := step * (b.budget - value + 1 + 0.05*b.budget) / norm
		for k := 0; k < K; k++ {
			m := math.Round((mu[k]+length*gradient[k])*1024) / 1024
			mu[k] = math.Min(math.Max(0, m), float64(n.high))
		}
	}
	copy(mu, bestMu)
	if b.singles != nil {
		return b.singles.value(b, n, mu)+b.fillers(mu) > b.budget
	}
	return false
}

// fillers is the least that versions which need not run cost under the prices.
func (b *boxSearch) fillers(mu []float64) float64 {
	sum := 0.0
	for i := range b.demand {
		if b.demand[i].optional() {
			low := math.Inf(1)
			for c := b.from[i]; c < b.from[i+1]; c++ {
				cost := b.waste[c]
				for k, a := range b.covers[c*b.sections : (c+1)*b.sections] {
					cost += mu[k] * float64(a)
				}
				low = math.Min(low, cost)
			}
			sum += low * float64(b.times[i])
		}
	}
	return sum
}

// thin drops the covers that no plan within the budget has: those priced
// above the lowest of their demand by more than the slack.
func (b *boxSearch) thin(slack float64) {
	K, to := b.sections, 0
	for i := range b.demand {
		from, end := b.from[i], b.from[i+1]
		b.from[i] = to
		for c := from; c < end; c++ {
			if b.priced[c]-b.lowest[i] > slack {
				continue
			}
			if to < c {
				b.waste[to] = b.waste[c]
				copy(b.covers[to*K:to*K+K], b.covers[c*K:c*K+K])
			}
			to++
		}
	}
	b.from[len(b.demand)] = to
	b.waste, b.covers = b.waste[:to], b.covers[:to*K]
}
