// Package sheet sets pages for the floor as PDF: text in embedded fonts with
// fallbacks, tables that run over pages, boxes to tick, patterns, bar codes. It
// knows nothing of labels. All lengths are millimetres from the top left of
// the page; text sizes are points.
//
//	s := sheet.New(sheet.A4, "Run sheet", time.Time{})
//	s.AddPage()
//	s.Text(15, 20, 180, sheet.Style{Size: 12, Bold: true}, "Section 1")
//	err := s.Write(w)
package sheet

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// Paper is a size of page.
type Paper struct{ Width, Height float64 }

// Sizes of paper: ISO 216 and ANSI/ASME Y14.1, from memory.
var (
	A4     = Paper{210, 297}
	Letter = Paper{215.9, 279.4}
)

// Style of a text. The zero value is black, 9 points, from the left.
type Style struct {
	Size  float64 // points; 0 is 9
	Bold  bool
	Align Align
	Grey  bool // for what is said beside the matter
	White bool // on a dark ground
	// Ends keeps both ends of what does not fit and cuts its middle: ids that
	// begin alike differ at the end.
	Ends bool
	// Least size to which a text shrinks before it is cut; 0 is Size.
	Least float64
}

// Align of a text in its width.
type Align int

// The alignments.
const (
	Left Align = iota
	Right
	Centre
)

const (
	pointsPerMM = 72 / 25.4
	mmPerPoint  = 25.4 / 72
)

// Sheet is a document that is being made.
type Sheet struct {
	paper   Paper
	pdf     *fpdf.Fpdf
	loaded  map[string]bool
	missing bool
	footer  func(page int)
}

// undated stands in for the time of making where none is given, so that the
// same document has the same bytes.
var undated = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// New document. made is written into its properties; the zero time writes one
// that is always the same.
func New(paper Paper, title string, made time.Time) *Sheet {
	if made.IsZero() {
		made = undated
	}
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: paper.Width, Ht: paper.Height}})
	pdf.SetTitle(title, true)
	pdf.SetCreator("laneplan", true)
	pdf.SetProducer("laneplan", true)
	pdf.SetLang("en")
	pdf.SetCreationDate(made.UTC())
	pdf.SetModificationDate(made.UTC())
	pdf.SetCatalogSort(true)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	s := &Sheet{paper: paper, pdf: pdf, loaded: map[string]bool{}}
	pdf.SetFooterFunc(func() {
		if s.footer != nil {
			s.footer(pdf.PageNo())
		}
	})
	return s
}

// Paper of the document.
func (s *Sheet) Paper() Paper { return s.paper }

// Footer is drawn on every page when it is finished.
func (s *Sheet) Footer(draw func(page int)) { s.footer = draw }

// AddPage starts a page.
func (s *Sheet) AddPage() { s.pdf.AddPage() }

// Missing says that a character had to be shown by its code point so far.
func (s *Sheet) Missing() bool { return s.missing }

// Write the finished document.
func (s *Sheet) Write(w io.Writer) error {
	if err := s.pdf.Output(w); err != nil {
		return fmt.Errorf("make the PDF: %w", err)
	}
	return nil
}

// Text on one line in a width; what does not fit ends in an ellipsis. y is the
// top of a line that is one and a quarter of the size high. A width of 0 is no
// limit.
func (s *Sheet) Text(x, y, width float64, style Style, text string) {
	size := style.size()
	for style.Least > 0 && size > style.Least && s.Width(Style{Size: size, Bold: style.Bold}, text) > width {
		size = max(size-0.5, style.Least)
	}
	y += (style.size() - size) * mmPerPoint * 0.5
	runs := s.fit(text, width, size, style)
	if width > 0 && style.Align != Left {
		rest := width - s.measure(runs, size)
		if style.Align == Centre {
			rest /= 2
		}
		x += rest
	}
	switch {
	case style.White:
		s.pdf.SetTextColor(255, 255, 255)
	case style.Grey:
		s.pdf.SetTextColor(70, 70, 70)
	default:
		s.pdf.SetTextColor(0, 0, 0)
	}
	baseline := y + size*mmPerPoint
	for _, r := range runs {
		s.use(r.face, size)
		s.pdf.Text(x, baseline, r.text)
		x += s.pdf.GetStringWidth(r.text)
	}
}

// LineHeight of a style in millimetres.
func (st Style) LineHeight() float64 { return st.size() * mmPerPoint * 1.25 }

func (st Style) size() float64 {
	if st.Size == 0 {
		return 9
	}
	return st.Size
}

// Width of a text in millimetres.
func (s *Sheet) Width(style Style, text string) float64 {
	runs, _ := shape(text, style.Bold)
	return s.measure(runs, style.size())
}

// Paragraph sets text over several lines, broken between words, and returns
// the height that it takes. A word longer than the line ends in an ellipsis.
func (s *Sheet) Paragraph(x, y, width float64, style Style, text string) float64 {
	lines := s.Lines(width, style, text)
	for i, line := range lines {
		s.Text(x, y+float64(i)*style.LineHeight(), width, style, line)
	}
	return float64(len(lines)) * style.LineHeight()
}

// Lines of a text broken between words to a width.
func (s *Sheet) Lines(width float64, style Style, text string) []string {
	var lines []string
	line := ""
	for _, word := range words(text) {
		if line == "" {
			line = word
			continue
		}
		if s.Width(style, line+" "+word) > width {
			lines = append(lines, line)
			line = word
			continue
		}
		line += " " + word
	}
	return append(lines, line)
}

// LinesAtMost is Lines within a number of lines: the last one takes what is
// left, and Text cuts it.
func (s *Sheet) LinesAtMost(width float64, style Style, text string, most int) []string {
	lines := s.Lines(width, style, text)
	if len(lines) > most {
		lines = append(lines[:most-1], strings.Join(lines[most-1:], " "))
	}
	return lines
}

func words(text string) []string {
	var all []string
	word := ""
	for _, r := range clean(text) {
		if r == ' ' {
			if word != "" {
				all = append(all, word)
			}
			word = ""
			continue
		}
		word += string(r)
	}
	if word != "" {
		all = append(all, word)
	}
	return all
}

// fit shapes a text and cuts it to a width. What is cut off is cut in reading
// order, so that a right-to-left name keeps its beginning.
func (s *Sheet) fit(text string, width, size float64, style Style) []run {
	heavy := style.Bold
	runs, missing := shape(text, heavy)
	s.missing = s.missing || missing
	if width <= 0 || s.measure(runs, size) <= width {
		return runs
	}
	letters := []rune(text)
	cut := func(letter int) string { // to so many letters
		end := 0
		if style.Ends {
			end = letter / 2
		}
		return string(letters[:letter-end]) + "…" + string(letters[len(letters)-end:])
	}
	low, high := 0, len(letters) // the longest cut that fits has low to high letters
	for low < high {
		middle := (low + high + 1) / 2
		if runs, _ = shape(cut(middle), heavy); s.measure(runs, size) <= width {
			low = middle
		} else {
			high = middle - 1
		}
	}
	runs, _ = shape(cut(low), heavy)
	return runs
}

func (s *Sheet) measure(runs []run, size float64) float64 {
	width := 0.0
	for _, r := range runs {
		s.use(r.face, size)
		width += s.pdf.GetStringWidth(r.text)
	}
	return width
}

// use a face, put into the document when it is first wanted.
func (s *Sheet) use(name string, size float64) {
	if !s.loaded[name] {
		s.pdf.AddUTF8FontFromBytes(name, "", faces()[name].data)
		s.loaded[name] = true
	}
	s.pdf.SetFont(name, "", size)
}

// Line from one point to another, thick in millimetres.
func (s *Sheet) Line(x1, y1, x2, y2, thick float64) {
	s.pdf.SetLineWidth(thick)
	s.pdf.SetDrawColor(0, 0, 0)
	s.pdf.Line(x1, y1, x2, y2)
}

// Colour as red, green and blue.
type Colour struct{ R, G, B int }

// Greys of the documents.
var (
	White = Colour{255, 255, 255}
	Pale  = Colour{238, 238, 238}
	Black = Colour{}
)

// Box with a ground and, where thick is not 0, a black edge.
func (s *Sheet) Box(x, y, width, height float64, ground Colour, thick float64) {
	s.pdf.SetFillColor(ground.R, ground.G, ground.B)
	style := "F"
	if thick > 0 {
		s.pdf.SetLineWidth(thick)
		s.pdf.SetDrawColor(0, 0, 0)
		style = "FD"
	}
	s.pdf.Rect(x, y, width, height, style)
}

// Tick is an empty box to tick, with words after it; it returns the x behind
// the words.
func (s *Sheet) Tick(x, y float64, style Style, words string) float64 {
	side := style.size() * mmPerPoint
	s.Box(x, y+side*0.15, side, side, White, 0.25)
	s.Text(x+side+1, y, 0, style, words)
	return x + side + 1 + s.Width(style, words) + 2.5
}

// Arrow head that points up (0), right (90), down (180) or left (270).
func (s *Sheet) Arrow(x, y, size float64, degrees int) {
	h := size / 2
	points := map[int][]fpdf.PointType{
		0:   {{X: x, Y: y - h}, {X: x + h, Y: y + h}, {X: x - h, Y: y + h}},
		90:  {{X: x + h, Y: y}, {X: x - h, Y: y - h}, {X: x - h, Y: y + h}},
		180: {{X: x, Y: y + h}, {X: x + h, Y: y - h}, {X: x - h, Y: y - h}},
		270: {{X: x - h, Y: y}, {X: x + h, Y: y - h}, {X: x + h, Y: y + h}},
	}[degrees]
	s.pdf.SetFillColor(0, 0, 0)
	s.pdf.Polygon(points, "F")
}

// Clip what is drawn inside a box.
func (s *Sheet) Clip(x, y, width, height float64, draw func()) {
	s.pdf.ClipRect(x, y, width, height, false)
	draw()
	s.pdf.ClipEnd()
	// The end of a clip takes the colours back behind the library's back.
	s.pdf.SetFillColor(0, 0, 0)
	s.pdf.SetDrawColor(0, 0, 0)
}

// Bars fills black boxes, each x, y, width and height: the modules of a bar
// code. It is written as one path, which keeps thousands of tags small.
func (s *Sheet) Bars(boxes [][4]float64) {
	if len(boxes) == 0 {
		return
	}
	out := make([]byte, 0, 32*len(boxes))
	number := func(v float64) {
		out = strconv.AppendFloat(out, v, 'f', 3, 64)
		out = append(out, ' ')
	}
	out = append(out, "q 0 g "...)
	for _, b := range boxes {
		number(b[0] * pointsPerMM)
		number((s.paper.Height - b[1] - b[3]) * pointsPerMM)
		number(b[2] * pointsPerMM)
		number(b[3] * pointsPerMM)
		out = append(out, "re "...)
	}
	s.pdf.RawWriteStr(string(append(out, "f Q"...)))
}
