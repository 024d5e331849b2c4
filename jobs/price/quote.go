package price

import (
	"errors"
	"fmt"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
)

// ErrNoPricing is returned where the shop has set neither markup nor margin
// that fits: no price is made up.
var ErrNoPricing = errors.New("the shop has set neither markup nor margin")

// Quote is a price for an amount of labels.
type Quote struct {
	Cost        decimal.Decimal // what the price is made from
	Price       decimal.Decimal // tax left out
	PerThousand decimal.Decimal // Price for 1,000 labels, to the minor unit
	Basis       string          // in words: which markup or margin, minimum, rounding
}

var one = decimal.NewFromInt(1)

// QuoteFor makes a price out of a cost: the first class that fits customer
// and labels, else the shop's markup or margin; then rounding; then the
// minimum price. The pricing must have passed jobs.Pricing.Check.
func QuoteFor(p jobs.Pricing, places int32, customer string, labels int, cost decimal.Decimal) (Quote, error) {
	markup, margin, basis := p.Markup, p.Margin, ""
	for _, class := range p.Classes {
		if (class.Customer == "" || class.Customer == customer) && labels >= class.FromLabels {
			markup, margin = class.Markup, class.Margin
			basis = classWords(class) + ": "
			break
		}
	}
	q := Quote{Cost: cost}
	switch {
	case markup != nil:
		q.Price = cost.Mul(one.Add(*markup))
		basis += percent(*markup) + " markup"
	case margin != nil && margin.LessThan(one):
		q.Price = cost.DivRound(one.Sub(*margin), places+6)
		basis += percent(*margin) + " margin"
	default:
		return Quote{}, ErrNoPricing
	}
	q.Price, basis = rounded(p, places, q.Price, basis)
	if p.MinimumPrice != nil && q.Price.LessThan(*p.MinimumPrice) {
		q.Price = *p.MinimumPrice
		basis += ", minimum price"
	}
	q.Basis = basis
	q.perThousand(labels, places)
	return q, nil
}

func (q *Quote) perThousand(labels int, places int32) {
	if labels > 0 {
		q.PerThousand = q.Price.Mul(whole(1000)).DivRound(whole(labels), places)
	}
}

// rounded applies the shop's rounding rule.
func rounded(p jobs.Pricing, places int32, price decimal.Decimal, basis string) (decimal.Decimal, string) {
	step := decimal.New(1, -places)
	if p.RoundTo != nil {
		step = *p.RoundTo
	}
	steps := price.DivRound(step, 6)
	way := "rounded to "
	if p.RoundUp {
		steps, way = steps.Ceil(), "rounded up to "
	} else {
		steps = steps.Round(0)
	}
	if p.RoundTo != nil || p.RoundUp {
		basis += ", " + way + step.String()
	}
	return steps.Mul(step), basis
}

func percent(fraction decimal.Decimal) string {
	return fraction.Mul(decimal.NewFromInt(100)).String() + " %"
}

func classWords(c jobs.PriceClass) string {
	switch {
	case c.Customer != "" && c.FromLabels > 0:
		return fmt.Sprintf("%s from %d labels", c.Customer, c.FromLabels)
	case c.Customer != "":
		return c.Customer
	}
	return fmt.Sprintf("from %d labels", c.FromLabels)
}

// labelsOf an order, all versions together.
func labelsOf(order jobs.Order) int {
	n := 0
	for _, version := range order.Versions {
		n += version.Quantity
	}
	return n
}

// Warning says that a price rests on a plan whose gap, in money, is wider
// than what the price leaves above cost; "" where it does not. cost and price
// belong together, gap is the plan's, a fraction of cost.
func Warning(what string, places int32, cost, price decimal.Decimal, gap float64) string {
	open := cost.Mul(decimal.NewFromFloat(gap))
	left := price.Sub(cost)
	if gap <= 0 || open.LessThan(left) {
		return ""
	}
	return fmt.Sprintf("%s: the plan may cost up to %s more than need be, and the price leaves only %s above cost",
		what, open.StringFixed(places), left.StringFixed(places))
}
