package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"laneplan/jobs/bookfile"
	"laneplan/jobs/safecsv"
)

// Book writes how an order book was pooled: a table of gangs, the orders of
// each, what was compared, and what stays out and why.
func Book(w io.Writer, b bookfile.Book, style Style) error {
	var text strings.Builder
	fmt.Fprintf(&text, "%s\n", dress(style.Heading, bookTitle(b)))
	part := func(heading, body string) {
		fmt.Fprintf(&text, "\n%s\n%s\n", dress(style.Heading, heading), body)
	}
	if len(b.Gangs) > 0 {
		part("Gangs"+inCurrency(b.Currency)+":", gangTable(b))
		heading, body := turns(b)
		part(heading, body)
	}
	for _, g := range b.Gangs {
		body := orderTable(g)
		if g.Alone != "" {
			body += "\nAlone: " + clean(g.Alone)
		}
		part(clean(g.ID)+":", body)
	}
	if len(b.Splits) > 0 {
		part("One set-up or several:", splitLines(b))
	}
	if len(b.Out) > 0 {
		part("Left out:", outTable(b.Out))
	}
	if saving := bookSaving(b); saving != "" {
		fmt.Fprintf(&text, "\n%s\n", dress(style.Good, saving))
	}
	_, err := io.WriteString(w, text.String())
	return err
}

func bookTitle(b bookfile.Book) string {
	return fmt.Sprintf("Order book on %s, gang window until %s: %s of %s, %s and %s; %s out",
		b.Date, b.Until, counted(b.Totals.Gangs, "gang"), counted(b.Totals.Orders, "order"),
		counted(b.Totals.Versions, "version"), counted(b.Totals.Labels, "label"), counted(b.Totals.Out, "order"))
}

func gangTable(b bookfile.Book) string {
	planned := slices.ContainsFunc(b.Gangs, func(g bookfile.Gang) bool { return g.Cost != "" })
	t := newTable()
	t.left("gang")
	t.left("press")
	t.left("die")
	t.right("orders")
	t.right("versions")
	t.right("labels")
	if planned {
		t.right("cost")
		t.right("each alone")
	} else {
		t.right("estimate")
	}
	for _, g := range b.Gangs {
		for _, cell := range []string{clean(g.ID), clean(g.Press), clean(g.Die), strconv.Itoa(len(g.Orders)), strconv.Itoa(g.Versions), strconv.Itoa(g.Labels)} {
			t.cell(cell)
		}
		if planned {
			t.cell(orDash(g.Cost.String()))
			t.cell(orDash(g.CostAlone.String()))
		} else {
			t.cell(g.Estimate.String())
		}
		t.end()
	}
	return t.String()
}

// turns tells in which order the gangs of every press run, and which orders
// will not be in time.
func turns(b bookfile.Book) (heading, body string) {
	heading = "Turns on the presses, the earliest date first:"
	if slices.ContainsFunc(b.Gangs, func(g bookfile.Gang) bool { return g.Cost == "" }) {
		heading = "Turns on the presses, the earliest date first, by estimate:"
	}
	t := newTable()
	t.left("press")
	t.right("turn")
	t.left("gang")
	t.left("from")
	t.left("until")
	t.right("minutes")
	t.left("first due")
	order := make([]int, len(b.Gangs))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int {
		return cmp.Or(cmp.Compare(b.Gangs[x].Press, b.Gangs[y].Press), cmp.Compare(b.Gangs[x].Turn, b.Gangs[y].Turn))
	})
	var late []string
	for _, i := range order {
		g := b.Gangs[i]
		for _, cell := range []string{clean(g.Press), strconv.Itoa(g.Turn), clean(g.ID), g.Begins, g.Ends, g.Minutes.String(), firstDue(g)} {
			t.cell(cell)
		}
		t.end()
		late = append(late, Late(g)...)
	}
	body = t.String()
	if late != nil {
		body += "\n" + strings.Join(late, "\n")
	}
	return heading, body
}

// firstDue is the earliest date of the gang's orders that must run.
func firstDue(g bookfile.Gang) string {
	first := ""
	for _, o := range g.Orders {
		if o.Due != "" && !o.Filler && (first == "" || o.Due < first) {
			first = o.Due
		}
	}
	return first
}

// Late is a sentence for each order of a gang that will not be in time.
func Late(g bookfile.Gang) []string {
	var all []string
	for _, o := range g.Orders {
		why := "cannot be in time: that is over"
		switch {
		case !o.Late:
			continue
		case o.Ready != "":
			why = fmt.Sprintf("is ready %s (gang %s)", o.Ready, clean(g.ID))
		case g.Begins != "":
			why = fmt.Sprintf("cannot be in time: its gang %s begins %s", clean(g.ID), g.Begins)
		}
		all = append(all, fmt.Sprintf("Late: order %s is due %s and %s", clean(o.Order), o.Due, why))
	}
	return all
}

func orDash(figure string) string {
	if figure == "" {
		return "-"
	}
	return figure
}

func orderTable(g bookfile.Gang) string {
	t := newTable()
	t.left("order")
	t.left("customer")
	t.left("due")
	t.right("versions")
	t.right("labels")
	t.left("")
	for _, o := range g.Orders {
		for _, cell := range []string{clean(o.Order), clean(o.Customer), o.Due, strconv.Itoa(len(o.Versions)), strconv.Itoa(o.Labels), role(o)} {
			t.cell(cell)
		}
		t.end()
	}
	return t.String()
}

// role is what is particular about an order in its gang.
func role(o bookfile.Order) string {
	switch {
	case o.Late:
		return "late"
	case o.Filler:
		return "filler: runs where it costs less than another day"
	case o.Rush:
		return "rush"
	}
	return ""
}

func splitLines(b bookfile.Book) string {
	var lines []string
	for _, s := range b.Splits {
		unit := afterAmount(b.Currency)
		switch {
		case s.One == "":
			lines = append(lines, fmt.Sprintf("%s: no plan in one set-up; in %s it costs %s%s", clean(s.Gang), several(s.Into), s.Two, unit))
		case len(s.Into) > 0:
			lines = append(lines, fmt.Sprintf("%s: %s set-ups save %s%s (%s instead of %s, by plans of limited work)", clean(s.Gang), several(s.Into), s.Saves, unit, s.Two, s.One))
		default:
			lines = append(lines, fmt.Sprintf("%s: one set-up is kept (%s%s; the best two cost %s, by plans of limited work)", clean(s.Gang), s.One, unit, s.Two))
		}
	}
	return "  " + strings.Join(lines, "\n  ")
}

// several is how many set-ups took the place of one, in words where few.
func several(into []string) string {
	if words := []string{"two", "three", "four", "five", "six"}; len(into) >= 2 && len(into)-2 < len(words) {
		return words[len(into)-2]
	}
	return strconv.Itoa(len(into))
}

func outTable(all []bookfile.Out) string {
	t := newTable()
	t.left("order")
	t.left("customer")
	t.right("versions")
	t.left("")
	t.left("why")
	for _, o := range all {
		for _, cell := range []string{clean(o.Order), clean(o.Customer), strconv.Itoa(len(o.Versions)), map[bool]string{true: "due"}[o.Must], clean(o.Reason)} {
			t.cell(cell)
		}
		t.end()
	}
	return t.String()
}

// bookSaving compares the plan of a book with every order alone.
func bookSaving(b bookfile.Book) string {
	t, unit := b.Totals, afterAmount(b.Currency)
	if t.Saving == "" {
		return ""
	}
	return fmt.Sprintf("All gangs cost %s%s; the same labels, every order alone, %s%s: ganging saves %s%s.",
		t.Cost, unit, t.CostAlone, unit, t.Saving, unit)
}

// BookCSV writes the orders of a pooled book as a table: a row for every order
// in a gang and for every one that is out.
func BookCSV(w io.Writer, b bookfile.Book) error {
	heading := []string{"gang", "press", "die", "stock", "order", "customer", "due", "versions", "labels", "role", "reason", "turn", "begins", "ends", "ready"}
	var rows [][]string
	for _, g := range b.Gangs {
		for _, o := range g.Orders {
			rows = append(rows, []string{g.ID, g.Press, g.Die, g.Stock, o.Order, o.Customer, o.Due,
				strings.Join(o.Versions, "+"), strconv.Itoa(o.Labels), roleWord(o), g.Alone,
				strconv.Itoa(g.Turn), g.Begins, g.Ends, o.Ready})
		}
	}
	for _, o := range b.Out {
		rows = append(rows, []string{"", "", "", "", o.Order, o.Customer, o.Due, strings.Join(o.Versions, "+"), "", "out", o.Reason, "", "", "", ""})
	}
	return safecsv.Write(w, heading, rows)
}

func roleWord(o bookfile.Order) string {
	switch {
	case o.Late:
		return "late"
	case o.Filler:
		return "filler"
	case o.Rush:
		return "rush"
	}
	return "due"
}
