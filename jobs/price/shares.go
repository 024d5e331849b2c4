package price

import (
	"context"
	"errors"
	"fmt"

	"github.com/shopspring/decimal"

	"laneplan/jobs/price/game"
)

// Shares is how the cost of a gang falls on its orders.
type Shares struct {
	Rule   game.Rule
	Total  decimal.Decimal // of the gang; the shares add up to it exactly
	Orders []OrderShare
	// Core is nil where it was not tested.
	Core *game.Core
	// Notes are what the reader has to know, a sentence each: what the rule
	// could not promise, which limits cut, who is left out.
	Notes []string
}

// OrderShare is one order's part. Saving = Alone − Share.
type OrderShare struct {
	Order, Customer string
	Labels          int
	Alone           decimal.Decimal // the order's own cheapest plan
	Added           decimal.Decimal // what the gang costs more with it than without
	Share           decimal.Decimal
	Saving          decimal.Decimal
	StdErr          decimal.Decimal // of a sampled share; 0 where exact
	Quote           *Quote          // from Share; nil where the shop set no pricing
}

// Share splits the gang's cost by a rule and quotes each order's price from
// its share.
func (c *Coalitions) Share(ctx context.Context, rule game.Rule) (Shares, error) {
	n := len(c.orders)
	places := c.gang.Places()
	needsAll := rule == game.Fair || rule == game.Shapley || rule == game.Nucleolus
	g := c.Game(needsAll && n <= c.o.ExactOrders)
	split, err := game.Share(ctx, g, rule, game.Options{Engine: c.o.Engine, ExactPlayers: c.o.ExactOrders, Samples: c.o.Samples, Seed: c.o.Seed})
	if err != nil {
		return Shares{}, fmt.Errorf("sharing by %s: %w", rule, err)
	}
	limits, err := game.LimitsOf(ctx, g)
	if err != nil {
		return Shares{}, err
	}
	money, err := game.ToMinor(c.whole.Total, split.Shares, places)
	if err != nil {
		return Shares{}, err
	}
	s := Shares{Rule: rule, Total: c.whole.Total, Core: split.Core}
	for i, order := range c.orders {
		share := OrderShare{
			Order: order.ID, Customer: order.Customer, Labels: labelsOf(order), Share: money[i],
			Alone: decimal.NewFromFloat(limits.Alone[i]).Round(places),
			Added: decimal.NewFromFloat(limits.Added[i]).Round(places),
		}
		share.Saving = share.Alone.Sub(share.Share)
		if split.StdErr != nil {
			share.StdErr = decimal.NewFromFloat(split.StdErr[i]).Round(places)
		}
		quote, err := QuoteFor(c.gang.Pricing, places, order.Customer, share.Labels, share.Share)
		switch {
		case err == nil:
			share.Quote = &quote
		case !errors.Is(err, ErrNoPricing):
			return Shares{}, err
		}
		s.Orders = append(s.Orders, share)
	}
	s.Notes = c.notes(split, limits, places, s)
	return s, nil
}

// notes puts into words what has to be said of a split.
func (c *Coalitions) notes(split game.Split, limits game.Limits, places int32, s Shares) []string {
	var notes []string
	add := func(format string, args ...any) { notes = append(notes, fmt.Sprintf(format, args...)) }
	money := func(amount float64) string { return decimal.NewFromFloat(amount).StringFixed(places) }
	if split.Fallback != "" {
		add("rule %s: %s", split.Rule, split.Fallback)
	}
	switch {
	case split.Core != nil && split.Core.Exists && len(s.Orders) > 1:
		add("no group of orders would do better in set-ups of its own under some split of this cost (the core is not empty)")
	case split.Core != nil && !split.Core.Exists:
		add("whatever the split, some group of orders pays at least %s more than in a set-up of its own (the core is empty)", money(split.Core.Violation))
	}
	if c.table != nil && len(c.orders) > 1 && c.apart < limits.Total {
		add("the gang costs %s, its orders in several set-ups %s: dividing the gang is cheaper", money(limits.Total), money(c.apart))
	}
	// Half a minor unit of slack: shares are whole minor units.
	for _, b := range limits.Breaches(inexact(s), 0.5*decimal.New(1, -places).InexactFloat64()) {
		if b.Above {
			add("order %s pays %s more than alone", c.orders[b.Player].ID, money(b.By))
		} else {
			add("order %s pays %s less than it adds", c.orders[b.Player].ID, money(b.By))
		}
	}
	if split.Samples > 0 {
		add("shares are the mean of %d random orders of arrival, with the standard errors shown", split.Samples)
	}
	for _, id := range c.leftOut {
		add("order %s is left out of this plan and carries no share", id)
	}
	e := c.Effort()
	if cut := e.Planned - e.Proven - e.NoPlan; cut > 0 {
		var widest string
		switch {
		case e.NoBound == cut:
			widest = "no bound on their costs is known"
		case e.NoBound > 0:
			widest = fmt.Sprintf("the widest gap is %.1f %%, and for %d no bound is known", 100*e.WorstGap, e.NoBound)
		default:
			widest = fmt.Sprintf("the widest gap is %.1f %%", 100*e.WorstGap)
		}
		add("%d of %d sub-gangs were planned up to a work limit (%g a version), not to a proven optimum; %s", cut, e.Planned, e.Work, widest)
	}
	if e.NoPlan > 0 {
		add("for %d sub-gangs no plan was found, and they count as the cheapest gang that holds them", e.NoPlan)
	}
	return notes
}

func inexact(s Shares) []float64 {
	list := make([]float64, len(s.Orders))
	for i, order := range s.Orders {
		list[i] = order.Share.InexactFloat64()
	}
	return list
}

// Warnings about prices that rest on a plan whose gap is wider than what they
// leave above cost: one for the gang, else one for each order concerned.
func Warnings(s Shares, places int32, gap float64) []string {
	var list []string
	prices := decimal.Zero
	for _, order := range s.Orders {
		if order.Quote == nil {
			return nil
		}
		prices = prices.Add(order.Quote.Price)
		if w := Warning("order "+order.Order, places, order.Share, order.Quote.Price, gap); w != "" {
			list = append(list, w)
		}
	}
	if w := Warning("all orders together", places, s.Total, prices, gap); w != "" {
		return []string{w}
	}
	return list
}
