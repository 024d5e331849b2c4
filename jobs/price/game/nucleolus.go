package game

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"laneplan/solver"
)

// MostNucleolus is the largest number of players whose nucleolus is computed:
// every coalition is looked at in every round.
const MostNucleolus = 16

// The nucleolus of a cost game (D. Schmeidler, 'The nucleolus of a
// characteristic function game', 1969) by a sequence of linear programmes.
//
// The complaint of coalition S about shares x is x(S) − c(S). Round k:
//
//	minimise t
//	x(S) = value     for every fixed S, among them everyone at c(N)
//	x(S) − t ≤ c(S)  for every S that the fixed ones do not determine
//	least ≤ x ≤ most a player
//
// A row with a non-zero dual price is tight in every optimal solution, so its
// S is fixed at c(S)+t; the dual prices of the free rows add up to one, so
// there always is such a row, and it is independent of the fixed ones by
// construction. Each round adds at least one independent equation, and when
// there are as many as players they hold the only solution. A degenerate
// round merely fixes fewer coalitions. Rows are generated: each linear
// programme starts small and takes in the coalitions that its solution
// violates, until none is.
type nucleolus struct {
	engine  solver.Solver
	players int
	costs   []float64 // scaled
	scale   float64   // what costs were multiplied by
	least   []float64 // scaled; nil is no bound
	most    []float64
	fixed   equations
}

// Tolerances in scaled money, where the largest cost is scaledSize: HiGHS
// keeps rows within 1e-7.
const (
	scaledSize     = 1000
	violated       = 1e-6
	leastDual      = 1e-6
	rowsAtOnce     = 32
	mostRounds     = 10000 // of row generation: a guard, never met
	fixedTolerance = 1e-9
)

var errNoEngine = errors.New("game: this rule needs an engine for linear programmes")

// newNucleolus scales the costs; bounds may be nil.
func newNucleolus(engine solver.Solver, players int, costs, least, most []float64) (*nucleolus, error) {
	if engine == nil {
		return nil, errNoEngine
	}
	if players > MostNucleolus {
		return nil, fmt.Errorf("game: nucleolus of %d players, at most %d: %w", players, MostNucleolus, ErrTooManyPlayers)
	}
	largest := 0.0
	for _, cost := range costs {
		largest = math.Max(largest, math.Abs(cost))
	}
	n := &nucleolus{engine: engine, players: players, scale: 1}
	if largest > 0 {
		n.scale = scaledSize / largest
	}
	n.costs, n.least, n.most = scaled(costs, n.scale), scaled(least, n.scale), scaled(most, n.scale)
	n.fixed.add(Everyone(players), n.costs[Everyone(players)], players)
	return n, nil
}

func scaled(values []float64, by float64) []float64 {
	if values == nil {
		return nil
	}
	list := make([]float64, len(values))
	for i, value := range values {
		list[i] = value * by
	}
	return list
}

// shares runs the rounds to the end.
func (n *nucleolus) shares(ctx context.Context) ([]float64, error) {
	for n.fixed.rank() < n.players {
		_, tight, err := n.round(ctx)
		if err != nil {
			return nil, err
		}
		rank := n.fixed.rank()
		for _, row := range tight {
			n.fixed.add(row.coalition, row.value, n.players)
		}
		if n.fixed.rank() == rank {
			return nil, fmt.Errorf("game: nucleolus: %s gave no dual prices in round %d", n.engine.Name(), rank)
		}
	}
	return scaled(n.fixed.solve(n.players), 1/n.scale), nil
}

// tightRow is a coalition whose complaint cannot be made smaller.
type tightRow struct {
	coalition Coalition
	value     float64 // of x(S), scaled
	dual      float64
}

// roundResult is the optimum of one round, scaled.
type roundResult struct {
	complaint float64
	shares    []float64
}

// round solves one linear programme of the sequence.
func (n *nucleolus) round(ctx context.Context) (roundResult, []tightRow, error) {
	open := n.undetermined()
	var rows []Coalition
	inModel := map[Coalition]bool{}
	take := func(c Coalition) {
		if open[c] && !inModel[c] {
			inModel[c] = true
			rows = append(rows, c)
		}
	}
	for i := range n.players {
		take(Coalition(0).With(i))
		take(Everyone(n.players).Without(i))
	}
	for range mostRounds {
		result, err := n.solve(ctx, rows)
		if err != nil {
			return roundResult{}, nil, err
		}
		values, t := result.Values[:n.players], result.Values[n.players]
		worst := n.violations(values, t, open, inModel)
		if len(worst) == 0 {
			return roundResult{t, values}, n.tight(rows, t, result.RowDuals), nil
		}
		for _, c := range worst {
			take(c)
		}
	}
	return roundResult{}, nil, errors.New("game: nucleolus: rows without end")
}

// undetermined marks the coalitions whose share the fixed equations leave
// open.
func (n *nucleolus) undetermined() []bool {
	open := make([]bool, len(n.costs))
	for c := Coalition(1); c < Everyone(n.players); c++ {
		open[c] = n.fixed.independent(c, n.players)
	}
	return open
}

// solve states and solves the linear programme with these free rows. Column
// n.players is t.
func (n *nucleolus) solve(ctx context.Context, rows []Coalition) (solver.Result, error) {
	m := solver.Model{Name: "nucleolus"}
	for i := range n.players {
		column := solver.Column{Name: fmt.Sprintf("x%d", i), Lower: -solver.Inf, Upper: solver.Inf}
		if n.least != nil {
			column.Lower = n.least[i]
		}
		if n.most != nil {
			column.Upper = n.most[i]
		}
		m.Columns = append(m.Columns, column)
	}
	m.Columns = append(m.Columns, solver.Column{Name: "t", Cost: 1, Lower: -solver.Inf, Upper: solver.Inf})
	for _, c := range rows {
		m.Rows = append(m.Rows, solver.Row{Name: fmt.Sprintf("free%d", c), Lower: -solver.Inf, Upper: n.costs[c],
			Entries: append(entries(c), solver.Entry{Column: n.players, Value: -1})})
	}
	for _, e := range n.fixed.list {
		m.Rows = append(m.Rows, solver.Row{Name: fmt.Sprintf("fixed%d", e.coalition), Lower: e.value, Upper: e.value,
			Entries: entries(e.coalition)})
	}
	result, err := n.engine.Solve(ctx, &m, solver.Options{})
	if err != nil {
		return solver.Result{}, fmt.Errorf("game: nucleolus: %w", err)
	}
	if result.Status != solver.Optimal {
		if err := ctx.Err(); err != nil {
			return solver.Result{}, fmt.Errorf("game: nucleolus: %w", err)
		}
		return solver.Result{}, fmt.Errorf("game: nucleolus: the linear programme ended as %s", result.Status)
	}
	return result, nil
}

func entries(c Coalition) []solver.Entry {
	var list []solver.Entry
	for _, i := range c.Players() {
		list = append(list, solver.Entry{Column: i, Value: 1})
	}
	return list
}

// violations lists the open coalitions outside the model that complain most
// beyond t, the worst first.
func (n *nucleolus) violations(shares []float64, t float64, open []bool, inModel map[Coalition]bool) []Coalition {
	type bad struct {
		c  Coalition
		by float64
	}
	var list []bad
	sums := subsetSums(shares)
	for c := Coalition(1); c < Everyone(n.players); c++ {
		if by := sums[c] - n.costs[c] - t; by > violated && open[c] && !inModel[c] {
			list = append(list, bad{c, by})
		}
	}
	slices.SortFunc(list, func(a, b bad) int {
		if a.by != b.by {
			if a.by > b.by {
				return -1
			}
			return 1
		}
		return int(a.c) - int(b.c)
	})
	worst := make([]Coalition, 0, rowsAtOnce)
	for _, b := range list[:min(rowsAtOnce, len(list))] {
		worst = append(worst, b.c)
	}
	return worst
}

// subsetSums is x(S) for every coalition S.
func subsetSums(shares []float64) []float64 {
	sums := make([]float64, 1<<uint(len(shares)))
	for i, share := range shares {
		for c := range 1 << uint(i) {
			sums[1<<uint(i)|c] = sums[c] + share
		}
	}
	return sums
}

// tight lists the rows with a non-zero dual price, the largest first.
func (n *nucleolus) tight(rows []Coalition, t float64, duals []float64) []tightRow {
	var list []tightRow
	for i, c := range rows {
		if i < len(duals) && math.Abs(duals[i]) > leastDual {
			list = append(list, tightRow{c, n.costs[c] + t, math.Abs(duals[i])})
		}
	}
	slices.SortStableFunc(list, func(a, b tightRow) int {
		if a.dual != b.dual {
			if a.dual > b.dual {
				return -1
			}
			return 1
		}
		return int(a.coalition) - int(b.coalition)
	})
	return list
}
