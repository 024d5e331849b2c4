package nest

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// soundProblem uses every field within its limits.
func soundProblem() Problem {
	return Problem{
		Lanes:  4,
		Closed: []int{4},
		Versions: []Version{
			{ID: "A", Quantity: 10, Fewest: 9, Most: 12, ShortCost: 1, OverPrice: 1, LabelCost: 1, LeastLanes: 1, MostLanes: 2,
				OnlyLanes: []int{1, 2}, OnePiece: true, Rush: true, Deadline: 100, LabelsPerRoll: 5, MostSplices: -1},
			{ID: "B", Quantity: 1_000_000_000, Filler: true, ElsewhereCost: 5},
		},
		Costs:    Costs{Fixed: -5, Row: 1, Section: 1, LaneRun: 1, WholeRollSaving: 1},
		Limits:   Limits{Sections: 2, MostSections: 2, VersionsPerSection: 1, Frame: 2, LeastRows: 3, WholeRolls: true},
		Press:    Press{SetupMinutes: 1, RowMinutes: 1, ChangeoverMinutes: 1},
		Stock:    Stock{RollRows: 10, SetupRows: 9, ChangeoverRows: 1, SpliceCost: 1, SpliceRows: 1},
		Together: [][]int{{0, 1}},
		Apart:    [][]int{{1, 0}},
	}
}

func TestValidate(t *testing.T) {
	require.NoError(t, Validate(soundProblem()))
	tests := []struct {
		name   string
		change func(*Problem)
		want   string
	}{
		{"no lanes", func(p *Problem) { p.Lanes, p.Closed, p.Versions[0].OnlyLanes = 0, nil, nil }, "Lanes 0: want a whole number from 1 to 10000"},
		{"lanes beyond counting", func(p *Problem) { p.Lanes = 10_001 }, "Lanes 10001: want a whole number from 1 to 10000"},
		{"a closed lane beyond the die", func(p *Problem) { p.Closed = []int{5} }, "Closed names lane 5: want 1 to 4"},
		{"a closed lane 0", func(p *Problem) { p.Closed = []int{0} }, "Closed names lane 0: want 1 to 4"},
		{"a lane closed twice", func(p *Problem) { p.Closed = []int{4, 4} }, "Closed names lane 4 twice"},
		{"all lanes closed", func(p *Problem) { p.Closed = []int{1, 2, 3, 4} }, "Closed takes all 4 lanes: want at least one lane open"},
		{"negative row cost", func(p *Problem) { p.Costs.Row = -1 }, "Costs.Row -1: want a number from 0 to 1e15"},
		{"no number", func(p *Problem) { p.Costs.Section = math.NaN() }, "Costs.Section NaN: want a number from 0 to 1e15"},
		{"endless cost", func(p *Problem) { p.Costs.LaneRun = math.Inf(1) }, "Costs.LaneRun +Inf: want a number from 0 to 1e15"},
		{"negative saving", func(p *Problem) { p.Costs.WholeRollSaving = -1 }, "Costs.WholeRollSaving -1: want a number from 0 to 1e15"},
		{"a saving above the cost of a section", func(p *Problem) { p.Costs.WholeRollSaving = 1.5 }, "Costs.WholeRollSaving 1.5: want at most Costs.Section, 1, or every section cut in two would earn money"},
		{"endless fixed cost", func(p *Problem) { p.Costs.Fixed = math.Inf(-1) }, "Costs.Fixed -Inf: want a number between -1e15 and 1e15"},
		{"negative sections", func(p *Problem) { p.Limits.Sections = -1 }, "Limits.Sections -1: want a whole number from 0 to 1000000000"},
		{"negative most sections", func(p *Problem) { p.Limits.MostSections = -1 }, "Limits.MostSections -1: want a whole number from 0 to 1000000000"},
		{"more sections than the most", func(p *Problem) { p.Limits.Sections = 3 }, "Limits.Sections 3: want at most MostSections, 2"},
		{"negative versions per section", func(p *Problem) { p.Limits.VersionsPerSection = -1 }, "Limits.VersionsPerSection -1: want a whole number from 0 to 1000000000"},
		{"negative frame", func(p *Problem) { p.Limits.Frame = -1 }, "Limits.Frame -1: want a whole number from 0 to 1000000000"},
		{"negative least rows", func(p *Problem) { p.Limits.LeastRows = -1 }, "Limits.LeastRows -1: want a whole number from 0 to 1000000000"},
		{"negative set-up minutes", func(p *Problem) { p.Press.SetupMinutes = -1 }, "Press.SetupMinutes -1: want a number from 0 to 1e15"},
		{"negative row minutes", func(p *Problem) { p.Press.RowMinutes = -1 }, "Press.RowMinutes -1: want a number from 0 to 1e15"},
		{"negative changeover minutes", func(p *Problem) { p.Press.ChangeoverMinutes = -1 }, "Press.ChangeoverMinutes -1: want a number from 0 to 1e15"},
		{"negative parent roll", func(p *Problem) { p.Stock.RollRows = -1 }, "Stock.RollRows -1: want a number from 0 to 1e15"},
		{"negative splice cost", func(p *Problem) { p.Stock.SpliceCost = -1 }, "Stock.SpliceCost -1: want a number from 0 to 1e15"},
		{"a set-up as long as the roll", func(p *Problem) { p.Stock.SetupRows = 9.5 }, "Stock.SetupRows 9.5: want at least one row less than a parent roll, which has 10 rows"},
		{"a changeover as long as the roll", func(p *Problem) { p.Stock.ChangeoverRows = 10 }, "Stock.ChangeoverRows 10: want at least one row less than a parent roll, which has 10 rows"},
		{"a splice as long as the roll", func(p *Problem) { p.Stock.SpliceRows = 10 }, "Stock.SpliceRows 10: want at least one row less than a parent roll, which has 10 rows"},
		{"no versions", func(p *Problem) { p.Versions, p.Together, p.Apart = nil, nil, nil }, "Versions is empty: want at least one version"},
		{"no id", func(p *Problem) { p.Versions[1].ID = "" }, "Versions has no ID at index 1: want a name of its own for every version"},
		{"an id twice", func(p *Problem) { p.Versions[1].ID = "A" }, `version "A": ID is used twice, at index 0 and 1: want a name of its own for every version`},
		{"no quantity", func(p *Problem) { p.Versions[1].Quantity = 0 }, `version "B": Quantity 0: want a whole number from 1 to 1000000000`},
		{"a quantity beyond counting", func(p *Problem) { p.Versions[1].Quantity = 1_000_000_001 }, `version "B": Quantity 1000000001: want a whole number from 1 to 1000000000`},
		{"negative fewest", func(p *Problem) { p.Versions[0].Fewest = -1 }, `version "A": Fewest -1: want a whole number from 0 to 1000000000`},
		{"fewest above the quantity", func(p *Problem) { p.Versions[0].Fewest = 11 }, `version "A": Fewest 11: want at most Quantity, 10`},
		{"most below the quantity", func(p *Problem) { p.Versions[0].Most = 9 }, `version "A": Most 9: want at least Quantity, 10`},
		{"overs billed without a most", func(p *Problem) { p.Versions[0].Most = 0 }, `version "A": OverPrice 1 needs a Most: want to know how many overs are billed`},
		{"negative label cost", func(p *Problem) { p.Versions[0].LabelCost = -1 }, `version "A": LabelCost -1: want a number from 0 to 1e15`},
		{"negative short cost", func(p *Problem) { p.Versions[0].ShortCost = -1 }, `version "A": ShortCost -1: want a number from 0 to 1e15`},
		{"negative cost elsewhere", func(p *Problem) { p.Versions[1].ElsewhereCost = -1 }, `version "B": ElsewhereCost -1: want a number from 0 to 1e15`},
		{"negative least lanes", func(p *Problem) { p.Versions[0].LeastLanes = -1 }, `version "A": LeastLanes -1: want a whole number from 0 to 10000`},
		{"most lanes below least lanes", func(p *Problem) { p.Versions[0].LeastLanes = 3 }, `version "A": MostLanes 2: want at least LeastLanes, 3`},
		{"a lane beyond the die", func(p *Problem) { p.Versions[0].OnlyLanes = []int{1, 9} }, `version "A": OnlyLanes names lane 9: want 1 to 4`},
		{"negative deadline", func(p *Problem) { p.Versions[0].Deadline = -1 }, `version "A": Deadline -1: want a number from 0 to 1e15`},
		{"negative labels per roll", func(p *Problem) { p.Versions[0].LabelsPerRoll = -1 }, `version "A": LabelsPerRoll -1: want a whole number from 0 to 1000000000`},
		{"splices below none", func(p *Problem) { p.Versions[0].MostSplices = -2 }, `version "A": MostSplices -2: want a whole number from -1 to 1000000000`},
		{"an unknown version in a set", func(p *Problem) { p.Together = [][]int{{0, 2}} }, "Together set 1 holds version index 2: want 0 to 1"},
		{"a version twice in a set", func(p *Problem) { p.Apart = [][]int{{0, 1}, {1, 0, 1}} }, `Apart set 2 holds version "B" twice`},
		{"a set of one", func(p *Problem) { p.Apart = [][]int{{0}} }, "Apart set 1: want two versions or more, got 1"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := soundProblem()
			tt.change(&p)
			err := Validate(p)
			require.EqualError(t, err, tt.want)
			var fault *Fault
			require.True(t, errors.As(err, &fault))
			assert.ErrorContains(t, Check(p, Plan{}), "check: the problem: "+tt.want)
		})
	}
}

func TestValidateReportsAllFaultsInOrder(t *testing.T) {
	p := soundProblem()
	p.Versions[0].Quantity, p.Versions[0].Fewest = -1, 0
	p.Costs.Row = -1
	p.Apart = [][]int{{0}}
	require.EqualError(t, Validate(p), `Costs.Row -1: want a number from 0 to 1e15
version "A": Quantity -1: want a whole number from 1 to 1000000000
Apart set 1: want two versions or more, got 1`)
}

func TestValidateRefusesSumsBeyondCounting(t *testing.T) {
	p := Problem{Lanes: 1}
	for range 1001 {
		p.Versions = append(p.Versions, Version{ID: string(rune('A' + len(p.Versions))), Quantity: 1_000_000_000})
	}
	require.EqualError(t, Validate(p), "Versions add up to more than 1000000000000 labels")
	p.Versions = p.Versions[:1000]
	require.NoError(t, Validate(p))
}
