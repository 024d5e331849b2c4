package planfile

import (
	"fmt"

	"laneplan/jobs/intake/fault"
	"laneplan/nest"
)

// Find is the gang of a document that has this id, or the only one that it
// has, since a hand-made plan need not repeat the id.
func (d Document) Find(id string) (Gang, error) {
	i, err := d.index(id)
	if err != nil {
		return Gang{}, err
	}
	return d.Gangs[i], nil
}

func (d Document) index(id string) (int, error) {
	for i, g := range d.Gangs {
		if g.ID == id {
			return i, nil
		}
	}
	if len(d.Gangs) == 1 {
		return 0, nil
	}
	return 0, fault.Of(d.source.name, "holds %d gangs and none of them is %q", len(d.Gangs), id)
}

// Plan turns what the file says into a plan of the problem, its cost
// recounted. It fails where a section names a version that the
// problem does not have; whether the plan holds is for nest.Check.
func (g Gang) Plan(p nest.Problem) (nest.Plan, error) {
	byID := map[string]int{}
	for i, v := range p.Versions {
		byID[v.ID] = i
	}
	var plan nest.Plan
	first := 0
	for i, s := range g.Sections {
		section := nest.Section{Rows: s.Rows, Lanes: make([]int, len(s.Lanes))}
		for lane, id := range s.Lanes {
			section.Lanes[lane] = nest.Empty
			if id == nil {
				continue
			}
			v, known := byID[*id]
			if !known {
				return nest.Plan{}, fmt.Errorf("section %d, lane %d: the problem has no version %q", s.Number, lane+1, *id)
			}
			section.Lanes[lane] = v
		}
		if s.FreshRoll {
			plan.RollChanges = append(plan.RollChanges, i)
		}
		for _, row := range s.SplicesAfter {
			plan.Splices = append(plan.Splices, first+row)
		}
		first += s.Rows
		plan.Sections = append(plan.Sections, section)
	}
	plan.Cost = nest.Recount(p, plan).Cost
	return plan, nil
}
