package quotefile

import (
	"io"
	"strconv"
	"strings"

	"laneplan/jobs/safecsv"
)

// WriteCSV writes the table that was asked for, with one line for each order
// (or addition, rung, value of a variation) of every gang; where none of
// those is there, for each line of the cost sheets.
func WriteCSV(w io.Writer, d Document) error {
	type table struct {
		heading []string
		rows    func(g Gang) [][]string
	}
	tables := []table{
		{[]string{"gang", "order", "customer", "labels", "alone", "added", "share", "standard_error", "saving", "price", "per_thousand", "basis"}, orderRows},
		{[]string{"gang", "orders", "labels", "together", "before", "after", "alone", "added", "floor", "ceiling"}, additionRows},
		{[]string{"gang", "order", "version", "labels", "alone_cost", "alone_price", "alone_per_thousand", "added_cost", "added_price", "added_per_thousand"}, ladderRows},
		{[]string{"gang", "varied", "unit", "value", "cost", "change", "unbilled", "rows", "sections", "gap"}, curveRows},
		{[]string{"gang", "kind", "section", "order", "what", "quantity", "unit", "rate", "amount"}, lineRows},
	}
	for _, t := range tables {
		var rows [][]string
		for _, g := range d.Gangs {
			rows = append(rows, t.rows(g)...)
		}
		if len(rows) > 0 {
			return safecsv.Write(w, t.heading, rows)
		}
	}
	return safecsv.Write(w, tables[0].heading, nil)
}

func orEmpty(text *string) string {
	if text == nil {
		return ""
	}
	return *text
}

func orderRows(g Gang) [][]string {
	var rows [][]string
	for _, o := range g.Orders {
		rows = append(rows, []string{g.ID, o.Order, o.Customer, strconv.Itoa(o.Labels), o.Alone, o.Added, o.Share, o.StdErr, o.Saving,
			orEmpty(o.Price), orEmpty(o.PerThousand), o.Basis})
	}
	return rows
}

func additionRows(g Gang) [][]string {
	var rows [][]string
	for _, a := range g.Additions {
		rows = append(rows, []string{g.ID, strings.Join(a.Orders, " "), strconv.Itoa(a.Labels), strconv.FormatBool(a.Together), a.Before, orEmpty(a.After), orEmpty(a.Alone), a.Added, a.Floor, a.Ceiling})
	}
	return rows
}

func ladderRows(g Gang) [][]string {
	var rows [][]string
	for _, l := range g.Ladders {
		for _, r := range l.Rungs {
			rows = append(rows, []string{g.ID, l.Order, l.Version, strconv.Itoa(r.Quantity),
				r.Alone.Cost, orEmpty(r.Alone.Price), orEmpty(r.Alone.PerThousand), r.Added.Cost, orEmpty(r.Added.Price), orEmpty(r.Added.PerThousand)})
		}
	}
	return rows
}

func curveRows(g Gang) [][]string {
	var rows [][]string
	for _, c := range g.Curves {
		for i, p := range append([]Point{c.AsItIs}, c.Points...) {
			// Without its sign and % a value is a number to a spreadsheet.
			value, change := strings.TrimSuffix(strings.TrimPrefix(p.Value, "+"), "%"), ""
			if i == 0 {
				value = "as it is"
			}
			if p.Change != nil {
				change = p.Change.String()
			}
			rows = append(rows, []string{g.ID, c.Varied, c.Unit, value, orEmpty(p.Cost), change, p.Unbilled, strconv.Itoa(p.Rows), strconv.Itoa(p.Sections), p.Gap.String()})
		}
	}
	return rows
}

func lineRows(g Gang) [][]string {
	var rows [][]string
	for _, l := range g.Lines {
		rows = append(rows, []string{g.ID, l.Kind, strconv.Itoa(l.Section), l.Order, l.What, l.Quantity, l.Unit, l.Rate, l.Amount})
	}
	return rows
}
