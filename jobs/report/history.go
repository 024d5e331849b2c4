package report

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"laneplan/jobs/history"
	"laneplan/jobs/safecsv"
)

// History writes the entries of a ledger and their sums.
func History(w io.Writer, d history.Document, style Style) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n%s\n", dress(style.Heading, clean(d.Title())+": "+entryCount(len(d.Entries))), entryTable(d))
	if len(d.Periods) > 0 {
		fmt.Fprintf(&b, "\n%s\n%s\n", dress(style.Heading, "By "+string(d.Step)+":"), periodTable(d))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func entryCount(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return strconv.Itoa(n) + " entries"
}

func entryTable(d history.Document) string {
	t := newTable()
	t.right("entry")
	t.left("day")
	t.left("what")
	t.left("gang")
	t.left("die")
	for _, heading := range []string{"ordered", "planned", "good", "overs", "waste", "cost", "saving"} {
		t.right(heading)
	}
	t.left("note")
	for _, e := range d.Entries {
		t.cell(strconv.FormatInt(e.ID, 10))
		day, _, _ := strings.Cut(e.At, "T")
		t.cell(day)
		t.cell(e.Kind)
		t.cell(clean(e.Gang))
		t.cell(clean(e.Die))
		good, waste := "", e.Labels.Scrap
		if e.Kind == "printed" {
			good, waste = strconv.Itoa(e.Labels.Good), waste+e.Labels.Spoiled
		}
		for _, cell := range []string{
			strconv.Itoa(e.Labels.Ordered), strconv.Itoa(e.Labels.Planned), good, strconv.Itoa(e.Labels.Overs), strconv.Itoa(waste),
			amount(e.Cost, e.Currency), amount(e.Saving, e.Currency),
		} {
			t.cell(cell)
		}
		t.cell(e.Why)
		t.end()
	}
	return t.String()
}

func amount(n json.Number, currency string) string {
	if n == "" {
		return ""
	}
	return n.String() + afterAmount(currency)
}

func periodTable(d history.Document) string {
	t := newTable()
	t.left(string(d.Step))
	for _, heading := range []string{"plans", "planned", "overs", "scrap", "cost", "saving", "print runs", "good", "spoiled", "waste"} {
		t.right(heading)
	}
	line := func(name string, p history.Period) {
		t.cell(name)
		for _, cell := range []string{
			strconv.Itoa(p.Planned.Entries), strconv.Itoa(p.Planned.Planned), shared(p.Planned.Overs, p.Planned.OversShare), strconv.Itoa(p.Planned.Scrap),
			amount(p.Planned.Cost, p.Currency), amount(p.Planned.Saving, p.Currency),
			strconv.Itoa(p.Printed.Entries), strconv.Itoa(p.Printed.Good), strconv.Itoa(p.Printed.Spoiled), shared(p.Printed.Waste, p.Printed.WasteShare),
		} {
			t.cell(cell)
		}
		t.end()
	}
	for _, p := range d.Periods {
		line(p.Period, p)
	}
	t.footer = true
	for _, p := range d.Totals {
		line("all", p)
	}
	return t.String()
}

func shared(n int, percent json.Number) string {
	if percent == "" {
		return strconv.Itoa(n)
	}
	return fmt.Sprintf("%d (%s %%)", n, percent)
}

// HistoryCSV writes a line for every version of every entry.
func HistoryCSV(w io.Writer, d history.Document) error {
	heading := []string{
		"entry", "at", "kind", "counts", "not_counted_because", "gang", "die", "stock", "press", "order", "customer", "due", "version", "name",
		"ordered", "planned", "good", "spoiled", "overs", "unders", "scrap", "left_out",
		"currency", "gang_cost", "gang_bound", "gang_gap", "gang_saving", "order_alone", "order_share", "order_saving", "program", "inputs",
	}
	var rows [][]string
	for _, e := range d.Entries {
		for _, o := range e.Orders {
			for _, v := range o.Versions {
				row := []string{strconv.FormatInt(e.ID, 10), e.At, e.Kind, yes(e.Counts), e.Why, e.Gang, e.Die, e.Stock, e.Press, o.Order, o.Customer, o.Due, v.Version, v.Name}
				for _, n := range []int{v.Ordered, v.Planned, v.Good, v.Spoiled, v.Overs, v.Unders, v.Scrap} {
					row = append(row, strconv.Itoa(n))
				}
				row = append(row, yes(v.LeftOut), e.Currency)
				for _, n := range []json.Number{e.Cost, e.Bound, e.Gap, e.Saving, o.Alone, o.Share, o.Saving} {
					row = append(row, n.String())
				}
				rows = append(rows, append(row, e.Program, e.Inputs))
			}
		}
	}
	return safecsv.Write(w, heading, rows)
}
