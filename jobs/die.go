package jobs

// UsedWeb is the width that the lanes of the die take: labels, the gaps
// between them and the edges.
func (d Die) UsedWeb() Length {
	lanes := Length(d.Lanes)
	return lanes*d.Across + max(lanes-1, 0)*d.GapAcross + 2*d.Edge
}

// LanesAcross is the number of lanes that fit a web:
// floor((web - 2·edge + gap) / (across + gap)). Derived; the die card may
// have fewer.
func LanesAcross(web, edge, across, gap Length) int {
	room := web - 2*edge + gap
	if across+gap <= 0 || room < across+gap {
		return 0
	}
	return int(room / (across + gap))
}

// OpenLanes lists the lanes that are in use, from 1 at the operator's left.
func (d Die) OpenLanes() []int {
	closed := laneSet(d.ClosedLanes, d.Lanes)
	var open []int
	for lane := 1; lane <= d.Lanes; lane++ {
		if !closed[lane] {
			open = append(open, lane)
		}
	}
	return open
}

// laneSet says of every lane of a die, from 1, whether it is listed.
func laneSet(lanes []int, of int) []bool {
	set := make([]bool, of+1)
	for _, lane := range lanes {
		if lane >= 1 && lane <= of {
			set[lane] = true
		}
	}
	return set
}

// Repeat is the circumference of a cylinder: teeth × pitch of the gear.
// Source: F. Burgos, 'CP Versus DP: Understanding the Differences',
// FlexoExchange (circular pitch).
func Repeat(teeth int, gearPitch Length) Length { return Length(teeth) * gearPitch }

// Teeth of the cylinder whose circumference is the repeat; false where no
// whole number of teeth has it.
func Teeth(repeat, gearPitch Length) (int, bool) {
	if gearPitch <= 0 {
		return 0, false
	}
	return int(repeat / gearPitch), repeat%gearPitch == 0
}

// repeatSlack is by how much the repeat on a die card may miss the gear's:
// cards give gaps rounded to tenths of a millimetre (common practice, no
// source).
const repeatSlack = Millimetre / 10

// fitsGear tells whether the labels around the cylinder fill it: a full
// rotary die's circumference is a multiple of the pitch. Source: Columbine
// Label, 'Understanding Die Cutting Tolerances'.
func (d Die) fitsGear() bool {
	miss := Repeat(d.Teeth, d.GearPitch) - Length(d.PitchesRoundTheTool)*d.Pitch()
	return -repeatSlack <= miss && miss <= repeatSlack
}
