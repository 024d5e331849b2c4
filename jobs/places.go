package jobs

import (
	"github.com/shopspring/decimal"
	"golang.org/x/text/currency"
)

// mostPlaces of abstract costs that are written: beyond them a sum of floats
// is no longer exact.
const mostPlaces = 6

// Places is the number of decimals that a gang's money has in a plan: those
// of its currency's smallest unit (ISO 4217), or, for abstract costs, two or
// as many as the costs have.
func (g Gang) Places() int32 {
	if unit, err := currency.ParseISO(g.Currency); err == nil {
		scale, _ := currency.Standard.Rounding(unit)
		return int32(scale)
	}
	places := int32(2)
	if g.Bare != nil {
		for _, cost := range []decimal.Decimal{g.Bare.Row, g.Bare.Section, g.Bare.LaneRun} {
			places = max(places, -cost.Exponent())
		}
	}
	return min(places, mostPlaces)
}
