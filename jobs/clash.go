package jobs

import (
	"fmt"
	"slices"

	"laneplan/nest"
)

// mostDemands that a clash lists one by one; its sentence names them anyway.
const mostDemands = 6

// Clash tells where in a gang the rules stand that clash, each with what it
// says. p is the gang's problem. That a version has to run at all is left out
// where another rule of the clash is about it, and where there are many.
func (g Gang) Clash(p nest.Problem, e *nest.Infeasible) Faults {
	places := g.places()
	named := map[int]bool{}
	demands := 0
	for _, t := range e.Terms {
		if t.Rule == nest.RuleDemand {
			demands++
		} else if t.Version >= 0 {
			named[t.Version] = true
		}
	}
	var faults Faults
	for _, t := range e.Terms {
		if t.Rule == nest.RuleDemand && (named[t.Version] || demands > mostDemands) {
			continue
		}
		faults = append(faults, Fault{Path: g.pathOf(t, places), Message: t.Clause(p)})
	}
	return faults
}

// place of a version: the paths of its order and of itself.
type place struct{ order, version string }

// places of the versions, in the order of Entries.
func (g Gang) places() []place {
	var all []place
	for i, o := range g.Orders {
		for j := range o.Versions {
			order := fmt.Sprintf("orders[%d].", i)
			all = append(all, place{order, order + fmt.Sprintf("versions[%d].", j)})
		}
	}
	return all
}

// pathOf is the path of a term.
func (g Gang) pathOf(t nest.Term, places []place) string {
	die := "die."
	if g.Bare != nil {
		die = ""
	}
	if t.Version >= 0 {
		return g.pathInVersion(t, places[t.Version])
	}
	switch t.Rule {
	case nest.RuleClosed:
		return fmt.Sprintf("%sclosed_lanes[%d]", die, slices.Index(g.Die.ClosedLanes, t.Set))
	case nest.RuleTogether:
		return fmt.Sprintf("rules.together[%d]", t.Set)
	case nest.RuleApart:
		return fmt.Sprintf("rules.apart[%d]", t.Set)
	case nest.RuleSections:
		return "rules.sections"
	case nest.RuleMostSections:
		return "rules.most_sections"
	case nest.RuleVersionsPerSection:
		return "rules.versions_per_section"
	case nest.RuleFrame:
		return die + "frame_rows"
	case nest.RuleLeastRows:
		if g.Rules.LeastSection > 0 && g.leastRows() > g.Rules.LeastRows {
			return "rules.least_section"
		}
		return "rules.least_rows"
	case nest.RuleWholeRolls:
		return "rules.whole_rolls"
	case nest.RuleRollLength:
		return "stock.roll_length"
	}
	return "rules"
}

func (g Gang) pathInVersion(t nest.Term, at place) string {
	switch t.Rule {
	case nest.RuleOnlyLanes:
		if len(g.Entries()[t.Version].Version.OnlyLanes) == 0 {
			return at.version + "not_lanes"
		}
		return at.version + "only_lanes"
	case nest.RuleLeastLanes:
		return at.version + "least_lanes"
	case nest.RuleMostLanes:
		return at.version + "most_lanes"
	case nest.RuleOnePiece:
		return at.version + "one_piece"
	case nest.RuleRush:
		return at.order + "rush"
	case nest.RuleDeadline:
		return at.order + "due"
	case nest.RuleSplicesPerRoll:
		return at.version + "most_splices"
	}
	return at.version + "quantity"
}
