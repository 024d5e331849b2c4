// Package solver states linear and mixed-integer programmes and the contract
// of whoever solves them. It knows nothing of labels or lanes and solves
// nothing itself: package solver/highs does.
//
//	m := solver.Model{
//		Columns: []solver.Column{{Name: "x", Cost: 1, Upper: solver.Inf, Integer: true}},
//		Rows:    []solver.Row{{Name: "need", Lower: 2.5, Upper: solver.Inf, Entries: []solver.Entry{{Column: 0, Value: 1}}}},
//	}
//	r, err := engine.Solve(ctx, &m, solver.Options{})
//	// r.Status == solver.Optimal, r.Values[0] == 3
package solver

import (
	"context"
	"fmt"
	"math"
)

// Inf is an absent upper bound; -Inf is an absent lower bound.
var Inf = math.Inf(1)

// Model is: minimise (or maximise) Offset + Σ Cost·x over the columns, with
// every row's Σ Value·x within [Lower, Upper] and every column within its own
// bounds. Rows and columns keep their order: it is part of the input, and
// another order may give another solution of equal cost.
type Model struct {
	Name     string
	Maximize bool
	Offset   float64
	Columns  []Column
	Rows     []Row
}

// Column is one variable. The zero bounds fix it at 0, so Upper is nearly
// always set.
type Column struct {
	Name         string
	Cost         float64
	Lower, Upper float64
	Integer      bool
}

// Row is one linear constraint: Lower ≤ Σ Value·x ≤ Upper.
type Row struct {
	Name         string
	Lower, Upper float64
	Entries      []Entry
}

// Entry is one coefficient of a row.
type Entry struct {
	Column int
	Value  float64
}

// Options steer one solve. The zero value means: no limits, the engine's own
// gap tolerance, seed 0, no starting point.
type Options struct {
	// TimeLimit in seconds of wall time; 0 is none. Results that a time limit
	// cut short are not reproducible.
	TimeLimit float64
	// NodeLimit caps branch-and-bound nodes, IterationLimit simplex
	// iterations; 0 is none. Both are reproducible.
	//
	// An integer solve has no count of iterations to cap: IterationLimit is
	// for linear programmes, NodeLimit and WorkLimit are for integer ones.
	NodeLimit, IterationLimit int
	// WorkLimit caps the engine's own measure of work, Result.Work; 0 is
	// none. It is counted, not timed, so the same model and options stop at
	// the same place on a busy machine. A unit is very roughly a second. An
	// engine that cannot count takes it as seconds and says so in its package.
	WorkLimit float64
	// Gap is the relative gap at which an integer solve may stop; 0 leaves
	// the engine's default, which the Result shows as its own Gap.
	Gap float64
	// Seed of the engine's random choices; any number will do.
	Seed int
	// Cutoff, if not nil, lets the engine discard whatever cannot be better
	// (smaller when minimising) than this objective.
	Cutoff *float64
	// Start is a point, one value a column, from which an integer solve may
	// begin; it must be feasible, otherwise Result.StartUsed is false.
	Start []float64
	// Basis, if not nil, is where the simplex method begins on a linear
	// programme: the Result.Basis of a similar model solved before. It may be
	// shorter than the model, as after adding columns: missing columns rest
	// at their lower bound, missing rows are basic. Only speed depends on it,
	// and which of several equal optima is found.
	Basis *Basis
}

// Basis tells for every column and every row whether it is basic (between its
// bounds as far as the simplex method cares) or which bound it rests at.
type Basis struct {
	Columns, Rows []BasisStatus
}

// BasisStatus of one column or row.
type BasisStatus int8

// The basis statuses. A column or row that has only one finite bound rests
// there whether AtLower or AtUpper is said.
const (
	AtLower BasisStatus = iota
	Basic
	AtUpper
	AtZero // free and not basic
)

// Status says what a solve established.
type Status int

// The statuses. A limit is not an error: Values may hold the best point found.
const (
	Unknown         Status = iota
	Optimal                // proven within the gap tolerance
	Infeasible             // no point satisfies the rows
	Unbounded              // the objective has no bound
	InfeasibleOrUnb        // presolve saw one of the two, not which
	TimeLimit              // stopped by TimeLimit
	WorkLimit              // stopped by NodeLimit, IterationLimit or WorkLimit
	Interrupted            // stopped by the context
	CutoffReached          // nothing better than Cutoff exists
)

var statusNames = [...]string{"unknown", "optimal", "infeasible", "unbounded",
	"infeasible or unbounded", "time limit", "work limit", "interrupted", "cut-off reached"}

// String names the status in plain words.
func (s Status) String() string {
	if s < 0 || int(s) >= len(statusNames) {
		return fmt.Sprintf("status %d", int(s))
	}
	return statusNames[s]
}

// Result of one solve. Values is nil where no feasible point is known.
// RowDuals and ReducedCosts are set for a linear programme solved to
// optimality, with the sign of d objective / d right-hand side in the model's
// own sense.
type Result struct {
	Status       Status
	Objective    float64 // of Values
	Bound        float64 // proven: no feasible point is better; an infinity where nothing is proven or nothing is feasible
	Gap          float64 // |Objective - Bound| / |Objective|, +Inf where either is unknown
	Values       []float64
	RowDuals     []float64
	ReducedCosts []float64
	Nodes        int
	Iterations   int
	Work         float64 // in the units of Options.WorkLimit
	StartUsed    bool
	Basis        *Basis // of a linear programme solved to optimality, where the engine tells it
}

// Solver solves one model at a time from any goroutine. An error means that
// something broke (a malformed model, an engine that trapped); infeasible and
// limit are statuses. When ctx ends, Solve returns within a second with
// status Interrupted and no error.
type Solver interface {
	Solve(ctx context.Context, m *Model, o Options) (Result, error)
	// Name says which engine and version this is, for reports.
	Name() string
}
