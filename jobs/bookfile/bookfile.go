// Package bookfile tells in JSON how an order book was pooled into gangs, and
// what a plan of the whole book costs against every order alone. Other
// programs read it: fields are added, never renamed. It pools and plans
// nothing.
//
//	book := bookfile.Describe(pooling)
//	err := bookfile.Write(w, book)
package bookfile

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/internal/plainjson"
	"laneplan/jobs/pool"
)

// Format is the number that the file states under laneplan.
const Format = 1

// Schema is the JSON Schema (draft 2020-12) of what Write writes.
//
//go:embed book.schema.json
var Schema []byte

// Book is a pooled order book. Dates are year-month-day; one that is not
// stated is empty.
type Book struct {
	Date     string  `json:"date"`
	Until    string  `json:"window_until"` // last day of the gang window
	Currency string  `json:"currency"`
	Gangs    []Gang  `json:"gangs"`
	Out      []Out   `json:"out"`
	Splits   []Split `json:"splits"`
	Totals   Totals  `json:"totals"`
}

// Gang is one set-up and its orders.
type Gang struct {
	ID       string   `json:"id"`
	Die      string   `json:"die"`
	Press    string   `json:"press"`
	Stock    string   `json:"stock"`
	Finishes []string `json:"finishes,omitempty"`
	InkSet   string   `json:"ink_set,omitempty"`
	Flags    []string `json:"flags,omitempty"`
	Rewinder string   `json:"rewinder,omitempty"`
	Orders   []Order  `json:"orders"`
	Versions int      `json:"versions"`
	Labels   int      `json:"labels"`
	// Turn of the gang on its press, from 1. Begins and Ends are moments such as
	// 2026-12-04 06:00, empty where the press's start is not stated; Minutes are
	// those on the press. All are by estimate until the gang is planned.
	Turn    int         `json:"turn"`
	Begins  string      `json:"begins,omitempty"`
	Ends    string      `json:"ends,omitempty"`
	Minutes json.Number `json:"minutes"`
	// Alone is the reason why the only order has no company.
	Alone string `json:"alone_because,omitempty"`
	// Estimate of a simple plan, fillers included, without ink.
	Estimate json.Number `json:"estimate"`
	// Cost of the plan and of its orders each alone, for the versions that the
	// plan prints; absent where not planned. AloneUnknown are the orders for
	// which no plan alone was found; CostAlone is then absent.
	Cost         json.Number `json:"cost,omitempty"`
	CostAlone    json.Number `json:"cost_alone,omitempty"`
	AloneUnknown []string    `json:"alone_unknown,omitempty"`

	places    int32
	cost, own *decimal.Decimal
	press     jobs.Press
	minutes   decimal.Decimal
}

// Order of a gang.
type Order struct {
	Order    string   `json:"order"`
	Customer string   `json:"customer"`
	Due      string   `json:"due,omitempty"`
	Versions []string `json:"versions"` // as the order book names them
	Labels   int      `json:"labels"`
	Rush     bool     `json:"rush,omitempty"`
	Filler   bool     `json:"filler,omitempty"` // due later: runs only where that is cheap
	Ready    string   `json:"ready,omitempty"`  // moment at which the press is through with it; once planned
	Late     bool     `json:"late,omitempty"`   // it is not ready on its date, or cannot be

	minutes float64 // of its gang's plan until it is printed
	printed bool
}

// Out is an order that does not run, and why.
type Out struct {
	Order    string   `json:"order"`
	Customer string   `json:"customer"`
	Due      string   `json:"due,omitempty"`
	Versions []string `json:"versions"`
	Rows     []string `json:"rows"`           // of the order book
	Must     bool     `json:"must,omitempty"` // it is due in the window, and cannot run
	Reason   string   `json:"reason"`
}

// Split is a comparison of one set-up with two or more, by plans of limited
// work.
type Split struct {
	Gang  string      `json:"gang"`
	Into  []string    `json:"into,omitempty"`        // absent where one set-up is cheaper
	One   json.Number `json:"cost_of_one,omitempty"` // absent where one set-up has no plan
	Two   json.Number `json:"cost_of_two"`           // of the cheapest two or more
	Saves json.Number `json:"two_save,omitempty"`    // negative where they cost more
}

// Totals of the gangs. Costs are there once every gang has one.
type Totals struct {
	Gangs     int         `json:"gangs"`
	Orders    int         `json:"orders"`
	Versions  int         `json:"versions"`
	Labels    int         `json:"labels"`
	Out       int         `json:"orders_out"`
	Cost      json.Number `json:"cost,omitempty"`
	CostAlone json.Number `json:"cost_alone,omitempty"`
	Saving    json.Number `json:"saving,omitempty"`
}

// Describe tells what a pooling says.
func Describe(p pool.Pooling) Book {
	b := Book{Date: date(p.Date), Until: date(p.Until), Gangs: []Gang{}, Out: []Out{}, Splits: []Split{}}
	orders, out := map[string]bool{}, map[string]bool{}
	places := int32(2)
	for _, g := range p.Gangs {
		b.Currency, places = g.Currency, g.Places()
		d := gang(g)
		b.Gangs = append(b.Gangs, d)
		b.Totals.Versions += d.Versions
		b.Totals.Labels += d.Labels
		for _, o := range g.Orders {
			orders[o.ID] = true
		}
	}
	for _, o := range p.Out {
		d := Out{Order: o.Order, Customer: o.Customer, Due: date(o.Due), Versions: o.Versions, Reason: o.Reason, Must: o.Must, Rows: []string{}}
		for _, s := range o.Sources {
			d.Rows = append(d.Rows, s.String())
		}
		b.Out = append(b.Out, d)
		out[o.Order] = true
	}
	for _, s := range p.Splits {
		d := Split{Gang: s.Gang, Into: s.Into, Two: money(s.Two, places)}
		if s.One != nil {
			d.One, d.Saves = money(*s.One, places), money(s.Saves(), places)
		}
		b.Splits = append(b.Splits, d)
	}
	b.Totals.Gangs, b.Totals.Orders, b.Totals.Out = len(b.Gangs), len(orders), len(out)
	b.runs()
	return b
}

func gang(g pool.Gang) Gang {
	places := g.Places()
	d := Gang{
		ID: g.ID, Die: g.Die.ID, Press: g.Press.ID, Stock: g.Stock.ID, InkSet: g.InkSet(), Flags: g.Orders[0].Flags,
		Rewinder: g.Rewinder.ID, Alone: g.Alone, Estimate: money(g.Estimate, places), places: places,
		Turn: g.Turn, press: g.Press, minutes: g.Minutes,
	}
	for _, f := range g.Finishes {
		d.Finishes = append(d.Finishes, f.ID)
	}
	for i, o := range g.Orders {
		order := Order{Order: o.ID, Customer: o.Customer, Due: date(o.Due), Versions: g.VersionNames(i), Rush: o.Rush, Filler: o.Filler}
		if at := slices.IndexFunc(g.Late, func(l pool.Late) bool { return l.Order == o.ID }); at >= 0 {
			order.Due, order.Late, order.Rush = date(g.Late[at].Due), true, g.Late[at].Rush
		}
		for _, v := range o.Versions {
			order.Labels += v.Quantity
		}
		d.Versions += len(o.Versions)
		d.Labels += order.Labels
		d.Orders = append(d.Orders, order)
	}
	return d
}

// Planned sets down what a gang's plan costs and what its orders would cost
// each alone; unknown are the orders for which no plan alone was found. Costs
// are those of the versions that the plan prints.
func (b *Book) Planned(gang int, cost decimal.Decimal, alone []decimal.Decimal, unknown []string) {
	g := &b.Gangs[gang]
	g.cost, g.Cost = &cost, money(cost, g.places)
	g.own, g.CostAlone = nil, ""
	if g.AloneUnknown = unknown; len(unknown) == 0 {
		own := decimal.Sum(decimal.Decimal{}, alone...)
		g.own, g.CostAlone = &own, money(own, g.places)
	}
	b.sum()
}

// Timed sets down how long a gang's plan takes on the press, and after how many
// of those minutes each of its versions is printed, by the version's id in the
// gang; a version that is not printed is not among them. Gangs after it on the
// press move with it.
func (b *Book) Timed(at int, g pool.Gang, minutes decimal.Decimal, finished map[string]float64) {
	d := &b.Gangs[at]
	d.minutes = minutes
	for i, o := range g.Orders {
		order := &d.Orders[i]
		order.minutes, order.printed = 0, false
		for _, v := range o.Versions {
			if end, prints := finished[v.ID]; prints {
				order.minutes, order.printed = max(order.minutes, end), true
			}
		}
	}
	b.runs()
}

// runs finds out when gangs begin and end, press by press in their turns, and
// which orders are late by that.
func (b *Book) runs() {
	turns := make([]int, len(b.Gangs))
	for i := range turns {
		turns[i] = i
	}
	slices.SortStableFunc(turns, func(x, y int) int { return b.Gangs[x].Turn - b.Gangs[y].Turn })
	busy := map[string]decimal.Decimal{}
	for _, i := range turns {
		g := &b.Gangs[i]
		before, known := busy[g.Press]
		if !known {
			before = g.press.Busy // of the first gang: what is not a gang
		}
		after := before.Add(g.minutes)
		busy[g.Press] = after
		g.Begins, g.Ends, g.Minutes = moment(g.press.Begin(before)), moment(g.press.Moment(after)), json.Number(g.minutes.StringFixed(1))
		for j := range g.Orders {
			o := &g.Orders[j]
			if !o.printed || g.press.Start.IsZero() {
				continue
			}
			ready := g.press.Moment(before.Add(decimal.NewFromFloat(o.minutes)))
			o.Ready = moment(ready)
			o.Late = o.Due != "" && date(ready) > o.Due
		}
	}
}

func moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2006-01-02 15:04")
}

func (b *Book) sum() {
	var cost, own decimal.Decimal
	costs, owns, places := true, true, int32(2)
	for _, g := range b.Gangs {
		places = g.places
		if g.cost != nil {
			cost = cost.Add(g.cost.Round(places))
		}
		if g.own != nil {
			own = own.Add(g.own.Round(places))
		}
		costs, owns = costs && g.cost != nil, owns && g.own != nil
	}
	b.Totals.Cost, b.Totals.CostAlone, b.Totals.Saving = "", "", ""
	if costs {
		b.Totals.Cost = money(cost, places)
	}
	if costs && owns {
		b.Totals.CostAlone, b.Totals.Saving = money(own, places), money(own.Sub(cost), places)
	}
}

// Write writes the book, indented. The same book gives the same bytes.
func Write(w io.Writer, b Book) error {
	document := struct {
		Format int  `json:"laneplan"`
		Book   Book `json:"book"`
	}{Format, b}
	if err := plainjson.Write(w, document); err != nil {
		return fmt.Errorf("write the order book: %w", err)
	}
	return nil
}

func date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

func money(d decimal.Decimal, places int32) json.Number {
	return json.Number(d.Round(places).StringFixed(places))
}
