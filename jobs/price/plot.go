package price

import (
	"cmp"
	"errors"
	"fmt"
	"image/color"
	"io"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"laneplan/jobs/plotsvg"
)

// ErrNoPlot says that too few values have a plan to be drawn.
var ErrNoPlot = errors.New("nothing to draw")

// PlotSVG draws curves, each a plot of cost against value, one below the
// other as SVG. Points without a plan are left out; it fails where fewer than
// two points of a curve are left, and without a curve.
func PlotSVG(w io.Writer, curves []Curve, currency string) error {
	if len(curves) == 0 {
		return fmt.Errorf("plot: no curve: %w", ErrNoPlot)
	}
	var plots []*plot.Plot
	for _, c := range curves {
		p, err := plotOf(c, currency)
		if err != nil {
			return fmt.Errorf("plot of %s: %w", c.Variation.Name, err)
		}
		plots = append(plots, p)
	}
	return plotsvg.Write(w, plots)
}

func plotOf(c Curve, currency string) (*plot.Plot, error) {
	var points plotter.XYs
	for _, p := range c.Points {
		if p.Failed == "" {
			points = append(points, plotter.XY{X: p.Value.Number.InexactFloat64(), Y: p.Cost.InexactFloat64()})
		}
	}
	if len(points) < 2 {
		return nil, fmt.Errorf("%d values with a plan, want 2 or more: %w", len(points), ErrNoPlot)
	}
	slices.SortFunc(points, func(a, b plotter.XY) int { return cmp.Compare(a.X, b.X) })
	p := plot.New()
	p.Title.Text = "Cost of gang " + c.Gang
	p.X.Label.Text = c.Variation.Name + ", " + c.Variation.Unit()
	p.Y.Label.Text = "cost"
	if currency != "" {
		p.Y.Label.Text += " in " + currency
	}
	line, marks, err := plotter.NewLinePoints(points)
	if err != nil {
		return nil, err
	}
	asItIs := c.AsItIs.Cost.InexactFloat64()
	dashes, err := plotter.NewLine(plotter.XYs{{X: points[0].X, Y: asItIs}, {X: points[len(points)-1].X, Y: asItIs}})
	if err != nil {
		return nil, err
	}
	dashes.Dashes = []vg.Length{vg.Points(4), vg.Points(3)}
	dashes.Color = color.Gray{Y: 96}
	p.Add(plotter.NewGrid(), line, marks)
	if c.AsItIs.Failed == "" {
		p.Add(dashes)
	}
	return p, nil
}
