package batch

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs/batch/summary"
	"laneplan/jobs/bookfile"
	"laneplan/jobs/planfile"
	"laneplan/jobs/pool"
	"laneplan/jobs/report"
	"laneplan/jobs/ticket"
)

// Files of the output folder that tell how the batch went.
const (
	PageFile    = "index.html"
	SummaryFile = "summary.json"
	TableFile   = "summary.csv"
)

// write writes how the batch stands.
func (n *night) write(state summary.State) (summary.Night, error) {
	told := n.tell(state)
	n.written = time.Now()
	write := func(name string, content func(io.Writer) error) error {
		return written(n.Folder.WriteFile(name, content))
	}
	err := cmp.Or(
		write(SummaryFile, func(w io.Writer) error { return summary.Write(w, told) }),
		write(TableFile, func(w io.Writer) error { return summary.WriteCSV(w, told) }),
	)
	if err == nil && n.Page != nil {
		plans := map[string]planfile.Gang{}
		for _, g := range n.gangs {
			if g.record != nil {
				plans[g.ID] = g.record.Outcome.Plan
			}
		}
		err = write(PageFile, func(w io.Writer) error { return n.Page(w, told, plans) })
	}
	return told, err
}

// tell puts the summary together.
func (n *night) tell(state summary.State) summary.Night {
	book := bookfile.Describe(n.Pooling)
	t := summary.Night{
		State: state, Program: n.Program, Date: book.Date, Until: book.Until, Currency: book.Currency,
		Warnings: slices.Clone(n.lost), Out: book.Out, Gangs: []summary.Gang{},
	}
	if !n.NoTimes {
		begun := n.begun.UTC().Truncate(time.Second)
		t.Begun = &begun
		if state != summary.Running {
			ended := time.Now().UTC().Truncate(time.Second)
			t.Ended = &ended
		}
	}
	for _, out := range book.Out {
		if out.Must {
			t.Warnings = append(t.Warnings, fmt.Sprintf("Order %s of %s is due and cannot run: %s.", out.Order, out.Customer, out.Reason))
		}
	}
	for i, g := range n.gangs {
		if g.record != nil && g.failure == nil {
			book.Timed(i, g.planned(), g.record.Outcome.Minutes, g.record.Outcome.Finished)
		}
	}
	places := int32(2)
	var sums sums
	for i, g := range n.gangs {
		places = g.Places()
		told := g.tell(book.Gangs[i], places)
		sums.add(&t.Totals, told)
		t.Gangs = append(t.Gangs, told)
	}
	t.Totals.Orders, t.Totals.Versions, t.Totals.Labels, t.Totals.Out = book.Totals.Orders, book.Totals.Versions, book.Totals.Labels, book.Totals.Out
	sums.set(&t.Totals, places)
	return t
}

// planned is the gang as it was planned.
func (g *gang) planned() pool.Gang {
	if g.record.Outcome.Undated {
		undated, _ := g.WithoutDates()
		return undated
	}
	return g.Gang
}

// tell is what the summary says of a gang.
func (g *gang) tell(pooled bookfile.Gang, places int32) summary.Gang {
	t := summary.Gang{Gang: pooled, State: summary.Waiting, Warnings: []string{}}
	for _, o := range pooled.Orders {
		if o.Due != "" && (t.Due == "" || o.Due < t.Due) {
			t.Due = o.Due
		}
	}
	if g.failure != nil {
		t.State = summary.Failed
		t.Failure = &summary.Failure{Kind: string(g.failure.Kind), Reason: g.failure.Reason, Do: g.failure.Do}
	} else if g.record != nil {
		g.tellPlan(&t, places)
	}
	t.Warnings = append(t.Warnings, g.notes...)
	t.Warnings = append(t.Warnings, warnings(t)...)
	return t
}

func (g *gang) tellPlan(t *summary.Gang, places int32) {
	o, plan := g.record.Outcome, g.record.Outcome.Plan
	if t.State = summary.Planned; g.record.CutShort {
		t.State = summary.CutShort
	}
	t.Folder, t.Files = g.folder, ticket.FileNames()
	t.Lanes, t.Sections, t.Rounds = plan.Lanes, len(plan.Sections), len(g.record.Rounds)
	t.Web = plan.Totals.Web
	t.Planned, t.Overs, t.Unders = plan.Totals.LabelsPlanned, plan.Totals.Overs, plan.Totals.Unders
	t.Cost = money(o.Cost, places)
	if t.AloneUnknown = o.AloneUnknown; o.Alone != nil {
		t.CostAlone, t.Saving = money(*o.Alone, places), money(o.Alone.Round(places).Sub(o.Cost.Round(places)), places)
	}
	t.Open = money(planfile.Decimal(plan.Cost.Total).Sub(planfile.Decimal(plan.Bound.Cost)), places)
	t.Gap, t.Proven, t.Stop = plan.Bound.Gap, plan.Bound.Proven, plan.Solve.Stop
	for _, v := range plan.Versions {
		if v.LeftOut {
			t.LeftOut = append(t.LeftOut, v.ID)
		}
	}
	t.Warnings = append(t.Warnings, o.Warnings...)
}

// warnings are what a scheduler should look at before anything else.
func warnings(t summary.Gang) []string {
	var all []string
	add := func(format string, values ...any) { all = append(all, fmt.Sprintf(format, values...)) }
	if t.State == summary.CutShort {
		add("cut short: run the batch again for the whole plan")
	}
	all = append(all, report.Late(t.Gang)...)
	if t.Unders > 0 {
		add("%d labels fewer than ordered, within what the customers take", t.Unders)
	}
	if t.Saving != "" && planfile.Decimal(t.Saving).IsNegative() {
		add("its orders alone would cost less")
	}
	if len(t.AloneUnknown) > 0 {
		add("the cost alone is not known of %s", strings.Join(t.AloneUnknown, ", "))
	}
	return all
}

// sums are totals as they grow.
type sums struct{ web, minutes, cost, alone, saving, open decimal.Decimal }

func (s *sums) add(t *summary.Totals, g summary.Gang) {
	t.Gangs++
	switch g.State {
	case summary.Failed:
		t.Failed++
		return
	case summary.Waiting:
		t.Waiting++
		return
	case summary.CutShort:
		t.CutShort++
	}
	t.Planned++
	t.Overs += g.Overs
	s.web, s.minutes = s.web.Add(planfile.Decimal(g.Web)), s.minutes.Add(planfile.Decimal(g.Minutes))
	s.cost, s.open = s.cost.Add(planfile.Decimal(g.Cost)), s.open.Add(planfile.Decimal(g.Open))
	if g.CostAlone != "" {
		s.alone, s.saving = s.alone.Add(planfile.Decimal(g.CostAlone)), s.saving.Add(planfile.Decimal(g.Saving))
	}
}

func (s *sums) set(t *summary.Totals, places int32) {
	t.Web, t.Minutes = json.Number(s.web.String()), json.Number(s.minutes.String())
	t.Cost, t.CostAlone, t.Saving, t.Open = money(s.cost, places), money(s.alone, places), money(s.saving, places), money(s.open, places)
}

func money(d decimal.Decimal, places int32) json.Number { return json.Number(d.StringFixed(places)) }

// watch tells whoever watches how the batch stands.
func (n *night) watch() {
	if n.Watch == nil {
		return
	}
	s := n.status
	s.Gangs, s.Failed, s.Planned = len(n.gangs), n.failed(), n.count(func(g *gang) bool { return g.record != nil })
	saving, places := decimal.Zero, int32(2)
	for _, g := range n.gangs {
		if g.record != nil && g.record.Outcome.Alone != nil {
			saving = saving.Add(g.record.Outcome.Alone.Sub(g.record.Outcome.Cost))
		}
		s.Currency, places = g.Currency, g.Places()
	}
	s.Saving, s.Elapsed = saving.StringFixed(places), time.Since(n.begun)
	if n.timed() {
		s.Left = max(0, n.Budget-s.Elapsed)
	} else if done := n.done(); done > 0 {
		s.Left = time.Duration(float64(s.Elapsed) * (1 - done) / done)
	}
	n.Watch(s)
}

// done is the share of the work that is done, from 0 to 1.
func (n *night) done() float64 {
	took := 0.0
	for _, g := range n.gangs {
		if !g.kept && g.record != nil {
			took += spent(g.record.Rounds)
		}
	}
	return min(1, took/n.whole(n.count(func(g *gang) bool { return !g.kept })))
}
