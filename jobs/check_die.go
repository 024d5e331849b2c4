package jobs

import "fmt"

// MostLanes of a die: far more than any web has, and few enough for a list of
// them in every version.
const MostLanes = 500

// under adds faults below a path; an empty path adds them as they are.
func (f *Faults) under(path string, faults Faults) {
	for _, one := range faults {
		if path != "" {
			one.Path = path + "." + one.Path
			if one.Other != "" {
				one.Other = path + "." + one.Other
			}
		}
		*f = append(*f, one)
	}
}

func (f *Faults) add(path, format string, values ...any) {
	*f = append(*f, Fault{Path: path, Message: fmt.Sprintf(format, values...)})
}

// Check finds what is wrong with a die card; paths are relative to the die.
// What is not stated (zero) is not checked, but for the lanes.
func (d Die) Check() Faults {
	var faults Faults
	if d.Lanes < 1 || d.Lanes > MostLanes {
		faults.add("lanes", "want 1 to %d lanes, got %d", MostLanes, d.Lanes)
		return faults
	}
	if fit := LanesAcross(d.Web, d.Edge, d.Across, d.GapAcross); d.Web > 0 && d.Across > 0 && fit < d.Lanes {
		faults.clash("lanes", "web",
			"%d lanes of %s with gaps of %s and edges of %s take %s, the web is %s wide: want at most %d lanes or a wider web",
			d.Lanes, d.Across, d.GapAcross, d.Edge, d.UsedWeb(), d.Web, fit)
	}
	faults.lanes("closed_lanes", d.ClosedLanes, d.Lanes)
	if len(faults) == 0 && len(d.ClosedLanes) == d.Lanes {
		faults.add("closed_lanes", "all %d lanes are out of use: want at least one open", d.Lanes)
	}
	d.checkGear(&faults)
	return faults
}

func (d Die) checkGear(faults *Faults) {
	stated := 0
	for _, is := range []bool{d.Teeth > 0, d.GearPitch > 0, d.PitchesRoundTheTool > 0} {
		if is {
			stated++
		}
	}
	switch {
	case stated == 0 || d.Pitch() == 0:
	case stated < 3:
		faults.add("teeth", "want teeth, gear_pitch and labels_around all three, or none of them")
	case !d.fitsGear():
		around := Length(d.PitchesRoundTheTool)
		faults.clash("teeth", "around",
			"%d teeth of %s make a repeat of %s, %d labels with their gaps make %s: want a gap around of %s, or another cylinder",
			d.Teeth, d.GearPitch, Repeat(d.Teeth, d.GearPitch), d.PitchesRoundTheTool, around*d.Pitch(),
			Repeat(d.Teeth, d.GearPitch)/around-d.Around)
	}
}

func (f *Faults) clash(path, other, format string, values ...any) {
	*f = append(*f, Fault{Path: path, Other: other, Message: fmt.Sprintf(format, values...)})
}

// lanes wants lane numbers within the die, none twice.
func (f *Faults) lanes(path string, lanes []int, of int) {
	if len(lanes) > MostLanes {
		f.add(path, "the die has lanes 1 to %d, got a list of %d", of, len(lanes))
		return
	}
	at := func(i int) string { return fmt.Sprintf("%s[%d]", path, i) }
	seen := make([]bool, of+1)
	for i, lane := range lanes {
		switch {
		case lane < 1 || lane > of:
			f.add(at(i), "the die has lanes 1 to %d, got %d", of, lane)
			continue
		case seen[lane]:
			f.add(at(i), "lane %d stands here twice: want it once", lane)
		}
		seen[lane] = true
	}
}
