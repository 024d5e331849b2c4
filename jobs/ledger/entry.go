package ledger

import (
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
)

// Kind of an entry.
type Kind string

// The kinds: a plan that was made, and a print run that took place.
const (
	KindPlanned Kind = "planned"
	KindPrinted Kind = "printed"
)

// Entry is one plan or one print run of a gang. Money is in Currency; nil is
// not known.
type Entry struct {
	// ID is the ledger's own, rising; Append ignores it. Entries stand in its
	// order, so that a clock that was put back changes nothing.
	ID int64
	// At is when it happened, to the second; zero is now.
	At   time.Time
	Kind Kind
	// Key is written once: an Append of another entry with the same key adds
	// nothing. Empty is none.
	Key string
	// Corrects is the ID of an earlier entry that this one stands for; 0 is
	// none. The earlier one stays, and no longer counts.
	Corrects int64

	Program string // the program's version
	Inputs  string // hash of everything that went in
	Plan    string // hash of the plan's lanes and sections, see PlanHash
	// RestOf is the hash of a plan that was printed in part, of which this is
	// the rest; empty for a whole.
	RestOf string
	Gang   string
	Die    string
	Stock  string
	Press  string

	Currency         string // ISO 4217; empty for abstract costs
	Cost, Bound, Gap *decimal.Decimal
	Proven           bool
	Stop             string // what ended the search, as nest.Stop names it
	// Alone is what the orders would cost each alone, Saving what the gang
	// costs less than that.
	Alone, Saving *decimal.Decimal

	Rows, Sections int
	Web            *decimal.Decimal // in metres, set-up and changeovers included
	Minutes        *decimal.Decimal // on the press

	Orders []Order
	// Printed and Spoiled tell what ran, of a printed entry.
	Printed []Section
	Spoiled []Spoil
}

// Order of a gang.
type Order struct {
	ID, Customer         string
	Due                  time.Time // a day; zero is not stated
	Alone, Share, Saving *decimal.Decimal
	Versions             []Version
}

// Version of an order. In a planned entry Good and Spoiled are 0 and the
// rest is what the plan says. In a printed one Ordered and Planned are those
// of the plan that was printed; Overs, Unders and Scrap compare Good with
// Ordered, so that Unders is what is short.
type Version struct {
	ID, Name             string
	Ordered, Planned     int
	Good, Spoiled        int
	Overs, Unders, Scrap int
	LeftOut              bool // a filler that the plan does not print
}

// Section as it was printed.
type Section struct {
	Number           int // in the plan, from 1
	Planned, Printed int // rows
}

// Spoil is a stretch of one lane of which no label is good.
type Spoil struct {
	Section, Lane    int // from 1
	FromRow, ThruRow int // rows of the section, from 1, both spoiled
	Reason           string
}

// Planned is the entry of a gang's plan, as planfile.Describe made it. The
// caller adds what it knows beyond that: Key, Program, Inputs, Alone and
// Saving.
func Planned(g jobs.Gang, plan planfile.Gang) Entry {
	e := Entry{
		Kind: KindPlanned, Plan: PlanHash(plan), Gang: g.ID, Die: g.Die.ID, Stock: g.Stock.ID, Press: g.Press.ID,
		Currency: g.Currency, Sections: len(plan.Sections),
	}
	if c := plan.Cost; c != nil {
		e.Cost = figure(c.Total)
	}
	if b := plan.Bound; b != nil {
		e.Bound, e.Gap, e.Proven = figure(b.Cost), figure(b.Gap), b.Proven
	}
	if r := plan.Rest; r != nil {
		e.RestOf = r.Plan
	}
	if s := plan.Solve; s != nil {
		e.Stop = s.Stop
	}
	if t := plan.Totals; t != nil {
		e.Rows, e.Web, e.Minutes = t.Rows, figure(t.Web), figure(t.Minutes)
	}
	counts := map[string]planfile.Version{}
	for _, v := range plan.Versions {
		counts[v.ID] = v
	}
	for _, o := range g.Orders {
		order := Order{ID: o.ID, Customer: o.Customer, Due: o.Due}
		for _, v := range o.Versions {
			n := counts[v.ID]
			order.Versions = append(order.Versions, Version{
				ID: v.ID, Name: v.Name, Ordered: v.Quantity, Planned: n.Planned,
				Overs: n.Overs, Unders: n.Unders, Scrap: n.Scrap, LeftOut: n.LeftOut,
			})
		}
		e.Orders = append(e.Orders, order)
	}
	return e
}

// LeaveOut takes what fillers will cost that a plan leaves for another day off
// its cost, so that they count once, in the plan that prints them, and off its
// bound: no plan that leaves out the same costs less.
func (e *Entry) LeaveOut(elsewhere decimal.Decimal) {
	for _, of := range []**decimal.Decimal{&e.Cost, &e.Bound} {
		if *of != nil {
			rest := (*of).Sub(elsewhere)
			*of = &rest
		}
	}
}
