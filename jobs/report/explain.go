package report

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"laneplan/jobs/explain"
	"laneplan/jobs/planfile"
)

// Explain writes why a plan is as it is.
func Explain(w io.Writer, e explain.Explanation, style Style) error {
	var b strings.Builder
	part := func(heading, body string) {
		fmt.Fprintf(&b, "\n%s\n%s\n", dress(style.Heading, heading), body)
	}
	fmt.Fprintf(&b, "%s\n", dress(style.Heading, fmt.Sprintf("Why the plan of %s costs %s", clean(e.Gang), e.Cost.String()+afterAmount(e.Currency))))
	b.WriteString(standing(e) + "\n")
	part("What sets the length of each section:", setters(e))
	part("What overs cost"+inCurrency(e.Currency)+":", overCosts(e))
	part("What the total would be if one thing were different"+inCurrency(e.Currency)+":", answers(e))
	b.WriteString(explained(e))
	_, err := io.WriteString(w, b.String())
	return err
}

// standing says how good the plan is itself.
func standing(e explain.Explanation) string {
	saved := planfile.Decimal(e.Cost).Sub(planfile.Decimal(e.Cheapest))
	unit := afterAmount(e.Currency)
	bound := "No bound was found in time."
	if e.Bound != "" {
		bound = "No plan costs less than " + e.Bound.String() + unit + "."
	}
	better := fmt.Sprintf("There is a plan that costs %s less, %s", saved.StringFixed(placesOf(e))+unit, e.Cheapest.String()+unit)
	switch {
	case saved.IsPositive() && e.Proven:
		return better + ", and none is cheaper; changes are counted from that."
	case saved.IsPositive():
		return better + "; changes are counted from that. " + bound
	case e.Proven:
		return "Proven: no plan costs less."
	}
	return bound
}

// placesOf is the number of decimals of the money.
func placesOf(e explain.Explanation) int32 {
	_, decimals, _ := strings.Cut(e.Cost.String(), ".")
	return int32(len(decimals))
}

func setters(e explain.Explanation) string {
	t := newTable()
	t.right("section")
	t.right("rows")
	t.left("one frame less and")
	for _, s := range e.Sections {
		var why []string
		if len(s.SetBy) > 0 {
			why = append(why, clean(strings.Join(s.SetBy, ", "))+plural(len(s.SetBy), " is", " are")+" short")
		}
		if len(s.Unbilled) > 0 {
			why = append(why, clean(strings.Join(s.Unbilled, ", "))+plural(len(s.Unbilled), " is", " are")+" short within the tolerance")
		}
		if s.LeastLength {
			why = append(why, "the section is too short")
		}
		if s.WholeRolls {
			why = append(why, "its customer rolls are not whole")
		}
		if len(why) == 0 {
			why = append(why, "nothing is wrong: it could be shorter")
		}
		t.cell(strconv.Itoa(s.Number))
		t.cell(strconv.Itoa(s.Rows))
		t.cell(strings.Join(why, "; "))
		t.end()
	}
	return t.String()
}

func overCosts(e explain.Explanation) string {
	t := newTable()
	t.left("version")
	for _, heading := range []string{"ordered", "overs", "scrap", "unders", "web", "ink", "billed", "short", "cost"} {
		t.right(heading)
	}
	sum := planfile.Decimal(e.EmptyLanes)
	for _, v := range e.Versions {
		t.cell(clean(v.ID))
		for _, n := range []int{v.Ordered, v.Overs, v.Scrap, v.Unders} {
			t.cell(strconv.Itoa(n))
		}
		for _, amount := range []json.Number{v.Web, v.Ink, v.Billed, v.Short, v.Cost} {
			t.cell(amount.String())
		}
		sum = sum.Add(planfile.Decimal(v.Cost))
		t.end()
	}
	text := t.String()
	if !planfile.Decimal(e.EmptyLanes).IsZero() {
		text += "\nEmpty lanes take " + e.EmptyLanes.String() + afterAmount(e.Currency) + " of the web."
	}
	return text + "\nTogether " + sum.StringFixed(placesOf(e)) + afterAmount(e.Currency) + ". Each lane in use bears an equal part of a row."
}

func answers(e explain.Explanation) string {
	t := newTable()
	t.left("question")
	t.left("")
	t.right("cost")
	t.right("change")
	t.left("for the cheapest plans that is")
	notes, below := map[string]string{}, ""
	var order []string
	for _, q := range e.Questions {
		t.cell(q.Kind)
		t.cell(clean(q.Subject))
		if q.None != "" {
			t.cell("-")
			t.cell("-")
			if short := clean(q.None); len(short) < 60 {
				t.cell(short)
			} else {
				t.cell("no answer, see below")
				below += "\n" + clean(q.Kind+", "+q.Subject+": "+q.None)
			}
		} else {
			t.cell(q.Cost.String())
			t.cell(withSign(q.Found.String()))
			t.cell(verdictOf(q))
		}
		t.end()
		if q.Note != "" {
			if _, known := notes[q.Kind]; !known {
				order = append(order, q.Kind)
			}
			notes[q.Kind] = q.Note
		}
	}
	text := t.String()
	for _, kind := range order {
		text += "\n" + kind + ": " + clean(notes[kind])
	}
	return text + below
}

// verdictOf says in words what is proven of a change.
func verdictOf(q explain.Question) string {
	least, most := planfile.Decimal(q.Least), planfile.Decimal(q.Most)
	amount := func(n json.Number) string { return strings.TrimPrefix(n.String(), "-") }
	switch {
	case q.Least == "" && q.Most == "":
		return "not known"
	case q.Most == "" && least.IsPositive():
		return "at least " + amount(q.Least) + " more"
	case q.Most == "" && least.IsZero():
		return "no saving; how much more is not known"
	case q.Most == "":
		return "a saving of at most " + amount(q.Least) + "; what more is not known"
	case q.Least == "" && most.IsZero():
		return "no more; a saving not known"
	case q.Least == "":
		return "at most " + amount(q.Most) + " more; a saving not known"
	case q.Exact && least.IsZero():
		return "no change (proven)"
	case q.Exact && least.IsNegative():
		return "a saving of " + amount(q.Found) + " (proven)"
	case q.Exact:
		return amount(q.Found) + " more (proven)"
	case most.IsZero():
		return "a saving of at most " + amount(q.Least)
	case least.IsZero():
		return "at most " + amount(q.Most) + " more"
	case !most.IsPositive():
		return "a saving of at least " + amount(q.Most) + " and at most " + amount(q.Least)
	case !least.IsNegative():
		return "at least " + amount(q.Least) + " and at most " + amount(q.Most) + " more"
	}
	return "a saving of at most " + amount(q.Least) + ", or at most " + amount(q.Most) + " more"
}

func explained(e explain.Explanation) string {
	limit := "until it was proven"
	var limits []string
	if e.Limits.Seconds > 0 {
		limits = append(limits, fmt.Sprintf("%g s for all questions together", e.Limits.Seconds))
	}
	if e.Limits.Work > 0 {
		limits = append(limits, fmt.Sprintf("%g units of work for each question", e.Limits.Work))
	}
	if e.Limits.Gap > 0 {
		limits = append(limits, "a gap of "+PercentOf(e.Limits.Gap))
	}
	if len(limits) > 0 {
		limit = "up to " + strings.Join(limits, ", ")
	}
	return fmt.Sprintf("\nEvery question was planned anew, %s (seed %d). 'At least' and 'at most' are proven by bounds.\n", limit, e.Seed)
}

func plural(n int, one, more string) string {
	if n == 1 {
		return one
	}
	return more
}
