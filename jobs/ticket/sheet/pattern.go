package sheet

import (
	"math"
	"strconv"
)

// Pattern tells areas apart by colour and, in black and white or for the
// colour-blind, by lines and dots.
type Pattern struct {
	Tint   Colour
	Angles []float64 // of families of lines, degrees from the horizontal
	Gap    float64   // between lines or dots, millimetres
	Thick  float64   // of the lines, millimetres; 0 is 0.15
	Dots   bool
}

// Stroke of the lines in millimetres, and the radius of dots.
func (p Pattern) Stroke() (line, dot float64) {
	if p.Thick > 0 {
		return p.Thick, p.Thick
	}
	return 0.15, 0.28
}

// tints are light, so that black reads on each (contrast above 10:1), and
// differ in hue and in lightness.
var tints = []Colour{
	{255, 255, 255}, {255, 224, 150}, {176, 216, 255}, {200, 240, 190},
	{255, 204, 204}, {222, 205, 255}, {214, 214, 214}, {190, 240, 240},
}

var hatches = []Pattern{
	{},
	{Angles: []float64{45}, Gap: 2.2},
	{Dots: true, Gap: 2.2},
	{Angles: []float64{-45}, Gap: 2.2},
	{Angles: []float64{0}, Gap: 1.8},
	{Angles: []float64{45, -45}, Gap: 2.8},
	{Angles: []float64{90}, Gap: 1.8},
	{Angles: []float64{0, 90}, Gap: 2.6},
	{Dots: true, Gap: 1.9, Thick: 0.55},
	{Angles: []float64{45}, Gap: 2.8, Thick: 0.8},
	{Angles: []float64{0}, Gap: 2.4, Thick: 0.8},
	{Angles: []float64{-45}, Gap: 2.8, Thick: 0.8},
	{Angles: []float64{90}, Gap: 2.4, Thick: 0.8},
	{Angles: []float64{0, 45}, Gap: 2.6},
	{Angles: []float64{45, -45}, Gap: 3.2, Thick: 0.5},
	{Angles: []float64{90, -45}, Gap: 2.6},
}

// PatternOf the nth thing, from 0. The first 16 differ in black and white, the
// first 128 in colour; after them the same ones come again, so a name must
// stand beside each.
func PatternOf(n int) Pattern {
	p := hatches[n%len(hatches)]
	p.Tint = tints[(n+1+n/len(hatches))%len(tints)]
	return p
}

// Fill a box with a pattern and draw its edge. Lines and dots keep step over
// neighbouring boxes.
func (s *Sheet) Fill(x, y, width, height float64, p Pattern) {
	s.fill(area{x, y, width, height, 0, 0}, p)
}

// swatchScale makes patterns finer, so that a small square shows them.
const swatchScale = 0.6

// Swatch is a square of a pattern that looks the same wherever it stands.
func (s *Sheet) Swatch(x, y, side float64, p Pattern) {
	p.Gap *= swatchScale
	p.Thick *= swatchScale
	s.fill(area{x, y, side, side, x + side/2, y + side/2}, p)
}

// area to fill; its lines and dots are counted from an origin.
type area struct{ x, y, width, height, originX, originY float64 }

func (s *Sheet) fill(a area, p Pattern) {
	x, y, width, height := a.x, a.y, a.width, a.height
	s.Box(x, y, width, height, p.Tint, 0)
	line, dot := p.Stroke()
	s.Clip(x, y, width, height, func() {
		for _, angle := range p.Angles {
			s.hatch(a, angle*math.Pi/180, p.Gap, line)
		}
		if p.Dots {
			s.dots(a, p.Gap, dot)
		}
	})
	s.pdf.SetLineWidth(0.25)
	s.pdf.SetDrawColor(0, 0, 0)
	s.pdf.Rect(x, y, width, height, "D")
}

// hatch draws parallel lines through an area at an angle.
func (s *Sheet) hatch(a area, angle, gap, thick float64) {
	x, y, width, height := a.x, a.y, a.width, a.height
	dx, dy := math.Cos(angle), -math.Sin(angle)
	nx, ny := -dy, dx // across the lines
	least, most := math.Inf(1), math.Inf(-1)
	for _, corner := range [][2]float64{{x, y}, {x + width, y}, {x, y + height}, {x + width, y + height}} {
		d := corner[0]*nx + corner[1]*ny
		least, most = min(least, d), max(most, d)
	}
	long := width + height
	cx, cy := x+width/2, y+height/2
	middle := cx*dx + cy*dy
	origin := a.originX*nx + a.originY*ny
	for d := origin + math.Ceil((least-thick-origin)/gap)*gap; d <= most+thick; d += gap {
		px, py := d*nx+middle*dx, d*ny+middle*dy
		s.Line(px-long*dx, py-long*dy, px+long*dx, py+long*dy, thick)
	}
}

// dots of a radius, as one path of lines without length under round caps, which
// PDF paints as filled circles (ISO 32000-1, 8.5.3.2, from memory).
func (s *Sheet) dots(a area, gap, radius float64) {
	var out []byte
	number := func(v float64, operator string) {
		out = strconv.AppendFloat(out, v*pointsPerMM, 'f', 2, 64)
		out = append(out, operator...)
	}
	out = append(out, "q 0 G 1 J "...)
	number(2*radius, " w\n")
	first := func(from, origin float64) float64 { return origin + math.Ceil((from-radius-origin)/gap)*gap }
	for py := first(a.y, a.originY); py < a.y+a.height+radius; py += gap {
		for px := first(a.x, a.originX); px < a.x+a.width+radius; px += gap {
			number(px, " ")
			number(s.paper.Height-py, " m ")
			number(px, " ")
			number(s.paper.Height-py, " l\n")
		}
	}
	s.pdf.RawWriteStr(string(append(out, "S Q\n"...)))
}
