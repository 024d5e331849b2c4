package highs

import (
	"errors"
	"fmt"
	"math"

	"laneplan/solver"
)

// answer is what a backend found, in terms of minimising.
type answer struct {
	status       solver.Status
	bound        float64   // of an integer programme; -Inf where none is known
	values       []float64 // nil where no feasible point is known
	rowDuals     []float64
	reducedCosts []float64
	basis        *solver.Basis
	nodes        int
	iterations   int
	work         float64
}

// Model statuses as the C API numbers them (HighsModelStatus).
const (
	modelNotSet              = 0
	modelLoadError           = 1
	modelError               = 2
	modelPresolveError       = 3
	modelSolveError          = 4
	modelPostsolveError      = 5
	modelEmpty               = 6
	modelOptimal             = 7
	modelInfeasible          = 8
	modelUnboundedInfeasible = 9
	modelUnbounded           = 10
	modelObjectiveBound      = 11
	modelObjectiveTarget     = 12
	modelTimeLimit           = 13
	modelIterationLimit      = 14
	modelUnknown             = 15
	modelSolutionLimit       = 16
	modelInterrupted         = 17
	modelMemoryLimit         = 18
)

// modelStatuses gives each status the name that HiGHS itself writes, and what
// it means to a caller; meaning is nil where it means that something broke.
// modelSolutionLimit is what HiGHS says at a node limit.
var modelStatuses = map[int]struct {
	name    string
	meaning *solver.Status
}{
	modelNotSet:              {"Not Set", nil},
	modelLoadError:           {"Load error", nil},
	modelError:               {"Model error", nil},
	modelPresolveError:       {"Presolve error", nil},
	modelSolveError:          {"Solve error", nil},
	modelPostsolveError:      {"Postsolve error", nil},
	modelEmpty:               {"Empty", means(solver.Optimal)},
	modelOptimal:             {"Optimal", means(solver.Optimal)},
	modelInfeasible:          {"Infeasible", means(solver.Infeasible)},
	modelUnboundedInfeasible: {"Primal infeasible or unbounded", means(solver.InfeasibleOrUnb)},
	modelUnbounded:           {"Unbounded", means(solver.Unbounded)},
	modelObjectiveBound:      {"Bound on objective reached", means(solver.CutoffReached)},
	modelObjectiveTarget:     {"Target for objective reached", nil}, // we set none
	modelTimeLimit:           {"Time limit reached", means(solver.TimeLimit)},
	modelIterationLimit:      {"Iteration limit reached", means(solver.WorkLimit)},
	modelUnknown:             {"Unknown", means(solver.Unknown)},
	modelSolutionLimit:       {"Solution limit reached", means(solver.WorkLimit)},
	modelInterrupted:         {"Interrupted by user", nil}, // we never ask for it
	modelMemoryLimit:         {"Memory limit reached", nil},
}

func means(s solver.Status) *solver.Status { return &s }

// statusOf turns a model status into a solver.Status. One that means that
// something broke, and one that we do not know, is an error.
func statusOf(model int) (solver.Status, error) {
	s, ok := modelStatuses[model]
	if !ok {
		return 0, fmt.Errorf("the engine ended with model status %d, which we do not know", model)
	}
	if s.meaning == nil {
		return 0, fmt.Errorf("the engine ended with model status '%s'", s.name)
	}
	return *s.meaning, nil
}

// Tolerances for what an engine returns: its own are 1e-6 for integer
// programmes and 1e-7 for linear ones, but before the scaling and the rows
// that it took out are put back.
const (
	pointAbsolute = 1e-5
	pointRelative = 1e-8
)

// finish turns an answer into a result in the model's own sense, and makes
// both engines agree on what a cut-off, a start and a bound mean.
func finish(m *solver.Model, o *solver.Options, integer bool, a answer) (solver.Result, error) {
	s := sense(m)
	if a.status == solver.Unbounded {
		a.values = nil // some feasible point, no better than any other
	}
	if a.values != nil {
		if integer {
			roundIntegers(m, a.values)
		}
		if err := m.CheckPoint(a.values, pointAbsolute, pointRelative); err != nil {
			return solver.Result{}, fmt.Errorf("the engine's point is not feasible: %w", err)
		}
	}
	if o.Start != nil && o.Cutoff == nil && a.status == solver.Infeasible {
		return solver.Result{}, errors.New("the engine says that nothing is feasible, but the start is")
	}
	if o.Start != nil &&
		(a.values == nil || s*m.Value(o.Start) < s*m.Value(a.values)) {
		// The engine had no time to take the start up, or cut it off.
		a.values = append([]float64(nil), o.Start...)
	}
	r := solver.Result{
		Status: a.status, Values: a.values, Nodes: a.nodes, Iterations: a.iterations, Work: a.work,
		StartUsed: o.Start != nil, Basis: a.basis,
	}
	objective := math.Inf(1)
	if r.Values != nil {
		r.Objective = m.Value(r.Values)
		objective = s * r.Objective
	}
	bound := a.bound
	switch {
	case r.Status == solver.Optimal && !integer:
		bound = objective
	case r.Status == solver.Infeasible:
		bound = math.Inf(1)
	case r.Status == solver.Unbounded || r.Status == solver.InfeasibleOrUnb:
		bound = math.Inf(-1)
	}
	if o.Cutoff != nil {
		// A search that discards what is not better than the cut-off proves
		// nothing beyond it.
		cutoff := s * *o.Cutoff
		better := objective < cutoff-1e-9*math.Max(1, math.Abs(cutoff))
		ended := r.Status == solver.Optimal || r.Status == solver.Infeasible || r.Status == solver.CutoffReached
		if ended && !better {
			r.Status, bound = solver.CutoffReached, cutoff
		}
		bound = math.Min(bound, cutoff)
	}
	bound = math.Min(bound, objective)
	r.Bound = s * bound
	r.Gap = gap(objective, bound)
	if r.Status == solver.Optimal && !integer {
		r.RowDuals, r.ReducedCosts = a.rowDuals, a.reducedCosts
		if m.Maximize {
			negate(r.RowDuals)
			negate(r.ReducedCosts)
		}
	}
	return r, nil
}

// roundIntegers puts integer columns that are whole within the engine's
// tolerance at exactly whole numbers.
func roundIntegers(m *solver.Model, x []float64) {
	for j := range m.Columns {
		if whole := math.Round(x[j]); m.Columns[j].Integer && math.Abs(x[j]-whole) <= pointAbsolute {
			x[j] = whole
		}
	}
}

func gap(objective, bound float64) float64 {
	switch {
	case objective == bound:
		return 0
	case math.IsInf(objective, 0) || math.IsInf(bound, 0) || objective == 0:
		return math.Inf(1)
	}
	return math.Abs((objective - bound) / objective)
}

func negate(v []float64) {
	for i := range v {
		v[i] = -v[i]
	}
}
