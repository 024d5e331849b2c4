package planfile

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"laneplan/jobs"
	"laneplan/jobs/intake/fault"
	"laneplan/nest"
)

// Verify recounts the plan of gang g in a document that was read, from its
// sections alone: the rules of nest.Check, and every figure that the file
// states. It returns what the file should say, without a bound and without a
// search, since neither follows from the sections. Where a rule is broken or
// a figure is wrong, the error is a fault.List.
func Verify(d Document, g jobs.Gang, p nest.Problem) (Gang, error) {
	i, err := d.index(g.ID)
	if err != nil {
		return Gang{}, err
	}
	path := fmt.Sprintf("gangs[%d]", i)
	stated := d.Gangs[i]
	if stated.Lanes != p.Lanes {
		return Gang{}, fault.List{d.source.fault(path+".lanes", "the die has %d lanes, got %d", p.Lanes, stated.Lanes)}
	}
	plan, err := stated.Plan(p)
	if err != nil {
		return Gang{}, fault.List{d.source.fault(path+".sections", "%v", err)}
	}
	var faults fault.List
	for _, broken := range brokenRules(nest.Check(p, plan)) {
		field := path
		if broken.Section >= 0 {
			field = fmt.Sprintf("%s.sections[%d]", path, broken.Section)
		}
		faults.Add(d.source.fault(field, "%v", broken))
	}
	counted, err := Describe(g, p, nest.Result{Plan: plan}, Run{})
	if err != nil {
		return Gang{}, err
	}
	counted.Bound, counted.Solve = nil, nil
	c := checker{source: d.source}
	c.figures(path, stated, counted)
	faults.Add(c.faults...)
	if b := stated.Bound; b != nil && Decimal(b.Cost).GreaterThan(Decimal(counted.Cost.Total)) {
		faults.Add(d.source.fault(path+".bound.cost", "states that no plan costs less than %s, but this one costs %s", b.Cost, counted.Cost.Total))
	}
	return counted, faults.Err()
}

// brokenRules takes nest.Check's error apart.
func brokenRules(err error) []*nest.RuleError {
	var joined interface{ Unwrap() []error }
	if !errors.As(err, &joined) {
		if err == nil {
			return nil
		}
		return []*nest.RuleError{{Rule: "problem", Version: -1, Section: -1, Detail: err.Error()}}
	}
	var out []*nest.RuleError
	for _, one := range joined.Unwrap() {
		var broken *nest.RuleError
		if !errors.As(one, &broken) {
			broken = &nest.RuleError{Rule: "problem", Version: -1, Section: -1, Detail: one.Error()}
		}
		out = append(out, broken)
	}
	return out
}

// figures compares every figure that a file states with what was recounted.
// What a file does not state, it does not get wrong.
func (c *checker) figures(path string, stated, counted Gang) {
	for i, s := range stated.Sections {
		section, want := fmt.Sprintf("%s.sections[%d]", path, i), counted.Sections[i]
		same(c, section+".carried_lanes", fmt.Sprint(s.Carried), fmt.Sprint(want.Carried))
		amount(c, section+".web_m", s.Web, want.Web)
		amount(c, section+".minutes", s.Minutes, want.Minutes)
	}
	byID := map[string]Version{}
	for _, v := range counted.Versions {
		byID[v.ID] = v
	}
	for i, v := range stated.Versions {
		version := fmt.Sprintf("%s.versions[%d]", path, i)
		want, known := byID[v.ID]
		if !known {
			c.fault(version+".id", "the problem has no version %q", v.ID)
			continue
		}
		same(c, version+".order", v.Order, want.Order)
		same(c, version+".ordered", v.Ordered, want.Ordered)
		same(c, version+".planned", v.Planned, want.Planned)
		same(c, version+".overs", v.Overs, want.Overs)
		same(c, version+".unders", v.Unders, want.Unders)
		same(c, version+".scrap", v.Scrap, want.Scrap)
		same(c, version+".left_out", v.LeftOut, want.LeftOut)
	}
	if t, want := stated.Totals, counted.Totals; t != nil {
		same(c, path+".totals.rows", t.Rows, want.Rows)
		same(c, path+".totals.sections", t.Sections, want.Sections)
		same(c, path+".totals.labels_ordered", t.LabelsOrdered, want.LabelsOrdered)
		same(c, path+".totals.labels_planned", t.LabelsPlanned, want.LabelsPlanned)
		same(c, path+".totals.overs", t.Overs, want.Overs)
		same(c, path+".totals.unders", t.Unders, want.Unders)
		same(c, path+".totals.scrap", t.Scrap, want.Scrap)
		same(c, path+".totals.lane_runs", t.LaneRuns, want.LaneRuns)
		same(c, path+".totals.empty_lane_rows", t.EmptyLaneRows, want.EmptyLaneRows)
		amount(c, path+".totals.web_m", t.Web, want.Web)
		amount(c, path+".totals.area_m2", t.Area, want.Area)
		amount(c, path+".totals.minutes", t.Minutes, want.Minutes)
	}
	if cost, want := stated.Cost, counted.Cost; cost != nil {
		same(c, path+".cost.currency", cost.Currency, want.Currency)
		amount(c, path+".cost.total", cost.Total, want.Total)
		for i, k := range cost.Kinds {
			at := slices.IndexFunc(want.Kinds, func(other Kind) bool { return other.Kind == k.Kind })
			if kind := fmt.Sprintf("%s.cost.kinds[%d]", path, i); at < 0 {
				c.fault(kind+".kind", "this plan has no cost of the kind %q", k.Kind)
			} else {
				amount(c, kind+".cost", k.Cost, want.Kinds[at].Cost)
			}
		}
	}
}

// same compares one stated figure, if the file states it.
func same[T comparable](c *checker, path string, stated, counted T) {
	if _, there := c.lines[path]; there && stated != counted {
		c.fault(path, "states %v, recounted %v", stated, counted)
	}
}

// amount compares numbers by their value: 7 is 7.00.
func amount(c *checker, path string, stated, counted json.Number) {
	if _, there := c.lines[path]; there && !Decimal(stated).Equal(Decimal(counted)) {
		c.fault(path, "states %v, recounted %v", stated, cmp.Or(counted, "0"))
	}
}
