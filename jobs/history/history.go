// Package history tells what a ledger holds: the entries of an order, a
// customer, a die or a time, and overs, waste and savings period by period, as
// JSON or a page of HTML with plots (package report has text and CSV). It
// reads no file.
//
//	entries, err := l.Entries(ctx, ledger.Filter{})
//	d := history.Describe(entries, history.Asked{Customer: "Hof Wiesengrund"}, history.Month)
//	err = d.HTML(w)
//
// Of two plans of the same orders the later counts, of two records of one
// print run the one that corrects. The plan of a rest is left out of the sums
// of what was planned, since its labels are in the plan before it.
package history

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs/internal/plainjson"
	"laneplan/jobs/ledger"
)

// Format is the number that the JSON states under laneplan.
const Format = 1

// Schema is the JSON Schema (draft 2020-12) of what JSON writes.
//
//go:embed history.schema.json
var Schema []byte

// Asked is what the entries were chosen by; zero fields are open. Days are
// those of UTC.
type Asked struct {
	Gang, Order, Customer, Die string
	Since, Until               time.Time
}

// Filter is the same for a ledger.
func (a Asked) Filter() ledger.Filter {
	return ledger.Filter{Gang: a.Gang, Order: a.Order, Customer: a.Customer, Die: a.Die, Since: a.Since, Until: a.Until}
}

// about says whether an order is among those asked for.
func (a Asked) about(o ledger.Order) bool {
	return (a.Order == "" || o.ID == a.Order) && (a.Customer == "" || o.Customer == a.Customer)
}

// Step is the length of a period.
type Step string

// The steps, as ISO 8601 writes them: 2026-11-30, 2026-W49, 2026-11.
const (
	Day   Step = "day"
	Week  Step = "week"
	Month Step = "month"
)

func (s Step) period(at time.Time) string {
	switch at = at.UTC(); s {
	case Day:
		return at.Format(time.DateOnly)
	case Week:
		year, week := at.ISOWeek()
		return fmt.Sprintf("%d-W%02d", year, week)
	default:
		return at.Format("2006-01")
	}
}

// Document is what a ledger says. Dates are ISO 8601; money and measures are
// numbers as text, empty where not known.
type Document struct {
	Format  int      `json:"laneplan"`
	Asked   Words    `json:"asked"`
	Step    Step     `json:"by"`
	Entries []Entry  `json:"entries"`
	Periods []Period `json:"periods"`
	// Totals of the periods, one a currency.
	Totals []Period `json:"totals"`
}

// Words are what was asked for.
type Words struct {
	Gang     string `json:"gang,omitempty"`
	Order    string `json:"order,omitempty"`
	Customer string `json:"customer,omitempty"`
	Die      string `json:"die,omitempty"`
	Since    string `json:"since,omitempty"`
	Until    string `json:"until,omitempty"`
}

// Entry is one plan or print run. Of a gang that holds more orders than were
// asked for, only those are listed; cost, web and time are the gang's.
type Entry struct {
	ID   int64  `json:"entry"`
	At   string `json:"at"`
	Kind string `json:"kind"`
	// Counts says that the entry is in the sums; Why tells why not.
	Counts   bool        `json:"counts"`
	Why      string      `json:"why,omitempty"`
	Gang     string      `json:"gang"`
	Die      string      `json:"die"`
	Stock    string      `json:"stock"`
	Press    string      `json:"press"`
	Program  string      `json:"program"`
	Inputs   string      `json:"inputs"`
	Currency string      `json:"currency"`
	Cost     json.Number `json:"cost,omitempty"`
	Bound    json.Number `json:"bound,omitempty"`
	Gap      json.Number `json:"gap,omitempty"`
	Proven   bool        `json:"proven"`
	Stop     string      `json:"stop,omitempty"`
	Alone    json.Number `json:"cost_alone,omitempty"`
	Saving   json.Number `json:"saving,omitempty"`
	Rows     int         `json:"rows"`
	Sections int         `json:"sections"`
	Web      json.Number `json:"web_m,omitempty"`
	Minutes  json.Number `json:"minutes,omitempty"`
	Labels   Labels      `json:"labels"`
	Orders   []Order     `json:"orders"`
	Printed  []Printed   `json:"printed,omitempty"`
	Spoiled  []Spoiled   `json:"spoiled,omitempty"`

	share, saving *decimal.Decimal // for the sums
}

// Labels are counts of labels. Good and Spoiled are those of a print run.
type Labels struct {
	Ordered int `json:"ordered"`
	Planned int `json:"planned"`
	Good    int `json:"good"`
	Spoiled int `json:"spoiled"`
	Overs   int `json:"overs"`
	Unders  int `json:"unders"`
	Scrap   int `json:"scrap"`
}

// Order of an entry.
type Order struct {
	Order    string      `json:"order"`
	Customer string      `json:"customer"`
	Due      string      `json:"due,omitempty"`
	Alone    json.Number `json:"alone,omitempty"`
	Share    json.Number `json:"share,omitempty"`
	Saving   json.Number `json:"saving,omitempty"`
	Versions []Version   `json:"versions"`
}

// Version of an order.
type Version struct {
	Version string `json:"version"`
	Name    string `json:"name,omitempty"`
	Labels
	LeftOut bool `json:"left_out,omitempty"`
}

// Printed is a section of a print run.
type Printed struct {
	Section int `json:"section"`
	Planned int `json:"rows_planned"`
	Rows    int `json:"rows"`
}

// Spoiled are rows of a lane that are not good.
type Spoiled struct {
	Section int    `json:"section"`
	Lane    int    `json:"lane"`
	From    int    `json:"from_row"`
	To      int    `json:"to_row"`
	Reason  string `json:"reason,omitempty"`
}

// Describe tells what the entries say. They are all those of the ledger that
// what was asked for chooses, and in their order.
func Describe(entries []ledger.Entry, asked Asked, step Step) Document {
	d := Document{
		Format: Format, Step: step, Entries: []Entry{}, Periods: []Period{}, Totals: []Period{},
		Asked: Words{
			Gang: asked.Gang, Order: asked.Order, Customer: asked.Customer, Die: asked.Die,
			Since: date(asked.Since), Until: date(asked.Until),
		},
	}
	why := replaced(entries, asked)
	for _, e := range entries {
		d.Entries = append(d.Entries, entry(e, asked, why[e.ID]))
	}
	d.Periods = periods(d.Entries, entries, step)
	d.Totals = totals(d.Periods)
	return d
}

// replaced tells of entries that do not count why.
func replaced(entries []ledger.Entry, asked Asked) map[int64]string {
	why := map[int64]string{}
	later := map[string]int64{} // entry that plans an order after the one at hand
	for i := len(entries) - 1; i >= 0; i-- {
		e := entries[i]
		if e.Corrects > 0 {
			why[e.Corrects] = fmt.Sprintf("corrected by entry %d", e.ID)
		}
		if e.Kind != ledger.KindPlanned {
			continue
		}
		if e.RestOf != "" {
			why[e.ID] = "the rest of a plan"
			continue
		}
		all, by := len(e.Orders) > 0, int64(0)
		for _, o := range e.Orders {
			if asked.about(o) {
				all, by = all && later[o.ID] > 0, max(by, later[o.ID])
			}
		}
		if all {
			why[e.ID] = fmt.Sprintf("planned again by entry %d", by)
		}
		for _, o := range e.Orders {
			later[o.ID] = e.ID
		}
	}
	return why
}

func entry(e ledger.Entry, asked Asked, why string) Entry {
	places := decimals(e)
	out := Entry{
		ID: e.ID, At: e.At.UTC().Format(time.RFC3339), Kind: string(e.Kind), Counts: why == "", Why: why,
		Gang: e.Gang, Die: e.Die, Stock: e.Stock, Press: e.Press, Program: e.Program, Inputs: e.Inputs, Currency: e.Currency,
		Cost: money(e.Cost, places), Bound: money(e.Bound, places), Gap: figure(e.Gap), Proven: e.Proven, Stop: e.Stop,
		Alone: money(e.Alone, places), Saving: money(e.Saving, places), Rows: e.Rows, Sections: e.Sections,
		Web: figure(e.Web), Minutes: figure(e.Minutes), Orders: []Order{},
		share: e.Cost, saving: e.Saving,
	}
	// Where all orders of the gang are asked for, they bear all of its cost.
	part := slices.ContainsFunc(e.Orders, func(o ledger.Order) bool { return !asked.about(o) })
	if part {
		var share, saving decimal.Decimal
		out.share, out.saving = &share, &saving
	}
	for _, o := range e.Orders {
		if !asked.about(o) {
			continue
		}
		order := Order{
			Order: o.ID, Customer: o.Customer, Due: date(o.Due),
			Alone: money(o.Alone, places), Share: money(o.Share, places), Saving: money(o.Saving, places), Versions: []Version{},
		}
		for _, v := range o.Versions {
			n := Labels{Ordered: v.Ordered, Planned: v.Planned, Good: v.Good, Spoiled: v.Spoiled, Overs: v.Overs, Unders: v.Unders, Scrap: v.Scrap}
			out.Labels.add(n)
			order.Versions = append(order.Versions, Version{Version: v.ID, Name: v.Name, Labels: n, LeftOut: v.LeftOut})
		}
		if part {
			out.share, out.saving = sum(out.share, o.Share), sum(out.saving, o.Saving)
		}
		out.Orders = append(out.Orders, order)
	}
	for _, s := range e.Printed {
		out.Printed = append(out.Printed, Printed{s.Number, s.Planned, s.Printed})
	}
	for _, s := range e.Spoiled {
		out.Spoiled = append(out.Spoiled, Spoiled{s.Section, s.Lane, s.FromRow, s.ThruRow, s.Reason})
	}
	return out
}

func (l *Labels) add(n Labels) {
	l.Ordered += n.Ordered
	l.Planned += n.Planned
	l.Good += n.Good
	l.Spoiled += n.Spoiled
	l.Overs += n.Overs
	l.Unders += n.Unders
	l.Scrap += n.Scrap
}

// sum is not known where one of the two is not.
func sum(a, b *decimal.Decimal) *decimal.Decimal {
	if a == nil || b == nil {
		return nil
	}
	both := a.Add(*b)
	return &both
}

// JSON writes the document, indented. The same document gives the same bytes.
func (d Document) JSON(w io.Writer) error {
	if err := plainjson.Write(w, d); err != nil {
		return fmt.Errorf("write the history: %w", err)
	}
	return nil
}

// decimals of an entry's money: those of its cost.
func decimals(e ledger.Entry) int32 {
	if e.Cost == nil {
		return 2
	}
	return max(0, -e.Cost.Exponent())
}

func money(d *decimal.Decimal, places int32) json.Number {
	if d == nil {
		return ""
	}
	return json.Number(d.StringFixed(places))
}

func figure(d *decimal.Decimal) json.Number {
	if d == nil {
		return ""
	}
	return json.Number(d.String())
}

func date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

// percent is a share of labels, to a tenth; empty of nothing.
func percent(part, of int) json.Number {
	if of == 0 {
		return ""
	}
	return json.Number(strconv.FormatFloat(100*float64(part)/float64(of), 'f', 1, 64))
}
