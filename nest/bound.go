package nest

import (
	"math"
	"sort"
)

// The configuration bound. A column is one section: lane counts a, length x,
// useful delivery u_v = min(a_v·x, d_v), where d_v is the quantity beyond
// which a label of v earns nothing. The linear programme over all columns,
//
//	min  Σ_c (row·x_c) λ_c + Σ_v labels_v(q_v)
//	s.t. Σ_c u_cv λ_c ≥ q_v  (π_v),  Σ_c λ_c = K  (σ),  λ ≥ 0
//
// relaxes every plan of K sections. Its value is never trusted: for any
// π ≥ 0, whoever proposes it,
//
//	Σ_v min_q (labels_v(q) + π_v·q) + K·min_c (row·x_c - Σ_v π_v·u_cv)
//
// is a bound (weak duality), a line in K that is evaluated here exactly,
// and HiGHS only proposes good π. The best column for π and a length x takes
// the L largest of the marginals π_v·(min(jx, d_v) - min((j-1)x, d_v)), which
// fall in j; and only x next to d_v/j need be tried, since in between the
// value is linear in x.
//
// Fractions of sections print any quantity without waste, which no plan can.
// Rows that hold for every plan take some of that back: a version that no
// section finishes is printed in two sections at least, or more generally,
// for whole m and y_k = its share of the fewest labels printed in section k,
//
//	Σ_k g(y_k) ≥ 1,  g(0) = 0, g(y) = (⌊(m-1)y⌋ + 1)/m below 1, g(y) = 1 from 1 on
//
// (with p sections that print and none that finishes, Σ⌊(m-1)y_k⌋ > m-1-p). The
// best column for a length is then a small knapsack over versions and lanes,
// solved only where the concave hulls of the gains say that it may be the best
// of all. Nearly every version needs its rows, so they are there from the
// start: a programme that gets them later begins again.

// line is a bound base + slope·K on the cost, section cost left out, of
// plans with K sections.
type line struct{ base, slope float64 }

type bounder struct {
	in     *instance
	target []int // d_v
	// Of a section: the most lanes that a version may have there and the
	// fewest that it must, the versions that run together with it, itself
	// among them, and how many versions there may be; 0 is no limit.
	most, fewestLanes []int
	setOf             [][]int
	versions          int
	extra             float64 // lane runs and other costs that no plan escapes
	rolls             float64 // saving a section may earn
	whole             bool    // the cost is a whole number of rows

	cuts    []shareCut
	cutsOf  [][]int // of every version: indices of its cuts
	lengths []int   // that columns need have

	// What is proven.
	lines []line
	trees map[int]*lengthTree // by number of sections

	columns []*column
	known   map[string]*column // all that ever were
	current *lengthNode        // whose programme is not solved yet

	frozen *proven // what rounds may read while a job improves the bound
}

// proven is what the bound of every number of sections follows from: lines for
// all, and for those with a tree the least that it leaves.
type proven struct {
	lines []line
	trees map[int]float64
}

// freeze lets cost read what is proven now while improve adds to it.
func (b *bounder) freeze() {
	b.frozen = &proven{lines: b.lines[:len(b.lines):len(b.lines)], trees: map[int]float64{}}
	for k, t := range b.trees {
		b.frozen.trees[k] = t.lowest()
	}
}

// thaw shows what was added.
func (b *bounder) thaw() { b.frozen = nil }

func newBounder(in *instance) *bounder {
	b := &bounder{in: in, known: map[string]*column{}, trees: map[int]*lengthTree{}, whole: !in.priced && in.row > 0}
	for v := 0; v < in.count; v++ {
		c := &in.price[v]
		d := in.need[v]
		if c.short > c.label {
			d = in.quantity[v]
			if c.over > c.label {
				d = in.most[v]
			}
		} else if in.priced && c.over > c.label && c.short == c.label && in.most[v] < math.MaxInt/4 {
			d = in.most[v]
		}
		b.target = append(b.target, d)
		most, fewest := in.lanes, 1
		if in.rules != nil {
			most, fewest = min(most, in.rules.mostLane[v]), max(fewest, in.rules.leastLanes[v])
		}
		b.most, b.fewestLanes = append(b.most, most), append(b.fewestLanes, fewest)
		b.setOf = append(b.setOf, []int{v})
		if in.laneRun > 0 && !c.filler {
			b.extra += in.laneRun
		}
	}
	if in.rules != nil {
		b.rolls = in.rules.rollSaving
		if n := in.rules.versionsPerSection; n < min(in.lanes, in.count) {
			b.versions = n
		}
		for _, set := range in.rules.together {
			b.join(set)
		}
	}
	b.cutsOf = make([][]int, in.count)
	for v := range in.count {
		if in.price[v].filler {
			continue
		}
		for _, m := range shareCuts {
			b.cutsOf[v] = append(b.cutsOf[v], len(b.cuts))
			b.cuts = append(b.cuts, shareCut{v, m})
		}
	}
	// Candidate lengths, once.
	seen := map[int]bool{}
	add := func(x int) {
		x = max(in.least, x)
		if !seen[x] {
			seen[x] = true
			b.lengths = append(b.lengths, x)
		}
	}
	add(in.least)
	for v, d := range b.target {
		for j := 1; j <= b.most[v]; j++ {
			low := d / j / in.frame * in.frame
			add(low)
			add(in.roundUp((d + j - 1) / j))
			for _, m := range shareCuts { // where g steps up, and just before
				for i := 1; i < m; i++ {
					step := in.roundUp((in.need[v]*i + (m-1)*j - 1) / ((m - 1) * j))
					add(step)
					add(step - in.frame)
				}
			}
		}
	}
	sort.Ints(b.lengths)
	return b
}

// join makes one set of the versions of a set and all that run with them.
func (b *bounder) join(set []int) {
	in := map[int]bool{}
	var all []int
	for _, v := range set {
		for _, w := range b.setOf[v] {
			if !in[w] {
				in[w] = true
				all = append(all, w)
			}
		}
	}
	sort.Ints(all)
	for _, v := range all {
		b.setOf[v] = all
	}
}

// evaluate turns multipliers, under which no column is below 'least', into
// a bound on the plans of a node, and without limits into one for all numbers
// of sections.
func (b *bounder) evaluate(n *lengthNode, at multipliers, least float64) float64 {
	base := 0.0
	for v, p := range at.pi {
		base += b.leastLabels(v, p, b.cutPrice(v, at))
	}
	for i, l := range n.limits {
		if tau := at.tau[i]; tau > 0 {
			base += tau * l.least
		} else if tau < 0 {
			base += tau * l.most
		}
	}
	if len(n.limits) == 0 {
		b.lines = append(b.lines, line{base, least})
	}
	return base + least*float64(n.sections)
}

// leastLabels is min over q of labels(q) + π·q + ρ, ρ being paid by a version
// that is printed.
func (b *bounder) leastLabels(v int, pi, rho float64) float64 {
	in := b.in
	low := math.Inf(1)
	for _, q := range [3]int{in.need[v], in.quantity[v], in.most[v]} {
		if q >= in.need[v] && q <= b.target[v] {
			low = math.Min(low, in.labels(v, q, 1)+pi*float64(q)+rho)
		}
	}
	if in.price[v].filler {
		low = math.Min(low, in.price[v].elsewhere)
	}
	return low
}

// cost is the bound, in rows, on plans with K sections; 0 rows is the least
// it can say.
func (b *bounder) cost(sections int) float64 {
	if b.frozen == nil {
		return b.costNow(sections)
	}
	low, ok := b.frozen.trees[sections]
	if !ok {
		low = math.Inf(-1)
	}
	return b.costBy(b.frozen.lines, low, sections)
}

// costNow is the bound with what was added since freeze.
func (b *bounder) costNow(sections int) float64 {
	low := math.Inf(-1)
	if t := b.trees[sections]; t != nil {
		low = t.lowest()
	}
	return b.costBy(b.lines, low, sections)
}

// costBy is the bound that follows from lines and from what a tree leaves.
func (b *bounder) costBy(lines []line, low float64, sections int) float64 {
	best := b.in.row * float64(max(b.in.target, sections*b.in.least))
	if b.in.priced {
		best = math.Inf(-1)
	}
	best = math.Max(best, low)
	for _, l := range lines {
		best = math.Max(best, l.base+l.slope*float64(sections))
	}
	return b.total(best, sections)
}

// total is the bound for K sections where those cost no less than 'rest'
// without their own cost.
func (b *bounder) total(rest float64, sections int) float64 {
	if b.whole {
		// A plan's rows are whole frames; the tolerance keeps a bound that
		// is whole by nature from being rounded up by noise.
		frame := float64(b.in.frame)
		rest = math.Max(0, math.Ceil(rest/frame-1e-6)*frame)
	} else {
		rest -= 1e-9 * (1 + math.Abs(rest))
	}
	return rest + b.in.section*float64(sections) + b.extra - b.rolls*float64(max(0, sections-1))
}
