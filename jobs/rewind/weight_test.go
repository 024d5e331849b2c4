package rewind

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
)

func TestCoreKilograms(t *testing.T) {
	// A tube of 76 mm with a wall of 5 mm, 100 mm long: its ring is
	// π(86² − 76²)/4 = 1272.3 mm², so 127.2 cm³; at 0.7 g/cm³ 89.1 g. Recomputed
	// from the outside in, the other way round than CoreKilograms does it.
	assert.InDelta(t, 0.08906, CoreKilograms(76*mm, 5*mm, 100*mm, 700), 0.00001)
	assert.Zero(t, CoreKilograms(76*mm, 0, 100*mm, 700))
}

// On a finished roll the matrix is gone, and only the liner is as long and as
// wide as the strip.
func TestWeightOfARoll(t *testing.T) {
	g := spiceGang() // labels of 105 mm × 60 mm in strips of 108 mm, pitch 63 mm, 158 g/m²
	weigh := func() (float64, string) {
		w, err := Wind(g, problemOf(g), spicePlan())
		require.NoError(t, err)
		require.Equal(t, 1000, w.Rolls[0].Labels)
		return w.Rolls[0].Kilograms, w.Notes[len(w.Notes)-1]
	}
	kilograms, note := weigh()
	assert.InDelta(t, 0.108*64*0.158, kilograms, 1e-9, "63 m and a metre of leader and tail")
	assert.Equal(t, "Weights are without the core, whose weight is not known, and with the matrix, since the liner's share of the stock is not known: labels and liner weigh less.", note)

	g.Stock.LinerGrammage = decimal.NewFromInt(62)
	kilograms, note = weigh()
	stripped := 0.108*64*0.062 + 1000*0.105*0.060*0.096
	assert.InDelta(t, stripped, kilograms, 1e-9)
	assert.Equal(t, "Weights are of labels and liner, the matrix stripped, without the core, whose weight is not known.", note)

	// A varnish lies on the face, so it is stripped with the matrix.
	g.Finishes = []jobs.Finish{{ID: "varnish", Grammage: decimal.NewFromInt(4)}}
	g.Rewinder.CoreDensity = decimal.NewFromInt(700)
	kilograms, note = weigh()
	assert.InDelta(t, stripped+1000*0.105*0.060*0.004+CoreKilograms(76*mm, 5*mm, 108*mm, 700), kilograms, 1e-9)
	assert.Equal(t, "Weights are of labels and liner, the matrix stripped, with the core.", note)

	g.Stock.Grammage = decimal.Zero
	kilograms, note = weigh()
	assert.Zero(t, kilograms)
	assert.Equal(t, "Weights are not given: the stock's grammage is not known.", note)
}
