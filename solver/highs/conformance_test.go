package highs

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/solver"
)

// Short forms for stating models as the books print them.

var inf = solver.Inf

// model has a cost for each column, which is from 0 up, and rows.
func model(maximize bool, costs []float64, rows ...solver.Row) *solver.Model {
	m := &solver.Model{Maximize: maximize, Rows: rows}
	for _, c := range costs {
		m.Columns = append(m.Columns, solver.Column{Cost: c, Upper: inf})
	}
	return m
}

func integers(m *solver.Model, columns ...int) *solver.Model {
	for _, j := range columns {
		m.Columns[j].Integer = true
	}
	return m
}

func within(m *solver.Model, lower, upper float64, columns ...int) *solver.Model {
	for _, j := range columns {
		m.Columns[j].Lower, m.Columns[j].Upper = lower, upper
	}
	return m
}

func row(lower, upper float64, values ...float64) solver.Row {
	r := solver.Row{Lower: lower, Upper: upper}
	for j, v := range values {
		if v != 0 {
			r.Entries = append(r.Entries, solver.Entry{Column: j, Value: v})
		}
	}
	return r
}

func atMost(v float64, values ...float64) solver.Row  { return row(-inf, v, values...) }
func atLeast(v float64, values ...float64) solver.Row { return row(v, inf, values...) }
func equal(v float64, values ...float64) solver.Row   { return row(v, v, values...) }

func all(n int) []int {
	v := make([]int, n)
	for i := range v {
		v[i] = i
	}
	return v
}

// published are linear and integer programmes that others printed with their
// answers. Data and answers are written down from memory of the sources named;
// where the answer can be checked by hand, the linear ones are also checked by
// their duals below.
var published = []struct {
	name   string
	source string
	model  *solver.Model
	status solver.Status
	value  float64
	at     []float64 // where the optimum is at one point only
	duals  []float64 // where they are unique
}{
	{
		name:   "Wyndor Glass",
		source: "Hillier and Lieberman, Introduction to Operations Research, chapter 3; duals in the chapter on duality",
		model:  wyndor(),
		status: solver.Optimal, value: 36, at: []float64{2, 6}, duals: []float64{0, 1.5, 1},
	},
	{
		name:   "Wyndor Glass with a profit of at least 50",
		source: "Hillier and Lieberman, chapter 3: the variation without a feasible solution",
		model:  withRows(wyndor(), atLeast(50, 3, 5)),
		status: solver.Infeasible,
	},
	{
		name:   "Wyndor Glass with plant 1 alone",
		source: "Hillier and Lieberman, chapter 3: the variation without a bound",
		model:  model(true, []float64{3, 5}, atMost(4, 1, 0)),
		status: solver.Unbounded,
	},
	{
		name:   "Wyndor Glass mirrored: columns without a lower bound and below 0",
		source: "the first case with x replaced by -x",
		model: within(model(true, []float64{-3, -5}, atLeast(-4, 1, 0), atLeast(-12, 0, 2), atLeast(-18, 3, 2)),
			-inf, 0, 0, 1),
		status: solver.Optimal, value: 36, at: []float64{-2, -6}, duals: []float64{0, -1.5, -1},
	},
	{
		name:   "radiation therapy: an equality",
		source: "Hillier and Lieberman, chapter 3 (Mary's case)",
		model:  model(false, []float64{0.4, 0.5}, atMost(2.7, 0.3, 0.1), equal(6, 0.5, 0.5), atLeast(6, 0.6, 0.4)),
		status: solver.Optimal, value: 5.25, at: []float64{7.5, 4.5}, duals: []float64{-0.5, 1.1, 0},
	},
	{
		name:   "political campaign: a free column",
		source: "Hillier and Lieberman, chapter on game theory, variation 3: value 2/11 with (7/11, 4/11)",
		model: within(model(true, []float64{0, 0, 1}, atLeast(0, 0, 5, -1), atLeast(0, -2, 4, -1), atLeast(0, 2, -3, -1),
			equal(1, 1, 1, 0)), -inf, inf, 2),
		status: solver.Optimal, value: 2.0 / 11, at: []float64{7.0 / 11, 4.0 / 11, 2.0 / 11},
	},
	{
		name:   "Dantzig's canneries: transport, degenerate in its duals",
		source: "Dantzig, Linear Programming and Extensions (1963), chapter 3.3; the first model of the GAMS library: 153.675",
		model:  canneries(),
		status: solver.Optimal, value: 153.675,
	},
	{
		name:   "Beale's example of cycling: degenerate",
		source: "Beale, Naval Research Logistics Quarterly 2 (1955): -1.25",
		model: model(false, []float64{-0.75, 20, -0.5, 6},
			atMost(0, 0.25, -8, -1, 9), atMost(0, 0.5, -12, -0.5, 3), atMost(1, 0, 0, 1, 0)),
		status: solver.Optimal, value: -1.25, at: []float64{1, 0, 1, 0},
	},
	{
		name:   "Klee and Minty's cube in 6 dimensions",
		source: "Klee and Minty (1972), in the form of Chvátal, Linear Programming (1983): 5^6",
		model:  kleeMinty(6),
		status: solver.Optimal, value: 15625, at: []float64{0, 0, 0, 0, 0, 15625},
	},
	{
		name:   "Polly's diet: bounds on both sides",
		source: "Chvátal, Linear Programming (1983), chapter 1: 92.5 cents with oatmeal 4, milk 4.5, pie 2",
		model:  diet(),
		status: solver.Optimal, value: 92.5, at: []float64{4, 0, 0, 4.5, 2, 0},
	},
	{
		name:   "Reddy Mikks",
		source: "Taha, Operations Research: An Introduction, chapter 2",
		model:  model(true, []float64{5, 4}, atMost(24, 6, 4), atMost(6, 1, 2), atMost(1, -1, 1), atMost(2, 0, 1)),
		status: solver.Optimal, value: 21, at: []float64{3, 1.5}, duals: []float64{0.75, 0.5, 0, 0},
	},
	{
		name:   "Telfa: integers far from the rounded linear optimum",
		source: "Winston, Operations Research: Applications and Algorithms, chapter on integer programming: 40 at (5, 0)",
		model:  integers(model(true, []float64{8, 5}, atMost(6, 1, 1), atMost(45, 9, 5)), 0, 1),
		status: solver.Optimal, value: 40, at: []float64{5, 0},
	},
	{
		name:   "California Manufacturing: yes or no",
		source: "Hillier and Lieberman, chapter on integer programming: 14 at (1, 1, 0, 0)",
		model: integers(within(model(true, []float64{9, 5, 6, 4},
			atMost(10, 6, 3, 5, 2), atMost(1, 0, 0, 1, 1), atMost(0, -1, 0, 1, 0), atMost(0, 0, -1, 0, 1)), 0, 1, all(4)...), all(4)...),
		status: solver.Optimal, value: 14, at: []float64{1, 1, 0, 0},
	},
	{
		name:   "three integers and one real",
		source: "Hillier and Lieberman, chapter on integer programming, mixed example: 13.5 at (0, 0, 2, 0.5)",
		model: integers(model(true, []float64{4, -2, 7, -1},
			atMost(10, 1, 0, 5, 0), atMost(1, 1, 1, -1, 0), atMost(0, 6, -5, 0, 0), atMost(3, -1, 0, 2, -2)), 0, 1, 2),
		status: solver.Optimal, value: 13.5, at: []float64{0, 0, 2, 0.5},
	},
	{
		name:   "knapsack of seven",
		source: "Martello and Toth, Knapsack Problems (1990), chapter 2: 107 with items 1 and 4",
		model: integers(within(model(true, []float64{70, 20, 39, 37, 7, 5, 10},
			atMost(50, 31, 10, 20, 19, 4, 3, 6)), 0, 1, all(7)...), all(7)...),
		status: solver.Optimal, value: 107, at: []float64{1, 0, 0, 1, 0, 0, 0},
	},
	{
		name:   "paper rolls, linear",
		source: "Chvátal, Linear Programming (1983), chapter 13: 452.25 rolls",
		model:  cuttingStock(false),
		status: solver.Optimal, value: 452.25,
	},
	{
		name:   "paper rolls, whole",
		source: "Chvátal, Linear Programming (1983), chapter 13: 453 rolls",
		model:  cuttingStock(true),
		status: solver.Optimal, value: 453,
	},
	{
		name:   "no whole number between 1/3 and 2/3",
		source: "plain to see",
		model:  integers(model(false, []float64{1}, row(1, 2, 3)), 0),
		status: solver.Infeasible,
	},
}

func wyndor() *solver.Model {
	return model(true, []float64{3, 5}, atMost(4, 1, 0), atMost(12, 0, 2), atMost(18, 3, 2))
}

func withRows(m *solver.Model, rows ...solver.Row) *solver.Model {
	m.Rows = append(m.Rows, rows...)
	return m
}

// canneries: two plants (350 and 600 cases), three markets (325, 300 and 275),
// 90 dollars a case and thousand miles.
func canneries() *solver.Model {
	miles := []float64{2.5, 1.7, 1.8, 2.5, 1.8, 1.4}
	costs := make([]float64, len(miles))
	for k, d := range miles {
		costs[k] = 90 * d / 1000
	}
	return model(false, costs,
		atMost(350, 1, 1, 1, 0, 0, 0), atMost(600, 0, 0, 0, 1, 1, 1),
		atLeast(325, 1, 0, 0, 1, 0, 0), atLeast(300, 0, 1, 0, 0, 1, 0), atLeast(275, 0, 0, 1, 0, 0, 1))
}

func kleeMinty(n int) *solver.Model {
	m := &solver.Model{Maximize: true}
	for i := 1; i <= n; i++ {
		m.Columns = append(m.Columns, solver.Column{Cost: math.Pow(2, float64(n-i)), Upper: inf})
		values := make([]float64, i)
		for j := 1; j < i; j++ {
			values[j-1] = 2 * math.Pow(2, float64(i-j))
		}
		values[i-1] = 1
		m.Rows = append(m.Rows, atMost(math.Pow(5, float64(i)), values...))
	}
	return m
}

// diet: oatmeal, chicken, eggs, milk, cherry pie, pork with beans; energy,
// protein, calcium.
func diet() *solver.Model {
	m := model(false, []float64{3, 24, 13, 9, 20, 19},
		atLeast(2000, 110, 205, 160, 160, 420, 260),
		atLeast(55, 4, 32, 13, 8, 4, 14),
		atLeast(800, 2, 12, 54, 285, 22, 80))
	for j, most := range []float64{4, 3, 2, 8, 2, 2} {
		m.Columns[j].Upper = most
	}
	return m
}

// cuttingStock: rolls of 100 inches cut into 97 of 45, 610 of 36, 395 of 31 and
// 211 of 14, with every way to cut a roll as a column.
func cuttingStock(whole bool) *solver.Model {
	widths, demands := []int{45, 36, 31, 14}, []float64{97, 610, 395, 211}
	m := &solver.Model{Rows: make([]solver.Row, len(widths))}
	for i := range m.Rows {
		m.Rows[i] = solver.Row{Lower: demands[i], Upper: inf}
	}
	cut := make([]int, len(widths))
	var extend func(i, left int)
	extend = func(i, left int) {
		if i == len(widths) {
			j := len(m.Columns)
			m.Columns = append(m.Columns, solver.Column{Cost: 1, Upper: inf, Integer: whole})
			for k, n := range cut {
				if n > 0 {
					m.Rows[k].Entries = append(m.Rows[k].Entries, solver.Entry{Column: j, Value: float64(n)})
				}
			}
			return
		}
		for cut[i] = 0; cut[i]*widths[i] <= left; cut[i]++ {
			extend(i+1, left-cut[i]*widths[i])
		}
		cut[i] = 0
	}
	extend(0, 100)
	return m
}

func TestPublishedProgrammes(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		for _, tt := range published {
			t.Run(tt.name, func(t *testing.T) {
				r, err := e.Solve(context.Background(), tt.model, solver.Options{})
				require.NoError(t, err)
				require.Equal(t, tt.status, r.Status, tt.source)
				if tt.status != solver.Optimal {
					assert.Nil(t, r.Values)
					return
				}
				assert.InDelta(t, tt.value, r.Objective, 1e-9*math.Max(1, math.Abs(tt.value)), tt.source)
				require.NoError(t, tt.model.CheckPoint(r.Values, 1e-7, 0))
				assert.InDelta(t, tt.value, r.Bound, 1e-4*math.Abs(tt.value))
				if tt.at != nil {
					assert.InDeltaSlice(t, tt.at, r.Values, 1e-9)
				}
				if tt.duals != nil {
					assert.InDeltaSlice(t, tt.duals, r.RowDuals, 1e-9)
				}
				if tt.model.HasIntegers() {
					assert.Nil(t, r.RowDuals)
					assert.Nil(t, r.ReducedCosts)
				} else {
					checkDuals(t, tt.model, r)
				}
			})
		}
	})
}

// checkDuals proves an optimum by its duals alone: reduced costs follow from
// the row duals, signs fit (a dual pushes only against a bound that is met),
// and the dual objective equals the primal one.
func checkDuals(t testing.TB, m *solver.Model, r solver.Result) {
	t.Helper()
	require.Len(t, r.RowDuals, len(m.Rows))
	require.Len(t, r.ReducedCosts, len(m.Columns))
	s := sense(m)
	reduced := make([]float64, len(m.Columns))
	for j := range m.Columns {
		reduced[j] = m.Columns[j].Cost
	}
	dual, size := m.Offset, 1.0
	side := func(what string, k int, y, v, lower, upper float64) {
		// In terms of minimising a positive dual holds v up from its lower
		// bound, a negative one down from its upper.
		const zero = 1e-7
		switch {
		case s*y > zero:
			assert.InDelta(t, lower, v, 1e-6, "%s %d has dual %v and is not at its lower bound", what, k, y)
			dual += y * lower
		case s*y < -zero:
			assert.InDelta(t, upper, v, 1e-6, "%s %d has dual %v and is not at its upper bound", what, k, y)
			dual += y * upper
		}
		size += math.Abs(y * v)
	}
	for i := range m.Rows {
		sum := 0.0
		for _, e := range m.Rows[i].Entries {
			sum += e.Value * r.Values[e.Column]
			reduced[e.Column] -= e.Value * r.RowDuals[i]
		}
		side("row", i, r.RowDuals[i], sum, m.Rows[i].Lower, m.Rows[i].Upper)
	}
	for j := range m.Columns {
		assert.InDelta(t, reduced[j], r.ReducedCosts[j], 1e-6, "reduced cost of column %d", j)
		side("column", j, r.ReducedCosts[j], r.Values[j], m.Columns[j].Lower, m.Columns[j].Upper)
	}
	assert.InDelta(t, r.Objective, dual, 1e-6*size, "strong duality")
}

// The sign of a dual, straight from its meaning: the objective's change where
// the right-hand side is moved a little.
func TestARowDualIsTheChangeOfTheObjective(t *testing.T) {
	e := embeddedEngine(t)
	for _, tt := range published {
		if tt.duals == nil {
			continue
		}
		t.Run(tt.name, func(t *testing.T) {
			for i, dual := range tt.duals {
				const step = 1e-3
				m := *tt.model
				m.Rows = append([]solver.Row(nil), m.Rows...)
				m.Rows[i].Lower += step
				m.Rows[i].Upper += step
				r, err := e.Solve(context.Background(), &m, solver.Options{})
				require.NoError(t, err)
				assert.InDelta(t, tt.value+step*dual, r.Objective, 1e-7, "row %d", i)
			}
		})
	}
}

func TestAnOffsetAndZeroColumnsCountToo(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		m := wyndor()
		m.Offset = 100
		m.Columns = append(m.Columns, solver.Column{Lower: -1, Upper: 7}) // in no row, costs nothing
		m.Rows = append(m.Rows, row(-inf, inf, 1, 1))                     // binds nothing
		for _, whole := range []bool{false, true} {
			m.Columns[0].Integer = whole
			r, err := e.Solve(context.Background(), m, solver.Options{})
			require.NoError(t, err)
			assert.InDelta(t, 136, r.Objective, 1e-9)
			assert.InDelta(t, 136, r.Bound, 1e-9)
			assert.Less(t, r.Gap, 1e-10)
			if !whole {
				checkDuals(t, m, r)
			}
		}
	})
}

func TestIntegersWithoutABoundAreUnbounded(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		m := integers(model(true, []float64{1, 1}, atMost(3, 1, -1)), 0, 1)
		r, err := e.Solve(context.Background(), m, solver.Options{})
		require.NoError(t, err)
		assert.Contains(t, []solver.Status{solver.Unbounded, solver.InfeasibleOrUnb}, r.Status)
		assert.Nil(t, r.Values)
		assert.Equal(t, math.Inf(1), r.Bound)
	})
}

func TestAModelWithoutColumnsIsItsOffset(t *testing.T) {
	e := embeddedEngine(t)
	r, err := e.Solve(context.Background(), &solver.Model{Offset: 7, Rows: []solver.Row{{Lower: -1, Upper: 1}}}, solver.Options{})
	require.NoError(t, err)
	assert.Equal(t, solver.Optimal, r.Status)
	assert.Equal(t, 7.0, r.Objective)
	assert.Equal(t, 7.0, r.Bound)
	r, err = e.Solve(context.Background(), &solver.Model{Rows: []solver.Row{{Lower: 1, Upper: 2}}}, solver.Options{})
	require.NoError(t, err)
	assert.Equal(t, solver.Infeasible, r.Status)
	assert.Nil(t, r.Values)
}
