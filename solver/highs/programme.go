package highs

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/tetratelabs/wazero/api"

	"laneplan/solver"
)

// layout tells where in the arena each array of the loaded model is.
type layout struct {
	columns, rows, entries int
	integer                bool
	work                   float64 // of one reading of the clock

	cost, lower, upper, rowLower, rowUpper, value, start uint32 // doubles
	values, reducedCosts, rowValues, rowDuals            uint32 // doubles
	rowStart, index, integrality                         uint32 // int32
	columnBasis, rowBasis                                uint32 // int32
	end                                                  uint32
}

// place gives each array of a model its place in the arena and makes room.
func (in *instance) place(m *solver.Model, integer bool) {
	l := layout{columns: len(m.Columns), rows: len(m.Rows), integer: integer}
	for i := range m.Rows {
		l.entries += len(m.Rows[i].Entries)
	}
	l.work = workOfReading(l.columns, l.rows)
	at := uint64(0)
	take := func(size, n int) uint32 { here := uint32(at); at += uint64(size) * uint64(n); return here }
	n, r := l.columns, l.rows
	l.cost, l.lower, l.upper, l.start = take(8, n), take(8, n), take(8, n), take(8, n)
	l.rowLower, l.rowUpper, l.value = take(8, r), take(8, r), take(8, l.entries)
	l.values, l.reducedCosts, l.rowValues, l.rowDuals = take(8, n), take(8, n), take(8, r), take(8, r)
	l.rowStart, l.index, l.integrality = take(4, r+1), take(4, l.entries), take(4, n)
	l.columnBasis, l.rowBasis = take(4, n), take(4, r)
	if at > math.MaxInt32 {
		in.err = fmt.Errorf("a model of %d columns, %d rows and %d entries is beyond the embedded engine", n, r, l.entries)
		return
	}
	if in.arenaSize < uint32(at) {
		in.call("_free", uint64(in.arena))
		in.arena, in.arenaSize = 0, 0
		size := uint32(at) + uint32(at)/4
		if in.arena = in.alloc(size); in.err == nil {
			in.arenaSize = size
		}
	}
	l.end = uint32(at)
	in.model = l
}

// load passes a model and options to the solver.
func (in *instance) load(m *solver.Model, o *solver.Options) error {
	in.said = in.said[:0]
	in.place(m, m.HasIntegers())
	if in.err != nil {
		return in.err
	}
	l := &in.model
	block, ok := in.memory.Read(in.arena, l.end)
	if !ok {
		in.spent = true
		return errors.New("the engine gave an address outside its memory")
	}
	double := func(at uint32, k int, v float64) {
		binary.LittleEndian.PutUint64(block[at+8*uint32(k):], math.Float64bits(v))
	}
	word := func(at uint32, k int, v int) { binary.LittleEndian.PutUint32(block[at+4*uint32(k):], uint32(int32(v))) }
	s := sense(m)
	for j := range m.Columns {
		c := &m.Columns[j]
		double(l.cost, j, s*c.Cost)
		double(l.lower, j, c.Lower)
		double(l.upper, j, c.Upper)
		kind := 0
		if c.Integer {
			kind = 1
		}
		word(l.integrality, j, kind)
	}
	k := 0
	for i := range m.Rows {
		r := &m.Rows[i]
		double(l.rowLower, i, r.Lower)
		double(l.rowUpper, i, r.Upper)
		word(l.rowStart, i, k)
		for _, e := range r.Entries {
			word(l.index, k, e.Column)
			double(l.value, k, e.Value)
			k++
		}
	}
	word(l.rowStart, l.rows, k)
	for j, v := range o.Start {
		double(l.start, j, v)
	}
	if o.Basis != nil {
		for j := range l.columns {
			word(l.columnBasis, j, basisCode(o.Basis.Columns, j, solver.AtLower, m.Columns[j].Lower, m.Columns[j].Upper))
		}
		for i := range l.rows {
			word(l.rowBasis, i, basisCode(o.Basis.Rows, i, solver.Basic, m.Rows[i].Lower, m.Rows[i].Upper))
		}
	}

	in.must("_Highs_clear", in.highs)
	in.must("_Highs_zeroAllClocks", in.highs)
	in.setOptions(m, o)
	const rowwise, minimise = 2, 1
	at := func(offset uint32) uint64 { return uint64(in.arena + offset) }
	args := []uint64{in.highs, uint64(l.columns), uint64(l.rows), uint64(l.entries), rowwise, minimise, api.EncodeF64(s * m.Offset),
		at(l.cost), at(l.lower), at(l.upper), at(l.rowLower), at(l.rowUpper), at(l.rowStart), at(l.index), at(l.value)}
	if l.integer {
		in.must("_Highs_passMip", append(args, at(l.integrality))...)
	} else {
		in.must("_Highs_passLp", args...)
	}
	if o.Start != nil {
		in.must("_Highs_setSolution", in.highs, at(l.start), 0, 0, 0)
	}
	if o.Basis != nil {
		in.must("_Highs_setBasis", in.highs, at(l.columnBasis), at(l.rowBasis))
	}
	most := int64(0)
	if o.WorkLimit > 0 && o.WorkLimit/l.work < math.MaxInt64 {
		most = max(1, int64(o.WorkLimit/l.work))
	}
	in.clock.start(most, o.TimeLimit)
	return in.err
}

// presolveEntries is the size from which presolve pays for a linear programme:
// in our trials it cost as much as it saved at 1000 to 8000 entries.
const presolveEntries = 10_000

// primalSimplex goes on from a basis that is feasible but no longer the best, as
// after adding columns, with half as many iterations as the dual (measured on
// column generation).
const primalSimplex = 4

// setOptions sets every option that we use, on an object whose options are all
// at their defaults.
func (in *instance) setOptions(m *solver.Model, o *solver.Options) {
	in.setBool("output_flag", false)
	in.setInt("threads", 1)
	in.setString("parallel", "off")
	in.setInt("random_seed", seedOf(o.Seed))
	in.setDouble("time_limit", neverReached)
	if !in.model.integer && in.model.entries < presolveEntries {
		in.setString("presolve", "off")
	}
	if o.Basis != nil && len(o.Basis.Rows) == len(m.Rows) {
		in.setInt("simplex_strategy", primalSimplex)
	}
	if o.Gap > 0 {
		in.setDouble("mip_rel_gap", o.Gap)
	}
	if o.NodeLimit > 0 {
		in.setInt("mip_max_nodes", o.NodeLimit)
	}
	if o.IterationLimit > 0 {
		in.setInt("simplex_iteration_limit", o.IterationLimit)
	}
	if o.Cutoff != nil {
		in.setDouble("objective_bound", sense(m)**o.Cutoff)
	}
}

// seedOf folds any number into the 31 bits that HiGHS takes; those within keep
// their value.
func seedOf(seed int) int {
	s := uint64(seed)
	return int((s ^ s>>31 ^ s>>62) & math.MaxInt32)
}

// workOfReading makes the clock's readings comparable between models: what
// HiGHS does between two of them grows with rows and columns. The figures are
// seconds on the machine where they were measured (see the benchmarks), right
// within a factor of two from 20 rows to 1000.
func workOfReading(columns, rows int) float64 { return 8e-6 + 1e-7*float64(columns+rows) }

// run solves the loaded model. It is all that takes long.
func (in *instance) run() error {
	// HiGHS returns a warning at a limit and an error where presolve finds
	// the model infeasible in some ways: the model status tells which.
	in.call("_Highs_run", in.highs)
	return in.err
}

// read takes the results out.
func (in *instance) read() (answer, error) {
	if in.clock.stopped != running {
		in.spent = true
	}
	status, err := statusOf(int(int32(in.call("_Highs_getModelStatus", in.highs))))
	if in.err != nil {
		return answer{}, in.err
	}
	if err != nil {
		in.spent = true
		return answer{}, fmt.Errorf("%w%s", err, in.lastWords())
	}
	if status == solver.TimeLimit {
		switch in.clock.stopped {
		case stoppedByContext:
			status = solver.Interrupted
		case stoppedByWork:
			status = solver.WorkLimit
		}
	}
	l := &in.model
	a := answer{status: status, bound: noBound, iterations: in.intInfo("simplex_iteration_count"),
		work: float64(in.clock.readings) * l.work}
	if l.integer {
		a.bound = in.doubleInfo("mip_dual_bound")
		a.nodes = max(0, in.int64Info("mip_node_count"))
	}
	const feasiblePoint = 2
	primal := in.intInfo("primal_solution_status")
	if primal == feasiblePoint {
		at := func(offset uint32) uint64 { return uint64(in.arena + offset) }
		in.must("_Highs_getSolution", in.highs, at(l.values), at(l.reducedCosts), at(l.rowValues), at(l.rowDuals))
		basis := status == solver.Optimal && !l.integer
		if basis {
			in.must("_Highs_getBasis", in.highs, at(l.columnBasis), at(l.rowBasis))
		}
		block, _ := in.memory.Read(in.arena, l.end)
		a.values = doubles(block[l.values:], l.columns)
		if !l.integer {
			a.reducedCosts = doubles(block[l.reducedCosts:], l.columns)
			a.rowDuals = doubles(block[l.rowDuals:], l.rows)
		}
		if basis {
			a.basis = &solver.Basis{Columns: basisOf(block[l.columnBasis:], l.columns), Rows: basisOf(block[l.rowBasis:], l.rows)}
		}
	}
	return a, in.err
}

func doubles(block []byte, n int) []float64 {
	v := make([]float64, n)
	for k := range v {
		v[k] = math.Float64frombits(binary.LittleEndian.Uint64(block[8*k:]))
	}
	return v
}

// HiGHS's own numbers of the basis statuses (HighsBasisStatus).
const (
	highsLower, highsBasic, highsUpper, highsZero, highsNonbasic = 0, 1, 2, 3, 4
)

// basisCode gives the number of the k-th status, or of missing beyond the end.
// One that rests at a bound that does not exist is moved to one that does.
func basisCode(s []solver.BasisStatus, k int, missing solver.BasisStatus, lower, upper float64) int {
	v := missing
	if k < len(s) {
		v = s[k]
	}
	noLower, noUpper := math.IsInf(lower, -1), math.IsInf(upper, 1)
	switch {
	case v == solver.Basic:
		return highsBasic
	case noLower && noUpper:
		return highsZero
	case noLower || v == solver.AtUpper && !noUpper:
		return highsUpper
	default:
		return highsLower
	}
}

func basisOf(block []byte, n int) []solver.BasisStatus {
	s := make([]solver.BasisStatus, n)
	for k := range s {
		switch binary.LittleEndian.Uint32(block[4*k:]) {
		case highsBasic:
			s[k] = solver.Basic
		case highsUpper:
			s[k] = solver.AtUpper
		case highsZero:
			s[k] = solver.AtZero
		default:
			s[k] = solver.AtLower
		}
	}
	return s
}
