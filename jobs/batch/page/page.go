// Package page writes the morning page of a batch: one HTML file that shows
// every gang with its picture, figures and documents, and first of all what
// needs a look. It needs no network and no server; without scripts it is a
// plain page, with them it sorts and filters. It works nothing out.
//
//	err := page.Write(w, night, plans)
package page

import (
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs/batch/summary"
	"laneplan/jobs/planfile"
	"laneplan/jobs/report"
	"laneplan/jobs/ticket/sheet"
)

//go:embed page.html.tmpl
var pageText string

//go:embed page.js
var script string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// Write writes the page of a night, with the plans of its gangs by their ids;
// a gang without a plan there has no picture.
func Write(w io.Writer, n summary.Night, plans map[string]planfile.Gang) error {
	if err := pageTemplate.Execute(w, viewOf(n, plans)); err != nil {
		return fmt.Errorf("write the page: %w", err)
	}
	return nil
}

// view is what the template shows.
type view struct {
	Title, Headline, Subtitle string
	ScriptHash                string
	Script                    template.JS
	Patterns                  []pattern
	Figures                   []figure
	Notes                     []note // what needs a look
	Gangs                     []gangView
	Presses                   []string
	Out                       []outView
	Caution, Foot             string
}

type figure struct{ Name, Value, Note string }

type note struct{ Mark, Gang, Anchor, Text, Do string }

type gangView struct {
	ID, Anchor, State, Mark     string
	Warnings                    []string
	Failure                     *summary.Failure
	Setup                       string // die, stock, finish
	Press, Due, Runs            string
	Sections, Lanes, Web, Time  string
	Overs, OversShare           string
	Cost, Saving, SavingShare   string
	Gap, Open                   string
	Flags                       []string
	Proven                      bool
	Orders                      []orderView
	Links                       []link
	Picture                     *picture
	Search                      string
	SortRank, SortDue, SortWeb  string
	SortCost, SortSaving        string
	SortGap, SortOvers, SortSec string
	SortTime                    string
}

type orderView struct{ Order, Customer, Due, Ready, Care, Note string }

type link struct{ Name, Href, Title string }

type outView struct{ Order, Customer, Due, Reason, Rows string }

func viewOf(n summary.Night, plans map[string]planfile.Gang) view {
	sum := sha256.Sum256([]byte(script))
	v := view{
		Title: "Night plan for " + n.Date, ScriptHash: base64.StdEncoding.EncodeToString(sum[:]), Script: template.JS(script),
		Headline: headline(n), Figures: figures(n),
	}
	day := n.Date
	if date, err := time.Parse(time.DateOnly, n.Date); err == nil {
		day = date.Format("Monday 2 January 2006")
	}
	v.Title = "Night plan for " + day
	v.Subtitle = fmt.Sprintf("What is due until %s must run, what is due later fills up.", n.Until)
	v.Foot = "Planned by laneplan " + n.Program
	if n.Ended != nil && n.Begun != nil {
		v.Foot += fmt.Sprintf(", from %s to %s UTC", n.Begun.UTC().Format("2006-01-02 15:04"), n.Ended.UTC().Format("15:04"))
	} else if n.Begun != nil {
		v.Foot += fmt.Sprintf(", begun %s UTC", n.Begun.UTC().Format("2006-01-02 15:04"))
	}
	gangs := slices.Clone(n.Gangs)
	slices.SortStableFunc(gangs, func(a, b summary.Gang) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(dueOr(a.Due), dueOr(b.Due)))
	})
	most := 0
	for i, g := range gangs {
		one := gangOf(g, i, n.Currency)
		if plan, known := plans[g.ID]; known && g.Folder != "" {
			one.Picture = pictureOf(plan)
			most = max(most, len(plan.Versions))
		}
		v.Gangs = append(v.Gangs, one)
		if g.Press != "" && !slices.Contains(v.Presses, g.Press) {
			v.Presses = append(v.Presses, g.Press)
		}
	}
	slices.Sort(v.Presses)
	if slices.ContainsFunc(n.Gangs, func(g summary.Gang) bool { return len(g.Flags) > 0 }) {
		v.Caution = "Where a gang is marked food, pharma or toy: whether ink, adhesive and varnish suit that use is for a qualified person to say."
	}
	v.Patterns = patterns(most)
	v.Notes = notes(n, v.Gangs)
	for _, o := range n.Out {
		if !o.Must {
			v.Out = append(v.Out, outView{Order: o.Order, Customer: o.Customer, Due: o.Due, Reason: o.Reason, Rows: strings.Join(o.Rows, ", ")})
		}
	}
	return v
}

// rank puts first what needs a look most.
func rank(g summary.Gang) int {
	switch {
	case g.State == summary.Failed:
		return 0
	case g.State == summary.CutShort:
		return 1
	case g.State == summary.Waiting:
		return 2
	case len(g.Warnings) > 0:
		return 3
	}
	return 4
}

// dueOr puts gangs without a date last.
func dueOr(due string) string { return cmp.Or(due, "9999") }

func headline(n summary.Night) string {
	t := n.Totals
	text := fmt.Sprintf("%d of %s planned", t.Planned, plural(t.Gangs, "gang"))
	if t.Planned == t.Gangs && t.CutShort == 0 {
		text = fmt.Sprintf("All %s planned", plural(t.Gangs, "gang"))
	}
	if t.Failed > 0 {
		text += fmt.Sprintf(", %d failed", t.Failed)
	}
	if t.CutShort > 0 {
		text += fmt.Sprintf(", %d of them cut short", t.CutShort)
	}
	switch {
	case n.State == summary.Running:
		text += "; the batch is still running"
	case t.Waiting > 0:
		text += fmt.Sprintf("; %d were not reached: run the batch again", t.Waiting)
	}
	return text
}

func figures(n summary.Night) []figure {
	t := n.Totals
	saving := ""
	if alone := planfile.Decimal(t.CostAlone); alone.IsPositive() {
		saving = percent(planfile.Decimal(t.Saving).DivRound(alone, 3)) + " less than every order alone"
	}
	return []figure{
		{"Cost", money(t.Cost, n.Currency), fmt.Sprintf("%s in %s", plural(t.Orders, "order"), plural(t.Gangs, "gang"))},
		{"Saved by ganging", money(t.Saving, n.Currency), saving},
		{"Still open", money(t.Open, n.Currency), "the most that better plans could save"},
		{"Web", metres(t.Web), "set-up and changeovers included"},
		{"On the presses", hours(t.Minutes), "added up over all presses"},
		{"Labels ordered", count(t.Labels), fmt.Sprintf("of %s; %s overs planned", plural(t.Versions, "version"), count(t.Overs))},
	}
}

// notes list what needs a look, the worst first.
func notes(n summary.Night, gangs []gangView) []note {
	var all []note
	for _, w := range n.Warnings {
		all = append(all, note{Mark: "Book", Text: w})
	}
	for _, g := range gangs {
		if g.Failure != nil {
			all = append(all, note{Mark: g.Mark, Gang: g.ID, Anchor: g.Anchor, Text: sentence(g.Failure.Reason), Do: "What to do: " + sentence(g.Failure.Do)})
		}
		for _, w := range g.Warnings {
			all = append(all, note{Mark: g.Mark, Gang: g.ID, Anchor: g.Anchor, Text: sentence(w)})
		}
	}
	return all
}

// sentence ends with a full stop.
func sentence(text string) string {
	if text = strings.TrimSpace(text); text == "" || strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}

var documents = []struct{ file, name, title string }{
	{"report.html", "Report", "The plan with its drawing, costs and rolls"},
	{"run-sheet.pdf", "Run sheet", "For the press"},
	{"rewind-sheet.pdf", "Rewind sheet", "For the rewinder"},
	{"roll-tags.pdf", "Roll tags", "A tag for every customer roll"},
	{"plan.json", "Plan", "For other programs"},
}

func gangOf(g summary.Gang, place int, currency string) gangView {
	v := gangView{
		ID: g.ID, Anchor: "gang-" + strconv.Itoa(place+1), State: string(g.State), Warnings: g.Warnings, Failure: g.Failure,
		Press: g.Press, Due: g.Due, Flags: g.Flags, SortRank: strconv.Itoa(rank(g)), SortDue: g.Due,
	}
	v.Mark = map[int]string{0: "Failed", 1: "Cut short", 2: "Waiting", 3: "Look"}[rank(g)]
	setup := []string{"die " + g.Die, "stock " + g.Stock}
	if len(g.Finishes) > 0 {
		setup = append(setup, "finish "+strings.Join(g.Finishes, " + "))
	}
	if g.InkSet != "" {
		setup = append(setup, "ink set "+g.InkSet)
	}
	v.Setup = strings.Join(setup, ", ")
	words := []string{g.ID, v.Setup, g.Press}
	for _, o := range g.Orders {
		one := orderView{Order: o.Order, Customer: o.Customer, Due: o.Due, Ready: moment(o.Ready)}
		switch {
		case o.Late:
			one.Care = "late"
		case o.Rush:
			one.Care = "rush"
		case o.Filler && leftOut(g, o.Versions):
			one.Note = "filler, left out"
		case o.Filler:
			one.Note = "filler"
		}
		v.Orders = append(v.Orders, one)
		words = append(words, o.Order, o.Customer, strings.Join(o.Versions, " "))
	}
	v.Search = strings.ToLower(strings.Join(words, " "))
	if g.Begins != "" {
		v.Runs = runs(g.Begins, g.Ends)
	}
	if g.Folder == "" {
		return v
	}
	v.Sections, v.Lanes, v.Web, v.Time = count(g.Sections), plural(g.Lanes, "lane"), metres(g.Web), hours(g.Minutes)
	v.Overs = count(g.Overs)
	if g.Labels > 0 {
		v.OversShare = percent(decimal.NewFromInt(int64(g.Overs)).DivRound(decimal.NewFromInt(int64(g.Labels)), 3))
	}
	v.Cost, v.Saving = money(g.Cost, currency), "not known"
	if g.Saving != "" {
		v.Saving = money(g.Saving, currency)
		if alone := planfile.Decimal(g.CostAlone); alone.IsPositive() {
			v.SavingShare = percent(planfile.Decimal(g.Saving).DivRound(alone, 3))
		}
	}
	if len(g.Orders) == 1 {
		v.Saving, v.SavingShare = "–", "one order"
	}
	v.Gap, v.Open, v.Proven = report.Percent(g.Gap), money(g.Open, currency), g.Proven
	v.SortWeb, v.SortCost, v.SortSaving, v.SortGap = g.Web.String(), g.Cost.String(), g.Saving.String(), g.Gap.String()
	v.SortOvers, v.SortSec, v.SortTime = strconv.Itoa(g.Overs), strconv.Itoa(g.Sections), g.Minutes.String()
	for _, d := range documents {
		if slices.Contains(g.Files, d.file) {
			v.Links = append(v.Links, link{d.name, g.Folder + "/" + d.file, d.title})
		}
	}
	return v
}

// runs tells from when to when a gang is on its press; the day of the end
// stands only where it is another.
func runs(begins, ends string) string {
	from, to := moment(begins), moment(ends)
	day := from[:max(0, len(from)-len("15:04"))]
	return from + " to " + strings.TrimPrefix(to, day)
}

// moment such as 2026-11-30 06:00, short.
func moment(text string) string {
	if t, err := time.Parse("2006-01-02 15:04", text); err == nil {
		return t.Format("2 Jan 15:04")
	}
	return text
}

// leftOut says that none of an order's versions is printed. In a gang a
// version may have its order's name before its own.
func leftOut(g summary.Gang, versions []string) bool {
	for _, v := range versions {
		if !slices.ContainsFunc(g.LeftOut, func(id string) bool { return id == v || strings.HasSuffix(id, "/"+v) }) {
			return false
		}
	}
	return true
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return count(n) + " " + word + "s"
}

func count(n int) string { return report.Grouped(strconv.Itoa(n)) }

func money(amount json.Number, currency string) string {
	return strings.TrimSpace(report.Grouped(amount.String()) + " " + currency)
}

func metres(web json.Number) string {
	return report.Grouped(planfile.Decimal(web).Round(0).String()) + " m"
}

// hours of minutes, as 3 h 25 min.
func hours(minutes json.Number) string {
	all := planfile.Decimal(minutes).Round(0).IntPart()
	if all < 60 {
		return fmt.Sprintf("%d min", all)
	}
	return fmt.Sprintf("%d h %02d min", all/60, all%60)
}

func percent(fraction decimal.Decimal) string { return fraction.Shift(2).Round(1).String() + " %" }

// pattern fills the boxes of one version in every picture.
type pattern struct {
	ID, Tint, Size string
	Path           string // of its lines
	Dot            string // where its dot is; empty for none
}

// patternKinds is how many patterns differ.
const patternKinds = 64

// patterns for so many versions.
func patterns(versions int) []pattern {
	var all []pattern
	for n := range min(versions, patternKinds) {
		p := sheet.PatternOf(n)
		size := p.Gap * 3.4 // pixels to the millimetre
		one := pattern{ID: "v" + strconv.Itoa(n), Tint: fmt.Sprintf("#%02x%02x%02x", p.Tint.R, p.Tint.G, p.Tint.B)}
		if p.Dots {
			one.Dot = px(size / 2)
		}
		for _, angle := range p.Angles {
			switch angle {
			case 0:
				one.Path += fmt.Sprintf("M0 %sH%s", px(size/2), px(size))
			case 90:
				one.Path += fmt.Sprintf("M%s 0V%s", px(size/2), px(size))
			case 45: // rises to the right; the corners close the lines of the next tiles
				one.Path += fmt.Sprintf("M0 %[1]sL%[1]s 0M-1 1L1 -1M%[2]s %[3]sL%[3]s %[2]s", px(size), px(size-1), px(size+1))
			default: // falls to the right
				one.Path += fmt.Sprintf("M0 0L%[1]s %[1]sM%[2]s -1L%[3]s 1M-1 %[2]sL1 %[3]s", px(size), px(size-1), px(size+1))
			}
		}
		one.Size = px(max(size, 4))
		all = append(all, one)
	}
	return all
}

func px(x float64) string { return strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64) }
