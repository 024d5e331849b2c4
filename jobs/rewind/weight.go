package rewind

import (
	"math"

	"laneplan/jobs"
)

// Kilograms of web: width × length × g/m² / 1000. Source: 'Paper Math
// Formulas' (metric form).
func Kilograms(width, length jobs.Length, gramsPerSquareMetre float64) float64 {
	return width.Metres() * length.Metres() * gramsPerSquareMetre / 1000
}

// CoreKilograms is the weight of a tube as wide as the roll: its ring of
// material, π(d + w)w, times width and density in kg/m³.
func CoreKilograms(inside, wall, width jobs.Length, density float64) float64 {
	return math.Pi * (inside + wall).Metres() * wall.Metres() * width.Metres() * density
}

// weight of a roll in kilograms, 0 where the stock's grammage is not known:
// the liner along its whole length, what lies on the liner where labels are,
// since the matrix between them is stripped, and the core where the shop
// states what its cores are made of. Leader and tail count as bare liner.
// Where the liner's share is not known the matrix is counted too.
func (r *Roll) weight(g jobs.Gang) float64 {
	total := woundGrammage(g)
	if total == 0 {
		return 0
	}
	strip, kilograms := StripWidth(g.Die), 0.0
	if liner := g.Stock.LinerGrammage.InexactFloat64(); liner > 0 {
		kilograms = Kilograms(strip, r.Length, liner) +
			Kilograms(g.Die.Across, jobs.Length(r.Labels)*g.Die.Around, total-liner)
	} else {
		kilograms = Kilograms(strip, r.Length, total)
	}
	if r.Core > 0 && g.Rewinder.CoreDensity.IsPositive() {
		kilograms += CoreKilograms(r.Core, g.Rewinder.CoreWall, strip, g.Rewinder.CoreDensity.InexactFloat64())
	}
	return kilograms
}

// woundGrammage in g/m² of stock and finishes; 0 where the stock's is not
// known.
func woundGrammage(g jobs.Gang) float64 {
	if g.Stock.Grammage.IsZero() {
		return 0
	}
	total := g.Stock.Grammage
	for _, f := range g.Finishes {
		total = total.Add(f.Grammage)
	}
	return total.InexactFloat64()
}

// weightNote says what the weights of rolls hold.
func weightNote(g jobs.Gang) string {
	if woundGrammage(g) == 0 {
		return "Weights are not given: the stock's grammage is not known."
	}
	core := "without the core, whose weight is not known"
	if g.Rewinder.CoreDensity.IsPositive() {
		core = "with the core"
	}
	if g.Stock.LinerGrammage.IsPositive() {
		return "Weights are of labels and liner, the matrix stripped, " + core + "."
	}
	return "Weights are " + core + ", and with the matrix, since the liner's share of the stock is not known: labels and liner weigh less."
}
