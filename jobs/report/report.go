// Package report turns what a plan file says into words and tables for
// people: text that an operator can follow at the press, and CSV tables for
// spreadsheets. It computes nothing that is not in the plan file but
// percentages.
//
//	err := report.Text(w, gang, report.Style{})
package report

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"laneplan/jobs/planfile"
)

// Style dresses words for a terminal. A nil function leaves them as they are;
// nothing is said by a style alone.
type Style struct {
	Heading func(string) string // headings of the parts
	Good    func(string) string // what is proven
	Care    func(string) string // what the reader should look at
}

func dress(style func(string) string, text string) string {
	if style == nil {
		return text
	}
	return style(text)
}

// Text writes the plan of one gang as a report of about 80 columns.
func Text(w io.Writer, g planfile.Gang, style Style) error {
	var b strings.Builder
	part := func(heading, body string) {
		fmt.Fprintf(&b, "\n%s\n%s\n", dress(style.Heading, heading), body)
	}
	fmt.Fprintf(&b, "%s\n", dress(style.Heading, title(g)))
	part("Sections in the order in which they run, lanes from the operator's left:", sectionTable(g)+notes(g))
	if len(g.Versions) > 0 {
		part("Labels:", versionTable(g))
	}
	if g.Totals != nil && (g.Totals.Web != "" || g.Totals.Minutes != "") {
		part("Web and time:", measures(*g.Totals))
	}
	if g.Cost != nil {
		part("Cost"+inCurrency(g.Cost.Currency)+":", costTable(*g.Cost))
	}
	if verdict := Verdict(g, style); verdict != "" {
		fmt.Fprintf(&b, "\n%s\n", verdict)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func title(g planfile.Gang) string {
	t := fmt.Sprintf("Lane plan %s: %s in %s", clean(g.ID), counted(len(g.Versions), "version"), counted(g.Lanes, "lane"))
	if g.Totals != nil {
		t += fmt.Sprintf(", %s of %s in all", counted(g.Totals.Sections, "section"), counted(g.Totals.Rows, "row"))
	}
	return t
}

// manyLanes is the number of lanes beyond which a column a lane would be
// wider than any page; neighbouring lanes of one version are then named
// together.
const manyLanes = 10

func sectionTable(g planfile.Gang) string {
	t := newTable()
	t.right("section")
	t.right("rows")
	wide := g.Lanes > manyLanes
	if wide {
		t.left("lanes")
	} else {
		for lane := range g.Lanes {
			t.left("lane " + strconv.Itoa(lane+1))
		}
	}
	web := len(g.Sections) > 0 && g.Sections[0].Web != ""
	if web {
		t.right("web")
	}
	minutes := len(g.Sections) > 0 && g.Sections[0].Minutes != ""
	if minutes {
		t.right("minutes")
	}
	for _, s := range g.Sections {
		t.cell(strconv.Itoa(s.Number))
		t.cell(strconv.Itoa(s.Rows))
		if wide {
			t.cell(laneRuns(g, s))
		} else {
			for lane := range s.Lanes {
				t.cell(laneCell(g, s, lane))
			}
		}
		if web {
			t.cell(fixed(s.Web, 1) + " m")
		}
		if minutes {
			t.cell(fixed(s.Minutes, 1))
		}
		t.end()
	}
	return t.String()
}

// carriedMark stands before a version that the lane already had.
const carriedMark = "= "

func laneCell(g planfile.Gang, s planfile.Section, lane int) string {
	switch id := s.Lanes[lane]; {
	case id == nil && slices.Contains(g.Closed, lane+1):
		return "(closed)"
	case id == nil:
		return "(empty)"
	case slices.Contains(s.Carried, lane+1):
		return carriedMark + clean(*id)
	default:
		return clean(*id)
	}
}

// laneRuns names neighbouring lanes of one content together: 1-3 A, 4 B.
func laneRuns(g planfile.Gang, s planfile.Section) string {
	var runs []string
	for first := 0; first < len(s.Lanes); {
		last := first
		for last+1 < len(s.Lanes) && laneCell(g, s, last+1) == laneCell(g, s, first) {
			last++
		}
		lanes := strconv.Itoa(first + 1)
		if last > first {
			lanes += "-" + strconv.Itoa(last+1)
		}
		runs = append(runs, lanes+" "+laneCell(g, s, first))
		first = last + 1
	}
	return strings.Join(runs, ", ")
}

// notes explain the marks of the table and tell what happens to the web.
func notes(g planfile.Gang) string {
	var b strings.Builder
	if slices.ContainsFunc(g.Sections, func(s planfile.Section) bool { return len(s.Carried) > 0 }) {
		b.WriteString("\n= : the lane keeps the version that it had in the section before")
	}
	for _, note := range g.Rest.Says() {
		fmt.Fprintf(&b, "\n%s", clean(note))
	}
	for _, s := range g.Sections {
		if s.FreshRoll {
			fmt.Fprintf(&b, "\nSection %d starts on a fresh parent roll", s.Number)
		}
		for _, row := range s.SplicesAfter {
			fmt.Fprintf(&b, "\nSection %d: the parent roll ends after row %d, splice on the next", s.Number, row)
		}
	}
	return b.String()
}

func versionTable(g planfile.Gang) string {
	any := func(has func(planfile.Version) bool) bool { return slices.ContainsFunc(g.Versions, has) }
	names := any(func(v planfile.Version) bool { return v.Name != "" })
	orders := any(func(v planfile.Version) bool { return v.Order != g.Versions[0].Order })
	unders := any(func(v planfile.Version) bool { return v.Unders > 0 })
	scrap := any(func(v planfile.Version) bool { return v.Scrap > 0 })
	leftOut := any(func(v planfile.Version) bool { return v.LeftOut })

	t := newTable()
	t.left("version")
	if names {
		t.left("name")
	}
	if orders {
		t.left("order")
	}
	t.right("ordered")
	t.right("planned")
	t.right("overs")
	if unders {
		t.right("unders")
	}
	if scrap {
		t.right("scrap")
	}
	t.right("percent")
	if leftOut {
		t.left("")
	}
	line := func(v planfile.Version) {
		t.cell(clean(v.ID))
		if names {
			t.cell(clean(v.Name))
		}
		if orders {
			t.cell(clean(v.Order))
		}
		t.cell(strconv.Itoa(v.Ordered))
		t.cell(strconv.Itoa(v.Planned))
		t.cell(strconv.Itoa(v.Overs))
		if unders {
			t.cell(strconv.Itoa(v.Unders))
		}
		if scrap {
			t.cell(strconv.Itoa(v.Scrap))
		}
		t.cell(deviation(v))
		if leftOut {
			t.cell(map[bool]string{true: "left out of this plan"}[v.LeftOut])
		}
		t.end()
	}
	for _, v := range g.Versions {
		line(v)
	}
	if sum := g.Totals; sum != nil {
		t.footer = true
		line(planfile.Version{
			ID: "all", Ordered: sum.LabelsOrdered, Planned: sum.LabelsPlanned,
			Overs: sum.Overs, Unders: sum.Unders, Scrap: sum.Scrap,
		})
	}
	return t.String()
}

// deviation of what is planned from what was ordered.
func deviation(v planfile.Version) string {
	if v.LeftOut || v.Ordered == 0 {
		return ""
	}
	percent := 100 * float64(v.Planned-v.Ordered) / float64(v.Ordered)
	if v.Planned == v.Ordered {
		return "0.0 %"
	}
	return fmt.Sprintf("%+.1f %%", percent)
}

func measures(sum planfile.Totals) string {
	t := newTable()
	t.left("")
	t.right("")
	line := func(name string, figure string) {
		t.cell(name)
		t.cell(figure)
		t.end()
	}
	if sum.Web != "" {
		line("web, set-up and changeovers included", fixed(sum.Web, 1)+" m")
	}
	if sum.Area != "" {
		line("area of that web", fixed(sum.Area, 2)+" m²")
	}
	if sum.Minutes != "" {
		line("press time, set-up and changeovers included", fixed(sum.Minutes, 1)+" min")
	}
	return t.String()
}

func costTable(cost planfile.Cost) string {
	t := newTable()
	t.left("")
	t.right("")
	for _, k := range cost.Kinds {
		t.cell(k.Kind)
		t.cell(k.Cost.String())
		t.end()
	}
	t.footer = true
	t.cell("total")
	t.cell(cost.Total.String())
	t.end()
	return t.String()
}

func inCurrency(code string) string {
	if code == "" {
		return ""
	}
	return " in " + code
}
