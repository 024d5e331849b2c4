package nest_test

import (
	"context"
	"errors"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
	"laneplan/nest/oracle"
)

// crowded draws a constrained problem and tightens it, so that about every
// second one has no plan.
func crowded(rng *rand.Rand) nest.Problem {
	p := oracle.Constrained(rng)
	v := &p.Versions[rng.IntN(len(p.Versions))]
	switch rng.IntN(6) {
	case 0:
		p.Limits.Sections, p.Limits.MostSections = 0, 1
	case 1:
		p.Limits.VersionsPerSection = 1
		p.Limits.Sections, p.Limits.MostSections = 0, 1+rng.IntN(2)
	case 2:
		v.OnlyLanes = []int{1 + rng.IntN(p.Lanes)}
	case 3:
		v.LeastLanes, v.MostLanes = p.Lanes, p.Lanes
	case 4:
		p.Press = nest.Press{SetupMinutes: 5, RowMinutes: 1, ChangeoverMinutes: 2}
		v.Deadline = 5 + float64(rng.IntN(12))
	default:
		v.OnePiece = true
		p.Limits.Sections, p.Limits.MostSections = 1+rng.IntN(3), 0
	}
	return p
}

// What is refused has no plan; what is left of it when one rule of the clash
// goes has one, where that is claimed; and no smaller set clashes, where that
// is claimed. All by trying every plan.
func TestClashesAgainstExhaustiveSearch(t *testing.T) {
	refused, impossible, irreducible, smallest, tried := 0, 0, 0, 0, 0
	for n := range 250 {
		p := tinyCase(n, crowded)
		if nest.Validate(p) != nil {
			continue
		}
		want, err := oracle.Best(p)
		if err != nil {
			continue
		}
		_, err = nest.Solve(context.Background(), p, nest.Options{Work: tinyWork, Seed: 1, Workers: 1})
		var e *nest.Infeasible
		if !want.Feasible {
			impossible++
		}
		if !errors.As(err, &e) {
			continue
		}
		require.False(t, want.Feasible, "case %d: %v\n%+v", n, err, p)
		refused++
		require.NotEmpty(t, e.Terms, "case %d", n)
		// has says whether rules have a plan; where trying every plan would be
		// too much, it says what is hoped.
		has := func(kept []nest.Term, hoped bool) bool {
			a, err := oracle.Best(nest.Only(p, kept))
			if err != nil {
				return hoped
			}
			tried++
			return a.Feasible
		}
		assert.False(t, has(e.Terms, false), "case %d: the rules of the clash have a plan: %v\n%+v", n, e.Reasons, p)
		if e.Irreducible {
			irreducible++
			for i := range e.Terms {
				assert.True(t, has(slices.Concat(e.Terms[:i], e.Terms[i+1:]), true), "case %d: %v is not needed\n%+v", n, e.Terms[i], p)
			}
		}
		if e.Smallest {
			smallest++
		}
	}
	t.Logf("%d without a plan, %d refused: %d irreducible, %d smallest; %d sets of rules tried", impossible, refused, irreducible, smallest, tried)
	assert.Greater(t, tried, 2*refused)
	assert.Greater(t, impossible, 60)
	assert.Greater(t, float64(refused), 0.85*float64(impossible))
	assert.Greater(t, float64(irreducible), 0.95*float64(refused))
	assert.Greater(t, float64(smallest), 0.8*float64(refused))
}
