package price

import (
	"cmp"
	"fmt"
	"io"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	_ "gonum.org/v1/plot/vg/vgsvg" // the format svg
)

// The plot's size, to stand beside a table on a page.
const (
	plotWidth  = 14 * vg.Centimeter
	plotHeight = 9 * vg.Centimeter
)

// PlotSVG draws a curve's cost against its values as SVG. Points without a
// plan are left out; it fails where fewer than two are left.
func PlotSVG(w io.Writer, c Curve, currency string) error {
	var points plotter.XYs
	for _, p := range c.Points {
		if p.Failed == "" {
			points = append(points, plotter.XY{X: p.Value.Number.InexactFloat64(), Y: p.Cost.InexactFloat64()})
		}
	}
	slices.SortFunc(points, func(a, b plotter.XY) int { return cmp.Compare(a.X, b.X) })
	if len(points) < 2 {
		return fmt.Errorf("plot of %s: %d values with a plan, want 2 or more", c.Variation.Name, len(points))
	}
	p := plot.New()
	p.Title.Text = "Cost of gang " + c.Gang
	p.X.Label.Text = c.Variation.Name + ", " + c.Variation.Unit()
	p.Y.Label.Text = "cost"
	if currency != "" {
		p.Y.Label.Text += " in " + currency
	}
	line, marks, err := plotter.NewLinePoints(points)
	if err != nil {
		return fmt.Errorf("plot of %s: %w", c.Variation.Name, err)
	}
	p.Add(plotter.NewGrid(), line, marks)
	svg, err := p.WriterTo(plotWidth, plotHeight, "svg")
	if err != nil {
		return fmt.Errorf("plot of %s: %w", c.Variation.Name, err)
	}
	_, err = svg.WriteTo(w)
	return err
}
