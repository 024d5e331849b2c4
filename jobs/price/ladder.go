package price

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
)

// Ladder is one version's price by quantity: in a set-up of its own, and
// added to the rest of its gang.
type Ladder struct {
	Gang, Order, Version string
	AsItStands           Costed // the gang with the quantity that is ordered
	Rungs                []Rung // by quantity, the smallest first
	Notes                []string
}

// Rung is one quantity. Quotes carry the cost that they are made from; their
// Price is zero where the shop set no pricing. Added's cost is what the
// quantity adds to the rest of the gang.
type Rung struct {
	Quantity       int
	Alone, Added   Quote
	AloneGap       float64         // of the plan, a fraction
	AddedOpen      decimal.Decimal // what the plan of the gang with it may cost more than need be
	RaisedToRungOf int             // 0, or the smaller quantity whose price a class's lower markup would have undercut
}

// MakeLadder prices a version of a gang at several quantities. Neither cost
// nor price ever falls as the quantity grows: a plan for more serves for
// less, and where a quantity class would make more labels cheaper in all, the
// smaller quantity's price stands.
func MakeLadder(ctx context.Context, g jobs.Gang, version string, quantities []int, o Options) (Ladder, error) {
	o = o.withDefaults()
	quantities = slices.Clone(quantities)
	slices.Sort(quantities)
	quantities = slices.Compact(quantities)
	if len(quantities) == 0 || quantities[0] < 1 {
		return Ladder{}, errors.New("ladder: want quantities from 1 up")
	}
	order, rest, found := without(g, version)
	if !found {
		return Ladder{}, fmt.Errorf("ladder: gang %s has no version %s", g.ID, version)
	}
	l := Ladder{Gang: g.ID, Order: order.ID, Version: version}
	// Gangs to plan: the rest, then for every quantity alone and together,
	// and the gang itself.
	gangs := []jobs.Gang{withOrders(g, rest)}
	for _, quantity := range quantities {
		one := order
		one.Versions = slices.Clone(order.Versions)
		one.Versions[0].Quantity = quantity
		one.Versions[0].Fewest, one.Versions[0].Most = nil, nil // numbers of labels fit one quantity
		gangs = append(gangs, withOrders(g, []jobs.Order{one}), withOrders(g, joined(rest, one)))
	}
	gangs = append(gangs, g)
	results := make([]outcome, len(gangs))
	err := inParallel(ctx, o.Workers, len(gangs), func(k int) (err error) {
		if len(gangs[k].Orders) == 0 {
			return nil
		}
		results[k], err = try(ctx, gangs[k], o)
		return cmp.Or(err, results[k].err)
	})
	if err != nil {
		return Ladder{}, fmt.Errorf("ladder of version %s: %w", version, err)
	}
	l.AsItStands = results[len(results)-1].Costed
	l.climb(g, order.Customer, quantities, results)
	return l, nil
}

// climb fills the rungs from the plans, in the order in which MakeLadder
// lists them.
func (l *Ladder) climb(g jobs.Gang, customer string, quantities []int, results []outcome) {
	alone, together := make([]decimal.Decimal, len(quantities)), make([]decimal.Decimal, len(quantities))
	for i := range quantities {
		alone[i], together[i] = results[1+2*i].Cost, results[2+2*i].Cost
	}
	base := results[0].Cost
	// From the largest down: a plan for more serves for less.
	for i := len(quantities) - 2; i >= 0; i-- {
		alone[i] = decimal.Min(alone[i], alone[i+1])
		together[i] = decimal.Min(together[i], together[i+1])
	}
	base = decimal.Min(base, together[0])
	var last Rung
	for i, quantity := range quantities {
		added := decimal.Min(together[i].Sub(base), alone[i])
		with := results[2+2*i]
		r := Rung{Quantity: quantity, AloneGap: results[1+2*i].Gap, AddedOpen: with.Cost.Mul(decimal.NewFromFloat(with.Gap))}
		var raised [2]bool
		r.Alone, raised[0] = rung(g, customer, quantity, alone[i], last.Alone)
		r.Added, raised[1] = rung(g, customer, quantity, added, last.Added)
		if raised[0] || raised[1] {
			r.RaisedToRungOf = last.Quantity
			l.Notes = append(l.Notes, fmt.Sprintf("the price of %d labels is raised to that of %d: its class would make more labels cheaper in all", quantity, last.Quantity))
		}
		if w := Warning(fmt.Sprintf("%d labels alone", quantity), g.Places(), r.Alone.Cost, r.Alone.Price, r.AloneGap); w != "" && !r.Alone.Price.IsZero() {
			l.Notes = append(l.Notes, w)
		}
		l.Rungs = append(l.Rungs, r)
		last = r
	}
	if w := l.nearFloor(g.Places()); w != "" {
		l.Notes = append(l.Notes, w)
	}
	if last.Alone.Price.IsZero() {
		l.Notes = append(l.Notes, "no price: "+ErrNoPricing.Error()+"; costs only")
	}
}

// nearFloor names the quantities whose price, added to the gang, leaves less
// above cost than the plan of the gang leaves open; "" where there is none.
func (l *Ladder) nearFloor(places int32) string {
	var quantities []string
	var open decimal.Decimal
	for _, r := range l.Rungs {
		left := r.Added.Price.Sub(r.Added.Cost)
		if r.Added.Price.IsPositive() && r.AddedOpen.IsPositive() && !r.AddedOpen.LessThan(left) {
			quantities = append(quantities, strconv.Itoa(r.Quantity))
			open = decimal.Max(open, r.AddedOpen)
		}
	}
	if quantities == nil {
		return ""
	}
	return fmt.Sprintf("%s labels added to the gang: its plan may cost up to %s more than need be, and the price leaves no more than that above cost",
		strings.Join(quantities, ", "), open.StringFixed(places))
}

// rung quotes one quantity, not below the rung before.
func rung(g jobs.Gang, customer string, quantity int, cost decimal.Decimal, before Quote) (Quote, bool) {
	q, err := QuoteFor(g.Pricing, g.Places(), customer, quantity, cost)
	if err != nil {
		return Quote{Cost: cost}, false
	}
	if !q.Price.LessThan(before.Price) {
		return q, false
	}
	q.Price = before.Price
	q.Basis += ", raised to the smaller quantity's price"
	q.perThousand(quantity, g.Places())
	return q, true
}

// without takes a version out of a gang: the version as an order of its own,
// and what is left.
func without(g jobs.Gang, version string) (own jobs.Order, rest []jobs.Order, found bool) {
	for _, order := range g.Orders {
		kept := order
		kept.Versions = nil
		for _, v := range order.Versions {
			if v.ID != version {
				kept.Versions = append(kept.Versions, v)
				continue
			}
			own, found = order, true
			own.Filler, own.Outwork, own.Versions = false, nil, []jobs.Version{v}
		}
		if len(kept.Versions) > 0 {
			rest = append(rest, kept)
		}
	}
	return own, rest, found
}

// joined puts a version back among the rest: into its own order where that
// has others, so that what is charged by the order is charged once.
func joined(rest []jobs.Order, one jobs.Order) []jobs.Order {
	list := slices.Clone(rest)
	for i, order := range list {
		if order.ID == one.ID {
			list[i].Versions = append(slices.Clone(order.Versions), one.Versions...)
			return list
		}
	}
	return append(list, one)
}
