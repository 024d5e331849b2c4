package nest

import (
	"context"
	"fmt"
	"math"
	"sort"

	"laneplan/solver"
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

// line is a bound base + slope·K on the cost, section cost left out, of
// plans with K sections.
type line struct{ base, slope float64 }

type bounder struct {
	in      *instance
	target  []int // d_v
	most    []int // lanes that a version may have in a section
	columns []column
	known   map[string]bool
	lines   []line
	solved  map[int]bool // numbers of sections whose programme was solved
	extra   float64      // lane runs and other costs that no plan escapes
	rolls   float64      // saving a section may earn
	whole   bool         // the cost is a whole number of rows

	lengths  []int
	basis    *solver.Basis
	frozen   []line // what rounds may read while a job adds lines
	isFrozen bool
}

// freeze lets cost read the lines of now while improve adds to them.
func (b *bounder) freeze() { b.frozen, b.isFrozen = b.lines[:len(b.lines):len(b.lines)], true }

// thaw shows the lines that were added.
func (b *bounder) thaw() { b.isFrozen = false }

type column struct {
	x      int
	lanes  []int32 // version, lanes pairs
	useful []float64
}

func newBounder(in *instance) *bounder {
	b := &bounder{in: in, known: map[string]bool{}, solved: map[int]bool{}, whole: !in.priced && in.row > 0}
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
		most := in.lanes
		if in.rules != nil {
			most = min(most, in.rules.mostLane[v])
		}
		b.most = append(b.most, most)
		if in.laneRun > 0 && !c.filler {
			b.extra += in.laneRun
		}
	}
	if in.rules != nil {
		b.rolls = in.rules.rollSaving
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
		}
	}
	sort.Ints(b.lengths)
	return b
}

// price finds the value of the column of least row·x - Σ π·u. Of the best
// columns of every length it also returns those, at most 'want' and new, that
// are below 'limit' under the multipliers 'judge'.
func (b *bounder) price(pi, judge []float64, limit float64, want int) (least float64, found []column) {
	L := b.in.lanes
	type gain struct {
		v     int32
		value float64
	}
	type candidate struct {
		x     int
		value float64
	}
	heap := make([]gain, 0, L+1)
	order := make([]int, 0, len(pi))
	for v, p := range pi {
		if p > 0 {
			order = append(order, v)
		}
	}
	// Versions with large marginals first, so that the rest is cut early.
	sort.SliceStable(order, func(i, j int) bool {
		return pi[order[i]]*float64(b.target[order[i]]) > pi[order[j]]*float64(b.target[order[j]])
	})
	fill := func(x int) float64 {
		heap = heap[:0]
		for _, v := range order {
			rest := b.target[v]
			if len(heap) == L && pi[v]*float64(rest) <= heap[L-1].value {
				break // the order says that no later version has more
			}
			for j := 0; j < b.most[v] && rest > 0; j++ {
				value := pi[v] * float64(min(x, rest))
				if len(heap) == L && value <= heap[L-1].value {
					break
				}
				i := len(heap)
				if i < L {
					heap = append(heap, gain{})
				} else {
					i = L - 1
				}
				for ; i > 0 && heap[i-1].value < value; i-- {
					heap[i] = heap[i-1]
				}
				heap[i] = gain{int32(v), value}
				rest -= x
			}
		}
		total := b.in.row * float64(x)
		for _, g := range heap {
			total -= g.value
		}
		return total
	}
	var below []candidate
	rest := make([]int32, 0, L)
	least = math.Inf(1)
	for _, x := range b.lengths {
		value := fill(x)
		least = math.Min(least, value)
		value = b.in.row * float64(x)
		left := rest[:0]
		for _, g := range heap {
			// The same version comes in falling marginals.
			n := 0
			for _, w := range left {
				if w == g.v {
					n++
				}
			}
			left = append(left, g.v)
			value -= judge[g.v] * float64(min((n+1)*x, b.target[g.v])-min(n*x, b.target[g.v]))
		}
		if value < limit {
			below = append(below, candidate{x, value})
		}
	}
	sort.SliceStable(below, func(i, j int) bool { return below[i].value < below[j].value })
	for _, c := range below {
		if len(found) == want {
			break
		}
		fill(c.x)
		lanes := make([]int, len(pi))
		for _, g := range heap {
			lanes[g.v]++
		}
		if col, fresh := b.column(c.x, lanes); fresh {
			found = append(found, col)
		}
	}
	return least, found
}

// column makes a column of lane counts; fresh is false where it is known.
func (b *bounder) column(x int, lanes []int) (c column, fresh bool) {
	c.x = x
	for v, a := range lanes {
		if a > 0 {
			c.lanes = append(c.lanes, int32(v), int32(a))
			c.useful = append(c.useful, float64(min(a*x, b.target[v])))
		}
	}
	key := fmt.Sprint(x, c.lanes)
	if b.known[key] {
		return c, false
	}
	b.known[key] = true
	return c, true
}

// seed gives the programme columns to begin with: every version alone, and
// the sections of a few greedy plans.
func (b *bounder) seed() {
	in := b.in
	lanes := make([]int, in.count)
	for v := range lanes {
		lanes[v] = b.most[v]
		if c, fresh := b.column(in.length((b.target[v]+lanes[v]-1)/lanes[v]), lanes); fresh {
			b.columns = append(b.columns, c)
		}
		lanes[v] = 0
	}
	for n := 0; n < 8; n++ {
		b.add(in.greedy(newRandom(1, n)))
	}
}

// add makes the sections of a draft columns of the programme.
func (b *bounder) add(d *draft) {
	L := b.in.lanes
	for k, x := range d.rows {
		lanes := make([]int, b.in.count)
		for _, v := range d.lanes[k*L : k*L+L] {
			if int(v) < b.in.count {
				lanes[v]++
			}
		}
		if c, fresh := b.column(x, lanes); fresh {
			b.columns = append(b.columns, c)
		}
	}
}

// evaluate turns multipliers into a line that is a bound, and keeps it.
func (b *bounder) evaluate(pi []float64, least float64) line {
	base := 0.0
	for v, p := range pi {
		base += b.leastLabels(v, p)
	}
	l := line{base, least}
	b.lines = append(b.lines, l)
	return l
}

// leastLabels is min over q of labels(q) + π·q.
func (b *bounder) leastLabels(v int, pi float64) float64 {
	in := b.in
	low := math.Inf(1)
	for _, q := range [3]int{in.need[v], in.quantity[v], in.most[v]} {
		if q >= in.need[v] && q <= b.target[v] {
			low = math.Min(low, in.labels(v, q, 1)+pi*float64(q))
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
	best := b.in.row * float64(max(b.in.target, sections*b.in.least))
	if b.in.priced {
		best = math.Inf(-1)
	}
	lines := b.lines
	if b.isFrozen {
		lines = b.frozen
	}
	for _, l := range lines {
		best = math.Max(best, l.base+l.slope*float64(sections))
	}
	if b.whole {
		// A plan's rows are whole frames; the tolerance keeps a bound that
		// is whole by nature from being rounded up by noise.
		frame := float64(b.in.frame)
		best = math.Max(0, math.Ceil(best/frame-1e-6)*frame)
	} else {
		best -= 1e-9 * (1 + math.Abs(best))
	}
	return best + b.in.section*float64(sections) + b.extra - b.rolls*float64(max(0, sections-1))
}

// improve solves the programme for K sections by column
// generation and adds the lines that its multipliers give. It returns the
// work done. Multipliers are smoothed towards the best ones so far (Wentges
// 1997, from memory): they swing less, and any point between is a bound too.
func (b *bounder) improve(ctx context.Context, engine solver.Solver, sections int) (float64, error) {
	const smooth, enough = 0.6, 1e-4
	work := 0.0
	if len(b.columns) == 0 {
		b.seed()
	}
	best := math.Inf(-1)
	var center []float64
	basis := b.basis
	for round := 0; round < 300; round++ {
		r, err := engine.Solve(ctx, b.master(sections), solver.Options{Basis: basis})
		if err != nil {
			return work, fmt.Errorf("solving the configuration programme: %w", err)
		}
		work += 0.01 + float64(r.Iterations)*1e-4
		if r.Status == solver.Interrupted {
			return work, nil
		}
		if r.Status != solver.Optimal {
			return work, fmt.Errorf("the configuration programme is %s, want optimal", r.Status)
		}
		basis = r.Basis
		pi := make([]float64, b.in.count)
		for v := range pi {
			pi[v] = math.Max(0, r.RowDuals[v])
		}
		sigma := r.RowDuals[b.in.count]
		value := r.Objective
		var fresh int
		for _, weight := range [2]float64{smooth, 0} {
			at := pi
			if weight > 0 && center != nil {
				at = make([]float64, len(pi))
				for v := range at {
					at[v] = weight*center[v] + (1-weight)*pi[v]
				}
			} else if weight > 0 {
				continue
			}
			least, found := b.price(at, pi, sigma-1e-8*(1+math.Abs(sigma)), 1+b.in.count/2)
			work += float64(len(b.lengths)*b.in.count) * 5e-8
			l := b.evaluate(at, least)
			proven := l.base + l.slope*float64(sections)
			if proven > best {
				best, center = proven, at
			}
			b.columns = append(b.columns, found...)
			if fresh = len(found); fresh > 0 {
				break
			}
		}
		if fresh == 0 || value-best < enough*math.Abs(value) {
			break
		}
	}
	b.basis = basis
	b.solved[sections] = true
	return work, nil
}

// master is the programme over the columns so far. What is there for every
// version comes first, so that the basis of one round fits the next, which
// only has more columns. Artificial columns of a high cost keep it feasible.
func (b *bounder) master(sections int) *solver.Model {
	in := b.in
	m := &solver.Model{Name: "configuration"}
	m.Rows = make([]solver.Row, in.count+1)
	for v := 0; v < in.count; v++ {
		m.Rows[v] = solver.Row{Name: "demand " + in.p.Versions[v].ID, Lower: float64(b.target[v]), Upper: solver.Inf}
	}
	add := func(row int, value, cost, upper float64) {
		m.Rows[row].Entries = append(m.Rows[row].Entries, solver.Entry{Column: len(m.Columns), Value: value})
		m.Columns = append(m.Columns, solver.Column{Cost: cost, Upper: upper})
	}
	for v := 0; v < in.count; v++ {
		d, c := b.target[v], &in.price[v]
		if d > in.quantity[v] {
			add(v, 1, c.over-c.label, float64(d-in.quantity[v]))
		}
		if q := min(d, in.quantity[v]); q > in.need[v] {
			add(v, 1, c.short-c.label, float64(q-in.need[v]))
		}
		if c.filler {
			add(v, float64(d), c.elsewhere-in.labels(v, d, 1), 1)
		}
		// A label for more than any plan pays.
		add(v, 1, 4*in.row+8*(in.section+1)/float64(max(1, d))+c.label+c.short+c.over, solver.Inf)
	}
	m.Rows[in.count] = solver.Row{Name: "sections", Lower: float64(sections), Upper: float64(sections)}
	artificial := 4 * (in.row*float64(in.needed) + in.section)
	add(in.count, 1, artificial, solver.Inf)
	add(in.count, -1, artificial, solver.Inf)
	for _, c := range b.columns {
		at := len(m.Columns)
		m.Columns = append(m.Columns, solver.Column{Cost: in.row * float64(c.x), Upper: solver.Inf})
		for i, u := range c.useful {
			v := c.lanes[2*i]
			m.Rows[v].Entries = append(m.Rows[v].Entries, solver.Entry{Column: at, Value: u})
		}
		m.Rows[in.count].Entries = append(m.Rows[in.count].Entries, solver.Entry{Column: at, Value: 1})
	}
	return m
}
