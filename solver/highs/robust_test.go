package highs

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/solver"
)

// clockWith is the module's clock with something done at every reading.
func clockWith(do func(in *instance, reading int64) int64) map[string]func(*instance, []uint64) {
	var readings atomic.Int64
	return map[string]func(*instance, []uint64){"_clock_time_get": func(in *instance, stack []uint64) {
		in.memory.WriteUint64Le(uint32(stack[2]), uint64(do(in, readings.Add(1))))
		stack[0] = 0
	}}
}

// endless would take the engine hours.
func endless() *solver.Model { return covering(40, 120, 1) }

func TestACancelledContextEndsASolveWithTheBestPoint(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	e, backend := engineWith(t, Options{}, clockWith(func(in *instance, reading int64) int64 {
		if reading == 30_000 {
			cancel()
		}
		return in.clock.now()
	}))
	m := endless()
	r, err := e.Solve(ctx, m, solver.Options{})
	require.NoError(t, err)
	assert.Equal(t, solver.Interrupted, r.Status)
	require.NotNil(t, r.Values)
	assert.NoError(t, m.CheckPoint(r.Values, 1e-6, 0))
	assert.Greater(t, r.Bound, 0.0)
	assert.Empty(t, backend.idle, "an instance that was stopped is not used again")

	// The engine lives on.
	assert.InDelta(t, 36, solve(t, e, wyndor(), solver.Options{}).Objective, 1e-9)
	assert.Len(t, backend.idle, 1)
}

func TestACancelledContextEndsALinearSolve(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	stuck := false
	e, _ := engineWith(t, Options{}, clockWith(func(in *instance, reading int64) int64 {
		if reading == 50 {
			cancel()
			for in.clock.interruptAt.Load() == 0 { // the solve may not end before it is told to
			}
			stuck = true
		}
		return in.clock.now()
	}))
	r, err := e.Solve(ctx, relaxed(endless()), solver.Options{})
	require.NoError(t, err)
	assert.True(t, stuck)
	assert.Equal(t, solver.Interrupted, r.Status)
	assert.Equal(t, math.Inf(-1), r.Bound)
}

func TestAContextThatEndedBeforeIsNotSolved(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	eachEngine(t, func(t *testing.T, e *Engine) {
		r, err := e.Solve(ctx, endless(), solver.Options{})
		require.NoError(t, err)
		assert.Equal(t, solver.Interrupted, r.Status)
		assert.Nil(t, r.Values)
		assert.Equal(t, math.Inf(-1), r.Bound)
		assert.Equal(t, math.Inf(1), r.Gap)
	})
}

// A solver that reads the clock but does not heed it is ended by force.
func TestASolverThatIgnoresTheClockIsEnded(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	e, backend := engineWith(t, Options{}, clockWith(func(in *instance, reading int64) int64 {
		if reading == 1000 {
			cancel()
		}
		in.clock.now()
		return reading // as if nothing had happened
	}))
	r, err := e.Solve(ctx, endless(), solver.Options{})
	require.NoError(t, err)
	assert.Equal(t, solver.Interrupted, r.Status)
	assert.Empty(t, backend.idle)
	assert.Empty(t, backend.slots)
}

// One that does not even read the clock is left behind, and frees its place
// when it next does.
func TestASolverThatHangsIsLeftBehind(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	release := make(chan struct{})
	var hung atomic.Bool
	e, backend := engineWith(t, Options{Solves: 2}, clockWith(func(in *instance, reading int64) int64 {
		if reading == 1000 {
			cancel()
			hung.Store(true)
			<-release
		}
		return in.clock.now()
	}))
	r, err := e.Solve(ctx, endless(), solver.Options{})
	require.NoError(t, err)
	assert.True(t, hung.Load())
	assert.Equal(t, solver.Interrupted, r.Status)
	assert.Len(t, backend.slots, 1, "it still has its place")
	// Others work meanwhile.
	assert.InDelta(t, 36, solve(t, e, wyndor(), solver.Options{}).Objective, 1e-9)
	close(release)
	require.NoError(t, e.Close()) // waits for it
}

func TestASolveThatWaitsForItsTurnHeedsItsContext(t *testing.T) {
	inside, release := make(chan struct{}), make(chan struct{})
	var once sync.Once
	e, _ := engineWith(t, Options{Solves: 1}, clockWith(func(in *instance, _ int64) int64 {
		if in.highs != 0 {
			once.Do(func() { close(inside); <-release })
		}
		return in.clock.now()
	}))
	first := make(chan error)
	go func() {
		_, err := e.Solve(context.Background(), wyndor(), solver.Options{})
		first <- err
	}()
	<-inside
	ctx, cancel := context.WithCancel(context.Background())
	second := make(chan solver.Result)
	go func() {
		r, _ := e.Solve(ctx, wyndor(), solver.Options{})
		second <- r
	}()
	cancel()
	assert.Equal(t, solver.Interrupted, (<-second).Status)
	close(release)
	require.NoError(t, <-first)
}

func TestATrapIsAnErrorAndTheEngineLivesOn(t *testing.T) {
	for name, tt := range map[string]struct {
		trap func(in *instance)
		want string
	}{
		"what the module imports breaks": {
			func(*instance) { panic(errors.New("the disk is on fire")) },
			"Highs_run: the engine trapped: the disk is on fire"},
		"a bug of ours": {
			func(*instance) { var p *int; *p = 1 },
			"Highs_run: the engine trapped: runtime error: invalid memory address or nil pointer dereference"},
	} {
		t.Run(name, func(t *testing.T) {
			var trap atomic.Bool
			e, backend := engineWith(t, Options{}, clockWith(func(in *instance, _ int64) int64 {
				if trap.Load() {
					tt.trap(in)
				}
				return in.clock.now()
			}))
			solve(t, e, wyndor(), solver.Options{})
			trap.Store(true)
			_, err := e.Solve(context.Background(), wyndor(), solver.Options{})
			assert.EqualError(t, err, "highs: solving the model: "+tt.want)
			assert.Empty(t, backend.idle)
			trap.Store(false)
			assert.InDelta(t, 36, solve(t, e, wyndor(), solver.Options{}).Objective, 1e-9)
		})
	}
}

// A real trap of the module: nothing of ours is in the way when its memory ends.
func TestAModelThatDoesNotFitInMemoryIsAnError(t *testing.T) {
	e := freshEngine(t, Options{MemoryMB: leastMemoryMB})
	big := &solver.Model{Name: "big", Columns: make([]solver.Column, 1200)}
	for j := range big.Columns {
		big.Columns[j].Upper = 1
	}
	for range 120 {
		r := solver.Row{Lower: 1, Upper: inf}
		for j := range big.Columns {
			r.Entries = append(r.Entries, solver.Entry{Column: j, Value: 1})
		}
		big.Rows = append(big.Rows, r)
	}
	// Some sizes are refused before the solver runs, some break it half-way.
	for _, rows := range []int{120, 110, 100, 90, 80} {
		m := *big
		m.Rows = big.Rows[:rows]
		_, err := e.Solve(context.Background(), &m, solver.Options{})
		require.Error(t, err)
		assert.Regexp(t, `^highs: solving big: .*memory`, err.Error())
	}
	assert.InDelta(t, 36, solve(t, e, wyndor(), solver.Options{}).Objective, 1e-9, "the engine lives on")
	assert.Equal(t, solver.Optimal, solve(t, embeddedEngine(t), big, solver.Options{}).Status, "with more memory it is solved")
}

func TestAMalformedModelIsRefused(t *testing.T) {
	nan := math.NaN()
	for _, tt := range []struct {
		want   string
		change func(m *solver.Model)
	}{
		{"column 1 (y): cost NaN, want a number of at most 1e+15", func(m *solver.Model) { m.Columns[1].Cost = nan }},
		{"column 0: cost +Inf, want a number of at most 1e+15", func(m *solver.Model) { m.Columns[0].Cost = inf }},
		{"column 1 (y): lower bound 3 is above upper bound 2", func(m *solver.Model) { m.Columns[1].Lower, m.Columns[1].Upper = 3, 2 }},
		{"column 0: bounds NaN to +Inf, want numbers", func(m *solver.Model) { m.Columns[0].Lower = nan }},
		{"column 0: bounds +Inf to +Inf leave no number", func(m *solver.Model) { m.Columns[0].Lower = inf }},
		{"row 2 (hours): entry for column 2, want one of 0 to 1", func(m *solver.Model) { m.Rows[2].Entries[0].Column = 2 }},
		{"row 2 (hours): entry for column -1, want one of 0 to 1", func(m *solver.Model) { m.Rows[2].Entries[0].Column = -1 }},
		{"row 2 (hours), column 1 (y): value NaN, want a number of at most 1e+15", func(m *solver.Model) { m.Rows[2].Entries[1].Value = nan }},
		{"row 2 (hours): column 0 has two entries, want one", func(m *solver.Model) { m.Rows[2].Entries[1].Column = 0 }},
		{"row 0: lower bound 5 is above upper bound 4", func(m *solver.Model) { m.Rows[0].Lower = 5 }},
		{"row 0: bounds -Inf to NaN, want numbers", func(m *solver.Model) { m.Rows[0].Upper = nan }},
		{"model: offset NaN is not a number that can be summed", func(m *solver.Model) { m.Offset = nan }},
	} {
		t.Run(tt.want, func(t *testing.T) {
			m := wyndor()
			m.Columns[1].Name, m.Rows[2].Name = "y", "hours"
			tt.change(m)
			_, err := embeddedEngine(t).Solve(context.Background(), m, solver.Options{})
			assert.EqualError(t, err, "highs: "+tt.want)
		})
	}
}

func TestMemoryIsFreedBetweenSolves(t *testing.T) {
	e, backend := engineWith(t, Options{}, nil)
	models := []*solver.Model{wyndor(), cuttingStock(true), relaxed(covering(20, 60, 0)), covering(6, 15, 2)}
	round := func() uint32 {
		for _, m := range models {
			solve(t, e, m, solver.Options{})
		}
		require.Len(t, backend.idle, 1)
		return backend.idle[0].memory.Size()
	}
	for range 5 {
		round()
	}
	size := round()
	for range 60 {
		require.Equal(t, size, round())
	}
}

func TestAnInstanceThatGrewLargeIsNotKept(t *testing.T) {
	e, backend := engineWith(t, Options{}, nil)
	big := &solver.Model{Columns: make([]solver.Column, 1000)}
	for j := range big.Columns {
		big.Columns[j] = solver.Column{Cost: 1, Upper: 1}
	}
	for range 700 {
		r := solver.Row{Lower: 1, Upper: inf}
		for j := range big.Columns {
			r.Entries = append(r.Entries, solver.Entry{Column: j, Value: 1})
		}
		big.Rows = append(big.Rows, r)
	}
	assert.InDelta(t, 1, solve(t, e, big, solver.Options{}).Objective, 1e-6)
	assert.Empty(t, backend.idle)
	solve(t, e, wyndor(), solver.Options{})
	assert.Len(t, backend.idle, 1)
}

func TestASolveDoesNotWaitForTheCompilerBeyondItsContext(t *testing.T) {
	backend := newEmbedded(Options{Solves: 1, MemoryMB: defaultMemoryMB}, hostFuncs())
	backend.compileOnce.Do(func() {}) // a compiler that never ends
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	a, err := backend.solve(ctx, wyndor(), &solver.Options{})
	require.NoError(t, err)
	assert.Equal(t, solver.Interrupted, a.status)
}

func TestManyGoroutinesShareAnEngine(t *testing.T) {
	e := freshEngine(t, Options{Solves: 3})
	models := []*solver.Model{wyndor(), canneries(), cuttingStock(true), kleeMinty(6), relaxed(covering(20, 60, 0)), covering(6, 15, 2)}
	var want []solver.Result
	for _, m := range models {
		want = append(want, solve(t, e, m, solver.Options{}))
	}
	var wg sync.WaitGroup
	for g := range 6 {
		wg.Go(func() {
			for k := range 2 * len(models) {
				i := (k + g) % len(models)
				r, err := e.Solve(context.Background(), models[i], solver.Options{})
				assert.NoError(t, err)
				assert.Equal(t, want[i], r)
			}
		})
	}
	wg.Wait()
	backend := e.backend.(*embedded)
	assert.LessOrEqual(t, len(backend.idle), 3)
	assert.Empty(t, backend.slots)
}

func TestAClosedEngineRefuses(t *testing.T) {
	e, err := New(Options{CacheFolder: os.Getenv(cacheVariable)})
	require.NoError(t, err)
	require.NoError(t, e.Close(), "closing before the first solve is no work")
	require.NoError(t, e.Close())
	_, err = e.Solve(context.Background(), wyndor(), solver.Options{})
	assert.EqualError(t, err, "highs: solving the model: the engine is closed")

	used, err := New(Options{CacheFolder: os.Getenv(cacheVariable)})
	require.NoError(t, err)
	solve(t, used, wyndor(), solver.Options{})
	require.NoError(t, used.Close())
	_, err = used.Solve(context.Background(), wyndor(), solver.Options{})
	assert.ErrorIs(t, err, errClosed)
}

func TestOptionsOfAnEngineAreChecked(t *testing.T) {
	_, err := New(Options{Solves: -1})
	assert.EqualError(t, err, "highs: Solves is -1, want 0 or more")
	_, err = New(Options{MemoryMB: 5})
	assert.EqualError(t, err, "highs: MemoryMB is 5, want 32 to 2048")
}

func TestTheCompiledEngineIsKeptInItsFolder(t *testing.T) {
	notUnderRace(t)
	folder := t.TempDir()
	e, err := New(Options{CacheFolder: folder})
	require.NoError(t, err)
	solve(t, e, wyndor(), solver.Options{})
	require.NoError(t, e.Close())
	kept, err := filepath.Glob(filepath.Join(folder, "wazero-*", "*"))
	require.NoError(t, err)
	require.Len(t, kept, 1)

	// Damaged: it is made anew.
	require.NoError(t, os.WriteFile(kept[0], []byte("no machine code"), 0o600))
	e, err = New(Options{CacheFolder: folder})
	require.NoError(t, err)
	assert.InDelta(t, 36, solve(t, e, wyndor(), solver.Options{}).Objective, 1e-9)
	require.NoError(t, e.Close())
}

func TestACacheFolderThatCannotBeUsedIsNoObstacle(t *testing.T) {
	notUnderRace(t)
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	e, err := New(Options{CacheFolder: filepath.Join(file, "below a file")})
	require.NoError(t, err)
	defer e.Close()
	assert.InDelta(t, 36, solve(t, e, wyndor(), solver.Options{}).Objective, 1e-9)
}

func TestNamesComeFromTheLoader(t *testing.T) {
	loader, err := engineFile("highs.mjs")
	require.NoError(t, err)
	n, err := readNames(loader)
	require.NoError(t, err)
	for _, long := range exportsUsed {
		_, err := n.export(long)
		assert.NoError(t, err)
	}
	for name, tt := range map[string]struct{ cut, want string }{
		"no imports": {"wasmImports={", "highs.mjs: no wasmImports table"},
		"no exports": {"wasmExports[", "highs.mjs: no table of exports"},
		"no memory":  {"wasmMemory=wasmExports[", "highs.mjs: the memory's name is missing"},
		"no start":   {"TTY.init();wasmExports[", "highs.mjs: the start-up call's name is missing"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := readNames([]byte(strings.ReplaceAll(string(loader), tt.cut, "else=")))
			assert.EqualError(t, err, tt.want)
		})
	}
	delete(n.exports, "_Highs_run")
	_, err = n.export("_Highs_run")
	assert.EqualError(t, err, "highs.mjs names no export _Highs_run: this version of the package is not one that we know")
}

func TestEveryModelStatusHasItsMeaning(t *testing.T) {
	for code, want := range map[int]solver.Status{
		modelEmpty: solver.Optimal, modelOptimal: solver.Optimal, modelInfeasible: solver.Infeasible,
		modelUnboundedInfeasible: solver.InfeasibleOrUnb, modelUnbounded: solver.Unbounded,
		modelObjectiveBound: solver.CutoffReached, modelTimeLimit: solver.TimeLimit,
		modelIterationLimit: solver.WorkLimit, modelSolutionLimit: solver.WorkLimit, modelUnknown: solver.Unknown,
	} {
		got, err := statusOf(code)
		require.NoError(t, err)
		assert.Equal(t, want, got, "model status %d", code)
	}
	_, err := statusOf(modelPostsolveError)
	assert.EqualError(t, err, "the engine ended with model status 'Postsolve error'")
	_, err = statusOf(99)
	assert.EqualError(t, err, "the engine ended with model status 99, which we do not know")
}

func TestWhatTheEngineReturnsIsNotBelieved(t *testing.T) {
	m := integers(wyndor(), 0)
	_, err := finish(m, &solver.Options{}, true, answer{status: solver.Optimal, values: []float64{4, 6}, bound: -42})
	assert.EqualError(t, err, "the engine's point is not feasible: row 2 is 24, want -Inf to 18")
	_, err = finish(m, &solver.Options{Start: []float64{2, 6}}, true, answer{status: solver.Infeasible})
	assert.EqualError(t, err, "the engine says that nothing is feasible, but the start is")
}
