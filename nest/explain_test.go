package nest_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
	"laneplan/nest/oracle"
)

func TestSetters(t *testing.T) {
	p := nest.Problem{
		Lanes: 3, Costs: nest.Costs{Row: 3},
		Limits: nest.Limits{Frame: 10, LeastRows: 20, WholeRolls: true},
		Versions: []nest.Version{
			{ID: "A", Quantity: 100},
			{ID: "B", Quantity: 120, Fewest: 80, ShortCost: 1},
			{ID: "C", Quantity: 200, LabelsPerRoll: 50},
			{ID: "D", Quantity: 20},
		},
	}
	plan := nest.Plan{Sections: []nest.Section{
		{Rows: 100, Lanes: []int{0, 1, 2}},
		{Rows: 150, Lanes: []int{2, 2, nest.Empty}},
		{Rows: 20, Lanes: []int{3, nest.Empty, nest.Empty}},
		{Rows: 40, Lanes: []int{0, 0, 0}},
	}}
	plan.Cost = nest.Recount(p, plan).Cost
	require.NoError(t, nest.Check(p, plan))
	assert.Equal(t, []nest.Setter{
		// A has 220 labels, so that it sets nothing; B would have 90 of 120.
		{Unbilled: []int{1}, Rolls: true},
		{Rolls: true},                     // C has 400 labels, twice what is ordered
		{Versions: []int{3}, Least: true}, // D has 20
		{},                                // nothing: it is not needed at all
	}, nest.Setters(p, plan))
}

func TestOverCosts(t *testing.T) {
	// A row costs 6 and has 3 lanes in use: 2 a label.
	p := nest.Problem{
		Lanes: 4, Closed: []int{4}, Costs: nest.Costs{Row: 6, Section: 100},
		Versions: []nest.Version{
			{ID: "A", Quantity: 90, LabelCost: 0.5},
			{ID: "B", Quantity: 80, Most: 90, OverPrice: 0.25},
			{ID: "C", Quantity: 120, Fewest: 100, ShortCost: 3},
		},
	}
	plan := nest.Plan{Sections: []nest.Section{
		{Rows: 100, Lanes: []int{0, 1, 2, nest.Empty}},
		{Rows: 5, Lanes: []int{nest.Empty, 2, nest.Empty, nest.Empty}},
	}}
	plan.Cost = nest.Recount(p, plan).Cost
	require.NoError(t, nest.Check(p, plan))
	versions, empty := nest.OverCosts(p, plan)
	assert.Equal(t, []nest.OverCost{
		{Web: 20, Labels: 5, Total: 25},      // 10 overs
		{Web: 40, Billed: -2.5, Total: 37.5}, // 10 overs, billed, and 10 of scrap
		{Short: 45, Total: 45},               // 15 short
	}, versions)
	assert.InDelta(t, 20, empty, 1e-12, "10 labels of empty lanes")
	// What remains of the cost of rows is the web of what was ordered.
	ordered := 90.0 + 80 + 105
	assert.InDelta(t, plan.Cost.Rows, 2*ordered+20+40+empty, 1e-9)
}

// What is said of a change holds for the cheapest plans, found by trying every
// plan: for each version left out, a lane closed, and other tolerances.
func TestAskAgainstExhaustiveSearch(t *testing.T) {
	compared, exact, relaxed := 0, 0, 0
	for n := range 120 {
		draw := oracle.Plain
		if n%2 == 1 {
			draw = oracle.Constrained
		}
		p := tinyCase(n, draw)
		was, err := oracle.Best(p)
		if err != nil || !was.Feasible {
			continue
		}
		o := nest.Options{Work: tinyWork, Seed: 1, Workers: 1}
		base, err := nest.Solve(context.Background(), p, o)
		if err != nil {
			continue
		}
		questions := differences(p, base.Plan)
		changes, err := nest.Ask(context.Background(), base, questions, o, nil)
		require.NoError(t, err)
		for i, c := range changes {
			is, err := oracle.Best(questions[i].Problem)
			if err != nil {
				continue
			}
			var infeasible *nest.Infeasible
			if c.None != nil {
				if assert.True(t, c.Asked) && is.Feasible {
					assert.NotErrorAs(t, c.None, &infeasible, "case %d, question %d", n, i)
				}
				continue
			}
			require.True(t, is.Feasible, "case %d, question %d", n, i)
			compared++
			change := is.Plan.Cost.Total - was.Plan.Cost.Total
			slack := 1e-9 * (1 + math.Abs(was.Plan.Cost.Total))
			assert.LessOrEqual(t, c.Least, change+slack, "case %d, question %d: %+v\n%+v", n, i, p, questions[i])
			assert.GreaterOrEqual(t, c.Most, change-slack, "case %d, question %d: %+v\n%+v", n, i, p, questions[i])
			if c.Most-c.Least < 1e-9 {
				exact++
			}
			if questions[i].Relaxes {
				relaxed++
			}
		}
	}
	t.Logf("%d changes compared, %d exact, %d relaxed", compared, exact, relaxed)
	assert.Greater(t, compared, 150)
	assert.Greater(t, exact, compared/4)
	assert.Greater(t, relaxed, 50)
}

// differences asks about a problem what explain asks.
func differences(p nest.Problem, plan nest.Plan) []nest.Question {
	var list []nest.Question
	if open := p.Lanes - len(p.Closed); open > 1 {
		q := p
		for lane := p.Lanes; lane > 0; lane-- {
			if !slices.Contains(p.Closed, lane) {
				q.Closed = append(slices.Clone(p.Closed), lane)
				break
			}
		}
		list = append(list, nest.Question{Problem: q, Start: &plan, Restricts: true})
	}
	tolerant := p
	tolerant.Versions = slices.Clone(p.Versions)
	for i := range tolerant.Versions {
		v := &tolerant.Versions[i]
		v.Fewest = max(1, v.Quantity*9/10)
		v.Most = v.Quantity * 11 / 10
	}
	relaxes, restricts := nest.Tolerates(p, tolerant)
	list = append(list, nest.Question{Problem: tolerant, Start: &plan, Relaxes: relaxes, Restricts: restricts})
	if len(p.Versions) < 2 {
		return list
	}
	for i := range p.Versions {
		q := p
		q.Versions = slices.Delete(slices.Clone(p.Versions), i, i+1)
		q.Together, q.Apart = leftOf(p.Together, i), leftOf(p.Apart, i)
		start := plan.Without(i)
		list = append(list, nest.Question{Problem: q, Start: &start, Relaxes: nest.MayLeaveOut(p, i)})
	}
	return list
}

func leftOf(sets [][]int, version int) (kept [][]int) {
	for _, set := range sets {
		var left []int
		for _, i := range set {
			if i != version {
				left = append(left, i-map[bool]int{true: 1}[i > version])
			}
		}
		if len(left) > 1 {
			kept = append(kept, left)
		}
	}
	return kept
}
