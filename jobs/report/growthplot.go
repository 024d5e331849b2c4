package report

import (
	"errors"
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"laneplan/jobs/plotsvg"
)

// ErrNothingToDraw says that no instance has a plan.
var ErrNothingToDraw = errors.New("nothing to draw: no instance has a plan")

// leastDrawn is the least time in seconds that is told apart: a logarithm
// needs more than 0.
const leastDrawn = 0.001

// GrowthPlot draws the time to the gap against the versions as SVG, both on
// logarithmic axes, a line for each number of lanes. What did not reach the
// gap stands as an open mark at the time it had.
func GrowthPlot(w io.Writer, lines []Growth) error {
	lines = slices.DeleteFunc(slices.Clone(lines), func(g Growth) bool { return g.Failure != "" })
	if len(lines) == 0 {
		return ErrNothingToDraw
	}
	p := plot.New()
	p.Title.Text = "Time to the optimum"
	if target := lines[0].Target; target > 0 {
		p.Title.Text = "Time to a gap of " + PercentOf(target)
	}
	p.X.Label.Text, p.Y.Label.Text = "versions", "seconds"
	p.X.Scale, p.Y.Scale = plot.LogScale{}, plot.LogScale{}
	versions, lanes := growthAxes(lines)
	var ticks plot.ConstantTicks
	axis := math.Log(float64(versions[len(versions)-1]) / float64(versions[0]))
	for i, v := range versions {
		tick := plot.Tick{Value: float64(v), Label: strconv.Itoa(v)}
		if i+1 < len(versions) && math.Log(float64(versions[i+1])/float64(v)) < axis/12 {
			tick.Label = " " // the next one's would lie over it; none at all makes a small tick
		}
		ticks = append(ticks, tick)
	}
	p.X.Tick.Marker = ticks
	p.Add(plotter.NewGrid())
	open := false
	for i, n := range lanes {
		if err := addGrowth(p, lines, i, n, &open); err != nil {
			return fmt.Errorf("plot of %d lanes: %w", n, err)
		}
	}
	if open {
		p.Legend.Add("open: not reached in that time", mark(draw.RingGlyph{}, color.Gray{Y: 64}))
	}
	p.Legend.Top, p.Legend.Left = true, true
	p.X.Min, p.X.Max = float64(versions[0])/1.2, float64(versions[len(versions)-1])*1.2
	p.Y.Min, p.Y.Max, p.Y.Tick.Marker = decades(lines)
	return plotsvg.Write(w, []*plot.Plot{p})
}

// growthLooks tell the lines apart, in colour and without.
var growthLooks = []struct {
	color        color.Color
	dashes       []vg.Length
	closed, open draw.GlyphDrawer
}{
	{color.RGBA{R: 0, G: 90, B: 160, A: 255}, nil, draw.CircleGlyph{}, draw.RingGlyph{}},
	{color.RGBA{R: 190, G: 80, B: 0, A: 255}, []vg.Length{vg.Points(6), vg.Points(3)}, draw.BoxGlyph{}, draw.SquareGlyph{}},
	{color.RGBA{R: 90, G: 90, B: 90, A: 255}, []vg.Length{vg.Points(2), vg.Points(2)}, draw.PyramidGlyph{}, draw.TriangleGlyph{}},
}

// addGrowth draws one number of lanes.
func addGrowth(p *plot.Plot, lines []Growth, look, lanes int, anyOpen *bool) error {
	style := growthLooks[look%len(growthLooks)]
	var all, reached, open plotter.XYs
	for _, g := range lines {
		if g.Lanes != lanes {
			continue
		}
		point := plotter.XY{X: float64(g.Versions), Y: max(g.Seconds, leastDrawn)}
		all = append(all, point)
		if g.Reached {
			reached = append(reached, point)
		} else {
			open, *anyOpen = append(open, point), true
		}
	}
	slices.SortFunc(all, func(a, b plotter.XY) int { return int(a.X - b.X) })
	line, err := plotter.NewLine(all)
	if err != nil {
		return err
	}
	line.Color, line.Dashes = style.color, style.dashes
	p.Add(line)
	for _, marks := range []struct {
		points plotter.XYs
		shape  draw.GlyphDrawer
	}{{reached, style.closed}, {open, style.open}} {
		if len(marks.points) == 0 {
			continue
		}
		drawn := mark(marks.shape, style.color)
		drawn.XYs = marks.points
		p.Add(drawn)
	}
	p.Legend.Add(fmt.Sprintf("%d lanes", lanes), line, mark(style.closed, style.color))
	return nil
}

func mark(shape draw.GlyphDrawer, c color.Color) *plotter.Scatter {
	return &plotter.Scatter{GlyphStyle: draw.GlyphStyle{Shape: shape, Color: c, Radius: vg.Points(3.5)}}
}

// decades are powers of ten that hold all times, with a mark at each, and a
// fifth of the height above them for the legend.
func decades(lines []Growth) (least, most float64, ticks plot.ConstantTicks) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, g := range lines {
		x := math.Log10(max(g.Seconds, leastDrawn))
		low, high = min(low, math.Floor(x)), max(high, math.Floor(x)+1)
	}
	for e := low; e <= high; e++ {
		x := math.Pow(10, e)
		ticks = append(ticks, plot.Tick{Value: x, Label: strconv.FormatFloat(x, 'f', max(0, int(-e)), 64)})
		for k := 2; k < 10 && e < high; k++ {
			ticks = append(ticks, plot.Tick{Value: float64(k) * x})
		}
	}
	return math.Pow(10, low), math.Pow(10, high+(high-low)/4), ticks
}
