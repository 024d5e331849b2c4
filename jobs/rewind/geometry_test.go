package rewind

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"laneplan/jobs"
)

const (
	mm   = jobs.Millimetre
	inch = jobs.Inch
)

// inches as a length, to the nanometre.
func inches(n float64) jobs.Length { return jobs.Length(math.Round(n * float64(inch))) }

func TestWoundLength(t *testing.T) {
	tests := []struct {
		name                   string
		outside, core, caliper jobs.Length
		unit                   jobs.Length
		want, within           float64
	}{
		// Inputs: 'How Much Paper Is Left on the Roll', Packaging Post, 27 March 2005; result recomputed.
		{"51 in roll on a 12 in core", 51 * inch, 12 * inch, 18 * jobs.Mil, inch, 107206.85, 0.01},
		// The rest: recomputed from the formula in exact arithmetic.
		{"8 in roll on a 3 in core", 8 * inch, 3 * inch, inches(0.0066), inch, 6544.98, 0.01},
		{"8 in roll on a 3 in core, in feet", 8 * inch, 3 * inch, inches(0.0066), jobs.Foot, 545.415, 0.001},
		{"6 in roll on a 1 in core", 6 * inch, 1 * inch, inches(0.0066), inch, 4164.99, 0.01},
		{"12 in roll on a 3 in core", 12 * inch, 3 * inch, inches(0.0075), inch, 14137.17, 0.01},
		{"300 mm roll on a 76 mm core", 300 * mm, 76 * mm, 150 * jobs.Micrometre, jobs.Metre, 440.996, 0.001},
		{"200 mm roll on a 76 mm core", 200 * mm, 76 * mm, 100 * jobs.Micrometre, jobs.Metre, 268.795, 0.001},
		{"1500 mm roll on a 100 mm core", 1500 * mm, 100 * mm, 80 * jobs.Micrometre, jobs.Metre, 21991.15, 0.01},
		{"a millimetre more on a 300 mm roll", 301 * mm, 300 * mm, 100 * jobs.Micrometre, jobs.Metre, 4.72, 0.01},
		{"no larger than the core", 76 * mm, 76 * mm, 100 * jobs.Micrometre, mm, 0, 0},
		{"no caliper", 300 * mm, 76 * mm, 0, mm, 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := float64(WoundLength(tt.outside, tt.core, tt.caliper)) / float64(tt.unit)
			assert.InDelta(t, tt.want, got, tt.within)
		})
	}
}

// The mean-lap method of the same 2005 source: mean lap × laps.
func TestWoundLengthIsMeanLapTimesLaps(t *testing.T) {
	laps := Wraps(51*inch, 12*inch, 18*jobs.Mil)
	assert.InDelta(t, 1083.33, laps, 0.01)
	meanLap := math.Pi * (51 + 12) / 2
	assert.InDelta(t, 98.960, meanLap, 0.001)
	assert.InDelta(t, meanLap*laps, float64(WoundLength(51*inch, 12*inch, 18*jobs.Mil))/float64(inch), 0.01)
}

// Whole turns at the middle of each layer sum to the formula, but for the
// last turn that is not finished.
func TestWoundLengthIsTheSumOfItsTurns(t *testing.T) {
	outside, core, caliper := 300*mm, 76*mm, 150*jobs.Micrometre
	assert.InDelta(t, 746.67, Wraps(outside, core, caliper), 0.01)
	var sum float64
	for turn := range int(Wraps(outside, core, caliper)) {
		sum += math.Pi * (float64(core) + float64(2*turn+1)*float64(caliper))
	}
	assert.InDelta(t, 440.368, sum/float64(jobs.Metre), 0.001)
	rest := float64(WoundLength(outside, core, caliper)) - sum
	assert.Positive(t, rest)
	assert.Less(t, rest, math.Pi*float64(outside))
}

// Recomputed from the formula.
func TestOutsideDiameter(t *testing.T) {
	assert.InDelta(t, 313.187, float64(OutsideDiameter(500*jobs.Metre, 76*mm, 145*jobs.Micrometre))/float64(mm), 0.001)
	web := 1000 * inches(4.125)
	assert.InDelta(t, 6.6079, float64(OutsideDiameter(web, 3*inch, inches(0.0066)))/float64(inch), 0.0001)
	// The same roll on the outside of a core with a wall of 0.15 in.
	assert.InDelta(t, 6.7494, float64(OutsideDiameter(web, inches(3.3), inches(0.0066)))/float64(inch), 0.0001)
}

func TestOutsideDiameterUndoesWoundLength(t *testing.T) {
	for outside := 80 * mm; outside <= 1000*mm; outside += 37 * mm {
		length := WoundLength(outside, 76*mm, 145*jobs.Micrometre)
		assert.InDelta(t, float64(outside), float64(OutsideDiameter(length, 76*mm, 145*jobs.Micrometre)), float64(jobs.Micrometre))
		assert.InDelta(t, 145e3, float64(EffectiveCaliper(outside, 76*mm, length)), 1)
	}
}

func TestLabelsOn(t *testing.T) {
	tests := []struct {
		name                        string
		length, leader, tail, pitch jobs.Length
		want                        int
	}{
		// Source: 'Labels Per Roll', calculator.academy.
		{"5000 in of 4 in labels with 1/4 in gap", 5000 * inch, 0, 0, inches(4.25), 1176},
		// Recomputed: 1586.66 labels on the 8 in roll above.
		{"8 in roll", WoundLength(8*inch, 3*inch, inches(0.0066)), 0, 0, inches(4.125), 1586},
		{"8 in roll with 36 in of leader and tail", WoundLength(8*inch, 3*inch, inches(0.0066)), 18 * inch, 18 * inch, inches(4.125), 1577},
		// Inputs: 'Calculations', DLS, which rounds 2891.76 up to a label that is not whole.
		{"1476 ft at 6.125 in", 1476 * jobs.Foot, 0, 0, inches(6.125), 2891},
		{"shorter than its leader", 100 * mm, 200 * mm, 0, 50 * mm, 0},
		{"no pitch", 100 * mm, 0, 0, 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			assert.Equal(t, tt.want, LabelsOn(tt.length, tt.leader, tt.tail, tt.pitch))
		})
	}
}

// Source: 'Calculations', DLS: web = repeat × count / 12.
func TestWebForLabelsAgreesWithPublishedFeet(t *testing.T) {
	assert.InDelta(t, 102083.33, float64(200_000*inches(6.125))/float64(jobs.Foot), 0.01)
	assert.InDelta(t, 510.42, float64(1000*inches(6.125))/float64(jobs.Foot), 0.01)
}

func TestKilograms(t *testing.T) {
	// Recomputed; the inverse (33 cm and 52.14 kg at 158 g/m² are 1000 m) is
	// in 'Paper Math Formulas'.
	assert.InDelta(t, 52.14, Kilograms(330*mm, 1000*jobs.Metre, 158), 0.001)
	assert.InDelta(t, 156.4, Kilograms(330*mm, 3000*jobs.Metre, 158), 0.05)
	// OPP of 0.906 g/cm³ and 1 mil: 30 600 in² to the pound, rounded, in
	// 'Resources', CCC Films; 43.45 m² to the kilogram recomputed.
	grams := 0.906 * 25.4
	assert.InDelta(t, 23.01, grams, 0.005)
	assert.InDelta(t, 1.0, Kilograms(jobs.Metre, jobs.Length(43.45*float64(jobs.Metre)), grams), 0.0005)
	const pound = 0.45359237 // kg, exact (international pound, 1959)
	assert.InDelta(t, pound, Kilograms(inch, 30_552*inch, grams), 0.0005)
}
