package quotefile

import (
	"fmt"
	"strconv"
	"strings"
)

// Part is a heading with a table or lines of text under it: what text and PDF
// are laid out from.
type Part struct {
	Heading string
	Columns []Column
	Rows    [][]string
	Sum     []string // a last row below a rule; nil is none
	Lines   []string // below the table
	Care    bool     // the lines want the reader's attention
}

// Column of a part's table.
type Column struct {
	Title string
	Right bool // figures
}

// Parts lays a gang out for people. trace adds every line of the cost sheet
// with its arithmetic.
func (g Gang) Parts(currency string, trace bool) []Part {
	in := ""
	if currency != "" {
		in = " in " + currency
	}
	var parts []Part
	if len(g.Orders) > 0 {
		parts = append(parts, g.ordersPart(in))
	}
	for _, a := range g.Additions {
		parts = append(parts, a.part(in))
	}
	for _, l := range g.Ladders {
		parts = append(parts, l.part(in))
	}
	for _, c := range g.Curves {
		parts = append(parts, c.part(in))
	}
	if len(g.Kinds) > 0 {
		parts = append(parts, g.costPart(in))
	}
	if trace {
		parts = append(parts, Part{Heading: "Arithmetic" + in, Lines: g.trace})
	}
	if len(g.Warnings) > 0 {
		parts = append(parts, Part{Heading: "Look out", Lines: sentences(g.Warnings), Care: true})
	}
	notes := sentences(g.Notes)
	if len(g.NotSet) > 0 {
		notes = append(notes, "Not set by the shop and counted as nothing: "+strings.Join(g.NotSet, ", ")+".")
	}
	if len(notes) > 0 {
		parts = append(parts, Part{Heading: "Notes", Lines: notes})
	}
	return parts
}

// sentences give notes a capital and a full stop.
func sentences(notes []string) []string {
	list := make([]string, len(notes))
	for i, note := range notes {
		list[i] = strings.ToUpper(note[:1]) + note[1:] + "."
	}
	return list
}

func columns(titles ...string) []Column {
	list := make([]Column, len(titles))
	for i, title := range titles {
		list[i].Title, list[i].Right = strings.CutPrefix(title, ">")
	}
	return list
}

func orDash(text *string) string {
	if text == nil {
		return "-"
	}
	return *text
}

func (g Gang) ordersPart(in string) Part {
	p := Part{Heading: fmt.Sprintf("Orders, cost shared by rule %s%s", g.Rule, in),
		Columns: columns("order", "customer", ">labels", ">alone", ">adds", ">share", ">saving", ">price", ">per 1,000")}
	sampled := false
	for _, o := range g.Orders {
		sampled = sampled || o.StdErr != ""
	}
	if sampled {
		p.Columns = append(p.Columns[:6], append(columns(">± std. error"), p.Columns[6:]...)...)
	}
	priced := g.Orders[0].Price != nil
	if !priced {
		p.Columns = p.Columns[:len(p.Columns)-2]
		p.Lines = append(p.Lines, "No prices: the shop has set neither markup nor margin.")
	}
	for _, o := range g.Orders {
		row := []string{o.Order, o.Customer, strconv.Itoa(o.Labels), o.Alone, o.Added, o.Share}
		if sampled {
			row = append(row, o.StdErr)
		}
		row = append(row, o.Saving)
		if priced {
			row = append(row, orDash(o.Price), orDash(o.PerThousand))
		}
		p.Rows = append(p.Rows, row)
	}
	p.Sum = make([]string, len(p.Columns))
	p.Sum[0], p.Sum[5] = "gang", g.Cost
	var bases []string
	for _, o := range g.Orders {
		if o.Basis != "" {
			bases = append(bases, o.Order+": "+o.Basis)
		}
	}
	if len(bases) > 0 {
		p.Lines = append(p.Lines, "Price from share, tax left out. "+together(bases)+".")
	}
	return p
}

// together joins "order: basis" texts, naming the orders of one basis at
// once.
func together(bases []string) string {
	var order []string
	of := map[string][]string{}
	for _, one := range bases {
		name, basis, _ := strings.Cut(one, ": ")
		if of[basis] == nil {
			order = append(order, basis)
		}
		of[basis] = append(of[basis], name)
	}
	if len(order) == 1 {
		return order[0]
	}
	var list []string
	for _, basis := range order {
		list = append(list, strings.Join(of[basis], ", ")+": "+basis)
	}
	return strings.Join(list, "; ")
}

func (g Gang) costPart(in string) Part {
	p := Part{Heading: "Cost" + in, Columns: columns("kind", ">amount"), Sum: []string{"total", g.Cost}}
	for _, k := range g.Kinds {
		p.Rows = append(p.Rows, []string{k.Kind, k.Amount})
	}
	for _, l := range g.OfWhich {
		p.Rows = append(p.Rows, []string{"  of " + l.Kind + ", " + l.What, "(" + l.Amount + ")"})
	}
	if g.Gap != nil && g.Gap.String() != "0" {
		gap, _ := g.Gap.Float64()
		p.Lines = append(p.Lines, fmt.Sprintf("What the planner decides (web, press time, ink) is within %.1f %% of the cheapest possible.", 100*gap))
	}
	return p
}

func (l Ladder) part(in string) Part {
	p := Part{Heading: fmt.Sprintf("Version %s of order %s by quantity%s, tax left out", l.Version, l.Order, in),
		Columns: columns(">labels", ">alone: cost", ">price", ">per 1,000", ">added to the gang: cost", ">price", ">per 1,000")}
	for _, r := range l.Rungs {
		p.Rows = append(p.Rows, []string{strconv.Itoa(r.Quantity),
			r.Alone.Cost, orDash(r.Alone.Price), orDash(r.Alone.PerThousand),
			r.Added.Cost, orDash(r.Added.Price), orDash(r.Added.PerThousand)})
	}
	var bases []string
	for _, r := range l.Rungs {
		if r.Alone.Basis != "" {
			bases = append(bases, fmt.Sprintf("%d: %s", r.Quantity, r.Alone.Basis))
		}
	}
	if len(bases) > 0 {
		p.Lines = append(p.Lines, "Alone: "+together(bases)+".")
	}
	p.Lines = append(p.Lines, sentences(l.Notes)...)
	return p
}

func (a Addition) part(in string) Part {
	p := Part{Heading: fmt.Sprintf("Adding %s, %d labels%s", strings.Join(a.Orders, ", "), a.Labels, in),
		Columns: columns("", ">amount"),
		Rows: [][]string{
			{"the gang as it stands", a.Before}, {"the gang with it", orDash(a.After)}, {"alone", orDash(a.Alone)},
			{"what it adds: the floor of a price", a.Floor}, {"the ceiling: its price alone", a.Ceiling},
		}}
	if a.Basis != "" {
		p.Lines = append(p.Lines, "Ceiling: "+a.Basis+", tax left out.")
	} else {
		p.Rows[4][0] = "the ceiling: its cost alone"
	}
	later := 0
	for _, s := range a.Rush {
		if s.Later {
			later++
			p.Lines = append(p.Lines, fmt.Sprintf("Rush version %s of order %s is finished later: after %s %s, before %s.", s.Version, s.Order, s.After, s.Unit, s.Before))
		}
	}
	switch {
	case later > 0:
		p.Care = true
	case len(a.Rush) > 0:
		p.Lines = append(p.Lines, "No rush version is finished later.")
	}
	p.Lines = append(p.Lines, sentences(a.Notes)...)
	return p
}

func (c Curve) part(in string) Part {
	p := Part{Heading: fmt.Sprintf("Cost%s as %s varies (%s)", in, c.Varied, c.Unit),
		Columns: columns(">"+c.Varied, ">cost", ">change", ">not billed", ">rows", ">sections", ">gap")}
	row := func(name string, q Point) {
		if q.Cost == nil {
			p.Rows = append(p.Rows, []string{name, "-", "", "", "", "", ""})
			p.Lines = append(p.Lines, fmt.Sprintf("%s: %s.", name, q.Failed))
			return
		}
		change, _ := q.Change.Float64()
		gap, _ := q.Gap.Float64()
		p.Rows = append(p.Rows, []string{name, *q.Cost, fmt.Sprintf("%+.1f %%", 100*change), q.Unbilled, strconv.Itoa(q.Rows), strconv.Itoa(q.Sections), fmt.Sprintf("%.1f %%", 100*gap)})
	}
	row("as it is", c.AsItIs)
	for _, q := range c.Points {
		row(q.Value, q)
	}
	return p
}
