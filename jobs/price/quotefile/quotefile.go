// Package quotefile is what the estimator hands out, as plain data: the cost
// of gangs line by line, each order's share and price, ladders, additions and
// variations; with its form as JSON, as tables for text and CSV, and as PDF.
// It computes nothing that is not in package price.
//
//	d := quotefile.Document{Currency: "EUR", Gangs: []quotefile.Gang{quotefile.Describe(sheet, gap)}}
//	err := quotefile.Write(w, d)
package quotefile

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"strconv"

	"github.com/shopspring/decimal"

	"laneplan/jobs/internal/plainjson"
	"laneplan/jobs/price"
	"laneplan/jobs/price/game"
)

// Format of the JSON: fields may be added to it, none renamed.
const Format = 1

// Schema is the JSON Schema of the format.
//
//go:embed price.schema.json
var Schema []byte

// Document is all of it. Money is decimal text with the currency's decimals.
type Document struct {
	Format   int    `json:"laneplan"`
	Currency string `json:"currency"` // ISO 4217; "" for abstract costs
	Tax      string `json:"tax"`      // always "left out"
	Gangs    []Gang `json:"gangs"`
}

// Gang is one gang's cost and what else was asked for.
type Gang struct {
	ID   string `json:"id"`
	Cost string `json:"cost"`
	// Gap of the plan behind the cost, a fraction; nil where it is not known.
	Gap       *json.Number `json:"gap,omitempty"`
	Rule      string       `json:"rule,omitempty"`
	Orders    []Order      `json:"orders,omitempty"`
	Core      *Core        `json:"core,omitempty"`
	Kinds     []Kind       `json:"kinds,omitempty"`
	Sections  []Section    `json:"sections,omitempty"`
	Lines     []Line       `json:"lines,omitempty"`
	OfWhich   []Line       `json:"of_which,omitempty"` // held in lines already
	Ladders   []Ladder     `json:"ladders,omitempty"`
	Additions []Addition   `json:"additions,omitempty"`
	Curves    []Curve      `json:"curves,omitempty"`
	NotSet    []string     `json:"not_set,omitempty"`
	Notes     []string     `json:"notes,omitempty"`
	Warnings  []string     `json:"warnings,omitempty"`

	trace []string // the arithmetic in words
}

// Order is one order's part of the cost. Saving = alone − share.
type Order struct {
	Order    string `json:"order"`
	Customer string `json:"customer,omitempty"`
	Labels   int    `json:"labels"`
	Alone    string `json:"alone"`
	Added    string `json:"added"`
	Share    string `json:"share"`
	StdErr   string `json:"standard_error,omitempty"` // of a sampled share
	Saving   string `json:"saving"`
	// Price is nil where the shop has set neither markup nor margin.
	Price       *string `json:"price"`
	PerThousand *string `json:"per_thousand"`
	Basis       string  `json:"basis,omitempty"`
}

// Core says whether a split exists that no group of orders can better.
type Core struct {
	Exists    bool   `json:"exists"`
	Violation string `json:"least_violation"`
}

// Kind is a sum by kind of cost.
type Kind struct {
	Kind   string `json:"kind"`
	Amount string `json:"amount"`
}

// Section is a sum by section; 0 is the job as a whole.
type Section struct {
	Section int    `json:"section"`
	Amount  string `json:"amount"`
}

// Line is one line of the cost sheet.
type Line struct {
	Kind         string `json:"kind"`
	Section      int    `json:"section,omitempty"` // from 1; 0 is the job as a whole
	Order        string `json:"order,omitempty"`
	What         string `json:"what"`
	Quantity     string `json:"quantity"`
	Unit         string `json:"unit"`
	Rate         string `json:"rate"`
	Amount       string `json:"amount"`
	QuantityFrom string `json:"quantity_from,omitempty"`
	RateFrom     string `json:"rate_from,omitempty"`
}

// Ladder is one version's price by quantity.
type Ladder struct {
	Order   string   `json:"order"`
	Version string   `json:"version"`
	Rungs   []Rung   `json:"rungs"`
	Notes   []string `json:"notes,omitempty"`
}

// Rung is one quantity, in a set-up of its own and added to the gang.
type Rung struct {
	Quantity int   `json:"quantity"`
	Alone    Quote `json:"alone"`
	Added    Quote `json:"added"`
}

// Quote is a price; nil where the shop has set neither markup nor margin.
type Quote struct {
	Cost        string  `json:"cost"`
	Price       *string `json:"price"`
	PerThousand *string `json:"per_thousand"`
	Basis       string  `json:"basis,omitempty"`
}

// Addition is what further orders do to the gang.
type Addition struct {
	Orders   []string `json:"orders"`
	Labels   int      `json:"labels"`
	Together bool     `json:"together"` // joining costs no more than a set-up of their own
	Before   string   `json:"before"`
	After    *string  `json:"after"` // nil where they cannot join
	Alone    *string  `json:"alone"` // nil where they have no plan alone
	Added    string   `json:"added"`
	Floor    string   `json:"floor"`
	Ceiling  string   `json:"ceiling"`
	Basis    string   `json:"basis,omitempty"` // of the ceiling
	Rush     []Shift  `json:"rush,omitempty"`
	Notes    []string `json:"notes,omitempty"`
}

// Shift is when a rush version is finished.
type Shift struct {
	Order   string      `json:"order"`
	Version string      `json:"version"`
	Before  json.Number `json:"before"`
	After   json.Number `json:"after"`
	Unit    string      `json:"unit"` // minutes from the start of the set-up, or rows
	Later   bool        `json:"later"`
}

// Curve is the gang's cost as one thing varies.
type Curve struct {
	Varied string  `json:"varied"`
	Unit   string  `json:"unit"`
	AsItIs Point   `json:"as_it_is"`
	Points []Point `json:"points"`
}

// Point is one value's plan.
type Point struct {
	Value    string       `json:"value,omitempty"`
	Cost     *string      `json:"cost"` // nil where there is no plan
	Unbilled string       `json:"unbilled,omitempty"`
	Change   *json.Number `json:"change,omitempty"`
	Rows     int          `json:"rows"`
	Sections int          `json:"sections"`
	Gap      json.Number  `json:"gap"`
	Failed   string       `json:"no_plan,omitempty"`
}

// Describe puts a cost sheet into the gang that it is for.
func Describe(s price.Sheet) Gang {
	g := Gang{ID: s.Gang, Cost: s.Total.StringFixed(s.Places), NotSet: s.NotSet, trace: s.Trace()}
	for _, sum := range s.ByKind() {
		g.Kinds = append(g.Kinds, Kind{string(sum.Kind), sum.Amount.StringFixed(s.Places)})
	}
	for _, sum := range s.BySection() {
		g.Sections = append(g.Sections, Section{sum.Section, sum.Amount.StringFixed(s.Places)})
	}
	g.Lines, g.OfWhich = lines(s.Lines, s.Places), lines(s.OfWhich, s.Places)
	return g
}

func lines(list []price.Line, places int32) []Line {
	var out []Line
	for _, l := range list {
		out = append(out, Line{
			Kind: string(l.Kind), Section: l.Section, Order: l.Order, What: l.What,
			Quantity: l.Quantity.String(), Unit: l.Unit, Rate: l.Rate.String(), Amount: l.Amount.StringFixed(places),
			QuantityFrom: l.QuantityFrom, RateFrom: l.RateFrom,
		})
	}
	return out
}

// Fraction is a gap or a change as it is written: six decimals.
func Fraction(x float64) json.Number {
	return json.Number(decimal.NewFromFloat(x).Round(6).String())
}

// Share puts shares into a gang.
func (g *Gang) Share(s price.Shares, places int32) {
	money := func(d decimal.Decimal) string { return d.StringFixed(places) }
	g.Rule = string(s.Rule)
	g.Notes = append(g.Notes, s.Notes...)
	if s.Core != nil {
		g.Core = core(*s.Core, places)
	}
	for _, o := range s.Orders {
		order := Order{Order: o.Order, Customer: o.Customer, Labels: o.Labels,
			Alone: money(o.Alone), Added: money(o.Added), Share: money(o.Share), Saving: money(o.Saving)}
		if !o.StdErr.IsZero() {
			order.StdErr = money(o.StdErr)
		}
		if o.Quote != nil {
			q := quote(*o.Quote, places)
			order.Price, order.PerThousand, order.Basis = q.Price, q.PerThousand, q.Basis
		}
		g.Orders = append(g.Orders, order)
	}
}

func core(c game.Core, places int32) *Core {
	return &Core{c.Exists, decimal.NewFromFloat(max(0, c.Violation)).StringFixed(places)}
}

// quote writes a price; one without a basis is none.
func quote(q price.Quote, places int32) Quote {
	out := Quote{Cost: q.Cost.StringFixed(places), Basis: q.Basis}
	if q.Basis != "" {
		text, thousand := q.Price.StringFixed(places), q.PerThousand.StringFixed(places)
		out.Price, out.PerThousand = &text, &thousand
	}
	return out
}

// Ladder puts a ladder into a gang.
func (g *Gang) Ladder(l price.Ladder, places int32) {
	out := Ladder{Order: l.Order, Version: l.Version, Notes: l.Notes}
	for _, r := range l.Rungs {
		out.Rungs = append(out.Rungs, Rung{r.Quantity, quote(r.Alone, places), quote(r.Added, places)})
	}
	g.Ladders = append(g.Ladders, out)
}

// Add puts an addition into a gang.
func (g *Gang) Add(a price.Addition, places int32) {
	money := func(d decimal.Decimal) string { return d.StringFixed(places) }
	out := Addition{Orders: a.Orders, Labels: a.Labels, Together: a.Together, Before: money(a.Before.Cost),
		Added: money(a.Added), Floor: money(a.Floor), Ceiling: money(a.Ceiling), Notes: a.Notes}
	for _, c := range []struct {
		from price.Costed
		to   **string
	}{{a.After, &out.After}, {a.Alone, &out.Alone}} {
		if c.from.Failed == "" {
			text := money(c.from.Cost)
			*c.to = &text
		}
	}
	if a.Quote != nil {
		out.Basis = a.Quote.Basis
	}
	for _, s := range a.Rush {
		shift := Shift{Order: s.Order, Version: s.Version, Unit: "minutes", Later: s.Later()}
		digits := 1
		if s.InRows {
			shift.Unit, digits = "rows", 0
		}
		shift.Before = json.Number(strconv.FormatFloat(s.Before, 'f', digits, 64))
		shift.After = json.Number(strconv.FormatFloat(s.After, 'f', digits, 64))
		out.Rush = append(out.Rush, shift)
	}
	g.Additions = append(g.Additions, out)
}

// Vary puts curves into a gang.
func (g *Gang) Vary(curves []price.Curve, places int32) {
	for _, c := range curves {
		out := Curve{Varied: c.Variation.Name, Unit: c.Variation.Unit(), AsItIs: point(c, c.AsItIs, places)}
		for _, p := range c.Points {
			out.Points = append(out.Points, point(c, p, places))
		}
		g.Curves = append(g.Curves, out)
	}
}

func point(c price.Curve, p price.Point, places int32) Point {
	out := Point{Value: p.Value.Text, Rows: p.Rows, Sections: p.Sections, Gap: Fraction(p.Gap), Failed: p.Failed}
	if p.Failed == "" {
		text, change := p.Cost.StringFixed(places), Fraction(c.Against(p))
		out.Cost, out.Change = &text, &change
		out.Unbilled = p.Unbilled.StringFixed(places)
	}
	return out
}

// Write writes the document as JSON, indented. The same document gives the
// same bytes.
func Write(w io.Writer, d Document) error {
	d.Format, d.Tax = Format, "left out"
	if err := plainjson.Write(w, d); err != nil {
		return fmt.Errorf("write prices: %w", err)
	}
	return nil
}
