package price

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// A plot's size, to stand beside a table on a page.
const (
	plotWidth  = 14 * vg.Centimeter
	plotHeight = 9 * vg.Centimeter
)

// PlotSVG draws curves, each a plot of cost against value, one below the
// other as SVG. Points without a plan are left out; it fails where fewer than
// two points of a curve are left, and without a curve.
func PlotSVG(w io.Writer, curves []Curve, currency string) error {
	if len(curves) == 0 {
		return errors.New("plot: no curve")
	}
	canvas := vgsvg.New(plotWidth, plotHeight*vg.Length(len(curves)))
	all := draw.New(canvas)
	for i, c := range curves {
		p, err := plotOf(c, currency)
		if err != nil {
			return fmt.Errorf("plot of %s: %w", c.Variation.Name, err)
		}
		below := plotHeight * vg.Length(len(curves)-1-i)
		p.Draw(draw.Crop(all, 0, 0, below, below+plotHeight-all.Max.Y))
	}
	_, err := canvas.WriteTo(w)
	return err
}

func plotOf(c Curve, currency string) (*plot.Plot, error) {
	var points plotter.XYs
	for _, p := range c.Points {
		if p.Failed == "" {
			points = append(points, plotter.XY{X: p.Value.Number.InexactFloat64(), Y: p.Cost.InexactFloat64()})
		}
	}
	if len(points) < 2 {
		return nil, fmt.Errorf("%d values with a plan, want 2 or more", len(points))
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
	p.Add(plotter.NewGrid(), line, marks)
	return p, nil
}
