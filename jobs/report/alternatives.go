package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"laneplan/jobs/planfile"
	"laneplan/jobs/safecsv"
)

// Alternatives writes the plans with other numbers of sections as a table
// below the plan that was chosen.
func Alternatives(w io.Writer, g planfile.Gang, style Style) error {
	t := newTable()
	t.right("sections")
	t.right("rows")
	t.right("overs")
	t.right("scrap")
	web := g.Totals != nil && g.Totals.Web != ""
	if web {
		t.right("web")
		t.right("minutes")
	}
	t.right("cost")
	t.right("difference")
	t.right("within")
	t.left("")
	spare, none := false, ""
	for _, a := range g.Alternatives {
		if a.Plan == nil {
			none += fmt.Sprintf("\n%s: %s.", counted(a.Sections, "section"), clean(a.None))
			continue
		}
		sum := *a.Plan.Totals
		t.cell(strconv.Itoa(a.Sections))
		t.cell(strconv.Itoa(sum.Rows))
		t.cell(strconv.Itoa(sum.Overs))
		t.cell(strconv.Itoa(sum.Scrap))
		if web {
			t.cell(fixed(sum.Web, 1) + " m")
			t.cell(fixed(sum.Minutes, 1))
		}
		t.cell(a.Plan.Cost.Total.String())
		t.cell(withSign(a.Difference.String()))
		t.cell(within(*a.Plan.Bound))
		switch {
		case a.Chosen:
			t.cell("the plan above")
		case a.Spare:
			t.cell("a spare section *")
			spare = true
		default:
			t.cell("")
		}
		t.end()
	}
	text := dress(style.Heading, "The cheapest plans found with exactly so many sections"+inCurrency(currencyOf(g))+":") + "\n" + t.String()
	text += "\nwithin: of the cheapest with that number of sections; proven: none is cheaper"
	if spare {
		text += "\n* with fewer sections there is a plan that needs no more rows: the further section buys no web"
	}
	_, err := io.WriteString(w, text+none+"\n")
	return err
}

func currencyOf(g planfile.Gang) string {
	if g.Cost == nil {
		return ""
	}
	return g.Cost.Currency
}

func withSign(amount string) string {
	if strings.HasPrefix(amount, "-") || strings.Trim(amount, "0.") == "" {
		return amount
	}
	return "+" + amount
}

func within(b planfile.Bound) string {
	if b.Proven {
		return "proven"
	}
	return Percent(b.Gap)
}

// AlternativesCSV writes them as a table for spreadsheets, a line for each
// number of sections.
func AlternativesCSV(w io.Writer, g planfile.Gang) error {
	heading := []string{"gang", "sections", "rows", "overs", "scrap", "web_m", "minutes", "cost", "currency", "difference", "bound", "proven", "chosen", "spare_section", "none"}
	var rows [][]string
	for _, a := range g.Alternatives {
		row := make([]string, len(heading))
		row[0], row[1], row[8] = g.ID, strconv.Itoa(a.Sections), currencyOf(g)
		if p := a.Plan; p != nil {
			copy(row[2:8], []string{strconv.Itoa(p.Totals.Rows), strconv.Itoa(p.Totals.Overs), strconv.Itoa(p.Totals.Scrap), p.Totals.Web.String(), p.Totals.Minutes.String(), p.Cost.Total.String()})
			copy(row[9:12], []string{a.Difference.String(), p.Bound.Cost.String(), yes(p.Bound.Proven)})
		}
		copy(row[12:], []string{yes(a.Chosen), yes(a.Spare), a.None})
		rows = append(rows, row)
	}
	return safecsv.Write(w, heading, rows)
}
