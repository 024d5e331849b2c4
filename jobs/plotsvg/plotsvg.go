// Package plotsvg draws plots as SVG, one below the other, at the size in
// which they stand beside tables on a page.
//
//	err := plotsvg.Write(w, []*plot.Plot{p})
package plotsvg

import (
	"io"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// A plot's size.
const (
	width  = 14 * vg.Centimeter
	height = 9 * vg.Centimeter
)

// Write draws one plot or more, the first on top.
func Write(w io.Writer, plots []*plot.Plot) error {
	canvas := vgsvg.New(width, height*vg.Length(len(plots)))
	all := draw.New(canvas)
	for i, p := range plots {
		below := height * vg.Length(len(plots)-1-i)
		p.Draw(draw.Crop(all, 0, 0, below, below+height-all.Max.Y))
	}
	_, err := canvas.WriteTo(w)
	return err
}
