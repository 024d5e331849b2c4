package ticket

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"strings"
	"sync"

	"github.com/shopspring/decimal"

	"laneplan/jobs/report"
	"laneplan/jobs/rewind"
	"laneplan/jobs/ticket/sheet"
	"laneplan/nest"
)

//go:embed report.html.tmpl
var reportText string

var reportTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("report").Parse(reportText))
})

// Report writes the gang at a glance as one HTML file that fetches nothing and
// runs no script.
func Report(w io.Writer, j Job) error {
	if err := reportTemplate().Execute(w, j.reportView()); err != nil {
		return fmt.Errorf("make the report: %w", err)
	}
	return nil
}

// reportView is what the template shows: every figure is already a text.
type reportView struct {
	Gang, Printed, Subtitle string
	Warning                 string
	Figures                 []figure
	Verdict                 string
	Patterns                []*svgPattern
	Chart                   chart
	Sections                []sectionLine
	Timed                   bool // the sections' minutes are known
	LaneNumbers             []int
	Versions                []versionLine
	VersionSum              versionLine
	Costs                   []costLine
	CostTotal               string
	MoneyRule               string
	Money                   []moneyLine
	MoneySum                moneyLine
	Web                     []fact
	Parents                 []parentLine
	ParentUnit              string
	StockWords              string
	Cores                   []fact
	Rolls                   []rollLine
	RollsOpen               bool
	Notes, Cautions         []string
	FirstArticle            []string
}

type figure struct{ Name, Value, Note string }

type sectionLine struct {
	Number, Rows, From, To string
	WebFrom, WebTo         string // with unit; empty where not known
	Minutes                string // of its own rows; empty where not known
	Lanes                  []laneCell
}

type laneCell struct {
	Version string
	Swatch  *svgPattern // nil is none
	Word    string
	Carried bool
}

type versionLine struct {
	ID, Name, Order, Customer, Due                       string
	Swatch                                               *svgPattern
	Ordered, Planned, Overs, OversShare, Unders, LeftOff string
	LabelsPerRoll, FullRolls, PartRolls, Core            string
	Bar                                                  string // of the overs, of 100
	First                                                string // edge off the press
	Wind                                                 string
	Note                                                 string
}

type costLine struct {
	Kind, Amount, Share string
	Bar                 string // of 100; none for an earning
}

type moneyLine struct{ Order, Alone, Share, Saving, SavingShare, Bar string }

type parentLine struct{ Number, From, To, Used, Left string }

type rollLine struct {
	Key, Version, Order, Number, Labels, Overs, From, Core, Wind, Diameter, Weight, Splices string
	Swatch                                                                                  *svgPattern
	Heavy                                                                                   bool
}

// mostOpenRolls is the number of rolls up to which their table is open.
const mostOpenRolls = 200

func (j Job) reportView() reportView {
	v := reportView{
		Gang: j.Plan.ID, Printed: date(j.Printed), Subtitle: j.subtitle(), Warning: j.flagWarning(),
		Figures: j.figures(), Verdict: j.verdict(),
		Chart: j.chart(), Cautions: atThePress(), FirstArticle: firstArticle,
		Notes: append(sentences(j.Plan.Rest.Says()), j.Winding.Notes...), MoneyRule: j.MoneyRule,
	}
	for lane := range j.Plan.Lanes {
		v.LaneNumbers = append(v.LaneNumbers, lane+1)
	}
	for i := range j.Winding.Versions {
		v.Patterns = append(v.Patterns, svgPatternOf(i))
	}
	v.Sections = j.sectionLines()
	v.Timed = len(v.Sections) > 0 && v.Sections[0].Minutes != ""
	v.Versions, v.VersionSum = j.versionLines()
	v.Costs, v.CostTotal = j.costLines()
	v.Money, v.MoneySum = j.moneyLines()
	v.stock(j)
	for _, r := range j.Winding.Rolls {
		v.Rolls = append(v.Rolls, j.rollLine(r))
	}
	v.RollsOpen = len(v.Rolls) <= mostOpenRolls
	return v
}

func (j Job) subtitle() string {
	g, u := j.Gang, j.units()
	if j.bare() {
		return plural(j.Plan.Lanes, "lane") + ", abstract costs"
	}
	parts := []string{"press " + nameOf(g.Press.ID, g.Press.Name), fmt.Sprintf("die %s, %s", orUnknown(g.Die.ID), plural(j.Plan.Lanes, "lane")),
		fmt.Sprintf("label %s across × %s around", u.size(g.Die.Across), u.size(g.Die.Around)),
		"stock " + nameOf(g.Stock.ID, g.Stock.Name), "finish " + finishes(g)}
	return strings.Join(parts, "  ·  ")
}

func (j Job) figures() []figure {
	var all []figure
	add := func(name, value, note string) { all = append(all, figure{name, value, note}) }
	if c := j.Plan.Cost; c != nil {
		add("Cost", j.money(c.Total.String()), "")
	}
	if _, all := j.moneyLines(); len(j.Money) > 0 {
		add("Saved", all.Saving, strings.TrimSpace(all.SavingShare+" against every order alone, rewinding and packing counted"))
	}
	if b := j.Plan.Bound; b != nil {
		note := ""
		if b.Proven {
			note = "proven: no plan costs less"
		}
		add("At least", j.money(b.Cost.String()), note)
		add("Gap", percentOf(b.Gap), "between the two")
	}
	w := j.Winding
	ordered, planned, overs := 0, 0, 0
	for _, v := range w.Versions {
		ordered += v.Ordered
		planned += v.Planned
		overs += v.Overs
	}
	add("Labels ordered", count(ordered), "")
	add("Labels printed", count(planned), "")
	add("Overs wound", count(overs), "")
	add("Sections", count(len(j.Lanes)), count(w.Web.Rows)+" rows")
	if !j.bare() {
		add("Web", j.units().web(w.Web.Total), "set-up and changeovers included")
	}
	if t := j.Plan.Totals; t != nil && t.Minutes != "" {
		add("Press time", minutes(t.Minutes)+" min", "set-up and changeovers included")
	}
	add("Customer rolls", count(len(w.Rolls)), "")
	return all
}

// verdict says how good the plan is known to be.
func (j Job) verdict() string {
	b := j.Plan.Bound
	if b == nil {
		return "How far this plan is from the cheapest was not worked out."
	}
	text := fmt.Sprintf("No plan can cost less than %s: at most %s of this one's cost could be saved.", j.money(b.Cost.String()), percentOf(b.Gap))
	if b.Proven {
		text = "No plan costs less: that is proven."
	}
	if s := j.Plan.Solve; s != nil && s.Stop != "" && !b.Proven {
		text += " The search was ended by: " + s.Stop + "."
	}
	return text
}

// percentOf a gap, rounded up: a gap that is rounded down claims too much.
func percentOf(fraction json.Number) string {
	d, err := decimal.NewFromString(fraction.String())
	if err != nil {
		return unknown
	}
	return percent(d.RoundUp(4))
}

// minutes to a tenth; empty where not known.
func minutes(n json.Number) string {
	if n == "" {
		return ""
	}
	return report.Grouped(parse(n).StringFixed(1))
}

func (j Job) sectionLines() []sectionLine {
	u := j.units()
	var all []sectionLine
	for k, s := range j.Winding.Web.Sections {
		line := sectionLine{Number: count(k + 1), Rows: count(s.To - s.From), From: count(s.From), To: count(s.To)}
		if !j.bare() {
			line.WebFrom, line.WebTo = u.web(s.WebFrom), u.web(s.WebTo)
		}
		if k < len(j.Plan.Sections) {
			line.Minutes = minutes(j.Plan.Sections[k].Minutes)
		}
		for lane, version := range j.Lanes[k] {
			cell := laneCell{Word: "empty"}
			if version != nest.Empty {
				cell = laneCell{Version: j.Winding.Versions[version].ID, Swatch: svgPatternOf(version)}
			} else if j.closed(lane + 1) {
				cell.Word = "closed"
			}
			for _, carried := range s.Carried {
				cell.Carried = cell.Carried || carried == lane+1
			}
			line.Lanes = append(line.Lanes, cell)
		}
		all = append(all, line)
	}
	return all
}

func (j Job) versionLines() ([]versionLine, versionLine) {
	var all []versionLine
	ordered, planned, overs, unders, left, full, part := 0, 0, 0, 0, 0, 0, 0
	most := decimal.Zero
	share := func(v rewind.Version) decimal.Decimal {
		if v.Ordered == 0 {
			return decimal.Zero
		}
		return decimal.NewFromInt(int64(v.Overs)).DivRound(decimal.NewFromInt(int64(v.Ordered)), 4)
	}
	for _, v := range j.Winding.Versions {
		most = decimal.Max(most, share(v))
	}
	for i, v := range j.Winding.Versions {
		line := versionLine{ID: v.ID, Name: v.Name, Order: v.Order, Customer: v.Customer, Due: date(v.Due), Swatch: svgPatternOf(i),
			Ordered: count(v.Ordered), Planned: count(v.Planned), Overs: count(v.Overs), OversShare: percent(share(v)),
			Unders: count(v.Unders), LeftOff: count(v.LeftOff), LabelsPerRoll: unknown, FullRolls: count(v.FullRolls), PartRolls: count(v.PartRolls), Core: j.units().size(v.Core),
			Bar: barOf(share(v), most), First: edgeWords(v.PressEdge), Wind: j.windWords(v.Wind)}
		if v.LabelsPerRoll > 0 {
			line.LabelsPerRoll = count(v.LabelsPerRoll)
		}
		if v.LeftOut {
			line.Note = "not in this gang"
		}
		all = append(all, line)
		ordered += v.Ordered
		planned += v.Planned
		overs += v.Overs
		unders += v.Unders
		left += v.LeftOff
		full += v.FullRolls
		part += v.PartRolls
	}
	return all, versionLine{Ordered: count(ordered), Planned: count(planned), Overs: count(overs), Unders: count(unders),
		LeftOff: count(left), FullRolls: count(full), PartRolls: count(part)}
}

// barOf is the length of a bar of a hundred.
func barOf(part, whole decimal.Decimal) string {
	if whole.IsZero() {
		return "0"
	}
	return part.Abs().Shift(2).DivRound(whole.Abs(), 2).String()
}

func (j Job) costLines() ([]costLine, string) {
	c := j.Plan.Cost
	if c == nil {
		return nil, ""
	}
	total := parse(c.Total)
	most := decimal.Zero
	for _, k := range c.Kinds {
		most = decimal.Max(most, parse(k.Cost).Abs())
	}
	var all []costLine
	for _, k := range c.Kinds {
		amount := parse(k.Cost)
		line := costLine{Kind: k.Kind, Amount: j.money(k.Cost.String()), Bar: barOf(decimal.Max(amount, decimal.Zero), most)}
		if !total.IsZero() {
			line.Share = percent(amount.DivRound(total, 3))
		}
		all = append(all, line)
	}
	return all, j.money(c.Total.String())
}

func (j Job) moneyLines() ([]moneyLine, moneyLine) {
	if len(j.Money) == 0 {
		return nil, moneyLine{}
	}
	places := j.Gang.Places()
	alone, share := decimal.Zero, decimal.Zero
	for _, m := range j.Money {
		alone, share = alone.Add(m.Alone), share.Add(m.Share)
	}
	line := func(order string, alone, share, saving decimal.Decimal) moneyLine {
		l := moneyLine{Order: order, Alone: j.money(alone.StringFixed(places)), Share: j.money(share.StringFixed(places)),
			Saving: j.money(saving.StringFixed(places)), Bar: barOf(decimal.Max(saving, decimal.Zero), alone)}
		if !alone.IsZero() {
			l.SavingShare = percent(saving.DivRound(alone, 3))
		}
		return l
	}
	var all []moneyLine
	for _, m := range j.Money {
		all = append(all, line(m.Order, m.Alone, m.Share, m.Saving))
	}
	return all, line("all", alone, share, alone.Sub(share))
}

func parse(n json.Number) decimal.Decimal {
	d, err := decimal.NewFromString(n.String())
	if err != nil {
		return decimal.Zero
	}
	return d
}

// stock fills in web, parent rolls and cores.
func (v *reportView) stock(j Job) {
	u, w := j.units(), j.Winding
	for _, c := range w.Cores {
		size := u.size(c.Size)
		if c.Size == 0 {
			size = "size not stated"
		}
		v.Cores = append(v.Cores, fact{size, count(c.Count)})
	}
	if j.bare() {
		return
	}
	v.Web = []fact{{"set-up", u.web(w.Web.Setup)}, {"sections", u.web(w.Web.Printed)}, {"changeovers", u.web(w.Web.Changes)},
		{"splices", u.web(w.Web.Splices)}, {"in all", u.web(w.Web.Total)}}
	v.ParentUnit = u.webUnit()
	v.StockWords = fmt.Sprintf("Pull %s of %s, %s wide.", plural(w.Stock.Rolls(), "parent roll"), orUnknown(w.Stock.ID), u.size(w.Stock.Width))
	if w.Stock.Gone > 0 {
		v.StockWords += " " + inPress(w.Stock, u)
	}
	if w.Stock.Reserve > 0 {
		v.StockWords += " Reserve for running waste: " + u.web(w.Stock.Reserve) + "."
	}
	for _, p := range w.Stock.Parents {
		left := unknown
		if w.Stock.Roll > 0 {
			left = u.webNumber(p.Left)
		}
		v.Parents = append(v.Parents, parentLine{count(p.Number), u.webNumber(p.From), u.webNumber(p.To), u.webNumber(p.Used()), left})
	}
}

func (j Job) rollLine(r rewind.Roll) rollLine {
	u, v := j.units(), j.Winding.Versions[r.Version]
	words := make([]string, len(r.Pieces))
	for i, p := range r.Pieces {
		words[i] = fmt.Sprintf("lane %d, %s to %s", p.Lane, count(p.From), count(p.To))
	}
	return rollLine{Key: r.Key, Version: v.ID, Order: v.Order, Number: fmt.Sprintf("%d of %d", r.Number, r.Of), Labels: count(r.Labels),
		Overs: count(r.Overs), From: strings.Join(words, "; "), Core: u.size(r.Core), Wind: j.windWords(v.Wind), Diameter: u.diameter(r.Diameter),
		Weight: u.weight(r.Kilograms), Splices: count(r.Splices), Swatch: svgPatternOf(r.Version), Heavy: r.Heavy}
}

// svgPattern is a sheet.Pattern as SVG: lines of a tile that is turned.
type svgPattern struct {
	Index int
	Tint  string
	Tiles []svgTile
}

type svgTile struct {
	Angle string
	Gap   string
	Half  string
	Thick string // of a line, or the radius of a dot
	Dots  bool
}

// pixelsPerMM of patterns on a screen.
const pixelsPerMM = 3.4

func svgPatternOf(n int) *svgPattern {
	p := sheet.PatternOf(n)
	out := &svgPattern{Index: n, Tint: fmt.Sprintf("#%02x%02x%02x", p.Tint.R, p.Tint.G, p.Tint.B)}
	gap := fmt.Sprintf("%.2f", p.Gap*pixelsPerMM)
	half := fmt.Sprintf("%.2f", p.Gap*pixelsPerMM/2)
	line, dot := p.Stroke()
	thick := func(mm float64) string { return fmt.Sprintf("%.2f", max(mm*pixelsPerMM, 0.8)) }
	for _, angle := range p.Angles {
		out.Tiles = append(out.Tiles, svgTile{Angle: fmt.Sprintf("%g", -angle), Gap: gap, Half: half, Thick: thick(line)})
	}
	if p.Dots {
		out.Tiles = append(out.Tiles, svgTile{Angle: "0", Gap: gap, Half: half, Thick: thick(dot), Dots: true})
	}
	return out
}
