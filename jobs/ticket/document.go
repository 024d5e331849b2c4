package ticket

import (
	"fmt"
	"io"

	"laneplan/jobs"
	"laneplan/jobs/ticket/sheet"
)

const (
	margin = 12.0 // of a page, millimetres
	foot   = 9.0  // kept free above the bottom margin for the footer
)

// document is a PDF that is being written from top to bottom.
type document struct {
	*sheet.Sheet
	job   Job
	units units
	title string
	pages int // of the whole document; 0 in the first pass, which counts them
	page  int
	y     float64
}

// render draws a document twice: the first pass counts its pages, so that
// each can say how many there are.
func (j Job) render(w io.Writer, title string, paper sheet.Paper, draw func(*document)) error {
	pass := func(pages int) *document {
		d := &document{Sheet: sheet.New(paper, title+" "+j.Gang.ID, j.Printed),
			job: j, units: j.units(), title: title, pages: pages}
		d.Footer(d.drawFooter)
		d.newPage()
		draw(d)
		return d
	}
	counted := pass(0)
	return pass(counted.page).Write(w)
}

// across is paper with its long side at the top.
func across(p sheet.Paper) sheet.Paper { return sheet.Paper{Width: p.Height, Height: p.Width} }

func paperOf(p jobs.Papers) sheet.Paper {
	if p.Letter {
		return sheet.Letter
	}
	return sheet.A4
}

func (d *document) width() float64  { return d.Paper().Width - 2*margin }
func (d *document) bottom() float64 { return d.Paper().Height - margin - foot }

// newPage starts a page with the document's head and returns where to go on.
func (d *document) newPage() float64 {
	d.AddPage()
	d.page++
	right := d.job.Plan.ID
	if printed := date(d.job.Printed); printed != "" {
		right = printed + "  ·  " + right
	}
	style := sheet.Style{Size: 16, Bold: true}
	d.Text(margin, margin, d.width()/2, style, d.title)
	// Gangs of one book differ at the end of their names: it has to be seen.
	left := d.Width(style, d.title) + 4
	d.Text(margin+left, margin+0.6, d.width()-left, sheet.Style{Size: 13, Least: 7, Bold: true, Ends: true, Align: sheet.Right}, right)
	d.Line(margin, margin+8.5, margin+d.width(), margin+8.5, 0.5)
	d.y = margin + 11
	return d.y
}

func (d *document) drawFooter(page int) {
	style := sheet.Style{Size: 7.5, Grey: true}
	y := d.Paper().Height - margin - 3
	text := "Follow the machine's manual and local rules; only trained people set up, thread, splice and change knives."
	if d.Missing() {
		text = "[U+…]: a character that the fonts lack.  " + text
	}
	d.Text(margin, y, d.width()-30, style, text)
	style.Align = sheet.Right
	d.Text(margin+d.width()-30, y, 30, style, fmt.Sprintf("page %d of %d", page, d.pages))
}

// need starts a new page where less than this height is left.
func (d *document) need(height float64) {
	if d.y+height > d.bottom() {
		d.newPage()
	}
}

// heading of a part of the document, kept together with what follows it.
func (d *document) heading(text string, follows float64) {
	d.need(8 + follows)
	d.y += 2
	style := sheet.Style{Size: 11, Bold: true}
	d.Text(margin, d.y, d.width(), style, text)
	d.y += style.LineHeight() + 1
}

func (d *document) paragraph(style sheet.Style, text string) {
	lines := d.Lines(d.width(), style, text)
	for _, line := range lines {
		d.need(style.LineHeight())
		d.Text(margin, d.y, d.width(), style, line)
		d.y += style.LineHeight()
	}
}

// points lists sentences with a dash before each.
func (d *document) points(style sheet.Style, texts []string) {
	for _, text := range texts {
		for i, line := range d.Lines(d.width()-4, style, text) {
			d.need(style.LineHeight())
			if i == 0 {
				d.Text(margin, d.y, 4, style, "–")
			}
			d.Text(margin+4, d.y, d.width()-4, style, line)
			d.y += style.LineHeight()
		}
		d.y += 0.6
	}
}

// fact is a name and what it is.
type fact struct{ Name, Value string }

// facts stand in two columns.
func (d *document) facts(all []fact) {
	style := sheet.Style{Size: 9}
	column := d.width() / 2
	const nameWidth, most = 27.0, 2 // most lines of a value
	bold := sheet.Style{Size: 9, Bold: true}
	rows := (len(all) + 1) / 2
	tops := make([]float64, rows+1) // of every row; the last is the height of all
	values := make([][]string, len(all))
	for row := range rows {
		lines := 1
		for i := row; i < len(all); i += rows {
			values[i] = d.LinesAtMost(column-nameWidth-3, bold, all[i].Value, most)
			lines = max(lines, len(values[i]))
		}
		tops[row+1] = tops[row] + float64(lines)*style.LineHeight() + 0.8
	}
	d.need(tops[rows])
	for i, f := range all {
		x, y := margin+float64(i/rows)*column, d.y+tops[i%rows]
		d.Text(x, y, nameWidth, sheet.Style{Size: 9, Grey: true}, f.Name)
		for n, line := range values[i] {
			d.Text(x+nameWidth, y+float64(n)*bold.LineHeight(), column-nameWidth-3, bold, line)
		}
	}
	d.y += tops[rows] + 1
}

// warning is a line that nobody may miss: white on black.
func (d *document) warning(text string) {
	style := sheet.Style{Size: 10, Bold: true, White: true}
	lines := d.Lines(d.width()-6, style, text)
	high := float64(len(lines))*style.LineHeight() + 2.4
	d.need(high + 1)
	d.Box(margin, d.y, d.width(), high, sheet.Black, 0)
	d.Paragraph(margin+3, d.y+1.2, d.width()-6, style, text)
	d.y += high + 1.5
}

// columns sets two lists side by side.
func (d *document) columns(left string, leftPoints []string, right string, rightPoints []string) {
	const gap = 6.0
	width := (d.width() - gap) / 2
	style := sheet.Style{Size: 8}
	high := func(points []string) float64 {
		lines := 0
		for _, text := range points {
			lines += len(d.Lines(width-3, style, text))
		}
		return float64(lines)*style.LineHeight() + 0.6*float64(len(points))
	}
	d.heading(left, max(high(leftPoints), high(rightPoints)))
	heading := sheet.Style{Size: 11, Bold: true}
	d.Text(margin+width+gap, d.y-heading.LineHeight()-1, width, heading, right)
	top, lowest := d.y, d.y
	for i, points := range [][]string{leftPoints, rightPoints} {
		x, y := margin+float64(i)*(width+gap), top
		for _, text := range points {
			d.Text(x, y, 3, style, "–")
			y += d.Paragraph(x+3, y, width-3, style, text) + 0.6
		}
		lowest = max(lowest, y)
	}
	d.y = lowest + 1
}

// table draws rows over as many pages as they need.
func (d *document) table(size float64, columns []sheet.Column, rows [][]sheet.Cell) {
	d.y = d.fitTable(size, columns).Draw(d.Sheet, margin, d.y, rows) + 1.5
}

// tableOf draws a table under a heading that is said again on every page that
// it runs over.
func (d *document) tableOf(heading string, size float64, columns []sheet.Column, rows [][]sheet.Cell) {
	table := d.fitTable(size, columns)
	table.NewPage = func() float64 {
		d.newPage()
		d.heading(heading+", continued", 0)
		return d.y
	}
	first := rows[:min(len(rows), 2)]
	d.heading(heading, table.Height(d.Sheet, first))
	d.y = table.Draw(d.Sheet, margin, d.y, rows) + 1.5
}

// fitTable stretches columns to the width of the page.
func (d *document) fitTable(size float64, columns []sheet.Column) sheet.Table {
	scaled := make([]sheet.Column, len(columns))
	total := 0.0
	for _, c := range columns {
		total += c.Width
	}
	for i, c := range columns {
		c.Width *= d.width() / total
		scaled[i] = c
	}
	return sheet.Table{Columns: scaled, Size: size, Bottom: d.bottom(), NewPage: d.newPage}
}

// texts makes cells of plain text.
func texts(words ...string) []sheet.Cell {
	cells := make([]sheet.Cell, len(words))
	for i, w := range words {
		cells[i] = sheet.Cell{Text: w}
	}
	return cells
}
