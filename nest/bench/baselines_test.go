package bench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
)

func problem(lanes int, row, section float64, quantities ...int) nest.Problem {
	p := nest.Problem{Lanes: lanes, Costs: nest.Costs{Row: row, Section: section}}
	for i, q := range quantities {
		p.Versions = append(p.Versions, nest.Version{ID: string(rune('A' + i)), Quantity: q})
	}
	return p
}

type method func(nest.Problem) (nest.Plan, error)

// TestBaselinesByHand has the plans worked out by hand.
func TestBaselinesByHand(t *testing.T) {
	covers := problem(4, 13.44, 18676, 4500, 9000, 16000)
	closed := problem(4, 1, 10, 7, 20)
	closed.Closed = []int{2}
	framed := problem(3, 1, 10, 7, 20)
	framed.Limits.Frame = 5
	tests := []struct {
		name     string
		method   method
		problem  nest.Problem
		sections []nest.Section
	}{
		// Three separate grids of 1125, 2250 and 4000 sheets: 155148.00.
		{"covers, each alone", EachAlone, covers, []nest.Section{{Rows: 1125, Lanes: []int{0, 0, 0, 0}}, {Rows: 2250, Lanes: []int{1, 1, 1, 1}}, {Rows: 4000, Lanes: []int{2, 2, 2, 2}}}},
		{"covers, one section", OneSection, covers, []nest.Section{{Rows: 9000, Lanes: []int{0, 1, 2, 2}}}},
		{"covers, sorted blocks are one section", SortedBlocks, covers, []nest.Section{{Rows: 9000, Lanes: []int{2, 2, 1, 0}}}},
		{"five on two lanes, sorted", SortedBlocks, problem(2, 1, 10, 5, 30, 9, 30, 8), []nest.Section{{Rows: 30, Lanes: []int{1, 3}}, {Rows: 9, Lanes: []int{2, 4}}, {Rows: 3, Lanes: []int{0, 0}}}},
		{"a closed lane stays empty", EachAlone, closed, []nest.Section{{Rows: 3, Lanes: []int{0, nest.Empty, 0, 0}}, {Rows: 7, Lanes: []int{1, nest.Empty, 1, 1}}}},
		{"spare lanes stay empty", OneSection, problem(4, 1, 10, 5, 5, 5), []nest.Section{{Rows: 5, Lanes: []int{0, 1, 2, nest.Empty}}}},
		{"whole frames", OneSection, framed, []nest.Section{{Rows: 10, Lanes: []int{0, 1, 1}}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			plan, err := tt.method(tt.problem)
			require.NoError(t, err)
			assert.Equal(t, tt.sections, plan.Sections)
			assert.NoError(t, nest.Check(tt.problem, plan))
		})
	}
}

func TestBaselinesSayWhatTheyCannot(t *testing.T) {
	_, err := OneSection(problem(2, 1, 1, 5, 5, 5))
	assert.ErrorIs(t, err, ErrCannot)
	assert.ErrorContains(t, err, "3 versions do not fit in 2 lanes")

	p := problem(2, 1, 1, 5, 5)
	p.Apart = [][]int{{0, 1}}
	_, err = OneSection(p)
	assert.ErrorIs(t, err, ErrCannot)
	var broken *nest.RuleError
	require.ErrorAs(t, err, &broken)
	assert.Equal(t, nest.RuleApart, broken.Rule)

	_, err = EachAlone(nest.Problem{})
	require.Error(t, err)
	assert.NotErrorIs(t, err, ErrCannot, "a faulty problem is the caller's mistake")
}

// TestBaselinesOnAllInstances: every baseline has a plan for every instance
// of the benchmark, but for one section, which needs as many lanes.
func TestBaselinesOnAllInstances(t *testing.T) {
	for _, spec := range Instances() {
		p := spec.Problem()
		for name, m := range map[string]method{"each alone": EachAlone, "sorted blocks": SortedBlocks} {
			plan, err := m(p)
			require.NoError(t, err, "%s, %s", spec.Name(), name)
			require.NoError(t, nest.Check(p, plan))
		}
		_, err := OneSection(p)
		if spec.Versions > spec.Lanes {
			require.ErrorIs(t, err, ErrCannot)
		} else {
			require.NoError(t, err)
		}
	}
}
