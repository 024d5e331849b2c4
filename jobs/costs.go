package jobs

import "github.com/shopspring/decimal"

// moneyPlaces are the decimals of money per row, per section and so on: far
// beyond any smallest unit, so that a million rows do not show the rounding.
const moneyPlaces = 18

var minutesAnHour = decimal.NewFromInt(60)

// UnitCosts are the money that a plan of a gang is made of, to 18 decimals.
type UnitCosts struct {
	// Row of web in all lanes: its area at the price of stock and finishes,
	// its press time and its impression charge.
	Row decimal.Decimal
	// Changeover between two sections, Setup before the first and a Splice
	// inside one: web area and press time of each. Running the lost web is
	// part of the stated minutes.
	Changeover, Setup, Splice decimal.Decimal
	// LaneRun that is not carried over.
	LaneRun decimal.Decimal
}

// UnitCosts of a gang. Those of a bare gang are as stated: its sections all
// cost the same, and nothing is known of splices.
func (g Gang) UnitCosts() UnitCosts {
	if g.Bare != nil {
		return UnitCosts{Row: g.Bare.Row, Changeover: g.Bare.Section, Setup: g.Bare.Section, LaneRun: g.Bare.LaneRun}
	}
	pitch, p := g.Die.Pitch(), g.Press
	return UnitCosts{
		Row:        g.webCost(pitch).Add(p.timeCost(p.RunMinutes(pitch))).Add(p.ImpressionCharge),
		Changeover: g.webCost(p.ChangeoverWeb).Add(p.timeCost(p.ChangeoverMin)),
		Setup:      g.webCost(p.SetupLength(pitch)).Add(p.timeCost(p.SetupMinutes)),
		Splice:     g.webCost(g.Stock.SpliceWeb).Add(p.timeCost(g.Stock.SpliceMinutes)),
		LaneRun:    p.LaneRunCost,
	}
}

// AreaPrice is what a square metre of the whole web costs: stock and every
// finish on it. Set-up, changeovers and splices are finished like the rest,
// since the finish runs with the web.
func (g Gang) AreaPrice() decimal.Decimal {
	price := g.Stock.PricePerSquareMetre
	for _, f := range g.Finishes {
		price = price.Add(f.PricePerSquareMetre)
	}
	return price
}

func (g Gang) webCost(length Length) decimal.Decimal {
	return Area(g.Die.Web, length).Mul(g.AreaPrice())
}

// RunMinutes that web of this length takes at the press's speed, to 18
// decimals; 0 where no speed is stated.
func (p Press) RunMinutes(length Length) decimal.Decimal {
	if p.Speed <= 0 {
		return decimal.Zero
	}
	return decimal.NewFromInt(int64(length)).DivRound(decimal.NewFromInt(int64(p.Speed)), moneyPlaces)
}

// timeCost is what minutes on the press cost at its hourly rate.
func (p Press) timeCost(minutes decimal.Decimal) decimal.Decimal {
	return minutes.Mul(p.HourlyRate).DivRound(minutesAnHour, moneyPlaces)
}
