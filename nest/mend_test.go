package nest_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
	"laneplan/nest/oracle"
)

// yesterday is a problem with a plan that is no longer quite its own.
func yesterday() (nest.Problem, nest.Plan) {
	p := nest.Problem{
		Lanes: 4, Costs: nest.Costs{Row: 1, Section: 100},
		Versions: []nest.Version{{ID: "A", Quantity: 300}, {ID: "B", Quantity: 300}, {ID: "C", Quantity: 600}, {ID: "D", Quantity: 900}},
	}
	plan := nest.Plan{Sections: []nest.Section{{Rows: 300, Lanes: []int{0, 1, 2, 2}}, {Rows: 225, Lanes: []int{3, 3, 3, 3}}}}
	plan.Cost = nest.Recount(p, plan).Cost
	return p, plan
}

func TestMend(t *testing.T) {
	for _, tt := range []struct {
		name   string
		change func(*nest.Problem, *nest.Plan)
		most   float64 // cost of the mended plan
	}{
		{"a plan that holds stays as it is", func(*nest.Problem, *nest.Plan) {}, 725},
		{"a larger quantity lengthens a section", func(p *nest.Problem, _ *nest.Plan) { p.Versions[3].Quantity = 940 }, 735},
		{"a version more goes into an empty lane", func(p *nest.Problem, plan *nest.Plan) {
			p.Versions = append(p.Versions, nest.Version{ID: "E", Quantity: 250})
			plan.Sections[0].Lanes[1] = nest.Empty
			p.Versions[1].Filler = true
		}, 725},
		{"a version more gets a section", func(p *nest.Problem, _ *nest.Plan) {
			p.Versions = append(p.Versions, nest.Version{ID: "E", Quantity: 400})
		}, 925},
		{"versions that are gone leave their lanes", func(_ *nest.Problem, plan *nest.Plan) {
			plan.Sections = append(plan.Sections, nest.Section{Rows: 50, Lanes: []int{7, 7, -3, 9}})
		}, 725},
		{"a lane out of use", func(p *nest.Problem, _ *nest.Plan) { p.Closed = []int{4} }, 1100},
		{"lanes bound otherwise", func(p *nest.Problem, _ *nest.Plan) { p.Versions[0].OnlyLanes = []int{4} }, 1100},
		{"fewer sections allowed", func(p *nest.Problem, _ *nest.Plan) { p.Limits.MostSections = 1 }, 1000},
		{"another die", func(p *nest.Problem, _ *nest.Plan) { p.Lanes = 5 }, 725},
		{"look-alikes apart", func(p *nest.Problem, _ *nest.Plan) { p.Apart = [][]int{{0, 1}} }, 725},
		{"whole frames", func(p *nest.Problem, _ *nest.Plan) { p.Limits.Frame = 40 }, 760},
		{"an exact number of sections", func(p *nest.Problem, _ *nest.Plan) { p.Limits.Sections = 3 }, 825},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p, plan := yesterday()
			tt.change(&p, &plan)
			mended, ok := nest.Mend(context.Background(), p, plan, 1)
			require.True(t, ok)
			require.NoError(t, nest.Check(p, mended))
			assert.LessOrEqual(t, mended.Cost.Total, tt.most)
			r, err := nest.Solve(context.Background(), p, nest.Options{Start: &mended, Work: 0.01, Seed: 1})
			require.NoError(t, err)
			assert.LessOrEqual(t, r.Plan.Cost.Total, mended.Cost.Total, "the search begins with it")
		})
	}
}

func TestMendGivesUp(t *testing.T) {
	p, plan := yesterday()
	p.Limits.VersionsPerSection, p.Limits.MostSections = 1, 2
	_, ok := nest.Mend(context.Background(), p, plan, 1)
	assert.False(t, ok, "no plan keeps the rules")
	_, ok = nest.Mend(context.Background(), p, nest.Plan{}, 1)
	assert.False(t, ok, "nothing to begin from")
}

// What is mended passes the check, whatever it was.
func TestMendAnything(t *testing.T) {
	mended := 0
	for n := range 60 {
		p := tinyCase(n, oracle.Constrained)
		rng := rand.New(rand.NewPCG(uint64(n), 7))
		var plan nest.Plan
		for range 1 + rng.IntN(3) {
			s := nest.Section{Rows: rng.IntN(30) - 2, Lanes: make([]int, rng.IntN(5))}
			for l := range s.Lanes {
				s.Lanes[l] = rng.IntN(len(p.Versions)+2) - 1
			}
			plan.Sections = append(plan.Sections, s)
		}
		if made, ok := nest.Mend(context.Background(), p, plan, 1); ok {
			mended++
			require.NoError(t, nest.Check(p, made), "case %d", n)
		}
	}
	assert.Greater(t, mended, 20)
}
