package highs

import (
	"context"
	"fmt"
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/solver"
)

// randomInteger is a small integer programme with every kind of row and bound,
// small enough to try all points.
func randomInteger(r *rand.Rand) *solver.Model {
	m := &solver.Model{Maximize: r.Intn(2) == 0, Offset: float64(r.Intn(21) - 10)}
	for range 1 + r.Intn(4) {
		lower := float64(r.Intn(7) - 4)
		m.Columns = append(m.Columns, solver.Column{
			Cost: float64(r.Intn(21) - 10), Lower: lower, Upper: lower + float64(r.Intn(6)), Integer: true,
		})
	}
	for range r.Intn(5) {
		row := solver.Row{Lower: -inf, Upper: inf}
		for j := range m.Columns {
			if v := r.Intn(11) - 5; v != 0 && r.Intn(4) > 0 {
				row.Entries = append(row.Entries, solver.Entry{Column: j, Value: float64(v)})
			}
		}
		side := float64(r.Intn(31) - 15)
		switch r.Intn(5) {
		case 0:
			row.Lower = side
		case 1:
			row.Upper = side
		case 2:
			row.Lower, row.Upper = side, side
		case 3:
			row.Lower, row.Upper = side, side+float64(r.Intn(12))+0.5
		}
		m.Rows = append(m.Rows, row)
	}
	return m
}

// bestByTrying looks at every whole point within the bounds.
func bestByTrying(m *solver.Model) (best float64, feasible bool) {
	s := sense(m)
	best = s * inf
	x := make([]float64, len(m.Columns))
	var try func(j int)
	try = func(j int) {
		if j == len(x) {
			if m.CheckPoint(x, 1e-9, 0) == nil {
				feasible = true
				if v := m.Value(x); s*v < s*best {
					best = v
				}
			}
			return
		}
		for x[j] = m.Columns[j].Lower; x[j] <= m.Columns[j].Upper; x[j]++ {
			try(j + 1)
		}
	}
	try(0)
	return best, feasible
}

func TestSmallIntegerProgrammesAgainstEveryPoint(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		trials := 400
		if e != embeddedEngine(t) {
			trials = 15 // a process each
		}
		r := rand.New(rand.NewSource(20))
		seen := map[solver.Status]int{}
		for k := range trials {
			m := randomInteger(r)
			best, feasible := bestByTrying(m)
			got, err := e.Solve(context.Background(), m, solver.Options{Gap: 1e-9, Seed: k})
			require.NoError(t, err, "trial %d: %+v", k, m)
			seen[got.Status]++
			if !feasible {
				require.Equal(t, solver.Infeasible, got.Status, "trial %d: %+v", k, m)
				continue
			}
			require.Equal(t, solver.Optimal, got.Status, "trial %d: %+v", k, m)
			require.InDelta(t, best, got.Objective, 1e-6, "trial %d: %+v", k, m)
			require.InDelta(t, best, got.Bound, 1e-5, "trial %d: %+v", k, m)
			require.NoError(t, m.CheckPoint(got.Values, 1e-6, 0), "trial %d: %+v", k, m)
		}
		t.Logf("%d trials: %v", trials, seen)
		assert.Greater(t, seen[solver.Optimal], trials/4)
		assert.Greater(t, seen[solver.Infeasible], trials/20)
	})
}

// randomLinear mixes what randomInteger has with free columns and columns and
// rows without one of their bounds.
func randomLinear(r *rand.Rand) *solver.Model {
	m := randomInteger(r)
	for range 3 {
		more := randomInteger(r)
		for _, c := range more.Columns {
			m.Columns = append(m.Columns, c)
			for i := range m.Rows {
				if v := r.NormFloat64(); r.Intn(3) == 0 {
					m.Rows[i].Entries = append(m.Rows[i].Entries, solver.Entry{Column: len(m.Columns) - 1, Value: v})
				}
			}
		}
	}
	for j := range m.Columns {
		c := &m.Columns[j]
		c.Integer = false
		switch r.Intn(24) {
		case 0:
			c.Lower = -inf
		case 1:
			c.Upper = inf
		case 2:
			c.Lower, c.Upper = -inf, inf
		}
	}
	return m
}

// A linear programme's result proves itself: an optimum by its duals, an
// infeasible or unbounded one by what becomes of it when it is bounded or
// relaxed.
func TestLinearProgrammesProveThemselves(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		trials := 300
		if e != embeddedEngine(t) {
			trials = 15
		}
		r := rand.New(rand.NewSource(21))
		seen := map[solver.Status]int{}
		for k := range trials {
			m := randomLinear(r)
			got, err := e.Solve(context.Background(), m, solver.Options{})
			require.NoError(t, err, "trial %d", k)
			seen[got.Status]++
			switch got.Status {
			case solver.Optimal:
				require.NoError(t, m.CheckPoint(got.Values, 1e-6, 1e-9), "trial %d", k)
				checkDuals(t, m, got)
			case solver.Unbounded:
				boxed := boxedTo(m, 1e4)
				more := boxedTo(m, 2e4)
				a := solve(t, e, boxed, solver.Options{})
				b := solve(t, e, more, solver.Options{})
				require.Equal(t, []solver.Status{solver.Optimal, solver.Optimal}, []solver.Status{a.Status, b.Status}, "trial %d", k)
				require.Less(t, sense(m)*b.Objective, sense(m)*a.Objective-1, "trial %d", k)
			case solver.Infeasible:
				require.Greater(t, leastViolation(t, e, m), 1e-7, "trial %d", k)
			default:
				require.Fail(t, fmt.Sprint("status ", got.Status))
			}
			require.False(t, t.Failed(), "trial %d: %+v", k, m)
		}
		t.Logf("%d trials: %v", trials, seen)
		for _, s := range []solver.Status{solver.Optimal, solver.Infeasible, solver.Unbounded} {
			assert.NotZero(t, seen[s], "%v", s)
		}
	})
}

func boxedTo(m *solver.Model, most float64) *solver.Model {
	b := relaxed(m)
	for j := range b.Columns {
		b.Columns[j].Lower = math.Max(b.Columns[j].Lower, -most)
		b.Columns[j].Upper = math.Min(b.Columns[j].Upper, most)
	}
	return b
}

// leastViolation of all rows in sum: a programme that is always feasible.
func leastViolation(t testing.TB, e *Engine, m *solver.Model) float64 {
	v := relaxed(m)
	v.Maximize, v.Offset = false, 0
	for j := range v.Columns {
		v.Columns[j].Cost = 0
	}
	v.Rows = append([]solver.Row(nil), m.Rows...)
	for i := range v.Rows {
		n := len(v.Columns)
		v.Columns = append(v.Columns, solver.Column{Cost: 1, Upper: inf}, solver.Column{Cost: 1, Upper: inf})
		v.Rows[i].Entries = append(append([]solver.Entry(nil), v.Rows[i].Entries...),
			solver.Entry{Column: n, Value: 1}, solver.Entry{Column: n + 1, Value: -1})
	}
	r := solve(t, e, v, solver.Options{})
	require.Equal(t, solver.Optimal, r.Status)
	checkDuals(t, v, r)
	return r.Objective
}
