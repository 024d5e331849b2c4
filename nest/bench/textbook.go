package bench

import (
	"context"
	"fmt"
	"math"

	"laneplan/nest"
	"laneplan/solver"
)

// TextbookOptions limit the textbook programme. The zero value has no limit.
type TextbookOptions struct {
	Sections  int     // that the model may use; 0 is two more than the versions need at least
	TimeLimit float64 // seconds; 0 is none
	NodeLimit int     // branch-and-bound nodes; 0 is none
	WorkLimit float64 // in the engine's own measure; 0 is none
	Seed      int
	// MostColumns refuses models that would only fill the memory; 0 is
	// 60,000.
	MostColumns int
}

const defaultColumns = 60_000

// Textbook plans with the integer programme that one writes first, lane by
// lane, with a big M, and gives it to an engine as it is.
//
//	sets       sections k, open lanes l, versions v
//	use_k      1 where section k runs
//	rows_k     its length, whole, at most M = the largest quantity
//	holds_klv  1 where lane l of section k holds version v
//	labels_klv useful labels of v from lane l of section k
//	minimise   Row·Σ rows_k + Section·Σ use_k + LaneRun·Σ holds_klv
//	lane_kl    Σ_v holds_klv ≤ use_k
//	held_klv   labels_klv ≤ q_v·holds_klv
//	long_klv   labels_klv ≤ rows_k
//	need_v     Σ_kl labels_klv ≥ q_v
//	run_k      rows_k ≤ M·use_k
//	order_k    rows_k ≥ rows_(k+1)
//
// Lanes that are carried are not seen by the model (their cost is only right
// in the plan). It returns the plan and what the engine proved of the model:
// within the model's number of sections no plan costs less than the bound.
func Textbook(ctx context.Context, p nest.Problem, engine solver.Solver, o TextbookOptions) (nest.Plan, solver.Result, error) {
	const method = "textbook programme"
	s, err := newShop(p, method)
	if err != nil {
		return nest.Plan{}, solver.Result{}, err
	}
	t := textbook{shop: s, sections: o.Sections}
	if t.sections == 0 {
		t.sections = min(len(p.Versions), (len(p.Versions)+len(s.open)-1)/len(s.open)+2)
	}
	if most := p.Limits.MostSections; most > 0 {
		t.sections = min(t.sections, most)
	}
	if p.Limits.Sections > 0 {
		t.sections = p.Limits.Sections
	}
	most := o.MostColumns
	if most == 0 {
		most = defaultColumns
	}
	if columns := t.columns(); columns > most {
		return nest.Plan{}, solver.Result{}, fmt.Errorf("%s: %w: %d columns, at most %d are tried", method, ErrCannot, columns, most)
	}
	r, err := engine.Solve(ctx, t.model(), solver.Options{TimeLimit: o.TimeLimit, NodeLimit: o.NodeLimit, WorkLimit: o.WorkLimit, Seed: o.Seed})
	if err != nil {
		return nest.Plan{}, solver.Result{}, fmt.Errorf("%s: %w", method, err)
	}
	if r.Values == nil {
		return nest.Plan{}, r, fmt.Errorf("%s: %w: the engine stopped with status %q", method, ErrCannot, r.Status)
	}
	plan, err := finish(p, method, t.read(r.Values))
	return plan, r, err
}

type textbook struct {
	shop
	sections int
}

// The columns stand section by section: use, rows, then for every open lane
// and version the pair holds, labels.
func (t textbook) width() int       { return 2 + 2*len(t.open)*len(t.Versions) }
func (t textbook) columns() int     { return t.sections * t.width() }
func (t textbook) use(k int) int    { return k * t.width() }
func (t textbook) length(k int) int { return k*t.width() + 1 }
func (t textbook) holds(k, l, v int) int {
	return k*t.width() + 2 + 2*(l*len(t.Versions)+v)
}
func (t textbook) labels(k, l, v int) int { return t.holds(k, l, v) + 1 }

func (t textbook) model() *solver.Model {
	m := &solver.Model{Name: "textbook", Offset: t.Costs.Fixed}
	big := 0.0
	for _, v := range t.Versions {
		big = max(big, float64(v.Quantity))
	}
	for k := range t.sections {
		least := 0.0
		if t.Limits.Sections > 0 {
			least = 1 // every section runs
		}
		m.Columns = append(m.Columns,
			solver.Column{Name: fmt.Sprintf("use_%d", k), Cost: t.Costs.Section, Lower: least, Upper: 1, Integer: true},
			solver.Column{Name: fmt.Sprintf("rows_%d", k), Cost: t.Costs.Row, Lower: least, Upper: big, Integer: true})
		for l := range t.open {
			for i, v := range t.Versions {
				m.Columns = append(m.Columns,
					solver.Column{Name: fmt.Sprintf("holds_%d_%d_%d", k, l, i), Cost: t.Costs.LaneRun, Upper: 1, Integer: true},
					solver.Column{Name: fmt.Sprintf("labels_%d_%d_%d", k, l, i), Upper: float64(v.Quantity)})
			}
		}
	}
	atMost := func(name string, upper float64, entries ...solver.Entry) {
		m.Rows = append(m.Rows, solver.Row{Name: name, Lower: math.Inf(-1), Upper: upper, Entries: entries})
	}
	need := make([][]solver.Entry, len(t.Versions))
	for k := range t.sections {
		atMost(fmt.Sprintf("run_%d", k), 0, solver.Entry{Column: t.length(k), Value: 1}, solver.Entry{Column: t.use(k), Value: -big})
		if k > 0 {
			atMost(fmt.Sprintf("order_%d", k), 0, solver.Entry{Column: t.length(k), Value: 1}, solver.Entry{Column: t.length(k - 1), Value: -1})
		}
		for l := range t.open {
			lane := []solver.Entry{{Column: t.use(k), Value: -1}}
			for i, v := range t.Versions {
				holds, labels := t.holds(k, l, i), t.labels(k, l, i)
				lane = append(lane, solver.Entry{Column: holds, Value: 1})
				need[i] = append(need[i], solver.Entry{Column: labels, Value: 1})
				atMost(fmt.Sprintf("held_%d_%d_%d", k, l, i), 0, solver.Entry{Column: labels, Value: 1}, solver.Entry{Column: holds, Value: -float64(v.Quantity)})
				atMost(fmt.Sprintf("long_%d_%d_%d", k, l, i), 0, solver.Entry{Column: labels, Value: 1}, solver.Entry{Column: t.length(k), Value: -1})
			}
			atMost(fmt.Sprintf("lane_%d_%d", k, l), 0, lane...)
		}
	}
	for i, v := range t.Versions {
		m.Rows = append(m.Rows, solver.Row{Name: fmt.Sprintf("need_%d", i), Lower: float64(v.Quantity), Upper: solver.Inf, Entries: need[i]})
	}
	return m
}

// read turns a point of the model into sections; one that runs but prints
// nothing gets the first version, since a blank section is none.
func (t textbook) read(values []float64) []nest.Section {
	var sections []nest.Section
	for k := range t.sections {
		rows := int(math.Round(values[t.length(k)]))
		if rows == 0 {
			continue
		}
		s := t.section(rows, nil, nil)
		blank := true
		for l, lane := range t.open {
			for i := range t.Versions {
				if values[t.holds(k, l, i)] > 0.5 {
					s.Lanes[lane], blank = i, false
				}
			}
		}
		if blank {
			s.Lanes[t.open[0]] = 0
		}
		sections = append(sections, s)
	}
	return sections
}
