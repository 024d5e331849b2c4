package sheet

import "math"

// Pattern tells areas apart by colour and, in black and white or for the
// colour-blind, by lines and dots.
type Pattern struct {
	Tint   Colour
	Angles []float64 // of families of lines, degrees from the horizontal
	Gap    float64   // between lines or dots, millimetres
	Dots   bool
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
}

// PatternOf the nth thing, from 0. The first 64 all differ; after them the
// same ones come again, so a name must stand beside each.
func PatternOf(n int) Pattern {
	p := hatches[n%len(hatches)]
	p.Tint = tints[(n+1+n/len(hatches))%len(tints)]
	return p
}

// Fill a box with a pattern and draw its edge.
func (s *Sheet) Fill(x, y, width, height float64, p Pattern) {
	s.Box(x, y, width, height, p.Tint, 0)
	s.Clip(x, y, width, height, func() {
		for _, angle := range p.Angles {
			s.hatch(x, y, width, height, angle*math.Pi/180, p.Gap)
		}
		if p.Dots {
			s.dots(x, y, width, height, p.Gap)
		}
	})
	s.pdf.SetLineWidth(0.25)
	s.pdf.SetDrawColor(0, 0, 0)
	s.pdf.Rect(x, y, width, height, "D")
}

// hatch draws parallel lines through a box at an angle. They keep step over
// neighbouring boxes.
func (s *Sheet) hatch(x, y, width, height, angle, gap float64) {
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
	for d := math.Ceil(least/gap) * gap; d <= most; d += gap {
		px, py := d*nx+middle*dx, d*ny+middle*dy
		s.Line(px-long*dx, py-long*dy, px+long*dx, py+long*dy, 0.15)
	}
}

func (s *Sheet) dots(x, y, width, height, gap float64) {
	s.pdf.SetFillColor(0, 0, 0)
	for py := math.Ceil(y/gap) * gap; py < y+height; py += gap {
		for px := math.Ceil(x/gap) * gap; px < x+width; px += gap {
			s.pdf.Circle(px, py, 0.28, "F")
		}
	}
}
