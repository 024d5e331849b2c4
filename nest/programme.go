package nest

import (
	"context"
	"fmt"
	"math"
	"sort"

	"laneplan/solver"
)

// Two integer programmes polish plans. Proofs are the box search's and the
// configuration bound's: the lengths of a best plan need not be among those
// that a programme is given.
//
// Indexed by length, for a finite set X of lengths:
//
//	n_x      sections that are x long, integer
//	a_vx     lanes of version v in them, integer
//	min      Σ_x (row·x + section) n_x + Σ (laneRun + label_v·x) a_vx + Σ labels
//	demand v Σ_x x·a_vx + short_v - over_v ≥ quantity_v
//	lanes x  Σ_v a_vx ≤ L·n_x
//	sections Σ_x n_x = or ≤ the limit
//
// Lanes of equally long sections are interchangeable, so any a fits n. No
// big-M. Every lane run is charged, carried or not; the layout decides later.
//
// For a fixed assignment: the lengths of the sections, in frames, alone.

// lengthsWork and indexedWork limit a solve, in the engine's own measure.
const (
	lengthsWork  = 0.05
	indexedWork  = 0.4
	indexedCells = 600 // versions × lengths beyond which annealing is better
)

// labelColumns adds what version v pays for labels short of its quantity and
// earns for those above, and gives the entries for its demand row.
func (in *instance) labelColumns(m *solver.Model, v int) []solver.Entry {
	c := &in.price[v]
	var entries []solver.Entry
	add := func(sign, cost, most float64) {
		entries = append(entries, solver.Entry{Column: len(m.Columns), Value: sign})
		m.Columns = append(m.Columns, solver.Column{Name: fmt.Sprintf("labels %d", len(m.Columns)), Cost: cost, Upper: most})
	}
	if n := in.quantity[v] - in.need[v]; n > 0 {
		add(1, c.short, float64(n))
	}
	if c.over > 0 && in.most[v] > in.quantity[v] {
		add(-1, -c.over, float64(in.most[v]-in.quantity[v]))
	}
	return entries
}

// resize finds the best lengths of a draft's sections with its lanes as they
// are. nil where there is nothing better or a limit came first.
func (in *instance) resize(ctx context.Context, engine solver.Solver, d *draft) (*draft, float64, error) {
	L, K := in.lanes, len(d.rows)
	m := &solver.Model{Name: "lengths"}
	frame := float64(in.frame)
	rows := make([]solver.Row, in.count)
	for v := range rows {
		rows[v] = solver.Row{Name: "demand " + in.p.Versions[v].ID, Lower: float64(in.quantity[v]), Upper: solver.Inf}
	}
	runs := make([]bool, in.count)
	for k := 0; k < K; k++ {
		cost := in.row * frame
		lane := d.lanes[k*L : k*L+L]
		for l, v := range lane {
			if int(v) == in.count {
				continue
			}
			runs[v] = true
			cost += in.price[v].label * frame
			if indexOf(lane[:l], v) < 0 {
				rows[v].Entries = append(rows[v].Entries, solver.Entry{Column: k, Value: frame * float64(countOf(lane, v))})
			}
		}
		m.Columns = append(m.Columns, solver.Column{Name: fmt.Sprintf("section %d", k+1), Cost: cost,
			Lower: float64(in.least / in.frame), Upper: solver.Inf, Integer: true})
	}
	for v, row := range rows {
		if runs[v] {
			row.Entries = append(row.Entries, in.labelColumns(m, v)...)
			m.Rows = append(m.Rows, row)
		}
	}
	r, err := engine.Solve(ctx, m, solver.Options{WorkLimit: lengthsWork, Gap: 1e-9})
	if err != nil {
		return nil, 0, fmt.Errorf("solving for the lengths of %d sections: %w", K, err)
	}
	if r.Values == nil {
		return nil, r.Work * workOfEngine, nil
	}
	out := d.clone()
	for k := range out.rows {
		out.rows[k] = int(math.Round(r.Values[k])) * in.frame
	}
	in.finish(out)
	return out, r.Work * workOfEngine, nil
}

// workOfEngine turns the engine's measure of work (about a second a unit)
// into ours (about a tenth).
const workOfEngine = 10

// reindex solves the programme over the lengths of some plans and the
// shortest natural ones, with 'most' of the engine's work at most; nil where it
// found nothing or would be too large.
func (in *instance) reindex(ctx context.Context, engine solver.Solver, pool []*draft, most float64) (*draft, float64, error) {
	lengths := in.someLengths(pool)
	if len(lengths) == 0 {
		return nil, 0, nil
	}
	m := &solver.Model{Name: "sections by length"}
	sections := solver.Row{Name: "sections", Lower: float64(in.exact), Upper: solver.Inf}
	if in.atMost > 0 {
		sections.Upper = float64(in.atMost)
	}
	demand := make([]solver.Row, in.count)
	for v := range demand {
		demand[v] = solver.Row{Name: "demand " + in.p.Versions[v].ID, Lower: float64(in.quantity[v]), Upper: solver.Inf}
		if in.price[v].filler {
			demand[v].Lower = 0 // the annealing decides of fillers
		}
	}
	cells := make([][]int, len(lengths))
	for i, x := range lengths {
		lanes := solver.Row{Name: fmt.Sprintf("lanes %d", x), Lower: 0, Upper: solver.Inf}
		n := len(m.Columns)
		most := float64(max(in.count, in.atMost))
		m.Columns = append(m.Columns, solver.Column{Name: fmt.Sprintf("n %d", x), Cost: in.row*float64(x) + in.section, Upper: most, Integer: true})
		lanes.Entries = append(lanes.Entries, solver.Entry{Column: n, Value: float64(in.lanes)})
		sections.Entries = append(sections.Entries, solver.Entry{Column: n, Value: 1})
		for v := 0; v < in.count; v++ {
			useful := float64(x)
			if !in.priced {
				useful = float64(min(x, in.quantity[v])) // tighter, and as good
			}
			at := len(m.Columns)
			cells[i] = append(cells[i], at)
			m.Columns = append(m.Columns, solver.Column{Name: fmt.Sprintf("a %d %d", v, x), Cost: in.laneRun + in.price[v].label*float64(x),
				Upper: float64((in.quantity[v] + x - 1) / x), Integer: true})
			lanes.Entries = append(lanes.Entries, solver.Entry{Column: at, Value: -1})
			demand[v].Entries = append(demand[v].Entries, solver.Entry{Column: at, Value: useful})
		}
		m.Rows = append(m.Rows, lanes)
	}
	for v := range demand {
		demand[v].Entries = append(demand[v].Entries, in.labelColumns(m, v)...)
	}
	m.Rows = append(append(m.Rows, demand...), sections)
	r, err := engine.Solve(ctx, m, solver.Options{WorkLimit: math.Min(most, indexedWork)})
	if err != nil {
		return nil, 0, fmt.Errorf("solving for sections of %d lengths: %w", len(lengths), err)
	}
	if r.Values == nil {
		return nil, r.Work * workOfEngine, nil
	}
	d := &draft{}
	for i, x := range lengths {
		var lanes []int16
		for v, at := range cells[i] {
			for n := int(math.Round(r.Values[at])); n > 0; n-- {
				lanes = append(lanes, int16(v))
			}
		}
		for len(lanes)%in.lanes != 0 {
			lanes = append(lanes, int16(in.count))
		}
		for k := 0; k < len(lanes)/in.lanes; k++ {
			d.rows = append(d.rows, x)
		}
		d.lanes = append(d.lanes, lanes...)
	}
	if len(d.rows) == 0 {
		return nil, r.Work * workOfEngine, nil
	}
	in.finish(d)
	return d, r.Work * workOfEngine, nil
}

// someLengths are the lengths of the pool's sections and, as room allows,
// those at which one version is done in one lane, two lanes and so on.
func (in *instance) someLengths(pool []*draft) []int {
	room := indexedCells / in.count
	seen := map[int]bool{}
	var lengths []int
	add := func(x int) {
		if !seen[x] && len(lengths) < room {
			seen[x] = true
			lengths = append(lengths, x)
		}
	}
	if room < 4 {
		return nil
	}
	for _, d := range pool {
		for _, x := range d.rows {
			add(x)
		}
	}
	for j := 1; j <= in.lanes; j++ {
		for v := 0; v < in.count; v++ {
			add(in.length((in.quantity[v] + j - 1) / j))
		}
	}
	sort.Ints(lengths)
	return lengths
}
