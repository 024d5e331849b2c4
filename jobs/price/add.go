package price

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/nest"
)

// Addition is what further orders do to a gang.
type Addition struct {
	Gang   string
	Orders []string // the further orders' ids
	Labels int      // of them, all versions together
	// Before, After and Alone are the gang as it stands, with the further
	// orders, and those by themselves in one set-up. Before has no cost where
	// the gang holds nothing else.
	Before, After, Alone Costed
	// Added is what the further orders add to the gang. It is never below
	// zero, since a plan for more serves for less, and never above Alone.
	Added decimal.Decimal
	// Together is false where a set-up of their own costs less than joining,
	// or where joining has no plan; Added is then Alone's cost.
	Together bool
	// Floor is the lowest sensible price: at less the shop pays for the order.
	// Ceiling is the highest: what the orders cost alone, with the shop's
	// usual markup where it has set one.
	Floor, Ceiling decimal.Decimal
	Quote          *Quote // behind Ceiling; nil where the shop set no pricing
	// Rush lists the rush versions of the gang as it stands, with when each
	// is finished.
	Rush  []Shift
	Notes []string
}

// Costed is a planned gang's cost.
type Costed struct {
	Cost   decimal.Decimal
	Gap    float64 // of the plan, a fraction; 0 is proven
	Failed string  // why there is no plan; empty where there is one
}

// Shift is when a version is finished before and after. Times are minutes
// from the start of the set-up, or rows where the gang knows no times.
type Shift struct {
	Order, Version string
	Before, After  float64
	InRows         bool
}

// Later tells whether the version is finished later, by more than a second or
// a row.
func (s Shift) Later() bool {
	least := 1. / 60
	if s.InRows {
		least = 0.5
	}
	return s.After-s.Before > least
}

// Add tells what further orders add to a gang. It plans the gang as it
// stands, the gang with the orders, and the orders alone, all with the same
// work. The orders' versions need ids that the gang does not have yet.
func Add(ctx context.Context, g jobs.Gang, further []jobs.Order, o Options) (Addition, error) {
	o = o.withDefaults()
	further = slices.Clone(further)
	a := Addition{Gang: g.ID}
	for i := range further {
		further[i].Filler = false
		a.Orders = append(a.Orders, further[i].ID)
		a.Labels += labelsOf(further[i])
	}
	if len(further) == 0 {
		return Addition{}, errors.New("no order to add")
	}
	grown, own := withOrders(g, append(slices.Clone(g.Orders), further...)), withOrders(g, further)
	gangs := []jobs.Gang{g, grown, own}
	results := make([]outcome, len(gangs))
	err := inParallel(ctx, o.Workers, len(gangs), func(k int) (err error) {
		if len(gangs[k].Orders) == 0 {
			return nil
		}
		results[k], err = try(ctx, gangs[k], o)
		return err
	})
	if err != nil {
		return Addition{}, fmt.Errorf("gang %s: %w", g.ID, err)
	}
	before, after, alone := &results[0], &results[1], &results[2]
	if after.Failed == "" && len(g.Orders) > 0 {
		if plan, sheet, ok := restricted(grown, after.plan, g); ok && (before.Failed != "" || sheet.Total.LessThan(before.Cost)) {
			*before = outcome{plan: plan, Costed: Costed{Cost: sheet.Total, Gap: before.Gap}}
		}
	}
	if before.Failed != "" {
		return Addition{}, fmt.Errorf("gang %s as it stands: %w", g.ID, before.err)
	}
	a.settle(g, *before, *after, *alone)
	a.Rush = shifts(g, before.plan, grown, after.plan, a.Together)
	a.price(g, further)
	return a, nil
}

// outcome of planning one gang.
type outcome struct {
	Costed
	plan nest.Plan
	err  error // behind Failed
}

// try plans a gang; one without a plan is no error.
func try(ctx context.Context, g jobs.Gang, o Options) (outcome, error) {
	sheet, result, err := planGang(ctx, g, nest.Options{Engine: o.Engine, Work: o.GangWork, Seed: o.Seed, Workers: 1})
	var infeasible *nest.Infeasible
	var none *nest.NoPlan
	if errors.As(err, &infeasible) || errors.As(err, &none) && ctx.Err() == nil {
		return outcome{Costed: Costed{Failed: err.Error()}, err: err}, nil
	}
	return outcome{plan: result.Plan, Costed: Costed{Cost: sheet.Total, Gap: result.Gap}}, err
}

// settle compares joining with a set-up of their own.
func (a *Addition) settle(g jobs.Gang, before, after, alone outcome) {
	a.Before, a.After, a.Alone = before.Costed, after.Costed, alone.Costed
	joined := after.Cost.Sub(before.Cost)
	if joined.IsNegative() {
		joined = decimal.Zero
	}
	switch {
	case after.Failed != "" && alone.Failed != "":
		a.Notes = append(a.Notes, "the orders have a plan neither in the gang nor alone: "+after.Failed)
		return
	case after.Failed != "":
		a.Added = alone.Cost
		a.Notes = append(a.Notes, "the orders cannot join the gang: "+after.Failed)
	case alone.Failed != "":
		a.Added, a.Together = joined, true
		a.Notes = append(a.Notes, "the orders have no plan alone: "+alone.Failed)
	case alone.Cost.LessThan(joined):
		a.Added = alone.Cost
		a.Notes = append(a.Notes, fmt.Sprintf("joining would add %s, a set-up of their own costs %s: they are cheaper apart",
			joined.StringFixed(g.Places()), alone.Cost.StringFixed(g.Places())))
	default:
		a.Added, a.Together = joined, true
	}
}

// price tells floor and ceiling.
func (a *Addition) price(g jobs.Gang, further []jobs.Order) {
	places := g.Places()
	a.Floor, a.Ceiling = a.Added, a.Alone.Cost
	if a.Alone.Failed != "" {
		a.Ceiling = a.Added
	}
	quote, err := QuoteFor(g.Pricing, places, further[0].Customer, a.Labels, a.Ceiling)
	if err != nil {
		a.Notes = append(a.Notes, "no markup: "+err.Error()+", so the ceiling is what the orders cost alone")
		return
	}
	a.Quote, a.Ceiling = &quote, quote.Price
	if open := a.After.Cost.Mul(decimal.NewFromFloat(a.After.Gap)); a.Together && open.IsPositive() && !open.LessThan(a.Ceiling.Sub(a.Floor)) {
		a.Notes = append(a.Notes, fmt.Sprintf("the plan of the gang with them may cost up to %s more than need be, which is more than lies between floor and ceiling",
			open.StringFixed(places)))
	}
	if w := Warning("orders alone", places, quote.Cost, quote.Price, a.Alone.Gap); w != "" {
		a.Notes = append(a.Notes, w)
	}
}

// shifts compares when rush versions are finished. Where the orders do not
// join, nothing moves.
func shifts(g jobs.Gang, before nest.Plan, grown jobs.Gang, after nest.Plan, together bool) []Shift {
	was := finished(g, before)
	is := was
	if together {
		is = finished(grown, after)
	}
	var list []Shift
	for _, entry := range g.Entries() {
		then, runs := was[entry.Version.ID]
		if !entry.Order.Rush || !runs {
			continue
		}
		list = append(list, Shift{Order: entry.Order.ID, Version: entry.Version.ID, Before: then, After: is[entry.Version.ID], InRows: !timed(g)})
	}
	return list
}

// timed tells whether a gang knows how long it takes.
func timed(g jobs.Gang) bool { return g.Bare == nil && g.Press.Speed > 0 }

// finished is jobs.Gang.Finished; nil where the gang has no problem.
func finished(g jobs.Gang, plan nest.Plan) map[string]float64 {
	end, err := g.Finished(plan)
	if err != nil {
		return nil
	}
	return end
}
