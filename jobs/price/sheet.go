// Package price turns a lane plan into money: what a gang costs, line by
// line, what each of its orders should carry of that, and what to ask for it.
// It reads no files and plans nothing itself; it asks package nest where it
// needs the cost of other gangs (fewer orders, one more, other quantities).
//
//	sheet, err := price.NewSheet(gang, result.Plan)
//	// sheet.Total, sheet.ByKind(), sheet.Trace()
//
// Money is decimal and rounded to the currency's minor unit line by line, so
// the lines always add up to the total. Tax is left out everywhere.
package price

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// Kind of cost.
type Kind string

// The kinds, in the order in which they are listed.
const (
	KindStock     Kind = "stock"
	KindPress     Kind = "press time"
	KindInk       Kind = "ink and clicks"
	KindFinishing Kind = "finishing"
	KindPlates    Kind = "plates and RIP"
	KindOutwork   Kind = "outwork"
	KindAbstract  Kind = "abstract" // of a bare problem
	KindMinimum   Kind = "minimum"
)

// Kinds lists every kind in order.
func Kinds() []Kind {
	return []Kind{KindStock, KindPress, KindInk, KindFinishing, KindPlates, KindOutwork, KindAbstract, KindMinimum}
}

// Line is one amount of a cost sheet: Amount = Quantity × Rate, rounded to
// the minor unit.
type Line struct {
	Kind    Kind
	Section int    // from 1; 0 is the job as a whole
	Order   string // where the line is one order's own; "" otherwise
	What    string // in a few words
	// Quantity in Unit at Rate for one Unit.
	Quantity decimal.Decimal
	Unit     string
	Rate     decimal.Decimal
	Amount   decimal.Decimal
	// Where quantity and rate come from, in words.
	QuantityFrom, RateFrom string
}

// Sheet is what a gang costs. Total is the sum of Lines.
type Sheet struct {
	Gang     string
	Currency string // ISO 4217; "" for abstract costs
	Places   int32  // decimals of every amount
	Lines    []Line
	Total    decimal.Decimal
	// OfWhich are amounts that Lines already hold, shown apart: edge trim.
	OfWhich []Line
	// NotSet are the fields of rates that the shop has not set. They are
	// counted as nothing, and whoever shows the sheet has to say so.
	NotSet []string
}

// Sum is a part of a sheet's total.
type Sum struct {
	Kind    Kind // "" where the sum is over kinds
	Section int  // 0 is the job as a whole; meaningless where Kind is set
	Amount  decimal.Decimal
}

// ByKind sums the lines by kind, those that occur, in the order of Kinds.
func (s Sheet) ByKind() []Sum {
	var sums []Sum
	for _, kind := range Kinds() {
		sum, found := Sum{Kind: kind}, false
		for _, line := range s.Lines {
			if line.Kind == kind {
				sum.Amount, found = sum.Amount.Add(line.Amount), true
			}
		}
		if found {
			sums = append(sums, sum)
		}
	}
	return sums
}

// BySection sums the lines by section, the job as a whole first.
func (s Sheet) BySection() []Sum {
	last := 0
	for _, line := range s.Lines {
		last = max(last, line.Section)
	}
	sums := make([]Sum, last+1)
	for i := range sums {
		sums[i].Section = i
	}
	for _, line := range s.Lines {
		sums[line.Section].Amount = sums[line.Section].Amount.Add(line.Amount)
	}
	return sums
}

// Trace writes the arithmetic of every line, one text each: quantity × rate =
// amount, and where both come from.
func (s Sheet) Trace() []string {
	var list []string
	for _, line := range s.Lines {
		list = append(list, s.traceLine(line))
	}
	for _, line := range s.OfWhich {
		list = append(list, "of which "+s.traceLine(line))
	}
	return list
}

func (s Sheet) traceLine(line Line) string {
	where := "job"
	if line.Section > 0 {
		where = fmt.Sprintf("section %d", line.Section)
	}
	if line.Order != "" {
		where = "order " + line.Order
	}
	text := fmt.Sprintf("%s, %s, %s: %s %s × %s = %s", line.Kind, where, line.What,
		line.Quantity, line.Unit, line.Rate, line.Amount.StringFixed(s.Places))
	var from []string
	for _, source := range []string{line.QuantityFrom, line.RateFrom} {
		if source != "" {
			from = append(from, source)
		}
	}
	if len(from) > 0 {
		text += " (" + strings.Join(from, "; ") + ")"
	}
	return text
}
