package planfile

import (
	"encoding/json"

	"github.com/shopspring/decimal"

	"laneplan/nest"
)

// Start tells of the plan that a search began from.
type Start struct {
	Cost json.Number `json:"cost"` // of it, or of what it was mended to
	// Mended: it did not hold for what is planned now, and was changed until
	// it did.
	Mended bool `json:"mended,omitempty"`
	// Saved by the plan that was found, from Cost; zero where it is as dear.
	Saved json.Number `json:"saved"`
}

// StartOf tells of a start in a gang's money.
func StartOf(start, found nest.Plan, mended bool, places int32) *Start {
	cost := decimal.NewFromFloat(start.Cost.Total).Round(places)
	return &Start{
		Cost: money(cost, places), Mended: mended,
		Saved: money(cost.Sub(decimal.NewFromFloat(found.Cost.Total).Round(places)), places),
	}
}

// Loosely is Plan for a plan that was made for another problem: lanes of
// versions that the problem does not have are empty, and unknown lists their
// ids.
func (g Gang) Loosely(p nest.Problem) (plan nest.Plan, unknown []string) {
	known := map[string]bool{}
	for _, v := range p.Versions {
		known[v.ID] = true
	}
	seen := map[string]bool{}
	sections := make([]Section, len(g.Sections))
	for k, s := range g.Sections {
		lanes := make([]*string, len(s.Lanes))
		for l, id := range s.Lanes {
			switch {
			case id == nil:
			case known[*id]:
				lanes[l] = id
			case !seen[*id]:
				seen[*id] = true
				unknown = append(unknown, *id)
			}
		}
		s.Lanes = lanes
		sections[k] = s
	}
	g.Sections = sections
	plan, err := g.Plan(p)
	if err != nil {
		return nest.Plan{}, unknown // cannot be: only known versions are left
	}
	return plan, unknown
}
