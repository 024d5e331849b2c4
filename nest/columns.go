package nest

import (
	"fmt"
	"math"
	"sort"

	"laneplan/solver"
)

// The columns of the configuration programme (see bound.go) and the programme
// over those so far.

// mostKnown columns are kept, as long as no more are needed.
const mostKnown = 100_000

// column is one section: its length, and what it prints of whom.
type column struct {
	x      int
	lanes  []int32 // version, lanes pairs
	useful []float64
	there  bool // among the columns of the programme
}

// column is the one of these lane counts.
func (b *bounder) column(x int, lanes []int) *column {
	c := &column{x: x}
	for v, a := range lanes {
		if a > 0 {
			c.lanes = append(c.lanes, int32(v), int32(a))
			c.useful = append(c.useful, float64(min(a*x, b.target[v])))
		}
	}
	key := fmt.Sprint(c.x, c.lanes)
	if known := b.known[key]; known != nil {
		return known
	}
	b.known[key] = c
	return c
}

// put adds a column to those of the programme; false where it is there.
func (b *bounder) put(c *column) bool {
	if c.there {
		return false
	}
	c.there = true
	b.columns = append(b.columns, c)
	return true
}

// seed gives the programme columns to begin with: every version alone, and
// the sections of a few greedy plans.
func (b *bounder) seed() {
	in := b.in
	lanes := make([]int, in.count)
	for v := range lanes {
		if lanes[v] = b.most[v]; b.allows(lanes) && lanes[v] > 0 {
			b.put(b.column(in.length((b.target[v]+lanes[v]-1)/lanes[v]), lanes))
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
		if b.allows(lanes) {
			b.put(b.column(x, lanes))
		}
	}
}

// allows says that a section may hold these lanes, by the rules that pricing
// knows: a column that breaks them would only weaken the multipliers.
func (b *bounder) allows(lanes []int) bool {
	versions := 0
	for v, j := range lanes {
		if j == 0 {
			continue
		}
		versions++
		if j < b.fewestLanes[v] || j > b.most[v] {
			return false
		}
		for _, w := range b.setOf[v] {
			if lanes[w] == 0 {
				return false
			}
		}
	}
	return b.versions == 0 || versions <= b.versions
}

// forget drops columns that the programme of a node is not likely to need
// again, the dearest under its multipliers, when there are many. values are those
// of the columns that it had.
func (b *bounder) forget(values []float64, n *lengthNode, at multipliers, sigma float64) {
	keep := 4*(b.in.count+len(b.cuts)) + 200
	if len(b.columns) < 2*keep {
		return
	}
	basic := map[*column]bool{}
	n.basis.mark(basic)
	reduced := make([]float64, len(values))
	for i := range values {
		c := b.columns[i]
		reduced[i] = b.in.row*float64(c.x) - sigma - n.bonus(c.x, at)
		for m := range c.useful {
			v, j := int(c.lanes[2*m]), int(c.lanes[2*m+1])
			reduced[i] -= b.gain(v, j, c.x, at)
		}
		if values[i] > 0 || basic[c] {
			reduced[i] = math.Inf(-1)
		}
	}
	sorted := append([]float64(nil), reduced...)
	sort.Float64s(sorted)
	last := sorted[min(keep, len(sorted)-1)]
	var columns []*column
	for i, c := range b.columns {
		if i < len(values) && reduced[i] > last {
			c.there = false
			continue
		}
		columns = append(columns, c)
	}
	b.columns = columns
	b.forgetKnown()
}

// forgetKnown drops columns that neither the programme nor an open node needs,
// when very many were met.
func (b *bounder) forgetKnown() {
	if len(b.known) < mostKnown {
		return
	}
	needed := map[*column]bool{}
	for _, c := range b.columns {
		needed[c] = true
	}
	for _, t := range b.trees {
		for _, n := range t.open {
			n.basis.mark(needed)
		}
	}
	for key, c := range b.known {
		if !needed[c] {
			delete(b.known, key)
		}
	}
}

// master is the programme of a node over the columns so far. What is there for
// every version comes first, so that a basis fits other columns, too. A demand's
// row counts its share that is printed.
// Artificial columns of a high cost keep the programme feasible.
func (b *bounder) master(n *lengthNode) *solver.Model {
	in, sections := b.in, float64(n.sections)
	m := &solver.Model{Name: "configuration"}
	m.Rows = make([]solver.Row, in.count+1+len(b.cuts)+len(n.limits))
	for v := 0; v < in.count; v++ {
		m.Rows[v] = solver.Row{Name: "demand " + in.p.Versions[v].ID, Lower: 1, Upper: solver.Inf}
	}
	m.Rows[in.count] = solver.Row{Name: "sections", Lower: sections, Upper: sections}
	for i, c := range b.cuts {
		m.Rows[in.count+1+i] = solver.Row{Name: fmt.Sprintf("share %d %s", c.m, in.p.Versions[c.v].ID), Lower: 1, Upper: solver.Inf}
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
		// A label for more than any plan pays, and all of them.
		dear := 4*in.row + 8*(in.section+1)/float64(d) + c.label + c.short + c.over
		add(v, label, dear, solver.Inf)
		for _, i := range b.cutsOf[v] {
			row := &m.Rows[in.count+1+i]
			row.Entries = append(row.Entries, solver.Entry{Column: len(m.Columns), Value: 1})
		}
		add(v, 1, dear*float64(d), solver.Inf)
	}
	limits := m.Rows[in.count+1+len(b.cuts):]
	for i, l := range n.limits {
		limits[i] = solver.Row{Name: fmt.Sprintf("at least %d rows long", l.from), Lower: l.least, Upper: l.most}
	}
	artificial := 4 * (in.row*float64(in.needed) + in.section)
	add(in.count, 1, artificial, solver.Inf)
	add(in.count, -1, artificial, solver.Inf)
	for _, c := range b.columns {
		at := len(m.Columns)
		m.Columns = append(m.Columns, solver.Column{Cost: in.row * float64(c.x), Upper: solver.Inf})
		for i, l := range n.limits {
			if c.x >= l.from {
				limits[i].Entries = append(limits[i].Entries, solver.Entry{Column: at, Value: 1})
			}
		}
		for j, u := range c.useful {
			v := int(c.lanes[2*j])
			m.Rows[v].Entries = append(m.Rows[v].Entries, solver.Entry{Column: at, Value: u / float64(b.target[v])})
			for _, i := range b.cutsOf[v] {
				row := &m.Rows[in.count+1+i]
				row.Entries = append(row.Entries, solver.Entry{Column: at, Value: b.cuts[i].share(int(c.lanes[2*j+1])*c.x, in.need[v])})
			}
		}
		m.Rows[in.count].Entries = append(m.Rows[in.count].Entries, solver.Entry{Column: at, Value: 1})
	}
	return m
}
