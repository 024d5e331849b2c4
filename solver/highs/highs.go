// Package highs solves linear and integer programmes with HiGHS. It states
// nothing and knows nothing of labels; package solver has the contract.
//
// There are two engines behind one Engine. The embedded one is the WebAssembly
// build of HiGHS from the npm package highs, run in this process by wazero:
// nothing to install, no C compiler. The other is a highs executable, four to
// five times as fast, spoken to through files.
//
//	engine, err := highs.New(highs.Options{})
//	if err != nil { … }
//	defer engine.Close()
//	r, err := engine.Solve(ctx, &model, solver.Options{TimeLimit: 5})
//
// What the two do not share: the embedded engine counts its work (the same
// model and options give the same result on any machine, busy or not), takes
// and gives a Basis, and stops at a TimeLimit or a cancelled context with the
// best point so far. An executable takes a WorkLimit as seconds, ignores a
// Basis, and is killed when the context ends, which loses its best point.
package highs

import (
	"context"
	"fmt"
	"math"
	"runtime"

	"laneplan/solver"
)

// Options of an engine. The zero value is the embedded engine with a solve a
// core at a time.
type Options struct {
	// Executable is the path of a highs executable, or a name to look up on
	// PATH; empty is the embedded engine.
	Executable string
	// Solves is how many may run at a time, each in memory of its own;
	// further ones wait. 0 is the number of cores.
	Solves int
	// MemoryMB caps the memory of one solve of the embedded engine, in MiB,
	// from 32 to 2048; a solve that needs more fails with an error. 0 is 1024.
	MemoryMB int
	// CacheFolder keeps the compiled engine, which takes seconds to make and
	// a tenth of one to load. Empty is laneplan in the user's cache folder.
	// Where it cannot be used the engine is compiled for this process alone.
	CacheFolder string
}

const (
	leastMemoryMB   = 32
	mostMemoryMB    = 2048
	defaultMemoryMB = 1024
)

// Engine is a solver.Solver. Its methods may be called from any goroutine.
type Engine struct {
	backend backend
	name    string
}

// backend is one of the two engines. It gets a checked model with at least one
// column and answers in terms of minimising: costs, objective, bound and duals
// of a model to maximise are negated.
type backend interface {
	solve(ctx context.Context, m *solver.Model, o *solver.Options) (answer, error)
	close() error
}

const embeddedName = "HiGHS " + embeddedVersion + " (embedded, package " + packageVersion + ")"

// New makes an engine. The embedded one is compiled at the first solve, not
// here; an executable is asked for its version.
func New(o Options) (*Engine, error) {
	if o.Solves < 0 {
		return nil, fmt.Errorf("highs: Solves is %d, want 0 or more", o.Solves)
	}
	if o.Solves == 0 {
		o.Solves = runtime.GOMAXPROCS(0)
	}
	if o.MemoryMB == 0 {
		o.MemoryMB = defaultMemoryMB
	}
	if o.MemoryMB < leastMemoryMB || o.MemoryMB > mostMemoryMB {
		return nil, fmt.Errorf("highs: MemoryMB is %d, want %d to %d", o.MemoryMB, leastMemoryMB, mostMemoryMB)
	}
	if o.Executable != "" {
		e, name, err := newExecutable(o)
		if err != nil {
			return nil, err
		}
		return &Engine{backend: e, name: name}, nil
	}
	return &Engine{backend: newEmbedded(o, hostFuncs()), name: embeddedName}, nil
}

// Name is 'HiGHS 1.15.1 (embedded, package 1.15.3)' or 'HiGHS 1.12.0 (/usr/bin/highs)'.
func (e *Engine) Name() string { return e.name }

// Close waits for the solves that run (end their contexts to hurry them) and
// frees the engine's memory. A solve after it is an error.
func (e *Engine) Close() error { return e.backend.close() }

// Solve implements solver.Solver.
func (e *Engine) Solve(ctx context.Context, m *solver.Model, o solver.Options) (solver.Result, error) {
	if err := m.Check(); err != nil {
		return solver.Result{}, fmt.Errorf("highs: %w", err)
	}
	if err := o.Check(m); err != nil {
		return solver.Result{}, fmt.Errorf("highs: %w", err)
	}
	if len(m.Columns) == 0 {
		return solveEmpty(m), nil
	}
	integer := m.HasIntegers()
	if o.Start != nil && (!integer || m.CheckPoint(o.Start, startTolerance, 0) != nil) {
		o.Start = nil
	}
	if integer {
		o.Basis, o.IterationLimit = nil, 0
	}
	a := answer{status: solver.Interrupted, bound: math.Inf(-1)}
	if ctx.Err() == nil {
		var err error
		if a, err = e.backend.solve(ctx, m, &o); err != nil {
			return solver.Result{}, fmt.Errorf("highs: solving %s: %w", modelName(m), err)
		}
	}
	r, err := finish(m, &o, integer, a)
	if err != nil {
		return solver.Result{}, fmt.Errorf("highs: solving %s: %w", modelName(m), err)
	}
	return r, nil
}

func modelName(m *solver.Model) string {
	if m.Name == "" {
		return "the model"
	}
	return m.Name
}

// startTolerance is HiGHS's own for a point of an integer programme
// (mip_feasibility_tolerance).
const startTolerance = 1e-6

// solveEmpty answers for a model without columns, which engines handle
// differently: its rows are all 0.
func solveEmpty(m *solver.Model) solver.Result {
	for i := range m.Rows {
		if m.Rows[i].Lower > 0 || m.Rows[i].Upper < 0 {
			return solver.Result{Status: solver.Infeasible, Bound: sense(m) * math.Inf(1), Gap: math.Inf(1)}
		}
	}
	return solver.Result{Status: solver.Optimal, Objective: m.Offset, Bound: m.Offset, Values: []float64{},
		RowDuals: make([]float64, len(m.Rows)), ReducedCosts: []float64{}}
}

// sense is 1 for a model to minimise and -1 for one to maximise.
func sense(m *solver.Model) float64 {
	if m.Maximize {
		return -1
	}
	return 1
}
