package nest

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// repeated writes a published template, so many places for each version in
// order, as a section; places left over stay empty.
func repeated(rows, lanes int, places ...int) Section {
	s := Section{Rows: rows}
	for version, n := range places {
		for range n {
			s.Lanes = append(s.Lanes, version)
		}
	}
	for len(s.Lanes) < lanes {
		s.Lanes = append(s.Lanes, Empty)
	}
	return s
}

// TestPublishedPlans recounts plans that others published: the check must
// accept them and find the published figures.
func TestPublishedPlans(t *testing.T) {
	// Template design, CSPLib problem 002; L. Proll and B. Smith, INFORMS
	// Journal on Computing 10(3):265-275, 1998, doi 10.1287/ijoc.10.3.265.
	catFood := func(templates int) Problem {
		return Problem{Lanes: 9, Costs: Costs{Row: 1}, Limits: Limits{Sections: templates},
			Versions: versions(250, 255, 260, 500, 500, 800, 1100)}
	}
	// Cover printing, collection of D. Romero, UNAM, the page's own example;
	// the plan at 136472.00 is ours, found by enumeration.
	covers := Problem{Lanes: 4, Costs: Costs{Row: 13.44, Section: 18676}, Versions: versions(4500, 9000, 16000)}
	tests := []struct {
		name    string
		problem Problem
		plan    Plan
		cost    float64
		rows    int
		overs   int
	}{
		{"cat food, one template", catFood(1), sections(repeated(550, 9, 1, 1, 1, 1, 1, 2, 2)), 550, 550, 9*550 - 3665},
		{"cat food, two templates", catFood(2), sections(repeated(158, 9, 0, 0, 0, 0, 0, 2, 7), repeated(260, 9, 1, 1, 1, 2, 2, 2, 0)), 418, 418, 9*418 - 3665},
		{"cat food, three templates", catFood(3), sections(repeated(51, 9, 0, 5, 3, 0, 0, 1, 0), repeated(107, 9, 0, 0, 1, 0, 0, 7, 1), repeated(250, 9, 1, 0, 0, 2, 2, 0, 4)), 408, 408, 9*408 - 3665},
		{"covers, sample plan of the collection", covers, sections(repeated(5334, 4, 0, 1, 3), repeated(2250, 4, 2, 2, 0)), 139280.96, 7584, 4*7584 - 29500},
		{"covers, optimum", covers, sections(repeated(2875, 4, 0, 0, 4), repeated(4500, 4, 1, 2, 1)), 136472, 7375, 0},
		// CIP4 XJDF specification, ganging example 5.6: the orders include 25
		// of finishing waste each; 8 positions, 2 each, 513 impressions.
		{"CIP4 ganging example", Problem{Lanes: 8, Costs: Costs{Row: 1}, Versions: versions(1025, 975, 925, 875)},
			sections(repeated(513, 8, 2, 2, 2, 2)), 513, 513, 304},
		// A printer's question, Stack Overflow 5609093, 2011: 3 lanes, three
		// sections of 500, 250 and 450 rows; how the answer places the
		// versions is our reading.
		{"a printer's question", Problem{Lanes: 3, Costs: Costs{Row: 1}, Versions: versions(1000, 500, 500, 450, 250)},
			sections(repeated(500, 3, 1, 1, 1), repeated(250, 3, 2, 0, 0, 0, 1), repeated(450, 3, 0, 0, 0, 1)), 1200, 1200, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			require.NoError(t, Check(tt.problem, priced(tt.problem, tt.plan)))
			count := Recount(tt.problem, tt.plan)
			assert.InDelta(t, tt.cost, count.Cost.Total, 1e-6)
			assert.Equal(t, tt.rows, count.Rows)
			overs := 0
			for _, v := range count.Versions {
				overs += v.Overs
				assert.Zero(t, v.Unders)
			}
			assert.Equal(t, tt.overs, overs)
		})
	}
}

// TestPublishedPlansLeaveNoRowToSpare takes one row off each section of the
// published optima: a version must then be short.
func TestPublishedPlansLeaveNoRowToSpare(t *testing.T) {
	p := Problem{Lanes: 9, Costs: Costs{Row: 1}, Versions: versions(250, 255, 260, 500, 500, 800, 1100)}
	plan := sections(repeated(51, 9, 0, 5, 3, 0, 0, 1, 0), repeated(107, 9, 0, 0, 1, 0, 0, 7, 1), repeated(250, 9, 1, 0, 0, 2, 2, 0, 4))
	require.NoError(t, Check(p, priced(p, plan)))
	for k := range plan.Sections {
		plan.Sections[k].Rows--
		assert.Contains(t, brokenRules(t, Check(p, priced(p, plan))), RuleDemand, "section %d", k+1)
		plan.Sections[k].Rows++
	}
}
