package ticket

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/rewind"
	"laneplan/jobs/ticket/sheet"
	"laneplan/nest"
)

// RunSheet writes the sheet that the press is set up and run from, as PDF.
func RunSheet(w io.Writer, j Job) error {
	return j.render(w, "Run sheet", paperOf(j.Gang.Papers), func(d *document) {
		d.setUp()
		// The artwork fills the first page where section 1 has no room on it.
		artwork := d.artwork()
		first := d.y+d.sectionHeight(0) > d.bottom() && d.y+artwork.height <= d.bottom()
		if first {
			artwork.draw()
		}
		for k := range j.Lanes {
			d.section(k)
		}
		if !first {
			d.need(min(artwork.height, d.bottom()-margin-11))
			artwork.draw()
		}
	})
}

// setUp is what has to be known before the first section.
func (d *document) setUp() {
	j, u := d.job, d.units
	die, web := j.Gang.Die, j.Winding.Web
	all := []fact{
		{"Press", nameOf(j.Gang.Press.ID, j.Gang.Press.Name)},
		{"Die", fmt.Sprintf("%s, %s", orUnknown(die.ID), plural(j.Plan.Lanes, "lane"))},
		{"Label", fmt.Sprintf("%s across × %s around", u.size(die.Across), u.size(die.Around))},
		{"Gaps", fmt.Sprintf("%s across, %s around", u.size(die.GapAcross), u.size(die.GapAround))},
		{"Stock", nameOf(j.Gang.Stock.ID, j.Gang.Stock.Name)},
		{"Finish", finishes(j.Gang)},
		{"Sections", fmt.Sprintf("%s, %s rows", count(len(j.Lanes)), count(web.Rows))},
		{"Set-up web", u.web(web.Setup)},
		{"Printed web", u.web(web.Printed)},
		{"Changeover web", u.web(web.Changes)},
		{"Splice web", u.web(web.Splices)},
		{"Web in all", u.web(web.Total)},
	}
	if j.bare() {
		all = []fact{{"Lanes", count(j.Plan.Lanes)}, {"Sections", fmt.Sprintf("%s, %s rows", count(len(j.Lanes)), count(web.Rows))}}
	}
	d.facts(all)
	if text := j.flagWarning(); text != "" {
		d.warning(text)
	}
	if !j.bare() {
		d.parents()
	}
	d.columns("First-article check", firstArticle, "Cautions", atThePress())
	d.paragraph(sheet.Style{Size: 8.5}, "The counter counts good rows: set it to 0 when the first article of section 1 is released. Web is measured from the start of the set-up.")
}

// inPress says what is on the roll that is in the press already.
func inPress(stock rewind.Stock, u units) string {
	return fmt.Sprintf("Parent roll 1 is in the press, with %s gone and %s on it.", u.web(stock.Gone), u.web(stock.Roll-stock.Gone))
}

// parents lists the parent rolls to pull.
func (d *document) parents() {
	stock, u := d.job.Winding.Stock, d.units
	text := fmt.Sprintf("Stock to pull: %s of %s, %s wide", plural(stock.Rolls(), "roll"), orUnknown(stock.ID), u.size(stock.Width))
	if stock.Roll > 0 {
		text += fmt.Sprintf(", %s each", u.web(stock.Roll))
	}
	d.heading(text, 20)
	if stock.Gone > 0 {
		d.paragraph(sheet.Style{Size: 9.5, Bold: true}, inPress(stock, u))
	}
	rows := make([][]sheet.Cell, 0, len(stock.Parents)+1)
	for i, p := range stock.Parents {
		ends := "end of the run"
		if i < len(stock.Parents)-1 {
			ends = "change between two sections"
			if p.SplicedInside {
				ends = "splice inside a section"
			}
		}
		left := unknown
		if stock.Roll > 0 {
			left = u.webNumber(p.Left)
		}
		rows = append(rows, texts(count(p.Number), u.webNumber(p.From), u.webNumber(p.To), u.webNumber(p.Used()), left, ends))
	}
	unit := u.webUnit()
	d.table(9, []sheet.Column{
		{Title: "Parent roll", Width: 20, Align: sheet.Right}, {Title: "Web from, " + unit, Width: 28, Align: sheet.Right},
		{Title: "to, " + unit, Width: 28, Align: sheet.Right}, {Title: "Used, " + unit, Width: 28, Align: sheet.Right},
		{Title: "Left on it, " + unit, Width: 28, Align: sheet.Right}, {Title: "Ends in", Width: 54},
	}, rows)
	if stock.Reserve > 0 {
		text := "Reserve for running waste: " + u.web(stock.Reserve) + "."
		if stock.Spare > 0 {
			text += fmt.Sprintf(" The last roll does not cover it: %s more.", plural(stock.Spare, "roll"))
		}
		d.paragraph(sheet.Style{Size: 8.5}, text)
	}
	if stock.Roll > 0 {
		d.paragraph(sheet.Style{Size: 8.5}, "Left over without waste: "+u.web(stock.LeftOver)+" on all rolls together.")
	}
}

// drawingHeight of the web, without its captions.
const drawingHeight = 35.0

// section is a block: title, what changes, the web, the lanes, what comes next.
func (d *document) section(k int) {
	j, u := d.job, d.units
	s := j.Winding.Web.Sections[k]
	lanesOn := j.Lanes[k]
	rows := d.laneRows(k)
	d.need(min(d.sectionHeight(k), d.bottom()-margin-11))
	d.y++
	d.Box(margin, d.y, d.width(), 8, sheet.Black, 0)
	title := sheet.Style{Size: 13, Bold: true, White: true}
	d.Text(margin+2, d.y+1.2, d.width()*0.36, title, fmt.Sprintf("Section %d of %d: %s rows", k+1, len(j.Lanes), count(s.To-s.From)))
	where := fmt.Sprintf("counter %s to %s", count(s.From), count(s.To))
	if !j.bare() {
		where += fmt.Sprintf("  ·  web %s to %s %s", u.webNumber(s.WebFrom), u.webNumber(s.WebTo), u.webUnit())
	}
	d.Text(margin+d.width()*0.36, d.y+1.8, d.width()*0.64-2, sheet.Style{Size: 10, Bold: true, White: true, Align: sheet.Right}, where)
	d.y += 9.5
	for _, line := range d.before(k) {
		d.paragraph(sheet.Style{Size: 9.5, Bold: true}, line)
	}
	d.y += 1
	d.drawWeb(k)
	d.table(laneSize, laneColumns, rows)
	for _, splice := range s.Splices {
		d.recheck(fmt.Sprintf("Splice at counter %s, %s: re-check lane", count(splice.Row), u.web(splice.WebFrom)), lanesOn)
	}
	d.recheck("After a stop: re-check lane", lanesOn)
	d.need(6)
	d.Text(margin, d.y, d.width(), sheet.Style{Size: 9}, "Released by ________________________   at ____________   Stopped at ____________   Counter at the end ____________")
	d.y += 6
	d.paragraph(sheet.Style{Size: 9.5, Bold: true}, d.next(k))
	d.y += 2
}

// sectionHeight is that of the block: title, what changes, captions, boxes and
// the line to sign.
func (d *document) sectionHeight(k int) float64 {
	lines := len(d.before(k)) + len(d.job.Winding.Web.Sections[k].Splices)
	return 43 + 5*float64(lines) + drawingHeight + d.fitTable(laneSize, laneColumns).Height(d.Sheet, d.laneRows(k))
}

// before says what to do to get to section k.
func (d *document) before(k int) []string {
	j, u := d.job, d.units
	s := j.Winding.Web.Sections[k]
	if k == 0 {
		text := "Set up all lanes."
		if w := j.Winding.Web; w.Setup > 0 {
			text = fmt.Sprintf("Set up all lanes: %s of web.", u.web(w.Setup))
			if f := j.Gang.Press.SetupFrames; f != nil && w.SetupRows > 0 {
				text += fmt.Sprintf(" Discard %s of %s (%s rows) before anything is measured.",
					plural(f.Discard, "frame"), plural(f.FrameRows(w.Pitch), "row"), count(w.SetupRows))
			}
		}
		says := j.Plan.Rest.Says()
		if r := j.Plan.Rest; r != nil && r.Continues {
			says = slices.Delete(says, 1, 2) // the next line says it
			text = "Go on with the versions that are in the lanes: no changeover. Check every lane again."
			if lost := j.Winding.Web.Setup; lost > 0 {
				text += fmt.Sprintf(" The restart takes %s of web.", u.web(lost))
			}
		}
		return append([]string{text}, sentences(says)...)
	}
	text := "Changeover"
	if lost := s.WebFrom - s.ChangeoverFrom; lost > 0 {
		text += fmt.Sprintf(" (%s of web)", u.web(lost))
	}
	lines := []string{text + ": " + changes(s) + ". Then check every lane again."}
	if s.FreshRoll {
		lines = append(lines, "Start this section with a fresh parent roll.")
	}
	return lines
}

// sentences get their full stops.
func sentences(lines []string) (out []string) {
	for _, line := range lines {
		out = append(out, line+".")
	}
	return out
}

// changes of a section against the one before, in words.
func changes(s rewind.Section) string {
	var parts []string
	if len(s.Changed) > 0 {
		parts = append(parts, "change "+laneWords(s.Changed))
	}
	if len(s.Emptied) > 0 {
		parts = append(parts, laneWords(s.Emptied)+" "+verb(s.Emptied, "stops", "stop")+" printing")
	}
	if len(s.Carried) > 0 {
		parts = append(parts, laneWords(s.Carried)+" "+verb(s.Carried, "carries", "carry")+" on, leave "+verb(s.Carried, "it", "them")+" as "+verb(s.Carried, "it is", "they are"))
	}
	return strings.Join(parts, "; ")
}

func verb(lanes []int, one, several string) string {
	if len(lanes) == 1 {
		return one
	}
	return several
}

// next says what happens at the end of section k.
func (d *document) next(k int) string {
	sections := d.job.Winding.Web.Sections
	s := sections[k]
	if k == len(sections)-1 {
		return fmt.Sprintf("End of the run at counter %s.", count(s.To))
	}
	return fmt.Sprintf("At counter %s comes section %d: %s.", count(s.To), k+2, changes(sections[k+1]))
}

// drawWeb shows the web as it leaves the press face up, seen by somebody
// towards whom it runs; widths and label heights are to one scale.
func (d *document) drawWeb(k int) {
	j := d.job
	lanesOn := j.Lanes[k]
	d.need(drawingHeight + 16)
	die := j.Gang.Die
	if j.bare() || die.Across == 0 {
		die = jobs.Die{Across: 100, GapAcross: 4, Around: 60, GapAround: 4}
	}
	n := jobs.Length(len(lanesOn))
	used := n*die.Across + (n-1)*die.GapAcross
	width := max(die.Web, used)
	scale := d.width() / float64(width)
	left := margin + float64(width-used)/2*scale
	label := sheet.Style{Size: 12, Least: 6, Bold: true, Align: sheet.Centre}
	top := d.y + label.LineHeight() + 0.5
	d.Box(margin, top, d.width(), drawingHeight, sheet.White, 0.4)
	s := j.Winding.Web.Sections[k]
	for lane, version := range lanesOn {
		x := left + float64(jobs.Length(lane)*(die.Across+die.GapAcross))*scale
		wide := float64(die.Across) * scale
		head := fmt.Sprintf("%d", lane+1)
		if k > 0 && slices.Contains(s.Changed, lane+1) {
			head += " new"
		}
		d.Text(x, d.y, wide, label, head)
		if version == nest.Empty {
			word := "empty"
			if j.closed(lane + 1) {
				word = "closed"
			}
			d.Text(x, top+drawingHeight/2-2, wide, sheet.Style{Size: 8.5, Align: sheet.Centre, Grey: true}, word)
			continue
		}
		d.drawLane(x, top, wide, float64(die.Around)*scale, float64(die.Pitch())*scale, version)
	}
	d.y = top + drawingHeight + 0.8
	caption := sheet.Style{Size: 7.5, Grey: true}
	d.Text(margin, d.y, d.width(), caption, "operator's left")
	wide := ""
	if !j.bare() {
		wide = "web " + d.units.size(j.Gang.Die.Web) + " wide"
	}
	caption.Align = sheet.Right
	d.Text(margin, d.y, d.width(), caption, wide)
	caption.Align = sheet.Centre
	d.Text(margin, d.y, d.width(), caption, "▼ the web runs this way, printed side up  ·  arrow in a label: top of its copy  ·  Leads: edge that leaves the press first")
	d.y += 4.5
}

// leastPlate is the width of a lane below which its name has no room in the
// drawing: the pattern and the table under it say what runs there.
const leastPlate = 12.0

// drawLane draws as many labels of a lane as the drawing holds, the first to
// leave the press at the bottom.
func (d *document) drawLane(x, top, wide, high, pitch float64, version int) {
	v := d.job.Winding.Versions[version]
	bottom := top + drawingHeight
	d.Clip(x, top+0.2, wide, drawingHeight-0.4, func() {
		for y := bottom - pitch; y+high > top; y -= pitch {
			d.Fill(x, y, wide, high, sheet.PatternOf(version))
		}
	})
	if wide < leastPlate {
		return
	}
	first := min(high, drawingHeight-1)
	plate := min(10.0, first*0.7)
	y := bottom - (pitch - high) - first/2 - plate/2
	inset := min(1.5, wide*0.06)
	d.Box(x+inset, y, wide-2*inset, plate, sheet.White, 0.2)
	arrow := 0.0
	if degrees, known := topPoints[v.PressEdge]; known && wide > 14 {
		arrow = min(7, plate, wide*0.2)
		d.Arrow(x+inset+arrow*0.55, y+plate/2, min(3.6, plate*0.5, arrow*0.6), degrees)
	}
	style := sheet.Style{Size: min(16, plate*1.7), Least: 5, Bold: true, Ends: true, Align: sheet.Centre}
	d.Text(x+inset+arrow+0.4, y+(plate-style.LineHeight())/2+0.2, wide-2*inset-arrow-1.4, style, v.ID)
}

// topPoints is where the top of the copy points, by the edge that leaves the
// press first, on a drawing in which the web runs down.
var topPoints = map[jobs.Edge]int{jobs.EdgeTop: 180, jobs.EdgeBottom: 0, jobs.EdgeLeft: 270, jobs.EdgeRight: 90}

// laneSize of the text in the tables of lanes, in points.
const laneSize = 10

var laneColumns = []sheet.Column{
	{Title: "Lane", Width: 12, Align: sheet.Right}, {Title: "Version", Ends: true, Width: 32}, {Title: "Name", Width: 42, Lines: 2}, {Title: "Order", Ends: true, Width: 17},
	{Title: "Leads", Width: 14}, {Title: "This lane", Width: 18},
	{Title: "Art", Width: 9}, {Title: "Reg.", Width: 11}, {Title: "Colour", Width: 15}, {Title: "Cut", Width: 9}, {Title: "Code", Width: 12},
}

// laneRows are every lane's version in words, with the boxes of the
// first-article check.
func (d *document) laneRows(k int) [][]sheet.Cell {
	s := d.job.Winding.Web.Sections[k]
	box := sheet.Cell{Ticks: []string{""}}
	var rows [][]sheet.Cell
	for lane, version := range d.job.Lanes[k] {
		if version == nest.Empty {
			word := "empty"
			if d.job.closed(lane + 1) {
				word = "closed"
			}
			rows = append(rows, texts(count(lane+1), unknown, "", "", "", word))
			continue
		}
		v := d.job.Winding.Versions[version]
		state := "new"
		if slices.Contains(s.Carried, lane+1) {
			state = "carries on"
		}
		pattern := sheet.PatternOf(version)
		row := []sheet.Cell{{Text: count(lane + 1), Bold: true}, {Text: v.ID, Bold: true, Swatch: &pattern}, {Text: v.Name}, {Text: v.Order},
			{Text: edgeWords(v.PressEdge)}, {Text: state, Bold: state == "new"}, box, box, box, box, box}
		rows = append(rows, row)
	}
	return rows
}

// block is a part of a document that is ready to be drawn.
type block struct {
	height float64
	draw   func()
}

// artwork lists what every version is printed from, and where it runs.
func (d *document) artwork() block {
	w := d.job.Winding
	var rows [][]sheet.Cell
	for i, e := range d.job.Gang.Entries() {
		pattern := sheet.PatternOf(i)
		due := orUnknown(date(e.Order.Due))
		if e.Order.Rush {
			due += " RUSH"
		}
		var sections []int
		for k, lanesOn := range d.job.Lanes {
			if slices.Contains(lanesOn, i) {
				sections = append(sections, k+1)
			}
		}
		rows = append(rows, []sheet.Cell{{Text: e.Version.ID, Bold: true, Swatch: &pattern}, {Text: orUnknown(e.Version.Artwork)}, {Text: e.Version.Name},
			{Text: e.Order.ID}, {Text: due}, {Text: count(w.Versions[i].Planned)}, {Text: orUnknown(lanes(sections))}})
	}
	columns := []sheet.Column{
		{Title: "Version", Ends: true, Width: 34}, {Title: "Artwork", Ends: true, Width: 42, Lines: 2}, {Title: "Name", Width: 38, Lines: 2}, {Title: "Order", Ends: true, Width: 18},
		{Title: "Due", Width: 20, Lines: 2}, {Title: "Labels", Width: 15, Align: sheet.Right}, {Title: "In section", Width: 22, Lines: 3},
	}
	const size = 9
	return block{10 + d.fitTable(size, columns).Height(d.Sheet, rows), func() { d.tableOf("Artwork of every version", size, columns, rows) }}
}

// recheck is a line with a box for every lane that prints.
func (d *document) recheck(text string, lanesOn []int) {
	style := sheet.Style{Size: 9}
	d.need(style.LineHeight() + 1)
	d.Text(margin, d.y, d.width()*0.5, style, text)
	x := margin + d.Width(style, text) + 3
	for lane, version := range lanesOn {
		if version == nest.Empty {
			continue
		}
		if x > margin+d.width()-9 {
			d.y += style.LineHeight() + 1
			d.need(style.LineHeight() + 1)
			x = margin + 6
		}
		x = d.Tick(x, d.y, style, count(lane+1))
	}
	d.y += style.LineHeight() + 1
}

func edgeWords(e jobs.Edge) string {
	if e == jobs.EdgeUnknown {
		return unknown
	}
	return e.String()
}

// nameOf a thing of the shop: its id, and its name where that says more.
func nameOf(id, name string) string {
	if name == "" || name == id {
		return orUnknown(id)
	}
	if id == "" {
		return name
	}
	return id + ", " + name
}

func orUnknown(text string) string {
	if text == "" {
		return unknown
	}
	return text
}

func finishes(g jobs.Gang) string {
	if len(g.Finishes) == 0 {
		return "none"
	}
	words := make([]string, len(g.Finishes))
	for i, f := range g.Finishes {
		words[i] = nameOf(f.ID, f.Name)
	}
	return strings.Join(words, "; ")
}

// plural of a word that takes an s.
func plural(n int, word string) string {
	if n != 1 {
		word += "s"
	}
	return count(n) + " " + word
}
