package nest

import (
	"context"
	"fmt"
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/solver/highs"
)

// TestLengthTreeAgainstBoxSearch: however often it branches, the tree's bound
// is not above what the box search finds possible, and branching lifts it above
// the programme's own.
func TestLengthTreeAgainstBoxSearch(t *testing.T) {
	engine, err := highs.New(highs.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, engine.Close()) })
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
