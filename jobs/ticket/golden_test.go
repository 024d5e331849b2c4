package ticket

import (
	"flag"
	"fmt"
	"image"
	"image/color"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
)

var update = flag.Bool("update", false, "rewrite golden pictures")

// blocks turns a picture into one character for every 4 mm square, from white
// (0) to black (f): coarse enough that another hinting or version of a font
// changes little, fine enough that a missing box or a moved table is seen.
func blocks(img image.Image, dpi int) []string {
	side := 4.0 / 25.4 * float64(dpi)
	bounds := img.Bounds()
	var rows []string
	for y := 0.0; y+side <= float64(bounds.Dy()); y += side {
		var row strings.Builder
		for x := 0.0; x+side <= float64(bounds.Dx()); x += side {
			sum, n := 0, 0
			for py := int(y); py < int(y+side); py++ {
				for px := int(x); px < int(x+side); px++ {
					sum += 255 - int(color.GrayModel.Convert(img.At(px, py)).(color.Gray).Y)
					n++
				}
			}
			row.WriteByte("0123456789abcdef"[sum/n*15/255])
		}
		rows = append(rows, row.String())
	}
	return rows
}

// different gives the share of squares that differ by more than two of the
// sixteen greys.
func different(a, b []string) float64 {
	total, off := 0, 0
	for y := range max(len(a), len(b)) {
		if y >= len(a) || y >= len(b) || len(a[y]) != len(b[y]) {
			return 1
		}
		for x := range a[y] {
			total++
			p, q := strings.IndexByte("0123456789abcdef", a[y][x]), strings.IndexByte("0123456789abcdef", b[y][x])
			if p-q > 2 || q-p > 2 {
				off++
			}
		}
	}
	return float64(off) / float64(total)
}

const goldenDPI = 100

func TestSheetsLookAsBefore(t *testing.T) {
	for name, write := range map[string]func(io.Writer, Job) error{"run-sheet": RunSheet, "rewind-sheet": RewindSheet} {
		t.Run(name, func(t *testing.T) {
			got := blocks(picture(t, made(t, write, spiceJob(t)), 1, goldenDPI), goldenDPI)
			path := filepath.Join("testdata", name+".blocks.txt")
			if *update {
				require.NoError(t, os.WriteFile(path, []byte(strings.Join(got, "\n")+"\n"), 0o600))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err, "run the test with -update")
			assert.Less(t, different(strings.Fields(string(want)), got), 0.02)
		})
	}
	t.Run("another plan looks different", func(t *testing.T) {
		plan := nest.Plan{Sections: []nest.Section{
			{Rows: 2900, Lanes: []int{0, 1, 1, 2, 3, nest.Empty}},
			{Rows: 5750, Lanes: []int{0, 1, 1, 2, 4, nest.Empty}},
		}, Splices: []int{7900}}
		g := spiceGang()
		g.Die.ClosedLanes, g.Policy.LimitOvers = nil, false
		// The last page of sections: two lanes that print, or five.
		last := func(j Job) []string {
			pdf := made(t, RunSheet, j)
			for page, text := range pages(t, pdf) {
				if strings.Contains(text, fmt.Sprintf("Section %d of", len(j.Lanes))) {
					return blocks(picture(t, pdf, page+1, goldenDPI), goldenDPI)
				}
			}
			return nil
		}
		before, other := last(spiceJob(t)), last(jobOf(t, g, plan))
		require.NotEmpty(t, before)
		assert.Greater(t, different(before, other), 0.04)
	})
}

func BenchmarkTenThousandRollTags(b *testing.B) {
	g := spiceGang()
	g.Stock.RollLength, g.Stock.SpliceWeb, g.Policy.LimitOvers = 0, 0, false
	for o := range g.Orders {
		for v := range g.Orders[o].Versions {
			g.Orders[o].Versions[v].LabelsPerRoll = 10
		}
	}
	j := jobOf(b, g, nest.Plan{Sections: []nest.Section{{Rows: 20_000, Lanes: []int{0, 1, 2, 3, 4, nest.Empty}}}})
	require.Len(b, j.Winding.Rolls, 10_000)
	for b.Loop() {
		require.NoError(b, RollTags(io.Discard, j))
	}
}
