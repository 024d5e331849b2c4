package quotefile

import (
	"cmp"
	"fmt"
	"io"
	"time"

	"laneplan/jobs"
	"laneplan/jobs/ticket/sheet"
)

// PDF page, in millimetres and points.
const (
	margin   = 14.0
	foot     = 9.0
	textSize = 9.0
	cellRoom = 3.6 // beside the text of a cell
)

// Page says how PDF and HTML are made.
type Page struct {
	Title   string // "Estimate" where empty
	Shop    string // beside the title; may be empty
	Papers  jobs.Papers
	Printed time.Time // zero leaves the date out
	Trace   bool
}

func (page Page) title() string { return cmp.Or(page.Title, "Estimate") }

// WritePDF sets the document on pages to print or send.
func WritePDF(w io.Writer, d Document, page Page) error {
	page.Title = page.title()
	// The first pass counts the pages, so that each can say how many.
	counted := page.set(d, 0)
	return page.set(d, counted.page).Write(w)
}

// pages is a PDF as it grows from top to bottom.
type pages struct {
	*sheet.Sheet
	head Page
	of   int
	page int
	y    float64
}

func (page Page) set(d Document, of int) *pages {
	paper := sheet.A4
	if page.Papers.Letter {
		paper = sheet.Letter
	}
	p := &pages{Sheet: sheet.New(paper, page.Title, page.Printed), head: page, of: of}
	p.Footer(p.drawFooter)
	p.next()
	for i, g := range d.Gangs {
		if i > 0 {
			p.y += 4
		}
		p.lines(sheet.Style{Size: 13, Bold: true}, []string{"Gang " + g.ID})
		for _, part := range g.Parts(d.Currency, page.Trace) {
			p.part(part)
		}
	}
	return p
}

func (p *pages) width() float64  { return p.Paper().Width - 2*margin }
func (p *pages) bottom() float64 { return p.Paper().Height - margin - foot }

// next starts a page and returns where to go on.
func (p *pages) next() float64 {
	p.AddPage()
	p.page++
	right := p.head.Shop
	if !p.head.Printed.IsZero() {
		if right != "" {
			right += "  ·  "
		}
		right += p.head.Printed.Format(time.DateOnly)
	}
	p.Text(margin, margin, p.width()*0.4, sheet.Style{Size: 16, Bold: true}, p.head.Title)
	p.Text(margin+p.width()*0.4, margin+1, p.width()*0.6, sheet.Style{Size: 10, Align: sheet.Right}, right)
	p.Line(margin, margin+8.5, margin+p.width(), margin+8.5, 0.4)
	p.y = margin + 12
	return p.y
}

func (p *pages) drawFooter(number int) {
	style := sheet.Style{Size: 7.5, Grey: true}
	y := p.Paper().Height - margin - 3
	p.Text(margin, y, p.width()-30, style, "Tax is left out of every amount.")
	style.Align = sheet.Right
	p.Text(margin+p.width()-30, y, 30, style, fmt.Sprintf("page %d of %d", number, p.of))
}

// lines of text, broken to the page's width.
func (p *pages) lines(style sheet.Style, texts []string) {
	for _, text := range texts {
		for _, line := range p.Lines(p.width(), style, text) {
			if p.y+style.LineHeight() > p.bottom() {
				p.next()
			}
			p.Text(margin, p.y, p.width(), style, line)
			p.y += style.LineHeight()
		}
	}
}

func (p *pages) part(part Part) {
	heading := sheet.Style{Size: 11, Bold: true}
	if p.y+heading.LineHeight()+14 > p.bottom() {
		p.next()
	}
	p.y += 2.5
	p.lines(heading, []string{part.Heading})
	p.y++
	if len(part.Columns) > 0 {
		p.table(part)
		p.y++
	}
	p.lines(sheet.Style{Size: textSize, Bold: part.Care}, part.Lines)
}

// table draws a part's table, its columns as wide as their texts, narrowed
// together where the page is too narrow.
func (p *pages) table(part Part) {
	t := sheet.Table{Size: textSize, Bottom: p.bottom(), NewPage: p.next}
	all := 0.0
	for i, c := range part.Columns {
		column := sheet.Column{Title: c.Title, Lines: 3, Width: p.Width(sheet.Style{Size: textSize - 1, Bold: true}, c.Title)}
		if c.Right {
			column.Align = sheet.Right
		}
		for _, row := range append(part.Rows, part.Sum) {
			if i < len(row) {
				column.Width = max(column.Width, p.Width(sheet.Style{Size: textSize, Bold: true}, row[i]))
			}
		}
		column.Width += cellRoom
		all += column.Width
		t.Columns = append(t.Columns, column)
	}
	if all > p.width() {
		for i := range t.Columns {
			t.Columns[i].Width *= p.width() / all
		}
	}
	rows := make([][]sheet.Cell, 0, len(part.Rows)+1)
	add := func(row []string, bold bool) {
		cells := make([]sheet.Cell, len(row))
		for i, text := range row {
			cells[i] = sheet.Cell{Text: text, Bold: bold}
		}
		rows = append(rows, cells)
	}
	for _, row := range part.Rows {
		add(row, false)
	}
	if part.Sum != nil {
		add(part.Sum, true)
	}
	p.y = t.Draw(p.Sheet, margin, p.y, rows)
}
