package nest

import (
	"fmt"
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// With one lane for every version the sections are the sorted blocks; with
// fewer there is no plan.
func TestSpareBoundOfOneLaneEach(t *testing.T) {
	p := Problem{Lanes: 2, Costs: Costs{Row: 1, Section: 10}}
	for i, q := range []int{100, 700, 400, 300, 900, 50} {
		p.Versions = append(p.Versions, Version{ID: string(rune('A' + i)), Quantity: q})
	}
	s := newSpareBound(compile(&p).newBox(nil))
	require.NotNil(t, s)
	assert.Equal(t, 900.0+400+100, s.rest(3, math.Inf(1)))
	assert.True(t, math.IsInf(s.rest(2, math.Inf(1)), 1))
}

// One lane to spare: one version may have two lanes, the four others are in
// three sections, so that two of them share one and waste 200 at least.
func TestSpareBoundOfOneLaneToSpare(t *testing.T) {
	p := Problem{Lanes: 2, Costs: Costs{Row: 1}}
	for i, q := range []int{900, 700, 500, 300, 100} {
		p.Versions = append(p.Versions, Version{ID: string(rune('A' + i)), Quantity: q})
	}
	s := newSpareBound(compile(&p).newBox(nil))
	waste := s.waste(3, 1, math.Inf(1))
	assert.GreaterOrEqual(t, waste, 200-1e-3)
	assert.LessOrEqual(t, waste, cheapestWaste(s, 3))
}

// cheapestWaste is what the box search finds possible, in units.
func cheapestWaste(s *spareBound, sections int) float64 {
	for rows := s.box.least(); ; rows++ {
		if q, ok := s.box.ask(sections, rows); ok && q.run(1<<40) == feasible {
			return rows*float64(s.lanes) - float64(s.box.peak)
		}
	}
}

// TestSpareBoundAgainstBoxSearch: on problems of some size, where most versions
// have one lane, no plan of the box search is below the bound, and often the
// bound is where the box search ends.
func TestSpareBoundAgainstBoxSearch(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	met := 0
	for n := 0; n < 400; n++ {
		p := Problem{Lanes: 2 + r.Intn(4), Costs: Costs{Row: 1}}
		sections := 2 + r.Intn(2)
		for v := sections*p.Lanes - r.Intn(4); v > 0; v-- {
			p.Versions = append(p.Versions, Version{ID: fmt.Sprint(v), Quantity: 1 + int(8*math.Exp(r.NormFloat64()*0.8))})
		}
		s := newSpareBound(compile(&p).newBox(nil))
		waste, least := s.waste(sections, sections*p.Lanes-len(p.Versions), math.Inf(1)), cheapestWaste(s, sections)
		require.LessOrEqual(t, waste, least+1e-6, "%+v, %d sections", p, sections)
		if waste > least-float64(p.Lanes) {
			met++
		}
	}
	assert.Greater(t, met, 200, "problems where the bound, in whole rows, is met")
}

// TestBoundBelowNothing: where overs earn more than the web costs a plan costs
// less than nothing, and so does the bound, for numbers of sections that were
// looked at and for those that were not.
func TestBoundBelowNothing(t *testing.T) {
	for _, short := range []float64{0, 4} { // overs that earn more than shorts lose, and less
		p := Problem{Lanes: 2, Costs: Costs{Row: 1, Section: 1}, Versions: []Version{
			{ID: "A", Quantity: 100, Most: 300, ShortCost: short, OverPrice: 3}, {ID: "B", Quantity: 40, Most: 120, ShortCost: short, OverPrice: 3}}}
		require.NoError(t, Validate(p))
		r, err := Solve(t.Context(), p, Options{Work: 0.3, Seed: 1})
		require.NoError(t, err)
		assert.Negative(t, r.Plan.Cost.Total)
		assert.LessOrEqual(t, r.Bound, r.Plan.Cost.Total)
		in := compile(&p)
		s := newSearch(t.Context(), in, Options{})
		for sections := 1; sections < 5; sections++ {
			assert.LessOrEqual(t, s.prover.bound(s.bounds, sections), r.Plan.Cost.Total+p.Costs.Section*float64(max(0, sections-len(r.Plan.Sections)))+1e-6, "%d sections", sections)
		}
	}
}

// TestSpareBoundOfMany: sizes and numbers of sections that no table fits take
// neither memory nor time, and say what is true in any case.
func TestSpareBoundOfMany(t *testing.T) {
	p := Problem{Lanes: 20, Costs: Costs{Row: 1}}
	sum := 0
	for v := range 400 {
		p.Versions = append(p.Versions, Version{ID: fmt.Sprint(v), Quantity: 100 + 7*v})
		sum += 100 + 7*v
	}
	s := newSpareBound(compile(&p).newBox(nil))
	for _, sections := range []int{20, 21, 60, 200, 400, 100_000} {
		rest := s.rest(sections, math.Inf(1))
		assert.GreaterOrEqual(t, rest, float64(sum)/20, sections)
		assert.LessOrEqual(t, rest, 2*float64(sum)/20, sections)
	}
}
