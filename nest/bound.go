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
	in      *instance
	target  []int // d_v
	most    []int // lanes that a version may have in a section
	columns []column
	known   map[string]bool
	lines   []line
	solved  map[int]bool // numbers of sections whose programme was solved
	labels  float64      // what labels cost at least, in rows
	extra   float64      // lane runs and other costs that no plan escapes
	rolls   float64      // saving a section may earn
	whole   bool         // the cost is a whole number of rows

	cuts   []shareCut
	cutsOf [][]int // of every version: indices of its cuts

	// Where the last programme stands: for how many sections, the best
	// multipliers so far and the bound that they give there.
	sections int
	center   *multipliers
	proven   float64

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
	b.cutsOf = make([][]int, in.count)
	for v := range in.count {
		b.labels += b.leastLabels(v, 0, 0)
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

// column makes a column of lane counts; fresh is false where it is known.
func (b *bounder) column(x int, lanes []int) (c column, fresh bool) {
	c.x = x
	for v, a := range lanes {
		if a > 0 {
			c.lanes = append(c.lanes, int32(v), int32(a))
			c.useful = append(c.useful, float64(min(a*x, b.target[v])))
		}
	}
	key := c.key()
	if b.known[key] {
		return c, false
	}
	b.known[key] = true
	return c, true
}

// key tells columns apart.
func (c *column) key() string { return fmt.Sprint(c.x, c.lanes) }

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
func (b *bounder) evaluate(at multipliers, least float64) line {
	base := 0.0
	for v, p := range at.pi {
		base += b.leastLabels(v, p, b.cutPrice(v, at))
	}
	l := line{base, least}
	b.lines = append(b.lines, l)
	return l
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

// improve works on the programme for K sections by column generation until it
// is solved or about so much work is done, and adds the lines that its
// multipliers give; a later call goes on from there. It returns the work done.
// Multipliers are smoothed towards the best ones so far (Wentges 1997, from
// memory): they swing less, and any point between is a bound too.
func (b *bounder) improve(ctx context.Context, engine solver.Solver, sections int, grant float64) (float64, error) {
	const smooth, enough = 0.9, 1e-4
	want := 2 * (1 + b.in.count)
	work := 0.0
	if len(b.columns) == 0 {
		b.seed()
	}
	if b.sections != sections {
		b.sections, b.center, b.proven = sections, nil, math.Inf(-1)
	}
	for work < grant {
		columns := len(b.columns)
		r, err := engine.Solve(ctx, b.master(sections), solver.Options{Basis: b.basis})
		if err != nil {
			return work, fmt.Errorf("solving the configuration programme: %w", err)
		}
		work += 0.01 + float64(r.Iterations)*float64(len(r.Values)+len(r.RowDuals))*2e-6
		if r.Status == solver.Interrupted {
			return work, nil
		}
		if r.Status != solver.Optimal {
			return work, fmt.Errorf("the configuration programme is %s, want optimal", r.Status)
		}
		b.basis = r.Basis
		values := r.Values[len(r.Values)-columns:]
		duals := multipliers{pi: make([]float64, b.in.count), rho: make([]float64, len(b.cuts))}
		for v := range duals.pi {
			duals.pi[v] = math.Max(0, r.RowDuals[v]) / float64(b.target[v])
		}
		sigma := r.RowDuals[b.in.count]
		for c := range duals.rho {
			duals.rho[c] = math.Max(0, r.RowDuals[b.in.count+1+c])
		}
		limit := sigma - 1e-8*(1+math.Abs(sigma))
		fresh := 0
		for _, weight := range [2]float64{smooth, 0} {
			if fresh > 2 {
				break
			}
			at := duals
			if weight > 0 && b.center != nil {
				at = duals.between(weight, *b.center)
			} else if weight > 0 {
				continue
			}
			least, found := b.price(at, duals, limit, want)
			work += b.pricingWork()
			l := b.evaluate(at, least)
			if proven := l.base + l.slope*float64(sections); proven > b.proven {
				b.proven, b.center = proven, &at
			}
			b.columns = append(b.columns, found...)
			fresh += len(found)
		}
		if fresh == 0 || r.Objective-b.proven < enough*math.Abs(r.Objective) {
			b.solved[sections] = true
			break
		}
		b.forget(values, duals, sigma)
	}
	return work, nil
}

// pricingWork of all lengths.
func (b *bounder) pricingWork() float64 {
	return float64(len(b.lengths)*b.in.count) * 2e-7
}

// forget drops columns that the programme is not likely to need again, the
// dearest under its multipliers, when there are many. values are those of the
// columns that it had.
func (b *bounder) forget(values []float64, at multipliers, sigma float64) {
	keep := 4*(b.in.count+len(b.cuts)) + 200
	if len(b.columns) < 2*keep {
		return
	}
	fixed := len(b.basis.Columns) - len(values)
	reduced := make([]float64, len(values))
	for i := range values {
		c := &b.columns[i]
		reduced[i] = b.in.row*float64(c.x) - sigma
		for n := range c.useful {
			v, j := int(c.lanes[2*n]), int(c.lanes[2*n+1])
			reduced[i] -= b.gain(v, j, c.x, at)
		}
		if values[i] > 0 || b.basis.Columns[fixed+i] == solver.Basic {
			reduced[i] = math.Inf(-1)
		}
	}
	sorted := append([]float64(nil), reduced...)
	sort.Float64s(sorted)
	last := sorted[min(keep, len(sorted)-1)]
	var columns []column
	statuses := append([]solver.BasisStatus(nil), b.basis.Columns[:fixed]...)
	for i, c := range b.columns {
		if i < len(values) {
			if reduced[i] > last {
				delete(b.known, c.key())
				continue
			}
			statuses = append(statuses, b.basis.Columns[fixed+i])
		}
		columns = append(columns, c)
	}
	b.columns = columns
	b.basis = &solver.Basis{Columns: statuses, Rows: b.basis.Rows}
}

// master is the programme over the columns so far. What is there for every
// version comes first, so that the basis of one round fits the next, which
// only has more columns. A demand's row counts its share that is printed.
// Artificial columns of a high cost keep the programme feasible.
func (b *bounder) master(sections int) *solver.Model {
	in := b.in
	m := &solver.Model{Name: "configuration"}
	m.Rows = make([]solver.Row, in.count+1+len(b.cuts))
	for v := 0; v < in.count; v++ {
		m.Rows[v] = solver.Row{Name: "demand " + in.p.Versions[v].ID, Lower: 1, Upper: solver.Inf}
	}
	add := func(row int, value, cost, upper float64) {
		m.Rows[row].Entries = append(m.Rows[row].Entries, solver.Entry{Column: len(m.Columns), Value: value})
		m.Columns = append(m.Columns, solver.Column{Cost: cost, Upper: upper})
	}
	for v := 0; v < in.count; v++ {
		d, c := b.target[v], &in.price[v]
		label := 1 / float64(d)
		if d > in.quantity[v] {
			add(v, label, c.over-c.label, float64(d-in.quantity[v]))
		}
		if q := min(d, in.quantity[v]); q > in.need[v] {
			add(v, label, c.short-c.label, float64(q-in.need[v]))
		}
		if c.filler {
			add(v, 1, c.elsewhere-in.labels(v, d, 1), 1)
		}
		// A label for more than any plan pays.
		add(v, label, 4*in.row+8*(in.section+1)/float64(d)+c.label+c.short+c.over, solver.Inf)
	}
	m.Rows[in.count] = solver.Row{Name: "sections", Lower: float64(sections), Upper: float64(sections)}
	for i, c := range b.cuts {
		m.Rows[in.count+1+i] = solver.Row{Name: fmt.Sprintf("share %d %s", c.m, in.p.Versions[c.v].ID), Lower: 1, Upper: solver.Inf}
	}
	artificial := 4 * (in.row*float64(in.needed) + in.section)
	add(in.count, 1, artificial, solver.Inf)
	add(in.count, -1, artificial, solver.Inf)
	for _, c := range b.columns {
		at := len(m.Columns)
		m.Columns = append(m.Columns, solver.Column{Cost: in.row * float64(c.x), Upper: solver.Inf})
		for n, u := range c.useful {
			v := int(c.lanes[2*n])
			m.Rows[v].Entries = append(m.Rows[v].Entries, solver.Entry{Column: at, Value: u / float64(b.target[v])})
			for _, i := range b.cutsOf[v] {
				row := &m.Rows[in.count+1+i]
				row.Entries = append(row.Entries, solver.Entry{Column: at, Value: b.cuts[i].share(int(c.lanes[2*n+1])*c.x, in.need[v])})
			}
		}
		m.Rows[in.count].Entries = append(m.Rows[in.count].Entries, solver.Entry{Column: at, Value: 1})
	}
	return m
}
