package planfile

import (
	"encoding/json"
	"fmt"
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

// LimitsOf gives limits their figures; 0 is a limit that was not set.
func LimitsOf(seconds, work, gap float64) Limits {
	return Limits{Seconds: decimals(seconds, 3), Work: decimals(work, 6), Gap: decimals(gap, 9)}
}

// Describe turns what nest found for a gang into what the file says of it. p
// is the gang's problem, as g.Problem gives it.
func Describe(g jobs.Gang, p nest.Problem, r nest.Result, run Run) (Gang, error) {
	measures, err := g.Measure(r.Plan)
	if err != nil {
		return Gang{}, fmt.Errorf("measure the plan of gang %s: %w", g.ID, err)
	}
	places := g.Places()
	out := Gang{
		ID:       g.ID,
		Lanes:    p.Lanes,
		Closed:   p.Closed,
		Sections: sections(g, p, r.Plan),
		Versions: versions(g, p, measures.Count),
		Totals:   totals(g, measures),
		Cost:     &Cost{Total: money(measures.Total, places), Currency: g.Currency},
		Bound:    bound(r, measures.Total, places),
		Solve: &Solve{
			Seed: r.Seed, Work: decimals(r.Work, 3), Stop: r.Stop.String(), Engine: run.Engine,
		},
	}
	for _, m := range measures.Money {
		out.Cost.Kinds = append(out.Cost.Kinds, Kind{Kind: m.Kind, Cost: money(m.Amount, places)})
	}
	if run.Times {
		out.Solve.Seconds = decimals(r.Time.Seconds(), 3)
	}
	if run.Limits != (Limits{}) {
		out.Solve.Limits = &run.Limits
	}
	return out, nil
}

func sections(g jobs.Gang, p nest.Problem, plan nest.Plan) []Section {
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
		if g.Bare == nil {
			web := jobs.Length(s.Rows) * g.Die.Pitch()
			section.Web, section.Minutes = metres(web), figure(g.Press.RunMinutes(web), minutePlaces)
		}
		first += s.Rows
		out[i] = section
	}
	return out
}

// versions stand as the gang's orders have them, which is how the problem has
// them.
func versions(g jobs.Gang, p nest.Problem, count nest.Count) []Version {
	var out []Version
	for i, e := range g.Entries() {
		n, limits := count.Versions[i], p.Versions[i]
		version := Version{
			ID: e.Version.ID, Order: e.Order.ID, Name: e.Version.Name, Ordered: n.Ordered, Planned: n.Planned,
			Overs: n.Overs, Unders: n.Unders, Scrap: n.Scrap, Most: limits.Most, LeftOut: n.LeftOut,
		}
		if limits.Fewest < limits.Quantity {
			version.Fewest = limits.Fewest
		}
		out = append(out, version)
	}
	return out
}

func totals(g jobs.Gang, m jobs.Measures) *Totals {
	t := Totals{
		Rows: m.Count.Rows, Sections: m.Count.Sections,
		LaneRuns: m.Count.LaneRuns - m.Count.Carried, EmptyLaneRows: m.Count.Idle,
	}
	for _, v := range m.Count.Versions {
		t.LabelsOrdered += v.Ordered
		t.LabelsPlanned += v.Planned
		t.Overs += v.Overs
		t.Unders += v.Unders
		t.Scrap += v.Scrap
	}
	if g.Bare == nil {
		t.Web, t.Area, t.Minutes = metres(m.Web.Total), figure(m.Area, areaPlaces), figure(m.Minutes.Total, minutePlaces)
	}
	return &t
}

// bound rounds down, since a bound that is rounded up is none, and the gap
// up, for the same reason.
func bound(r nest.Result, cost decimal.Decimal, places int32) *Bound {
	if r.Proven {
		return &Bound{Cost: money(cost, places), Gap: "0.0", Proven: true}
	}
	gap := decimal.NewFromFloat(r.Gap).RoundUp(6)
	return &Bound{
		Cost: money(decimal.NewFromFloat(r.Bound).RoundFloor(places), places),
		Gap:  json.Number(gap.StringFixed(max(1, -gap.Exponent()))),
	}
}

// The decimals of measures: millimetres, square centimetres and tenths of a
// second are finer than any press measures.
const (
	metrePlaces  = 3
	areaPlaces   = 4
	minutePlaces = 3
)

func money(amount decimal.Decimal, places int32) json.Number {
	return json.Number(amount.StringFixed(places))
}

func metres(length jobs.Length) json.Number { return figure(length.In(jobs.Metre), metrePlaces) }

// figure gives a measure with at most so many decimals.
func figure(x decimal.Decimal, places int32) json.Number {
	return json.Number(x.Round(places).String())
}

// decimals gives a figure of the search with at most so many decimals;
// nothing where it is zero.
func decimals(x float64, places int32) json.Number {
	if x == 0 {
		return ""
	}
	return figure(decimal.NewFromFloat(x), places)
}
