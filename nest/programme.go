package nest

import (
	"context"
	"fmt"
	"math"
	"sort"

	"laneplan/solver"
)

// Three integer programmes polish plans. Proofs are the box search's and the
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
//
// Under rules about what stands beside what, sections of one length are not
// alike, so it is indexed by section, for given sections of given lengths, with
// y_k for one that runs and z_kv for a version in it, binary:
//
//	most      a_kv ≤ most_v·z_kv        least     a_kv ≥ least_v·z_kv
//	lanes     Σ_v a_kv ≤ L·y_k          together  z_kv = z_kw
//	versions  Σ_v z_kv ≤ limit          one piece Σ_k z_kv ≤ 1
//	places    Σ_v a_kv ≤ lanes of S, over v that may stand in S alone
//	rolls     z_kv = 0 where x_k is no whole rolls of v
//
// Neighbours that must not be, splices and the order of sections it leaves to
// finish, which refuses what breaks them.

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
	return in.fromCells(lengths, cells, r.Values), r.Work * workOfEngine, nil
}

// fromCells makes a draft of the lanes that a programme chose, of every version
// for every length; nil where there are none.
func (in *instance) fromCells(lengths []int, cells [][]int, values []float64) *draft {
	d := &draft{}
	for i, x := range lengths {
		var lanes []int16
		for v, at := range cells[i] {
			for n := int(math.Round(values[at])); n > 0; n-- {
				lanes = append(lanes, int16(v))
			}
		}
		for len(lanes)%in.lanes != 0 {
			lanes = append(lanes, int16(in.count))
		}
		for range len(lanes) / in.lanes {
			d.rows = append(d.rows, x)
		}
		d.lanes = append(d.lanes, lanes...)
	}
	if len(d.rows) == 0 {
		return nil
	}
	in.finish(d)
	return d
}

// reassign solves the programme indexed by section: for those of the best plan
// of the pool and, as room allows, those of the others.
func (in *instance) reassign(ctx context.Context, engine solver.Solver, pool []*draft, most float64) (*draft, float64, error) {
	lengths := in.someSections(pool)
	if len(lengths) == 0 {
		return nil, 0, nil
	}
	r := in.rules
	m := &solver.Model{Name: "sections under rules"}
	column := func(name string, cost, upper float64) int {
		m.Columns = append(m.Columns, solver.Column{Name: name, Cost: cost, Upper: upper, Integer: true})
		return len(m.Columns) - 1
	}
	row := func(name string, lower, upper float64, entries ...solver.Entry) {
		m.Rows = append(m.Rows, solver.Row{Name: name, Lower: lower, Upper: upper, Entries: entries})
	}
	demand, pieces := make([][]solver.Entry, in.count), make([][]solver.Entry, in.count)
	cells, places := make([][]int, len(lengths)), in.places()
	var runs []solver.Entry
	for k, x := range lengths {
		y := column(fmt.Sprintf("y %d", k+1), in.row*float64(x)+in.section, 1)
		runs = append(runs, solver.Entry{Column: y, Value: 1})
		lanes := []solver.Entry{{Column: y, Value: float64(in.lanes)}}
		var versions []solver.Entry
		z := make([]int, in.count)
		for v := range in.count {
			id := in.p.Versions[v].ID
			upper := 1.0
			if n := r.perRoll[v]; r.requireRolls && n > 0 && x%n != 0 && k < len(lengths)-1 {
				upper = 0
			}
			z[v] = column(fmt.Sprintf("z %d %s", k+1, id), 0, upper)
			a := column(fmt.Sprintf("a %d %s", k+1, id), in.laneRun+in.price[v].label*float64(x), float64(r.mostLane[v]))
			cells[k] = append(cells[k], a)
			row(fmt.Sprintf("most %d %s", k+1, id), 0, solver.Inf, solver.Entry{Column: z[v], Value: float64(r.mostLane[v])}, solver.Entry{Column: a, Value: -1})
			row(fmt.Sprintf("least %d %s", k+1, id), 0, solver.Inf, solver.Entry{Column: z[v], Value: -float64(max(1, r.leastLanes[v]))}, solver.Entry{Column: a, Value: 1})
			lanes = append(lanes, solver.Entry{Column: a, Value: -1})
			versions = append(versions, solver.Entry{Column: z[v], Value: 1})
			pieces[v] = append(pieces[v], solver.Entry{Column: z[v], Value: 1})
			demand[v] = append(demand[v], solver.Entry{Column: a, Value: float64(x)})
		}
		row(fmt.Sprintf("lanes %d", k+1), 0, solver.Inf, lanes...)
		if r.versionsPerSection > 0 {
			row(fmt.Sprintf("versions %d", k+1), 0, float64(r.versionsPerSection), versions...)
		}
		for i, set := range r.together {
			for _, v := range set[1:] {
				row(fmt.Sprintf("together %d %d", k+1, i+1), 0, 0, solver.Entry{Column: z[set[0]], Value: 1}, solver.Entry{Column: z[v], Value: -1})
			}
		}
		for i, place := range places {
			var entries []solver.Entry
			for _, v := range place.versions {
				entries = append(entries, solver.Entry{Column: cells[k][v], Value: 1})
			}
			row(fmt.Sprintf("places %d %d", k+1, i+1), 0, float64(place.lanes), entries...)
		}
	}
	limit := float64(len(lengths))
	if in.atMost > 0 {
		limit = float64(in.atMost)
	}
	row("sections", float64(in.exact), limit, runs...)
	for v := range in.count {
		id := in.p.Versions[v].ID
		lower := float64(in.quantity[v])
		if in.price[v].filler {
			lower = 0 // the annealing decides of fillers
		}
		row("demand "+id, lower, solver.Inf, append(demand[v], in.labelColumns(m, v)...)...)
		if r.onePiece[v] {
			row("one piece "+id, 0, 1, pieces[v]...)
		}
	}
	res, err := engine.Solve(ctx, m, solver.Options{WorkLimit: math.Min(most, indexedWork)})
	if err != nil {
		return nil, 0, fmt.Errorf("solving for %d sections under rules: %w", len(lengths), err)
	}
	if res.Values == nil {
		return nil, res.Work * workOfEngine, nil
	}
	return in.fromCells(lengths, cells, res.Values), res.Work * workOfEngine, nil
}

// place is a set of lanes and the versions that may stand there alone.
type place struct {
	lanes    int
	versions []int
}

// places are the sets of lanes to which some version is bound.
func (in *instance) places() []place {
	r := in.rules
	if r.allowed == nil {
		return nil
	}
	lanesOf := func(v int) (mask uint64, n int) {
		for l := range min(in.lanes, 64) {
			if r.mayHold(l, v, in) {
				mask |= 1 << l
				n++
			}
		}
		return mask, n
	}
	seen := map[uint64]bool{}
	var out []place
	for v := range in.count {
		set, n := lanesOf(v)
		if n == in.lanes || in.lanes > 64 || seen[set] {
			continue
		}
		seen[set] = true
		p := place{lanes: n}
		for w := range in.count {
			if other, _ := lanesOf(w); other&^set == 0 {
				p.versions = append(p.versions, w)
			}
		}
		out = append(out, p)
	}
	return out
}

// someSections are the lengths of the sections of the best plan and, as room
// allows, those of the other plans that it does not have.
func (in *instance) someSections(pool []*draft) []int {
	room := indexedCells / in.count
	if len(pool) == 0 || len(pool[0].rows) > room {
		return nil
	}
	lengths := append([]int(nil), pool[0].rows...)
	seen := map[int]bool{}
	for _, x := range lengths {
		seen[x] = true
	}
	for _, d := range pool[1:] {
		for _, x := range d.rows {
			if !seen[x] && len(lengths) < room {
				seen[x] = true
				lengths = append([]int{x}, lengths...)
			}
		}
	}
	return lengths
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
