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
//	max over μ of Σ_v min_a (waste(a) + μ·a) - L·Σμ,
//
// exceed W (μ ≥ 0, but see boxprice.go). What is left of it is narrowed to the
// lengths that covers of every version reach (see boxtighten.go), and its widest
// side is cut where the covers part. A box of one point is decided by dynamic
// programming over the lanes used (see boxpoint.go).
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
	high                   int      // most frames in all
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
	stuck                  bool // a point has too many states
	finding                bool // a plan is hoped for rather than none

	coverList // scratch: of the box at work

	singles *boxSingles // nil where there is nothing to gain
}

// box is l ≤ x ≤ u with limits of Σx, and prices of lanes to start from.
type box struct {
	sections  int
	l, u      [boxSections]int
	low, high int
	mu        [boxSections]float64
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
	b = &boxSearch{sections: sections, lanes: lanes, least: max(1, least), high: high, grain: grain, stateLimit: 1 << 20}
	b.budget = math.Ceil((budget+noise)/grain) * grain
	for i, d := range demands {
		if i > 0 && d == demands[i-1] {
			b.times[len(b.times)-1]++
		} else {
			b.demand, b.times = append(b.demand, d), append(b.times, 1)
		}
	}
	root := box{sections: sections, low: max(low, sections*b.least), high: high}
	for k := range sections {
		root.l[k] = b.least
		root.u[k] = high
	}
	b.coverList = b.newCoverList(high)
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
	K := n.sections
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

// runTwice is run on two cores: again and again each gets every other open box
// and half of a portion of the steps. What it finds does not depend on how many
// cores there are.
func (b *boxSearch) runTwice(budget int) verdict {
	const (
		enough  = 50_000    // steps that are worth a second core
		portion = 1_000_000 // steps after which boxes are dealt anew
	)
	var halves [2]*boxSearch
	for budget > 0 && b.answer == undecided && !b.stuck {
		before := b.steps
		if len(b.stack) < 2 || budget < enough {
			b.run(min(budget, enough))
		} else {
			if halves[0] == nil {
				halves = [2]*boxSearch{b.half(), b.half()}
			}
			b.deal(halves, min(budget, portion)/2)
		}
		budget -= b.steps - before
	}
	return b.answer
}

// deal lets the halves work on the open boxes.
func (b *boxSearch) deal(halves [2]*boxSearch, budget int) {
	for i, n := range b.stack {
		h := halves[i%2]
		h.stack = append(h.stack, n)
	}
	var wg conc.WaitGroup
	for _, h := range halves {
		h.steps, h.nodes, h.answer = 0, 0, undecided
		wg.Go(func() { h.run(budget) })
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
		h.stack = h.stack[:0]
		b.steps += h.steps
		b.nodes += h.nodes
		b.stuck = b.stuck || h.stuck
		if h.answer == feasible && b.answer == undecided {
			b.answer, b.found, b.wasted, b.counts = feasible, h.found, h.wasted, h.counts
		}
	}
	if b.answer == undecided && len(b.stack) == 0 {
		b.answer = refuted
	}
}

// half is the same question with no boxes yet.
func (b *boxSearch) half() *boxSearch {
	h := &boxSearch{
		sections: b.sections, lanes: b.lanes, least: b.least, high: b.high, demand: b.demand, times: b.times,
		budget: b.budget, grain: b.grain, stateLimit: b.stateLimit, finding: b.finding,
	}
	h.coverList = b.coverList.empty()
	h.singles = newBoxSingles(h)
	return h
}

// inherit begins with the boxes that a question with a larger budget left open,
// instead of all: what held no plan then holds none now. Where every plan has
// all 'high' frames, one of fewer is a plan of the other question with as many
// frames more in its longest section.
func (b *boxSearch) inherit(from *boxSearch, allFrames bool) {
	if b.answer != undecided {
		return
	}
	root := b.stack[0]
	b.stack = nil
	for _, n := range from.stack {
		if allFrames {
			less := from.high - b.high
			n.l[0], n.u[0] = max(n.l[0]-less, b.least), n.u[0]-less
			n.low, n.high = n.low-less, n.high-less
		}
		n.low, n.high = max(n.low, root.low), min(n.high, root.high)
		if n.propagate() {
			b.stack = append(b.stack, n)
		}
	}
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
		low, high, point := b.split(&n)
		if point {
			switch b.decide(&n) {
			case feasible:
				b.answer = feasible
				b.stack = append(b.stack, n) // a lower question begins here
			case undecided: // the question stays open
				b.stuck = true
				b.stack = append(b.stack, n)
				return undecided
			}
			continue
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

// prune says that a box holds no plan.
func (b *boxSearch) prune(n *box) bool {
	least, ok := b.list(n)
	return !ok || b.price(n, least) || b.tighten(n) ||
		b.singles != nil && b.singles.value(b, n)+b.fillers() > b.budget
}

// split cuts a box in two; point says that there is nothing to cut.
func (b *boxSearch) split(n *box) (low, high box, point bool) {
	k, width := -1, 0.0
	for j := range n.sections {
		if w := b.width(n.l[j], n.u[j]); w > width {
			k, width = j, w
		}
	}
	low, high = *n, *n
	switch {
	case k < 0:
		return low, high, true
	case b.width(n.low, n.high)*sumWeight > width:
		low.high = n.low + (n.high-n.low)/2
		high.low = low.high + 1
	default:
		low.u[k] = b.cut(n, k)
		high.l[k] = low.u[k] + 1
	}
	return low, high, false
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
