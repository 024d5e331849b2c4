package rewind

import (
	"math"

	"laneplan/jobs"
)

// Material is wound on the OUTSIDE of a core, so every core below is an
// outside diameter; what the trade quotes is the inside. All lengths and
// diameters of rolls are estimates: a real roll holds air and is compressed.

// WoundLength of web of a caliper on a roll: L = π(D² − d²)/4t, which is the
// same as the mean lap times the number of laps. Source of the mean-lap form:
// 'How Much Paper Is Left on the Roll', Packaging Post, 27 March 2005. It is 0
// where the roll is no larger than its core or the caliper is 0.
func WoundLength(outside, core, caliper jobs.Length) jobs.Length {
	if outside <= core || caliper <= 0 {
		return 0
	}
	d, k, t := float64(outside), float64(core), float64(caliper)
	return jobs.Length(math.Pi * (d - k) * (d + k) / (4 * t))
}

// OutsideDiameter of a roll that holds a length of web: WoundLength solved
// for D, so D = √(d² + 4tL/π).
func OutsideDiameter(length, core, caliper jobs.Length) jobs.Length {
	k, t := float64(core), float64(caliper)
	return jobs.Length(math.Round(math.Sqrt(k*k + 4*t*float64(length)/math.Pi)))
}

// Wraps of web on a roll: N = (D − d)/2t.
func Wraps(outside, core, caliper jobs.Length) float64 {
	if caliper <= 0 {
		return 0
	}
	return float64(outside-core) / (2 * float64(caliper))
}

// EffectiveCaliper of a stock, from one roll of known length: t = π(D² − d²)/4L.
// It allows for air and pressure as the nominal caliper does not.
func EffectiveCaliper(outside, core, length jobs.Length) jobs.Length {
	return WoundLength(outside, core, length)
}

// LabelsOn a length of web: ⌊(L − leader − tail)/pitch⌋, never negative.
// Source: 'Labels Per Roll', calculator.academy.
func LabelsOn(length, leader, tail, pitch jobs.Length) int {
	room := length - leader - tail
	if room <= 0 || pitch <= 0 {
		return 0
	}
	return int(room / pitch)
}
