package nest

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// rolled is one version of 1,000 labels in one lane on parent rolls of 400
// rows, of which the set-up takes 100.
func rolled(change func(*Problem)) Problem {
	p := Problem{
		Lanes: 1, Costs: Costs{Row: 1, Section: 10},
		Stock:    Stock{RollRows: 400, SetupRows: 100, ChangeoverRows: 20, SpliceRows: 5, SpliceCost: 4},
		Versions: []Version{{ID: "A", Quantity: 1000}},
	}
	change(&p)
	return p
}

func TestSectionsAreCutWhereParentRollsEnd(t *testing.T) {
	for _, tt := range []struct {
		name     string
		p        Problem
		cost     float64
		rows     []int
		splices  int
		sections int
	}{
		// 300 + 395 + 305: two splices at 4 are cheaper than changeovers at 10.
		{"not where a splice is cheaper", rolled(func(*Problem) {}), 1018, []int{1000}, 2, 1},
		{"where a changeover is cheaper", rolled(func(p *Problem) { p.Stock.SpliceCost = 40 }), 1030, nil, 0, 3},
		// 300 rows, then 380, 320 after changeovers that take 20 off the new roll.
		{"in whole frames", rolled(func(p *Problem) { p.Stock.SpliceCost, p.Limits.Frame = 40, 50 }), 1030, nil, 0, 3},
		{"not in a version of one piece", rolled(func(p *Problem) { p.Stock.SpliceCost, p.Versions[0].OnePiece = 40, true }), 1090, []int{1000}, 2, 1},
		{"not beyond the sections allowed", rolled(func(p *Problem) { p.Stock.SpliceCost, p.Limits.MostSections = 40, 2 }), 1060, nil, 1, 2},
		{"where a customer roll may have no splice", rolled(func(p *Problem) {
			p.Versions[0].LabelsPerRoll, p.Versions[0].MostSplices = 1000, -1
		}), 1030, nil, 0, 3},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r, err := Solve(context.Background(), tt.p, Options{Work: 0.2, Seed: 1})
			require.NoError(t, err)
			require.NoError(t, Check(tt.p, r.Plan))
			assert.InDelta(t, tt.cost, r.Plan.Cost.Total, 1e-9)
			assert.Len(t, r.Plan.Sections, tt.sections)
			assert.Len(t, r.Plan.Splices, tt.splices)
			if tt.rows != nil {
				assert.Equal(t, tt.rows[0], r.Plan.Sections[0].Rows)
			}
		})
	}
}
