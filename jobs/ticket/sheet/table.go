package sheet

// Column of a table. Title may need several words; they are broken over lines.
type Column struct {
	Title string
	Width float64
	Align Align
	Lines int  // that a text may take; 0 is 1
	Ends  bool // as in Style
}

// Cell of a table: text, or boxes to tick, behind a swatch where there is one.
type Cell struct {
	Text   string
	Bold   bool
	Ticks  []string // words behind each box
	Swatch *Pattern
}

// Table that runs over pages: NewPage is called
// when a row does not fit above Bottom and returns where to go on.
type Table struct {
	Columns []Column
	Size    float64 // of the text, points; 0 is 9
	Bottom  float64
	NewPage func() float64
}

const cellMargin = 1.2

func (t Table) rowHeight(lines int) float64 {
	return float64(lines)*Style{Size: t.Size}.LineHeight() + 1.6
}

// lines of a row: as many as its longest text takes, within what its column
// allows.
func (t Table) lines(s *Sheet, row []Cell) int {
	most := 1
	for i, cell := range row {
		if t.Columns[i].Lines > 1 {
			_, lines := t.set(s, t.Columns[i].Width-2*cellMargin, t.style(i, cell), cell.Text, t.Columns[i].Lines)
			most = max(most, len(lines))
		}
	}
	return most
}

func (t Table) style(column int, c Cell) Style {
	return Style{Size: t.Size, Bold: c.Bold, Align: t.Columns[column].Align, Ends: t.Columns[column].Ends}
}

// HeadHeight of the column titles.
func (t Table) HeadHeight(s *Sheet) float64 {
	lines := 1
	for _, c := range t.Columns {
		lines = max(lines, len(s.Lines(c.Width-2*cellMargin, t.head(c), c.Title)))
	}
	return float64(lines)*t.head(Column{}).LineHeight() + 1.6
}

func (t Table) head(c Column) Style {
	return Style{Size: Style{Size: t.Size}.size() - 1, Bold: true, Align: c.Align}
}

// Height of the table on one page.
func (t Table) Height(s *Sheet, rows [][]Cell) float64 {
	height := t.HeadHeight(s)
	for _, row := range rows {
		height += t.rowHeight(t.lines(s, row))
	}
	return height
}

// Draw the table at a point and return the y below it.
func (t Table) Draw(s *Sheet, x, y float64, rows [][]Cell) float64 {
	if y+t.HeadHeight(s)+t.rowHeight(2) > t.Bottom && t.NewPage != nil {
		y = t.NewPage()
	}
	y = t.drawHead(s, x, y)
	for _, row := range rows {
		lines := t.lines(s, row)
		if y+t.rowHeight(lines) > t.Bottom && t.NewPage != nil {
			y = t.drawHead(s, x, t.NewPage())
		}
		t.drawRow(s, x, y, row, lines)
		y += t.rowHeight(lines)
	}
	return y
}

func (t Table) drawHead(s *Sheet, x, y float64) float64 {
	high := t.HeadHeight(s)
	s.Box(x, y, t.width(), high, Pale, 0)
	at := x
	for _, c := range t.Columns {
		s.Paragraph(at+cellMargin, y+0.8, c.Width-2*cellMargin, t.head(c), c.Title)
		at += c.Width
	}
	s.Line(x, y+high, x+t.width(), y+high, 0.3)
	return y + high
}

func (t Table) drawRow(s *Sheet, x, y float64, row []Cell, lines int) {
	high := t.rowHeight(lines)
	at := x
	for i, cell := range row {
		left, width := at+cellMargin, t.Columns[i].Width-2*cellMargin
		if cell.Swatch != nil {
			side := t.rowHeight(1) - 1.2
			s.Swatch(left, y+0.6, side, *cell.Swatch)
			left += side + 1.2
			width -= side + 1.2
		}
		style := t.style(i, cell)
		if cell.Ticks == nil {
			t.drawText(s, left, y+0.8, width, style, cell.Text, t.Columns[i].Lines)
		}
		for _, words := range cell.Ticks {
			left = s.Tick(left, y+0.8, Style{Size: t.Size}, words)
		}
		at += t.Columns[i].Width
	}
	s.Line(x, y+high, x+t.width(), y+high, 0.1)
}

// set a text over at most so many lines, somewhat smaller where that saves
// some of them. The last line takes what is left and is cut.
func (t Table) set(s *Sheet, width float64, style Style, text string, most int) (Style, []string) {
	lines := s.Lines(width, style, text)
	smaller := style
	smaller.Size = style.size() - 1
	if len(lines) > 1 {
		if fewer := s.Lines(width, smaller, text); len(fewer) < len(lines) {
			style, lines = smaller, fewer
		}
	}
	return style, s.LinesAtMost(width, style, text, most)
}

func (t Table) drawText(s *Sheet, x, y, width float64, style Style, text string, most int) {
	if most <= 1 {
		style.Least = style.size() - 2
		s.Text(x, y, width, style, text)
		return
	}
	style, lines := t.set(s, width, style, text, most)
	for i, line := range lines {
		s.Text(x, y+float64(i)*style.LineHeight(), width, style, line)
	}
}

func (t Table) width() float64 {
	width := 0.0
	for _, c := range t.Columns {
		width += c.Width
	}
	return width
}
