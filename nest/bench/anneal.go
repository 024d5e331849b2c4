package bench

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"laneplan/nest"
	"laneplan/solver"
)

// AnnealOptions steer AnnealLP. The zero value takes the defaults stated at
// each field.
type AnnealOptions struct {
	Moves        int // per number of sections; 0 is 2000
	MostSections int // that are tried; 0 is the number of versions
	Programmes   int // linear programmes in all; 0 is no limit
	// Again starts anew from other random lanes, for as long as the context
	// and Programmes allow; one of the two must end it.
	Again bool
	Seed  uint64
}

const defaultMoves = 2000

// The cooling: a move that is worse by the mean change of the first moves is
// taken with probability 1/2 at the start and hardly ever at the end.
const (
	startAcceptance = 0.5
	endAcceptance   = 1e-4
	warmUpMoves     = 20
)

// AnnealLP plans by simulated annealing with a linear programme inside, our
// reading of the idea of J. Teghem, M. Pirlot and C. Antoniadis, Embedding of
// linear programming in a simulated annealing algorithm for solving a mixed
// integer production planning problem, Journal of Computational and Applied
// Mathematics 64 (1995) 91-102 (title from memory; the paper's details were
// not readable, so moves and cooling are ours): the annealing chooses what
// each lane of each section holds, a linear programme the lengths.
//
//	for K = ⌈versions/lanes⌉, K+1, … until two K in a row bring nothing:
//	  start with every version in at least one lane, the rest at random
//	  a move puts another version in one lane (none may vanish)
//	  lengths: minimise Σ x_k, Σ_k lanes_kv·x_k ≥ q_v, x ≥ 0, rounded up
//	  a section of length 0 is dropped from the plan, not from the state
//
// When ctx or its programmes end the best plan so far is returned.
func AnnealLP(ctx context.Context, p nest.Problem, engine solver.Solver, o AnnealOptions) (nest.Plan, error) {
	const method = "annealing with a linear programme"
	s, err := newShop(p, method)
	if err != nil {
		return nest.Plan{}, err
	}
	if o.Moves == 0 {
		o.Moves = defaultMoves
	}
	a := annealer{shop: s, engine: engine, moves: o.Moves, most: o.Programmes, rng: rand.New(rand.NewPCG(o.Seed, 1995)), best: math.Inf(1)}
	first := (len(p.Versions) + len(s.open) - 1) / len(s.open)
	last := len(p.Versions)
	for _, limit := range []int{o.MostSections, p.Limits.MostSections} {
		if limit > 0 {
			last = min(last, limit)
		}
	}
	if exact := p.Limits.Sections; exact > 0 {
		first, last = max(first, exact), exact
	}
	for another := first <= last; another; another = o.Again && !a.ended(ctx) {
		a.reached = math.Inf(1)
		inVain := 0
		for k := first; k <= last && inVain < 2 && !a.ended(ctx); k++ {
			before := a.reached
			if err := a.run(ctx, k); err != nil {
				return nest.Plan{}, fmt.Errorf("%s: %w", method, err)
			}
			if inVain++; a.reached < before {
				inVain = 0
			}
		}
	}
	if a.plan == nil {
		return nest.Plan{}, fmt.Errorf("%s: %w: nothing found in %d to %d sections", method, ErrCannot, first, last)
	}
	return finish(p, method, a.plan)
}

type annealer struct {
	shop
	engine solver.Solver
	moves  int
	rng    *rand.Rand

	basis      *solver.Basis // of the last linear programme; a move changes little
	programmes int           // solved
	most       int           // to be solved; 0 is no limit
	reached    float64       // best cost since the last start
	best       float64       // of all
	plan       []nest.Section
}

// ended tells whether the time or the programmes are used up.
func (a *annealer) ended(ctx context.Context) bool {
	return ctx.Err() != nil || a.most > 0 && a.programmes >= a.most
}

// run anneals with a fixed number of sections.
func (a *annealer) run(ctx context.Context, sections int) error {
	state := a.start(sections)
	a.basis = nil
	cost, err := a.evaluate(ctx, state)
	if err != nil || math.IsInf(cost, 1) {
		return err
	}
	temperature, change := 0.0, 0.0
	cool := math.Pow(math.Log(startAcceptance)/math.Log(endAcceptance), 1/float64(max(a.moves-warmUpMoves, 1)))
	for move := 0; move < a.moves; move++ {
		slot, version := a.rng.IntN(len(state)), a.rng.IntN(len(a.Versions))
		was := state[slot]
		if was == version || !slices.Contains(state[:slot], was) && !slices.Contains(state[slot+1:], was) {
			continue // no move, or the last lane of its version
		}
		state[slot] = version
		next, err := a.evaluate(ctx, state)
		if err != nil || a.ended(ctx) {
			return err
		}
		worse := next - cost
		if move < warmUpMoves {
			change += math.Abs(worse) / warmUpMoves
			temperature = -change / math.Log(startAcceptance)
		} else {
			temperature *= cool
		}
		if worse <= 0 || a.rng.Float64() < math.Exp(-worse/max(temperature, math.SmallestNonzeroFloat64)) {
			cost = next
		} else {
			state[slot] = was
		}
	}
	return nil
}

// start fills the lanes of so many sections, every version at least once.
func (a *annealer) start(sections int) []int {
	state := make([]int, sections*len(a.open))
	for slot := range state {
		if state[slot] = slot; slot >= len(a.Versions) {
			state[slot] = a.rng.IntN(len(a.Versions))
		}
	}
	a.rng.Shuffle(len(state), func(i, j int) { state[i], state[j] = state[j], state[i] })
	return state
}

// evaluate prices the state with lengths from the linear programme, rounded
// up, and keeps the best plan.
func (a *annealer) evaluate(ctx context.Context, state []int) (float64, error) {
	lanes := len(a.open)
	m := &solver.Model{Name: "lengths"}
	rows := make([]solver.Row, len(a.Versions))
	for i, v := range a.Versions {
		rows[i] = solver.Row{Name: fmt.Sprintf("need_%d", i), Lower: float64(v.Quantity), Upper: solver.Inf}
	}
	least := 0.0
	if a.Limits.Sections > 0 {
		least = 1
	}
	for k := range len(state) / lanes {
		m.Columns = append(m.Columns, solver.Column{Name: fmt.Sprintf("rows_%d", k), Cost: 1, Lower: least, Upper: solver.Inf})
		held := map[int]float64{}
		for _, i := range state[k*lanes : (k+1)*lanes] {
			held[i]++
		}
		for i := range a.Versions {
			if held[i] > 0 {
				rows[i].Entries = append(rows[i].Entries, solver.Entry{Column: k, Value: held[i]})
			}
		}
	}
	m.Rows = rows
	a.programmes++
	r, err := a.engine.Solve(ctx, m, solver.Options{Basis: a.basis})
	if err != nil || r.Status == solver.Interrupted {
		return math.Inf(1), err
	}
	if r.Status != solver.Optimal {
		return math.Inf(1), fmt.Errorf("lengths: the engine stopped with status %q", r.Status)
	}
	a.basis = r.Basis
	var plan []nest.Section
	for k, x := range r.Values {
		whole := int(math.Ceil(x - 1e-7)) // a hair above a whole number is the engine's rounding
		if whole <= 0 {
			continue
		}
		s := a.section(whole, nil, nil)
		for l, lane := range a.open {
			s.Lanes[lane] = state[k*lanes+l]
		}
		plan = append(plan, s)
	}
	cost := nest.Recount(a.Problem, nest.Plan{Sections: plan}).Cost.Total
	if cost < a.reached && a.enough(plan) {
		a.reached = cost
		if cost < a.best {
			a.best, a.plan = cost, plan
		}
	}
	return cost, nil
}

// enough counts the labels of a plan: rounding may have cost one.
func (a *annealer) enough(sections []nest.Section) bool {
	for _, v := range nest.Recount(a.Problem, nest.Plan{Sections: sections}).Versions {
		if v.Unders > 0 {
			return false
		}
	}
	return true
}
