package nest

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// crowd is a problem of so many versions A, B, … of 100 labels each.
func crowd(lanes, n int, change func(*Problem)) Problem {
	p := Problem{Lanes: lanes, Costs: Costs{Row: 1, Section: 10}}
	for i := range n {
		p.Versions = append(p.Versions, Version{ID: string(rune('A' + i)), Quantity: 100})
	}
	change(&p)
	return p
}

func TestClashIsTold(t *testing.T) {
	press := Press{SetupMinutes: 10, RowMinutes: 0.5, ChangeoverMinutes: 4}
	for _, tt := range []struct {
		name string
		p    Problem
		want string
	}{
		{"more versions than sections hold", crowd(2, 6, func(p *Problem) { p.Limits.MostSections = 2 }),
			"5 versions must run (A, B, C, D and E), there are at most 2 sections and the die has 2 lanes"},
		{"the fewest versions that are too many", crowd(4, 9, func(p *Problem) {
			p.Limits.MostSections, p.Limits.VersionsPerSection = 1, 2
		}), "3 versions must run (A, B and C), a section holds at most 2 versions, there is at most 1 section and the die has 4 lanes"},
		{"bound to a lane out of use", crowd(3, 3, func(p *Problem) {
			p.Closed = []int{1, 3}
			p.Versions[1].OnlyLanes = []int{3}
			p.Limits.MostSections = 3
		}), "version B may run in lane 3 only and lane 3 is out of use"},
		{"more lanes than there are", crowd(3, 2, func(p *Problem) {
			p.Closed = []int{2}
			p.Versions[0].LeastLanes = 3
		}), "version A wants at least 3 lanes of a section, lane 2 is out of use and the die has 3 lanes"},
		{"a set that no section holds", crowd(2, 4, func(p *Problem) {
			p.Together = [][]int{{0, 1}, {1, 3}}
		}), "versions A and B share their sections, versions B and D share their sections and the die has 2 lanes"},
		{"look-alikes that share a section of two lanes", crowd(2, 3, func(p *Problem) {
			p.Together = [][]int{{0, 2}}
			p.Apart = [][]int{{0, 2}}
		}), "versions A and C never run side by side, versions A and C share their sections and the die has 2 lanes"},
		{"too many sections for versions of one piece", crowd(2, 2, func(p *Problem) {
			p.Limits.Sections = 3
			p.Versions[0].OnePiece, p.Versions[1].OnePiece = true, true
		}), "all of version A is to run in one section, all of version B is to run in one section, there are exactly 3 sections and the die has 2 lanes"},
		{"due too soon", crowd(2, 3, func(p *Problem) {
			p.Press = press
			p.Versions[1].Deadline = 30
		}), "version B is due 30 minutes after the start; that takes at least 35 minutes, set-up included"},
		{"due before the press starts", crowd(2, 3, func(p *Problem) {
			p.Press = press
			p.Versions[2].Deadline = 1e-6
		}), "version C is due before the press starts; that takes at least 35 minutes, set-up included"},
		{"two due together", crowd(2, 3, func(p *Problem) {
			p.Press = press
			p.Versions[0].Deadline, p.Versions[1].Deadline = 50, 40
		}), "version A is due 50 minutes after the start and version B is due 40 minutes after the start; that takes at least 60 minutes, set-up included"},
		{"a rush before what is due", crowd(1, 2, func(p *Problem) {
			p.Press = press
			p.Versions[0].Rush = true
			p.Versions[1].Deadline = 70
		}), "rush version A runs first and version B is due 70 minutes after the start; that takes at least 110 minutes, set-up included"},
		{"a roll longer than the parent roll", crowd(1, 2, func(p *Problem) {
			p.Stock = Stock{RollRows: 40}
			p.Versions[0].LabelsPerRoll, p.Versions[0].MostSplices, p.Versions[0].OnePiece = 100, 1, true
		}), "a parent roll holds 40 rows, version A takes at most 1 splice in a customer roll of 100 labels and all of version A is to run in one section"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Solve(context.Background(), tt.p, Options{Work: 0.1, Seed: 1})
			var e *Infeasible
			require.ErrorAs(t, err, &e)
			assert.Equal(t, "no plan can meet the demands: "+tt.want, e.Error())
			assert.True(t, e.Irreducible, "no rule of it can be left out")
			assert.True(t, e.Smallest, "no fewer rules clash")
		})
	}
}
