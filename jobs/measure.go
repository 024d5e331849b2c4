package jobs

import (
	"github.com/shopspring/decimal"

	"laneplan/nest"
)

// Measures of a plan: what it takes of web, time and money.
type Measures struct {
	Count nest.Count
	// Web and Minutes are zero where the gang is bare.
	Web     WebUse
	Area    decimal.Decimal // of all the web, in m²
	Minutes TimeUse
	// Money by kind, in the order of the constants; kinds that do not occur
	// are left out. Earnings are negative.
	Money []Money
	Total decimal.Decimal // of Money
}

// WebUse is the web that runs through the press; Total is the sum.
type WebUse struct {
	Setup, Sections, Changeovers, Splices, Total Length
}

// TimeUse is time on the press in minutes; Total is the sum.
type TimeUse struct {
	Setup, Sections, Changeovers, Splices, Total decimal.Decimal
}

// Money of one kind, not rounded to the currency.
type Money struct {
	Kind   string
	Amount decimal.Decimal
}

// The kinds of money. Rows and Sections are those of a bare gang; the others
// need a shop.
const (
	KindRows        = "rows"
	KindSections    = "sections"
	KindStock       = "stock"
	KindFinish      = "finish"
	KindPress       = "press time"
	KindImpressions = "impressions"
	KindLaneRuns    = "lane runs"
	KindInk         = "ink"
	KindUnders      = "unders not billed"
	KindOvers       = "overs billed"
	KindElsewhere   = "fillers printed another day"
	KindWholeRolls  = "whole rolls at changeovers"
)

// Measure counts a plan of the gang; version indices are those of Problem.
// Total is what nest counts as Cost.Total but for the rounding of floats.
// Money is exact but for press time, which is rounded to 18 decimals.
func (g Gang) Measure(plan nest.Plan) (Measures, error) {
	problem, err := g.Problem()
	if err != nil {
		return Measures{}, err
	}
	m := Measures{Count: nest.Recount(problem, plan)}
	if g.Bare != nil {
		m.add(KindRows, g.Bare.Row.Mul(whole(m.Count.Rows)))
		m.add(KindSections, g.Bare.Section.Mul(whole(m.Count.Sections)))
		m.add(KindLaneRuns, g.Bare.LaneRun.Mul(whole(m.Count.LaneRuns-m.Count.Carried)))
	} else {
		m.webAndTime(g)
		m.add(KindStock, m.Area.Mul(g.Stock.PricePerSquareMetre))
		m.add(KindFinish, m.Area.Mul(g.AreaPrice().Sub(g.Stock.PricePerSquareMetre)))
		m.add(KindPress, g.Press.timeCost(m.Minutes.Total))
		m.add(KindImpressions, g.Press.ImpressionCharge.Mul(whole(m.Count.Rows)))
		m.add(KindLaneRuns, g.Press.LaneRunCost.Mul(whole(m.Count.LaneRuns-m.Count.Carried)))
	}
	if err := m.labels(g); err != nil {
		return Measures{}, err
	}
	return m, nil
}

func (m *Measures) add(kind string, amount decimal.Decimal) {
	if !amount.IsZero() {
		m.Money = append(m.Money, Money{Kind: kind, Amount: amount})
		m.Total = m.Total.Add(amount)
	}
}

// webAndTime of set-up, sections, the changeovers between them and splices.
// A plan without sections still takes its set-up less one changeover, as it
// does in nest.Costs.
func (m *Measures) webAndTime(g Gang) {
	rows, changeovers, splices := m.Count.Rows, m.Count.Sections-1, m.Count.Splices
	w := WebUse{
		Setup:       g.Press.SetupLength(g.Die.Pitch()),
		Sections:    Length(rows) * g.Die.Pitch(),
		Changeovers: Length(changeovers) * g.Press.ChangeoverWeb,
		Splices:     Length(splices) * g.Stock.SpliceWeb,
	}
	w.Total = w.Setup + w.Sections + w.Changeovers + w.Splices
	t := TimeUse{
		Setup:       g.Press.SetupMinutes,
		Sections:    g.Press.RunMinutes(w.Sections),
		Changeovers: g.Press.ChangeoverMin.Mul(whole(changeovers)),
		Splices:     g.Stock.SpliceMinutes.Mul(whole(splices)),
	}
	t.Total = t.Setup.Add(t.Sections).Add(t.Changeovers).Add(t.Splices)
	m.Web, m.Minutes, m.Area = w, t, Area(g.Die.Web, w.Total)
}

// labels adds the money that follows from every version's labels.
func (m *Measures) labels(g Gang) error {
	var ink, unders, overs, elsewhere decimal.Decimal
	for i, e := range g.Entries() {
		v, n := *e.Version, m.Count.Versions[i]
		if n.LeftOut {
			if lost := g.leftOutCost(e); e.Order.Filler {
				elsewhere = elsewhere.Add(lost)
			} else {
				unders = unders.Add(lost)
			}
			continue
		}
		perLabel, err := g.Rates.LabelInk(v)
		if err != nil {
			return err
		}
		ink = ink.Add(perLabel.Mul(whole(n.Planned)))
		unders = unders.Add(v.UnitPrice.Mul(whole(n.Unders)))
		if g.Tolerance(v).BillOvers {
			overs = overs.Sub(v.UnitPrice.Mul(whole(n.Overs)))
		}
	}
	m.add(KindInk, ink)
	m.add(KindUnders, unders)
	m.add(KindOvers, overs)
	m.add(KindElsewhere, elsewhere)
	if g.Rules.WholeRolls == WholeRollsPreferred {
		m.add(KindWholeRolls, g.Rules.WholeRollSaving.Neg().Mul(whole(m.Count.WholeRolls)))
	}
	return nil
}

func whole(n int) decimal.Decimal { return decimal.NewFromInt(int64(n)) }
