package game

import (
	"context"
	"fmt"

	"laneplan/solver"
)

// Core says whether a split exists that no coalition can better on its own,
// x(S) ≤ c(S) for every S.
type Core struct {
	// Exists is true where such a split exists (within a billionth of the
	// total).
	Exists bool
	// Violation is the least that the worst-off coalition has to pay above
	// its own cost, whatever the split; zero or negative where the core
	// exists (D. Schmeidler's least core).
	Violation float64
	// Blocking lists coalitions that together rule out a smaller Violation;
	// set where the core is empty.
	Blocking []Coalition
}

// CoreOf finds the least core by linear programming over every coalition. A
// game of one player has a core.
func CoreOf(ctx context.Context, g Game, engine solver.Solver) (Core, error) {
	costs, err := g.all(ctx, MostNucleolus)
	if err != nil {
		return Core{}, err
	}
	return coreOf(ctx, g.Players, costs, engine)
}

func coreOf(ctx context.Context, players int, costs []float64, engine solver.Solver) (Core, error) {
	if players == 1 {
		return Core{Exists: true}, nil
	}
	n, err := newNucleolus(engine, players, costs, nil, nil)
	if err != nil {
		return Core{}, err
	}
	result, tight, err := n.round(ctx)
	if err != nil {
		return Core{}, err
	}
	core := Core{Violation: result.complaint / n.scale, Exists: result.complaint <= violated}
	if !core.Exists {
		for _, row := range tight {
			core.Blocking = append(core.Blocking, row.coalition)
		}
	}
	return core, nil
}

// nucleolusRule is the nucleolus among the splits in which nobody pays more
// than alone; where there is none, among all splits.
func nucleolusRule(ctx context.Context, g Game, o Options) (Split, error) {
	costs, err := g.all(ctx, min(o.ExactPlayers, MostNucleolus))
	if err != nil {
		return Split{}, err
	}
	split := Split{Rule: Nucleolus}
	alone, sum := make([]float64, g.Players), 0.0
	for i := range alone {
		alone[i] = costs[Coalition(0).With(i)]
		sum += alone[i]
	}
	total := costs[Everyone(g.Players)]
	if total > sum+tolerance(total) {
		alone = nil
		split.Fallback = "together costs more than all alone: no split keeps everybody at or below alone"
	}
	return split.within(ctx, g.Players, costs, nil, alone, o.Engine)
}

// within fills in the nucleolus within bounds, and the core.
func (s Split) within(ctx context.Context, players int, costs, least, most []float64, engine solver.Solver) (Split, error) {
	core, err := coreOf(ctx, players, costs, engine)
	if err != nil {
		return Split{}, err
	}
	s.Core = &core
	n, err := newNucleolus(engine, players, costs, least, most)
	if err != nil {
		return Split{}, err
	}
	s.Shares, err = n.shares(ctx)
	return s, err
}

// fair is the default rule, see Fair.
func fair(ctx context.Context, g Game, o Options) (Split, error) {
	l, err := LimitsOf(ctx, g)
	if err != nil {
		return Split{}, err
	}
	exact := min(o.ExactPlayers, MostNucleolus)
	if g.Players > exact {
		return Split{Rule: Fair, Shares: simple(Separable, l),
			Fallback: fmt.Sprintf("more than %d players: separable cost with remaining benefits, core not tested", exact)}, nil
	}
	if !l.Fit() {
		split, err := nucleolusRule(ctx, g, o)
		split.Rule = Fair
		if split.Fallback == "" {
			split.Fallback = "no split keeps everybody between what they add and alone: the nucleolus, the least complaint"
		}
		return split, err
	}
	costs, err := g.all(ctx, exact)
	if err != nil {
		return Split{}, err
	}
	return Split{Rule: Fair}.within(ctx, g.Players, costs, l.Added, l.Alone, o.Engine)
}
