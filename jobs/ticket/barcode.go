package ticket

import (
	"fmt"
	"image"
	"image/color"

	"github.com/boombuler/barcode/code128"
	"github.com/boombuler/barcode/qr"
)

// Least sizes of a module that an ordinary scanner reads from an ordinary
// office print, and quiet zones in modules (Code 128: ISO/IEC 15417; QR:
// ISO/IEC 18004; both from memory).
const (
	leastBar    = 0.19 // mm
	widestBar   = 0.5  // mm
	quietBars   = 10
	quietPoints = 4
)

// symbols are the bar codes of one roll key, as modules from the top left.
type symbols struct {
	bars   []stripe   // black bars of Code 128
	width  int        // modules of it, without quiet zones
	points [][]stripe // black stripes of every row of the QR code
}

// stripe of black modules.
type stripe struct{ from, width int }

func encode(key string) (symbols, error) {
	linear, err := code128.Encode(key)
	if err != nil {
		return symbols{}, fmt.Errorf("bar code of roll %s: %w", key, err)
	}
	square, err := qr.Encode(key, qr.M, qr.Auto)
	if err != nil {
		return symbols{}, fmt.Errorf("QR code of roll %s: %w", key, err)
	}
	s := symbols{bars: stripes(linear, 0), width: linear.Bounds().Dx()}
	for y := range square.Bounds().Dy() {
		s.points = append(s.points, stripes(square, y))
	}
	return s, nil
}

// stripes of one row of an image.
func stripes(of image.Image, y int) []stripe {
	var all []stripe
	width := of.Bounds().Dx()
	for x := 0; x < width; x++ {
		if !black(of.At(x, y)) {
			continue
		}
		from := x
		for x < width && black(of.At(x, y)) {
			x++
		}
		all = append(all, stripe{from, x - from})
	}
	return all
}

func black(c color.Color) bool {
	r, _, _, _ := c.RGBA()
	return r < 0x8000
}
