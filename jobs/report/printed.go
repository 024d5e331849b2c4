package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"laneplan/jobs/ledger"
)

// Printed writes what ran of a gang's plan, of a printed entry.
func Printed(w io.Writer, e ledger.Entry, style Style) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", dress(style.Heading, fmt.Sprintf("Printed of gang %s: %s in %s", clean(e.Gang), counted(e.Rows, "row"), counted(e.Sections, "section"))))
	sections := newTable()
	sections.right("section")
	sections.right("rows planned")
	sections.right("printed")
	for _, s := range e.Printed {
		sections.cell(strconv.Itoa(s.Number))
		sections.cell(strconv.Itoa(s.Planned))
		sections.cell(strconv.Itoa(s.Printed))
		sections.end()
	}
	b.WriteString(sections.String() + "\n")
	for _, s := range e.Spoiled {
		fmt.Fprintf(&b, "Section %d, lane %d: rows %d to %d are spoiled", s.Section, s.Lane, s.FromRow, s.ThruRow)
		if s.Reason != "" {
			fmt.Fprintf(&b, " (%s)", clean(s.Reason))
		}
		b.WriteByte('\n')
	}
	fmt.Fprintf(&b, "\n%s\n", dress(style.Heading, "Labels:"))
	labels := newTable()
	labels.left("version")
	labels.left("order")
	for _, heading := range []string{"ordered", "good", "spoiled", "short", "over"} {
		labels.right(heading)
	}
	for _, o := range e.Orders {
		for _, v := range o.Versions {
			labels.cell(clean(v.ID))
			labels.cell(clean(o.ID))
			for _, n := range []int{v.Ordered, v.Good, v.Spoiled, v.Unders, v.Overs + v.Scrap} {
				labels.cell(strconv.Itoa(n))
			}
			labels.end()
		}
	}
	b.WriteString(labels.String() + "\n")
	_, err := io.WriteString(w, b.String())
	return err
}
