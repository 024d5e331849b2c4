package nest

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

// TestLengthTreeAgainstBoxSearch: however often it branches, the tree's bound
// is not above what the box search finds possible, and branching lifts it above
// the programme's own.
func TestLengthTreeAgainstBoxSearch(t *testing.T) {
	engine := testEngine(t)
	r := rand.New(rand.NewSource(5))
	lifted := 0
	for n := 0; n < 25; n++ {
		p := Problem{Lanes: 3 + r.Intn(2), Costs: Costs{Row: 1}}
		p.Limits.Frame = 1 + r.Intn(2)
		sections := 3 + r.Intn(2)
		for v := sections*p.Lanes - 1 - r.Intn(4); v > 0; v-- {
			p.Versions = append(p.Versions, Version{ID: fmt.Sprint(v), Quantity: 20 + int(80*math.Exp(r.NormFloat64()*0.8))})
		}
		in := compile(&p)
		b := newBounder(in)
		for !b.solved(sections) {
			_, err := b.improve(context.Background(), engine, sections, math.Inf(1), 0.01, false)
			require.NoError(t, err)
		}
		root := b.cost(sections)
		_, err := b.improve(context.Background(), engine, sections, math.Inf(1), 0.5, true)
		require.NoError(t, err)
		box := in.newBox(nil)
		least := box.least()
		for q, ok := box.ask(sections, least); ; q, ok = box.ask(sections, least) {
			require.True(t, ok)
			if q.run(1<<40) == feasible {
				break
			}
			least += float64(in.frame)
		}
		name := fmt.Sprintf("%+v, %d sections", p, sections)
		require.LessOrEqual(t, root, b.cost(sections), name)
		require.LessOrEqual(t, b.cost(sections), least+1e-6, name)
		if b.cost(sections) > root {
			lifted++
		}
	}
	assert.Greater(t, lifted, 5)
}

// baseless is an engine that does not tell its basis.
type baseless struct{ solver.Solver }

func (e baseless) Solve(ctx context.Context, m *solver.Model, o solver.Options) (solver.Result, error) {
	r, err := e.Solver.Solve(ctx, m, o)
	r.Basis = nil
	return r, err
}

// TestTreeOfAnEngineWithoutBasis: an engine that tells no basis gives bounds, too.
func TestTreeOfAnEngineWithoutBasis(t *testing.T) {
	p := Problem{Lanes: 3, Costs: Costs{Row: 1, Section: 50}}
	for v := range 9 {
		p.Versions = append(p.Versions, Version{ID: fmt.Sprint(v), Quantity: 40 + 37*v*v%211})
	}
	b := newBounder(compile(&p))
	_, err := b.improve(context.Background(), baseless{testEngine(t)}, 4, math.Inf(1), 1, true)
	require.NoError(t, err)
	assert.Greater(t, b.cost(4), 200.0)
	assert.True(t, b.solved(4))
}
