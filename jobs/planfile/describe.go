package planfile

import (
	"encoding/json"
	"math"
	"slices"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/nest"
)

// Run is what a plan file tells of a search beyond its result. The zero value
// tells nothing.
type Run struct {
	Engine string
	Limits Limits
	// Times writes how many seconds the search took: the only figure that
	// differs between two runs.
	Times bool
}

// Describe turns what nest found for a gang into what the file says of it. p
// is the gang's problem, as g.Problem gives it.
func Describe(g jobs.Gang, p nest.Problem, r nest.Result, run Run) Gang {
	count := nest.Recount(p, r.Plan)
	places := g.Places()
	out := Gang{
		ID:       g.ID,
		Lanes:    p.Lanes,
		Closed:   p.Closed,
		Sections: sections(p, r.Plan),
		Versions: versions(g, p, count),
		Totals:   totals(count),
		Cost:     &Cost{Total: money(count.Cost.Total, places), Currency: g.Currency, Kinds: kinds(count.Cost, places)},
		Bound:    bound(r, count.Cost.Total, places),
		Solve: &Solve{
			Seed: r.Seed, Work: decimals(r.Work, 3), Stop: r.Stop.String(), Engine: run.Engine,
		},
	}
	if run.Times {
		out.Solve.Seconds = decimals(r.Time.Seconds(), 3)
	}
	if run.Limits != (Limits{}) {
		out.Solve.Limits = &run.Limits
	}
	return out
}

func sections(p nest.Problem, plan nest.Plan) []Section {
	out := make([]Section, len(plan.Sections))
	first := 0 // row of the section, counted over all
	for i, s := range plan.Sections {
		section := Section{
			Number: i + 1, Rows: s.Rows, Lanes: make([]*string, len(s.Lanes)),
			FreshRoll: slices.Contains(plan.RollChanges, i),
		}
		for lane, v := range s.Lanes {
			if v == nest.Empty {
				continue
			}
			section.Lanes[lane] = &p.Versions[v].ID
			if i > 0 && plan.Sections[i-1].Lanes[lane] == v {
				section.Carried = append(section.Carried, lane+1)
			}
		}
		for _, row := range plan.Splices {
			if row > first && row < first+s.Rows {
				section.SplicesAfter = append(section.SplicesAfter, row-first)
			}
		}
		first += s.Rows
		out[i] = section
	}
	return out
}

// versions stand in the order of the gang's orders, as the customer's list
// has them.
func versions(g jobs.Gang, p nest.Problem, count nest.Count) []Version {
	byID := map[string]int{}
	for i, v := range p.Versions {
		byID[v.ID] = i
	}
	var out []Version
	for _, o := range g.Orders {
		for _, v := range o.Versions {
			i, known := byID[v.ID]
			if !known {
				continue
			}
			n, limits := count.Versions[i], p.Versions[i]
			version := Version{
				ID: v.ID, Order: o.ID, Name: v.Name, Ordered: n.Ordered, Planned: n.Planned,
				Overs: n.Overs, Unders: n.Unders, Scrap: n.Scrap, Most: limits.Most, LeftOut: n.LeftOut,
			}
			if limits.Fewest < limits.Quantity {
				version.Fewest = limits.Fewest
			}
			out = append(out, version)
		}
	}
	return out
}

func totals(count nest.Count) *Totals {
	t := Totals{
		Rows: count.Rows, Sections: count.Sections,
		LaneRuns: count.LaneRuns - count.Carried, EmptyLaneRows: count.Idle,
	}
	for _, v := range count.Versions {
		t.LabelsOrdered += v.Ordered
		t.LabelsPlanned += v.Planned
		t.Overs += v.Overs
		t.Unders += v.Unders
		t.Scrap += v.Scrap
	}
	return &t
}

// kinds leaves out what costs nothing.
func kinds(cost nest.Cost, places int32) []Kind {
	var out []Kind
	for _, k := range []struct {
		kind string
		cost float64
	}{
		{"fixed", cost.Fixed},
		{"rows", cost.Rows},
		{"sections", cost.Sections},
		{"lane runs", cost.LaneRuns},
		{"labels", cost.Labels},
		{"unders not billed", cost.Shorts},
		{"overs billed", cost.Overs},
		{"fillers printed another day", cost.Elsewhere},
		{"whole rolls at changeovers", cost.WholeRolls},
		{"splices", cost.Splices},
	} {
		if k.cost != 0 {
			out = append(out, Kind{Kind: k.kind, Cost: money(k.cost, places)})
		}
	}
	return out
}

// bound rounds down, since a bound that is rounded up is none, and the gap
// up, for the same reason.
func bound(r nest.Result, cost float64, places int32) *Bound {
	if r.Proven {
		return &Bound{Cost: money(cost, places), Gap: "0.0", Proven: true}
	}
	gap := decimal.NewFromFloat(r.Gap).RoundUp(6)
	return &Bound{
		Cost: json.Number(decimal.NewFromFloat(r.Bound).RoundFloor(places).StringFixed(places)),
		Gap:  json.Number(gap.StringFixed(max(1, -gap.Exponent()))),
	}
}

func money(amount float64, places int32) json.Number {
	return json.Number(decimal.NewFromFloat(amount).StringFixed(places))
}

// decimals gives a measure with at most so many decimals; nothing where it is
// zero or not a number.
func decimals(x float64, places int32) json.Number {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return json.Number(decimal.NewFromFloat(x).Round(places).String())
}
