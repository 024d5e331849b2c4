package planfile

import (
	"encoding/json"
	"strings"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/nest"
)

// Alternative is the cheapest plan found with exactly so many sections.
type Alternative struct {
	Sections int `json:"sections"`
	// Chosen is the plan of the gang itself.
	Chosen     bool        `json:"chosen,omitempty"`
	Difference json.Number `json:"difference,omitempty"` // from the gang's plan
	// Spare: an alternative with fewer sections needs no more rows.
	Spare bool `json:"spare_section,omitempty"`
	// None says why there is no plan; Plan is then nil.
	None string `json:"none,omitempty"`
	// Plan has a bound for exactly so many sections.
	Plan *Gang `json:"plan,omitempty"`
}

// Alternatives describes what nest.Alternatives found around the plan that g
// describes. run tells of the search for one of them.
func Alternatives(gang jobs.Gang, p nest.Problem, chosen nest.Plan, list []nest.Alternative, run Run) ([]Alternative, error) {
	places := gang.Places()
	cost := decimal.NewFromFloat(chosen.Cost.Total).Round(places)
	var out []Alternative
	for _, a := range list {
		one := Alternative{Sections: a.Sections, Spare: a.Spare, Chosen: a.None == nil && a.Sections == len(chosen.Sections)}
		if a.None != nil {
			one.None = strings.TrimPrefix(a.None.Error(), "no plan can meet the demands: ")
			out = append(out, one)
			continue
		}
		plan, err := Describe(gang, p, a.Result, run)
		if err != nil {
			return nil, err
		}
		one.Plan = &plan
		one.Difference = money(decimal.NewFromFloat(a.Result.Plan.Cost.Total).Round(places).Sub(cost), places)
		out = append(out, one)
	}
	return out, nil
}
