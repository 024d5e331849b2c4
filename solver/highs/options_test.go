package highs

import (
	"context"
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/solver"
)

// covering is an integer programme of the hard kind: rows to cover by columns
// of unlike costs, with no structure for presolve to see.
func covering(rows, columns int, seed int64) *solver.Model {
	r := rand.New(rand.NewSource(seed))
	m := &solver.Model{}
	for range columns {
		m.Columns = append(m.Columns, solver.Column{Cost: float64(50 + r.Intn(100)), Upper: solver.Inf, Integer: true})
	}
	for range rows {
		row := solver.Row{Lower: float64(500 + r.Intn(1000)), Upper: solver.Inf}
		for j := range columns {
			if r.Float64() < 0.2 {
				row.Entries = append(row.Entries, solver.Entry{Column: j, Value: float64(1 + r.Intn(30))})
			}
		}
		m.Rows = append(m.Rows, row)
	}
	return m
}

// relaxed is a model without its integrality.
func relaxed(m *solver.Model) *solver.Model {
	c := *m
	c.Columns = append([]solver.Column(nil), m.Columns...)
	for j := range c.Columns {
		c.Columns[j].Integer = false
	}
	return &c
}

func solve(t testing.TB, e *Engine, m *solver.Model, o solver.Options) solver.Result {
	t.Helper()
	r, err := e.Solve(context.Background(), m, o)
	require.NoError(t, err)
	return r
}

func TestTheTimeLimitEndsASolve(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		m := covering(30, 90, 1)
		r := solve(t, e, m, solver.Options{TimeLimit: 1e-9})
		assert.Equal(t, solver.TimeLimit, r.Status)
	})
}

func TestTheNodeLimitEndsASolve(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		m := covering(12, 40, 1)
		r := solve(t, e, m, solver.Options{NodeLimit: 5})
		assert.Equal(t, solver.WorkLimit, r.Status)
		assert.LessOrEqual(t, r.Nodes, 10)
		require.NotNil(t, r.Values)
		assert.NoError(t, m.CheckPoint(r.Values, 1e-6, 0))
		assert.Less(t, r.Bound, r.Objective)
		assert.InDelta(t, (r.Objective-r.Bound)/r.Objective, r.Gap, 1e-12)
		more := solve(t, e, m, solver.Options{NodeLimit: 100})
		assert.Greater(t, more.Nodes, r.Nodes)
		assert.GreaterOrEqual(t, more.Bound, r.Bound-1e-6)
		assert.LessOrEqual(t, more.Objective, r.Objective)
	})
}

func TestTheIterationLimitEndsALinearSolve(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		m := relaxed(covering(30, 90, 1))
		free := solve(t, e, m, solver.Options{})
		require.Equal(t, solver.Optimal, free.Status)
		r := solve(t, e, m, solver.Options{IterationLimit: 3})
		assert.Equal(t, solver.WorkLimit, r.Status)
		assert.LessOrEqual(t, r.Iterations, 3)
		assert.Greater(t, free.Iterations, 3)
		assert.Nil(t, r.RowDuals)
		assert.Equal(t, math.Inf(-1), r.Bound)
	})
}

func TestTheWorkLimitEndsASolveAtTheSamePlace(t *testing.T) {
	e := embeddedEngine(t)
	m := covering(12, 40, 1)
	little := solve(t, e, m, solver.Options{WorkLimit: 0.05})
	assert.Equal(t, solver.WorkLimit, little.Status)
	assert.InDelta(t, 0.05, little.Work, 0.02)
	assert.Equal(t, little, solve(t, e, m, solver.Options{WorkLimit: 0.05}))
	more := solve(t, e, m, solver.Options{WorkLimit: 0.15})
	assert.Greater(t, more.Iterations, little.Iterations)
	assert.LessOrEqual(t, more.Objective, little.Objective)
	assert.GreaterOrEqual(t, more.Bound, little.Bound)
}

func TestAnExecutableTakesTheWorkLimitAsSeconds(t *testing.T) {
	e, err := New(Options{Executable: asHighs(t, "1")})
	require.NoError(t, err)
	r := solve(t, e, covering(12, 40, 1), solver.Options{WorkLimit: 1e-9, TimeLimit: 1})
	assert.Equal(t, solver.WorkLimit, r.Status)
	r = solve(t, e, covering(12, 40, 1), solver.Options{WorkLimit: 1, TimeLimit: 1e-9})
	assert.Equal(t, solver.TimeLimit, r.Status)
}

func TestTheGapEndsASolveEarlier(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		m := covering(8, 25, 3)
		full := solve(t, e, m, solver.Options{Gap: 1e-9})
		require.Equal(t, solver.Optimal, full.Status)
		assert.InDelta(t, full.Objective, full.Bound, 1e-4)
		loose := solve(t, e, m, solver.Options{Gap: 0.2})
		require.Equal(t, solver.Optimal, loose.Status)
		assert.Less(t, loose.Nodes, full.Nodes)
		assert.LessOrEqual(t, loose.Gap, 0.2)
		assert.LessOrEqual(t, loose.Bound, full.Objective+1e-6)
		// The engine's own gap is one in ten thousand.
		own := solve(t, e, m, solver.Options{})
		assert.LessOrEqual(t, own.Gap, 1e-4)
	})
}

func TestTheSeedChangesTheSearchAndNothingElseDoes(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		m := covering(8, 25, 3)
		trace := func(seed int) [2]int {
			r := solve(t, e, m, solver.Options{Seed: seed})
			require.Equal(t, solver.Optimal, r.Status)
			return [2]int{r.Nodes, r.Iterations}
		}
		assert.Equal(t, trace(1), trace(1))
		assert.NotEqual(t, trace(1), trace(2))
		assert.NotEqual(t, trace(-1), trace(1), "a negative seed is a seed like any other")
	})
}

func TestSeedsWithinWhatTheEngineTakesKeepTheirValue(t *testing.T) {
	for _, seed := range []int{0, 1, math.MaxInt32} {
		assert.Equal(t, seed, seedOf(seed))
	}
	for _, seed := range []int{-1, math.MaxInt64, math.MinInt64, 1 << 31} {
		assert.GreaterOrEqual(t, seedOf(seed), 0)
		assert.LessOrEqual(t, seedOf(seed), math.MaxInt32)
	}
}

func TestTheCutoffDiscardsWhatIsNotBetter(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		for _, maximize := range []bool{false, true} {
			m := covering(8, 25, 3)
			m.Offset = 1000
			m.Maximize = maximize
			s := sense(m)
			for j := range m.Columns {
				m.Columns[j].Cost *= s
			}
			for _, whole := range []bool{true, false} {
				if !whole {
					m = relaxed(m)
				}
				full := solve(t, e, m, solver.Options{Gap: 1e-9})
				require.Equal(t, solver.Optimal, full.Status)
				for _, tt := range []struct {
					name   string
					cutoff float64
					want   solver.Status
				}{
					{"far better than possible", full.Objective - s*200, solver.CutoffReached},
					{"as good as possible", full.Objective, solver.CutoffReached},
					{"a little worse than possible", full.Objective + s*1, solver.Optimal},
					{"far worse than possible", full.Objective + s*5000, solver.Optimal},
				} {
					t.Run(tt.name, func(t *testing.T) {
						r := solve(t, e, m, solver.Options{Gap: 1e-9, Cutoff: &tt.cutoff})
						require.Equal(t, tt.want, r.Status)
						if tt.want == solver.Optimal {
							assert.InDelta(t, full.Objective, r.Objective, 1e-6)
							return
						}
						assert.Equal(t, tt.cutoff, r.Bound)
					})
				}
				if whole {
					tight := full.Objective - s*200
					r := solve(t, e, m, solver.Options{Gap: 1e-9, Cutoff: &tight})
					assert.Less(t, r.Nodes, full.Nodes, "a cut-off spares work")
				}
			}
		}
	})
}

func TestACutoffProvesNothingBeyondItself(t *testing.T) {
	e := embeddedEngine(t)
	m := covering(8, 25, 3)
	for _, limit := range []int{1, 3, 10, 30} {
		full := solve(t, e, m, solver.Options{Gap: 1e-9})
		low := full.Objective - 50
		r := solve(t, e, m, solver.Options{Gap: 1e-9, Cutoff: &low, NodeLimit: limit})
		assert.LessOrEqual(t, r.Bound, low)
	}
}

func TestAStartIsUsedAndNeverMadeWorse(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		m := covering(20, 60, 0)
		const atOnce = 1e-9
		without := solve(t, e, m, solver.Options{TimeLimit: atOnce})
		assert.False(t, without.StartUsed)
		require.Nil(t, without.Values)

		start := make([]float64, len(m.Columns))
		for j := range start {
			start[j] = 40
		}
		require.NoError(t, m.CheckPoint(start, 0, 0))
		with := solve(t, e, m, solver.Options{TimeLimit: atOnce, Start: start})
		assert.Equal(t, solver.TimeLimit, with.Status)
		assert.True(t, with.StartUsed)
		assert.LessOrEqual(t, with.Objective, m.Value(start))
		assert.NoError(t, m.CheckPoint(with.Values, 1e-6, 0))

		longer := solve(t, e, m, solver.Options{NodeLimit: 1, Start: start})
		assert.True(t, longer.StartUsed)
		assert.Less(t, longer.Objective, with.Objective)
	})
}

// The engine itself takes the start up, it is not just handed back: with it the
// same node limit leaves another search behind.
func TestAStartReachesTheEngine(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		m := covering(8, 25, 3)
		full := solve(t, e, m, solver.Options{Gap: 1e-9})
		with := solve(t, e, m, solver.Options{Gap: 1e-9, Start: full.Values})
		assert.Equal(t, solver.Optimal, with.Status)
		assert.InDelta(t, full.Objective, with.Objective, 1e-6)
		assert.NotEqual(t, [2]int{full.Nodes, full.Iterations}, [2]int{with.Nodes, with.Iterations})
	})
}

func TestAnInfeasibleStartIsReported(t *testing.T) {
	eachEngine(t, func(t *testing.T, e *Engine) {
		m := covering(8, 25, 3)
		for name, at := range map[string]float64{"a row is broken": 0, "not whole": 100.5, "below a bound": -1} {
			start := make([]float64, len(m.Columns))
			for j := range start {
				start[j] = 100
			}
			for j := range 20 {
				start[j] = at
			}
			r := solve(t, e, m, solver.Options{NodeLimit: 1, Start: start})
			assert.False(t, r.StartUsed, name)
			assert.NotEqual(t, solver.Infeasible, r.Status, name)
		}
	})
}

func TestALinearSolveHasNoUseForAStart(t *testing.T) {
	e := embeddedEngine(t)
	r := solve(t, e, wyndor(), solver.Options{Start: []float64{1, 1}})
	assert.False(t, r.StartUsed)
	assert.InDelta(t, 36, r.Objective, 1e-9)
}

func TestABasisSparesIterations(t *testing.T) {
	e := embeddedEngine(t)
	m := relaxed(covering(30, 90, 1))
	cold := solve(t, e, m, solver.Options{})
	require.NotNil(t, cold.Basis)
	require.Greater(t, cold.Iterations, 10)

	warm := solve(t, e, m, solver.Options{Basis: cold.Basis})
	assert.Zero(t, warm.Iterations)
	assert.InDelta(t, cold.Objective, warm.Objective, 1e-9*cold.Objective)

	// As in column generation: new columns come after the old ones, and the
	// basis of the old ones is used as it is.
	wider := *m
	wider.Columns = append([]solver.Column(nil), m.Columns...)
	wider.Rows = append([]solver.Row(nil), m.Rows...)
	for j := range 3 {
		wider.Columns = append(wider.Columns, solver.Column{Cost: 60, Upper: solver.Inf})
		i := 7 * j
		wider.Rows[i].Entries = append([]solver.Entry(nil), wider.Rows[i].Entries...)
		wider.Rows[i].Entries = append(wider.Rows[i].Entries, solver.Entry{Column: len(wider.Columns) - 1, Value: 40})
	}
	fresh := solve(t, e, &wider, solver.Options{})
	again := solve(t, e, &wider, solver.Options{Basis: cold.Basis})
	assert.Less(t, again.Iterations, fresh.Iterations)
	assert.InDelta(t, fresh.Objective, again.Objective, 1e-9*fresh.Objective)
	checkDuals(t, &wider, again)
}

func TestABasisThatRestsAtNoBoundIsPutRight(t *testing.T) {
	e := embeddedEngine(t)
	// One column without a lower bound, one free, one row with only an upper
	// side: a basis of nothing but AtLower and AtUpper must do for all.
	m := within(model(false, []float64{-1, 0}, atMost(4, 1, 1), atLeast(-3, 0, 1)), -inf, 5, 0)
	m.Columns[1].Lower = -inf
	for _, s := range []solver.BasisStatus{solver.AtLower, solver.AtUpper, solver.AtZero} {
		b := &solver.Basis{Columns: []solver.BasisStatus{s, s}, Rows: []solver.BasisStatus{solver.Basic, solver.Basic}}
		r := solve(t, e, m, solver.Options{Basis: b})
		require.Equal(t, solver.Optimal, r.Status)
		assert.InDelta(t, -5, r.Objective, 1e-9)
		checkDuals(t, m, r)
	}
}

func TestTheSameModelAndOptionsGiveTheSameResult(t *testing.T) {
	models := []*solver.Model{
		covering(8, 25, 3), relaxed(covering(30, 90, 1)), covering(10, 30, 5), cuttingStock(true), cuttingStock(false), canneries(), covering(12, 40, 1),
	}
	o := solver.Options{Seed: 7, NodeLimit: 60}
	var want []solver.Result
	for _, m := range models {
		want = append(want, solve(t, freshEngine(t, Options{}), m, o)) // each in an instance of its own
	}
	used := freshEngine(t, Options{Solves: 1}) // all in one instance
	for range 3 {
		for k := range models {
			k = len(models) - 1 - k
			assert.Equal(t, want[k], solve(t, used, models[k], o), "model %d", k)
		}
	}
}

func TestOptionsThatMeanNothingAreRefused(t *testing.T) {
	m := wyndor()
	nan := math.NaN()
	for name, tt := range map[string]struct {
		options solver.Options
		want    string
	}{
		"time":       {solver.Options{TimeLimit: -1}, "options: time limit -1, want seconds or 0 for none"},
		"time nan":   {solver.Options{TimeLimit: nan}, "options: time limit NaN, want seconds or 0 for none"},
		"work":       {solver.Options{WorkLimit: -1}, "options: work limit -1, want a number from 0"},
		"gap":        {solver.Options{Gap: -0.1}, "options: gap -0.1, want a fraction from 0"},
		"nodes":      {solver.Options{NodeLimit: -3}, "options: node limit -3, want 0 to 2147483647"},
		"iterations": {solver.Options{IterationLimit: 1 << 40}, "options: iteration limit 1099511627776, want 0 to 2147483647"},
		"cutoff":     {solver.Options{Cutoff: &nan}, "options: the cut-off is not a number"},
		"start":      {solver.Options{Start: []float64{1}}, "options: the start has 1 values for 2 columns"},
		"basis": {solver.Options{Basis: &solver.Basis{Columns: []solver.BasisStatus{solver.Basic, 0}}},
			"options: the basis has 4 basic columns and rows, want 3, one a row"},
		"basis too long": {solver.Options{Basis: &solver.Basis{Columns: make([]solver.BasisStatus, 3)}},
			"options: the basis has 3 columns and 0 rows, the model 2 and 3"},
		"basis status": {solver.Options{Basis: &solver.Basis{Columns: []solver.BasisStatus{9}}}, "options: basis status 9 is not one that we know"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := embeddedEngine(t).Solve(context.Background(), m, tt.options)
			assert.EqualError(t, err, "highs: "+tt.want)
		})
	}
}
