package jobs_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"laneplan/jobs"
)

func TestCheckFindsNoFaultInASoundGang(t *testing.T) {
	assert.Empty(t, shop().Check())
	assert.Empty(t, bare(5, 7).Check())
}

// TestCheck covers what a job file cannot say, or says elsewhere: the bad
// files of testdata cover the rest.
func TestCheck(t *testing.T) {
	tests := []struct {
		name   string
		change func(g *jobs.Gang)
		want   string
	}{
		{"a stock that the press does not run", func(g *jobs.Gang) { g.Press.ID, g.Press.Stocks = "P1", []string{"film", "foil"} },
			"stock.id: press P1 does not run stock paper: want one of film, foil"},
		{"a width that cannot be had", func(g *jobs.Gang) { g.Stock.Widths = []jobs.Length{330 * jobs.Millimetre} },
			"die.web: stock paper cannot be had 250mm wide"},
		{"no die", func(g *jobs.Gang) { g.Die.Across = 0 }, "die.across: want the label's size across the web, got nothing"},
		{"no speed", func(g *jobs.Gang) { g.Press.Speed = 0 }, "press.speed: want the speed of the web, got nothing"},
		{"no version at all", func(g *jobs.Gang) {
			g.Orders, g.Rules.Together, g.Rules.Apart, g.Rules.WholeRolls, g.Rules.WholeRollSaving = nil, nil, nil, "", money("0")
		},
			"orders: want at least one version"},
		{"unders of everything", func(g *jobs.Gang) { g.Policy.Unders = money("1") }, "unders: want unders from 0% to less than 100%, got 100%"},
		{"negative overs", func(g *jobs.Gang) { g.Orders[0].Versions[0].Overs = fraction("-0.1") },
			"orders[0].versions[0].overs: want overs from 0% to 1000%, got -10%"},
		{"a flag of our own", func(g *jobs.Gang) { g.Orders[0].Flags, g.Orders[1].Flags = []string{"wine"}, []string{"wine"} },
			"orders[0].flags[0]: want one of food, pharma, toy, got \"wine\"\norders[1].flags[0]: want one of food, pharma, toy, got \"wine\""},
		{"flags in another order are the same", func(g *jobs.Gang) {
			g.Orders[0].Flags, g.Orders[1].Flags = []string{"food", "toy"}, []string{"toy", "food"}
		}, ""},
		{"negative splices", func(g *jobs.Gang) { g.Orders[0].Versions[0].MostSplices = number(-1) },
			"orders[0].versions[0].most_splices: want 0 or more, got -1"},
		{"more hours than a day has", func(g *jobs.Gang) { g.Press.HoursADay = money("24.5") }, "press.hours_a_day: a day has 24 hours, got 24.5"},
		{"a set-up stated twice", func(g *jobs.Gang) { g.Press.SetupWeb = jobs.Metre },
			"press.setup_frames: want the set-up web as a length or as frames, not both"},
		{"a word for whole rolls", func(g *jobs.Gang) { g.Rules.WholeRolls, g.Rules.WholeRollSaving = "always", money("0") },
			`rules.whole_rolls: want prefer or require, got "always"`},
		{"whole rolls of unknown size", func(g *jobs.Gang) { g.Orders[0].Versions[1].LabelsPerRoll = 0 },
			"rules.whole_rolls: no version states its labels_per_roll: want them where whole rolls are asked for"},
		{"a due date without a start is no fault", func(g *jobs.Gang) { g.Press.Start = time.Time{} }, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			g := shop()
			tt.change(&g)
			assert.Equal(t, tt.want, g.Check().Error())
		})
	}
}

func TestAGearMayMissByATenthOfAMillimetre(t *testing.T) {
	// 96 teeth of 1/8 in are 304.8 mm; 3 labels of 98.6 mm and gaps of 3 mm
	// fill them exactly.
	die := jobs.Die{
		Lanes: 1, Around: 98_600 * jobs.Micrometre, GapAround: 3 * jobs.Millimetre,
		Teeth: 96, GearPitch: jobs.Inch / 8, PitchesRoundTheTool: 3,
	}
	assert.Empty(t, die.Check())
	die.GapAround += 33 * jobs.Micrometre
	assert.Empty(t, die.Check(), "3 × 0.033 mm")
	die.GapAround += jobs.Micrometre
	assert.NotEmpty(t, die.Check(), "3 × 0.034 mm")
}
