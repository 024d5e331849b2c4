package nest

import "fmt"

// PlaceRolls makes a plan of sections that stand as they are to run: it places
// the ends of the parent rolls, with the fewest splices and then the fewest
// changes, and counts the cost. Whether the sections keep the problem's rules
// is for Check. Errors: a fault in the problem, lanes that it does not have,
// and a parent roll that cannot end anywhere within the customers' limits.
func PlaceRolls(p Problem, sections []Section) (Plan, error) {
	if err := Validate(p); err != nil {
		return Plan{}, err
	}
	for k, s := range sections {
		if len(s.Lanes) != p.Lanes {
			return Plan{}, fmt.Errorf("nest: section %d names %d lanes, the die has %d", k+1, len(s.Lanes), p.Lanes)
		}
		for lane, v := range s.Lanes {
			if v != Empty && (v < 0 || v >= len(p.Versions)) {
				return Plan{}, fmt.Errorf("nest: section %d, lane %d: there is no version %d", k+1, lane+1, v)
			}
		}
	}
	in := compile(&p)
	plan := Plan{Sections: sections}
	w, ok := in.reels(in.draftOf(plan))
	if !ok {
		return Plan{}, fmt.Errorf("nest: no parent roll can end where the customers' splices allow it")
	}
	plan.Splices, plan.RollChanges = w.splices, w.changes
	plan.Cost = Recount(p, plan).Cost
	return plan, nil
}
