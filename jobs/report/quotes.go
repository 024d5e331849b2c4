package report

import (
	"fmt"
	"io"
	"strings"

	"laneplan/jobs/price/quotefile"
)

// Quotes writes costs, shares and prices: the parts of every gang. trace adds
// the arithmetic of every line.
func Quotes(w io.Writer, d quotefile.Document, trace bool, style Style) error {
	var b strings.Builder
	for i, g := range d.Gangs {
		if i > 0 {
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "%s\n", dress(style.Heading, "Gang "+clean(g.ID)+": cost "+g.Cost+onlyCode(d.Currency)))
		for _, part := range g.Parts(d.Currency, trace) {
			fmt.Fprintf(&b, "\n%s\n", dress(style.Heading, clean(part.Heading)+":"))
			if len(part.Columns) > 0 {
				fmt.Fprintf(&b, "%s\n", partTable(part))
			}
			for _, line := range part.Lines {
				line = clean(line)
				if part.Care {
					line = dress(style.Care, line)
				}
				fmt.Fprintf(&b, "%s\n", line)
			}
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func onlyCode(currency string) string {
	if currency == "" {
		return ""
	}
	return " " + currency
}

func partTable(part quotefile.Part) string {
	t := newTable()
	for _, c := range part.Columns {
		if c.Right {
			t.right(c.Title)
		} else {
			t.left(c.Title)
		}
	}
	add := func(row []string) {
		for _, cell := range row {
			t.cell(clean(cell))
		}
		t.end()
	}
	for _, row := range part.Rows {
		add(row)
	}
	if part.Sum != nil {
		t.footer = true
		add(part.Sum)
	}
	return t.String()
}
