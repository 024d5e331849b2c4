package price

import (
	"context"
	"math"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/nest"
)

// planGang plans a gang and costs the plan. It fails where ctx ended.
func planGang(ctx context.Context, g jobs.Gang, o nest.Options) (Sheet, nest.Result, error) {
	problem, err := g.Problem()
	if err != nil {
		return Sheet{}, nest.Result{}, err
	}
	o.Unit = decimal.New(1, -g.Places()).InexactFloat64()
	result, err := nest.Solve(ctx, problem, o)
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		return Sheet{}, nest.Result{}, err
	}
	// Where the work ended before any bound was proven the gap is infinite:
	// all of the cost is open.
	result.Gap = math.Min(result.Gap, 1)
	sheet, err := NewSheet(g, result.Plan)
	return sheet, result, err
}

// withOrders is the gang with these orders in place of its own. Rules that
// name other versions lose those names; a fixed number of sections is
// dropped, since it was meant for all orders.
func withOrders(g jobs.Gang, orders []jobs.Order) jobs.Gang {
	kept := map[string]bool{}
	for _, order := range orders {
		for _, version := range order.Versions {
			kept[version.ID] = true
		}
	}
	only := func(sets [][]string) [][]string {
		var list [][]string
		for _, set := range sets {
			var ids []string
			for _, id := range set {
				if kept[id] {
					ids = append(ids, id)
				}
			}
			if len(ids) > 1 {
				list = append(list, ids)
			}
		}
		return list
	}
	g.Orders = orders
	g.Rules.Sections = 0
	g.Rules.Together, g.Rules.Apart = only(g.Rules.Together), only(g.Rules.Apart)
	return g
}

// restricted is what is left of a gang's plan when only the sub-gang's
// versions run, each section cut down as far as their demands allow, with its
// cost; false where the rest breaks a rule.
func restricted(gang jobs.Gang, whole nest.Plan, sub jobs.Gang) (nest.Plan, Sheet, bool) {
	problem, err := sub.Problem()
	if err != nil {
		return nest.Plan{}, Sheet{}, false
	}
	index := map[string]int{}
	for i, entry := range sub.Entries() {
		index[entry.Version.ID] = i
	}
	entries := gang.Entries()
	var plan nest.Plan
	for _, section := range whole.Sections {
		kept := nest.Section{Rows: section.Rows, Lanes: make([]int, len(section.Lanes))}
		runs := false
		for lane, version := range section.Lanes {
			kept.Lanes[lane] = nest.Empty
			if version != nest.Empty {
				if i, is := index[entries[version].Version.ID]; is {
					kept.Lanes[lane], runs = i, true
				}
			}
		}
		if runs {
			plan.Sections = append(plan.Sections, kept)
		}
	}
	cutDown(problem, &plan)
	plan.Cost = nest.Recount(problem, plan).Cost
	if nest.Check(problem, plan) != nil {
		return nest.Plan{}, Sheet{}, false
	}
	sheet, err := NewSheet(sub, plan)
	return plan, sheet, err == nil
}

// cutDown shortens the sections, the last first, by what none of their
// versions needs, in whole frames.
func cutDown(p nest.Problem, plan *nest.Plan) {
	for k := len(plan.Sections) - 1; k >= 0; k-- {
		count := nest.Recount(p, *plan)
		lanes := map[int]int{}
		for _, version := range plan.Sections[k].Lanes {
			if version != nest.Empty {
				lanes[version]++
			}
		}
		spare := plan.Sections[k].Rows - 1
		for version, n := range lanes {
			v := p.Versions[version]
			fewest := v.Fewest
			if fewest == 0 {
				fewest = v.Quantity
			}
			spare = min(spare, max(0, count.Versions[version].Planned-fewest)/n)
		}
		frame := max(1, p.Limits.Frame)
		plan.Sections[k].Rows -= spare / frame * frame
	}
}
