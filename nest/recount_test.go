package nest

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestRecountEveryKind counts one plan by hand: 3 lanes, the third closed.
//
//	section 1: A B -  10 rows    A 10, B 10
//	section 2: A A -   6 rows    lane 1 carried; A 12
//	section 3: B A -   4 rows    lane 2 carried; B 4, A 4
//
// A: 26 printed of 20, at most 24 → 4 overs, 2 scrap. B: 14 of 15 → 1 short.
// C is a filler left out. Sections 1 and 2 are before the last; whole rolls
// (A 2, B 5 a roll): section 1 (10 = 5·2 = 2·5) yes, section 2 (6 = 3·2) yes.
func TestRecountEveryKind(t *testing.T) {
	p := Problem{
		Lanes:  3,
		Closed: []int{3},
		Versions: []Version{
			{ID: "A", Quantity: 20, Most: 24, OverPrice: 0.5, LabelCost: 0.25, LabelsPerRoll: 2},
			{ID: "B", Quantity: 15, Fewest: 14, ShortCost: 3, LabelCost: 0.5, LabelsPerRoll: 5},
			{ID: "C", Quantity: 9, Filler: true, ElsewhereCost: 33, ShortCost: 100, LabelCost: 100},
		},
		Costs: Costs{Fixed: -7, Row: 2, Section: 11, LaneRun: 13, WholeRollSaving: 1.5},
		Press: Press{SetupMinutes: 30, RowMinutes: 0.5, ChangeoverMinutes: 8},
		Stock: Stock{RollRows: 15, SpliceCost: 17},
	}
	plan := Plan{Sections: []Section{
		section(10, 0, 1, Empty),
		section(6, 0, 0, Empty),
		section(4, 1, 0, Empty),
	}, Splices: []int{15}}
	want := Count{
		Versions: []VersionCount{
			{ID: "A", Ordered: 20, Planned: 26, Overs: 4, Scrap: 2, Sections: 3, LaneRuns: 4, Carried: 2},
			{ID: "B", Ordered: 15, Planned: 14, Unders: 1, Sections: 2, LaneRuns: 2},
			{ID: "C", Ordered: 9, LeftOut: true},
		},
		Sections: 3, Rows: 20, LaneRuns: 6, Carried: 2, Splices: 1, WholeRolls: 2,
		Minutes: 30 + 10 + 16,
		Cost: Cost{
			Fixed: -7, Rows: 40, Sections: 33, LaneRuns: 4 * 13, Labels: 26*0.25 + 14*0.5, Shorts: 3,
			Overs: -2, Elsewhere: 33, WholeRolls: -3, Splices: 17,
			Total: -7 + 40 + 33 + 52 + 13.5 + 3 - 2 + 33 - 3 + 17,
		},
	}
	assert.Equal(t, want, Recount(p, plan))
	assert.NoError(t, Check(p, priced(p, plan)))
}

func TestRecountIdleLabels(t *testing.T) {
	p := Problem{Lanes: 4, Closed: []int{2}, Versions: versions(5)}
	got := Recount(p, sections(section(5, 0, Empty, Empty, Empty)))
	assert.Equal(t, 10, got.Idle, "two open lanes of 5 rows; the closed one is not idle but shut")
}

func TestRecountCarriedOnlyFromTheSectionBefore(t *testing.T) {
	p := Problem{Lanes: 2, Versions: versions(5, 5), Costs: Costs{LaneRun: 1}}
	got := Recount(p, sections(section(1, 0, 1), section(1, 1, 1), section(1, 0, 1), section(1, 1, 0)))
	assert.Equal(t, 8, got.LaneRuns)
	assert.Equal(t, 2, got.Carried, "lane 2 twice; lane 1 gets A back only after a section of B")
	assert.Equal(t, 6.0, got.Cost.LaneRuns)
}

func TestRecountTakesAnyPlan(t *testing.T) {
	p := Problem{Lanes: 2, Versions: versions(5)}
	got := Recount(p, sections(section(-3, 0, 0), section(4, 7, -9), section(3, 0), section(2, 0, 0, 0), section(1)))
	assert.Equal(t, 3+2*2, got.Versions[0].Planned, "missing and surplus lanes and unknown versions print nothing")
	assert.Equal(t, 10, got.Rows)
	assert.Equal(t, Count{Versions: []VersionCount{{ID: "A", Ordered: 5, Unders: 5}}}, Recount(p, Plan{}))
}
