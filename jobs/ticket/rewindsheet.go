package ticket

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/rewind"
	"laneplan/jobs/ticket/sheet"
)

// RewindSheet writes the sheet that customer rolls are wound from, as PDF. Its
// tables are wide, so the paper lies across.
func RewindSheet(w io.Writer, j Job) error {
	return j.render(w, "Rewind sheet", across(paperOf(j.Gang.Papers)), func(d *document) {
		d.winding()
		d.passes()
		d.stops()
		d.lanes()
		d.joinedRolls()
		d.versions()
	})
}

// winding is what to fetch and to know before the knives are set.
func (d *document) winding() {
	j, u := d.job, d.units
	w := j.Winding
	if !j.bare() {
		windings := j.Gang.Rewinder.Windings
		if windings == 0 {
			windings = 2
		}
		d.facts([]fact{
			{"Rewinder", orUnknown(j.Gang.Rewinder.ID)},
			{"Stock", nameOf(j.Gang.Stock.ID, j.Gang.Stock.Name)},
			{"Slit width", u.size(rewind.StripWidth(j.Gang.Die)) + ", knives mid-gap"},
			{"Web", u.size(j.Gang.Die.Web) + " wide, " + u.web(w.Web.Total)},
			{"Customer rolls", count(len(w.Rolls))},
			{"Windings", fmt.Sprintf("%s from press to customer", count(windings))},
			{"Leader, tail", u.size(j.Gang.Rewinder.Leader) + ", " + u.size(j.Gang.Rewinder.Tail)},
			{"Cores to pull", d.cores()},
		})
		if j.Gang.Chart != nil {
			d.paragraph(sheet.Style{Size: 8.5}, "Copy positions in words; the number in brackets is that of "+j.Gang.Chart.Name+".")
			d.y++
		}
	} else {
		d.facts([]fact{{"Customer rolls", count(len(w.Rolls))}, {"Cores to pull", d.cores()}})
	}
	if text := j.flagWarning(); text != "" {
		d.warning(text)
	}
	order := "The first row printed reaches the knives first: counters rise."
	if j.Winding.Backwards {
		order = "The press has wound the web up, so the last row printed comes first: counters fall, and every lane below is listed that way."
	}
	d.columns("Before winding", []string{
		order,
		"Mark every lane at the knives with its version. Mixed lanes are the error that a gang makes easy.",
		"Flag every splice at the edge of its roll (1 @7900: one, at counter 7900); join in a gap between two labels, with no label missing.",
		"Copy position is as the customer's roll unwinds. Check it on the first roll of every lane.",
		"A piece that was set aside on a core leads with its other edge once it is wound again: wind it over once more first, and check copy position on both sides of every join.",
		"Rolls are named by the end of the key on their tags, such as 01-001.",
	}, "Cautions", atTheRewinder())
	if len(w.Notes) > 0 {
		d.heading("Notes", 10)
		d.points(sheet.Style{Size: 8.5}, w.Notes)
	}
}

func (d *document) cores() string {
	var words []string
	for _, c := range d.job.Winding.Cores {
		size := d.units.size(c.Size)
		if c.Size == 0 {
			size = "size not stated"
		}
		words = append(words, fmt.Sprintf("%s × %s", count(c.Count), size))
	}
	return strings.Join(words, ", ")
}

// passes are the shaft's settings in every section.
func (d *document) passes() {
	if d.job.bare() {
		return
	}
	d.heading("Settings of the shaft: lanes wound together share core, face and count", 15)
	var rows [][]sheet.Cell
	for _, p := range d.job.Winding.Passes {
		per := unknown
		if p.LabelsPerRoll > 0 {
			per = count(p.LabelsPerRoll)
		}
		row := texts(count(p.Section), lanes(p.Lanes), d.units.size(p.Core), p.Face.String(), per)
		same := slices.IndexFunc(rows, func(before []sheet.Cell) bool {
			return slices.EqualFunc(before[1:], row[1:], func(a, b sheet.Cell) bool { return a.Text == b.Text })
		})
		if same < 0 {
			rows = append(rows, row)
		} else {
			rows[same][0].Text += ", " + row[0].Text
		}
	}
	d.table(9, []sheet.Column{
		{Title: "Section", Width: 44, Lines: 3}, {Title: "Lanes", Width: 44, Lines: 3}, {Title: "Core", Width: 30},
		{Title: "Face", Width: 30}, {Title: "Labels on a full roll", Width: 38, Align: sheet.Right},
	}, rows)
}

// stops of the shaft: where which lanes are cut, and which web is no part of
// any roll.
func (d *document) stops() {
	var rows [][]sheet.Cell
	for i, s := range d.job.Winding.Stops {
		rows = append(rows, []sheet.Cell{{Text: count(i + 1)}, {Text: count(s.Row), Bold: true}, {Text: count(s.Since)}, {Text: lanes(s.Cut)},
			{Text: d.stopWords(i)}, {Ticks: []string{""}}})
	}
	if len(rows) == 0 {
		return
	}
	d.tableOf("Stops of the shaft, in the order in which they come", rollSize, []sheet.Column{
		{Title: "Stop", Width: 14, Align: sheet.Right}, {Title: "At counter", Width: 22, Align: sheet.Right},
		{Title: "Rows since", Width: 22, Align: sheet.Right}, {Title: "Cut lane", Width: 46, Lines: 3}, {Title: "Then", Width: 68, Lines: 2}, {Title: "Done", Width: 14},
	}, rows)
}

// stopWords says what to do at a stop besides cutting lanes.
func (d *document) stopWords(i int) string {
	all := d.job.Winding.Stops
	s := all[i]
	var words []string
	if s.Waste > 0 {
		what := "changeover"
		switch {
		case s.Row == 0:
			what = "set-up"
		case !slices.ContainsFunc(d.job.Winding.Web.Sections, func(o rewind.Section) bool { return o.From == s.Row }):
			what = "the splice"
		}
		words = append(words, fmt.Sprintf("take out %s of %s", d.units.web(s.Waste), what))
	}
	if len(s.Join) > 0 {
		words = append(words, "join "+laneWords(s.Join))
	}
	if i == len(all)-1 {
		words = append(words, "end of the web")
	}
	return strings.Join(words, ", ")
}

// strip is one stretch of a lane and what becomes of it.
type strip struct {
	piece rewind.Piece
	roll  *rewind.Roll // nil: left off
	part  int          // of the roll's pieces, from 1
}

// lanesOf sorts everything that is printed by lane, and in a lane as it
// reaches the rewinder.
func (j Job) lanesOf() [][]strip {
	byLane := make([][]strip, j.Plan.Lanes)
	for i := range j.Winding.Rolls {
		r := &j.Winding.Rolls[i]
		for part, p := range r.Pieces {
			byLane[p.Lane-1] = append(byLane[p.Lane-1], strip{p, r, part + 1})
		}
	}
	for _, p := range j.Winding.LeftOff {
		byLane[p.Lane-1] = append(byLane[p.Lane-1], strip{piece: p})
	}
	for _, strips := range byLane {
		slices.SortFunc(strips, func(a, b strip) int { return a.piece.From - b.piece.From })
		if j.Winding.Backwards {
			slices.Reverse(strips)
		}
	}
	return byLane
}

// lanes lists every lane: its rolls, what is set aside and what is left off.
func (d *document) lanes() {
	for lane, strips := range d.job.lanesOf() {
		if len(strips) == 0 {
			continue
		}
		rows := make([][]sheet.Cell, len(strips))
		for i, s := range strips {
			switch {
			case s.roll == nil:
				rows[i] = d.pieceRow(s.piece, "left off: do not wind")
			case s.roll.Joins > 0:
				rows[i] = d.pieceRow(s.piece, fmt.Sprintf("set aside: piece %d of %s", s.part, shortKey(*s.roll)))
			default:
				rows[i] = d.rollRow(*s.roll)
			}
		}
		d.tableOf(fmt.Sprintf("Lane %d", lane+1), rollSize, rollColumns, rows)
	}
}

// rollSize of the text in the tables of rolls, in points; what is too long for
// its column shrinks by up to two.
const rollSize = 10

var rollColumns = []sheet.Column{
	{Title: "Roll", Width: 44, Lines: 2}, {Title: "Version", Ends: true, Width: 36}, {Title: "No.", Width: 13, Align: sheet.Right},
	{Title: "Labels", Width: 14, Align: sheet.Right}, {Title: "Counter", Width: 16, Align: sheet.Right}, {Title: "to", Width: 13, Align: sheet.Right},
	{Title: "Core", Width: 16, Align: sheet.Right}, {Title: "Copy position", Width: 34, Lines: 2}, {Title: "Outside", Width: 16, Align: sheet.Right},
	{Title: "Weight", Width: 16, Align: sheet.Right}, {Title: "Splices", Width: 18, Align: sheet.Right, Lines: 3}, {Title: "Done", Width: 12},
}

func (d *document) rollRow(r rewind.Roll) []sheet.Cell {
	u := d.units
	v := d.job.Winding.Versions[r.Version]
	pattern := sheet.PatternOf(r.Version)
	weight := u.weight(r.Kilograms)
	if r.Heavy {
		weight = "! " + weight
	}
	from, to := unknown, unknown
	if len(r.Pieces) == 1 {
		from, to = count(r.Pieces[0].From), count(r.Pieces[0].To)
	}
	return []sheet.Cell{{Text: shortKey(r), Bold: true}, {Text: v.ID, Bold: true, Swatch: &pattern}, {Text: fmt.Sprintf("%d/%d", r.Number, r.Of)},
		{Text: count(r.Labels), Bold: true}, {Text: from}, {Text: to}, {Text: u.size(r.Core)}, {Text: d.job.windWords(v.Wind)},
		{Text: u.diameter(r.Diameter)}, {Text: weight, Bold: r.Heavy}, {Text: splices(r), Bold: r.Splices > 0}, {Ticks: []string{""}}}
}

// shortKey is the end of a roll's key, which tells it from all others of the
// gang: version and number.
func shortKey(r rewind.Roll) string {
	parts := strings.Split(r.Key, "-")
	return strings.Join(parts[max(len(parts)-2, 0):], "-")
}

// splices of a roll; those of parent rolls with the counter at which they lie.
func splices(r rewind.Roll) string {
	text := count(r.Splices)
	for _, p := range r.Pieces {
		for _, row := range p.Splices {
			text += " @" + count(row)
		}
	}
	return text
}

// windWords gives a copy position in words, with its number where the shop
// has a chart.
func (j Job) windWords(w jobs.Wind) string {
	if (w == jobs.Wind{}) {
		return unknown
	}
	words := w.Face.String() + ", " + w.Edge.String() + " first"
	if number, known := j.Gang.Chart.Number(w); known {
		words += fmt.Sprintf(" (%d)", number)
	}
	return words
}

// joinedRolls lists the rolls that are made of several pieces, and where each
// piece comes from.
func (d *document) joinedRolls() {
	w := d.job.Winding
	var rows [][]sheet.Cell
	for _, r := range w.Rolls {
		if r.Joins == 0 {
			continue
		}
		rows = append(rows, d.rollRow(r))
		for i, p := range r.Pieces {
			rows = append(rows, d.pieceRow(p, fmt.Sprintf("piece %d: lane %d", i+1, p.Lane)))
		}
	}
	if rows == nil {
		return
	}
	d.tableOf("Joined rolls: set these pieces aside and wind them in this order", rollSize, rollColumns, rows)
}

// pieceRow is a stretch that is no roll by itself.
func (d *document) pieceRow(p rewind.Piece, words string) []sheet.Cell {
	pattern := sheet.PatternOf(p.Version)
	row := []sheet.Cell{{Text: words}, {Text: d.job.Winding.Versions[p.Version].ID, Swatch: &pattern}, {Text: ""},
		{Text: count(p.Labels())}, {Text: count(p.From)}, {Text: count(p.To)}}
	return row
}

// versions sums up what every order gets.
func (d *document) versions() {
	w := d.job.Winding
	rows := make([][]sheet.Cell, len(w.Versions))
	for i, v := range w.Versions {
		pattern := sheet.PatternOf(i)
		rows[i] = []sheet.Cell{{Text: v.ID, Bold: true, Swatch: &pattern}, {Text: v.Order}, {Text: v.Customer}, {Text: orUnknown(date(v.Due))}, {Text: count(v.Ordered)},
			{Text: count(v.Planned)}, {Text: count(v.Wound)}, {Text: count(v.LeftOff)}, {Text: count(v.Overs)}, {Text: count(v.Unders)},
			{Text: rollsInWords(v)}}
	}
	d.tableOf("What every version comes to: to count and to pack by", rollSize, []sheet.Column{
		{Title: "Version", Ends: true, Width: 32}, {Title: "Order", Ends: true, Width: 17}, {Title: "Customer", Width: 28, Lines: 2}, {Title: "Due", Width: 18},
		{Title: "Ordered", Width: 15, Align: sheet.Right}, {Title: "Printed", Width: 15, Align: sheet.Right}, {Title: "Wound", Width: 15, Align: sheet.Right},
		{Title: "Left off", Width: 13, Align: sheet.Right}, {Title: "Overs", Width: 12, Align: sheet.Right}, {Title: "Unders", Width: 13, Align: sheet.Right},
		{Title: "Rolls", Width: 27},
	}, rows)
}

func rollsInWords(v rewind.Version) string {
	if v.LeftOut {
		return "not in this gang"
	}
	return fmt.Sprintf("%s full + %s part", count(v.FullRolls), count(v.PartRolls))
}
