package rewind

import (
	"fmt"

	"laneplan/jobs"
)

// checkRolls refuses rolls that the rewinder cannot hold.
func (w *Winding) checkRolls(g jobs.Gang) error {
	limit := g.Rewinder.MaxDiameter
	for _, r := range w.Rolls {
		if limit > 0 && r.Diameter > limit {
			return fmt.Errorf("roll %s of version %s would be %s, and rewinder %s winds up to %s: %w",
				r.Key, w.Versions[r.Version].ID, nearest(r.Diameter, jobs.Millimetre/10), g.Rewinder.ID, limit, ErrCannotWind)
		}
	}
	return nil
}

// notes say what the numbers do not.
func notes(g jobs.Gang, w Winding) []string {
	var all []string
	add := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	for _, v := range w.Versions {
		if v.LabelsPerRoll == 0 && v.Wound > 0 {
			add("Version %s states neither labels per roll nor a largest diameter: all of it is on one roll.", v.ID)
		}
		if v.PartRolls > 1 {
			add("Version %s has %d part rolls: its order takes %s in a roll, so they cannot all be joined.", v.ID, v.PartRolls, splicesInWords(v.MostSplices))
		}
		if v.LeftOff > 0 {
			add("Version %s: %d labels are printed and not wound.", v.ID, v.LeftOff)
		}
		if v.Unders > 0 {
			add("Version %s: %d labels fewer than ordered.", v.ID, v.Unders)
		}
		if v.Turned {
			add("Version %s stands turned by 180°: its %s edge leaves the press first.", v.ID, v.PressEdge)
		}
		if v.AtRightAngle {
			add("Version %s stands at a right angle: its %s edge leaves the press first.", v.ID, v.PressEdge)
		}
		if v.LeftOut {
			add("Version %s is not printed in this gang.", v.ID)
		}
	}
	if g.Bare != nil {
		return all
	}
	heavy := 0
	for _, r := range w.Rolls {
		if r.Heavy {
			heavy++
		}
	}
	if heavy > 0 {
		add("%d rolls weigh more than the shop lets one person lift: two people or a hoist.", heavy)
	}
	switch {
	case woundCaliper(g) == 0:
		add("Diameters are not given: the stock's caliper is not known.")
	case g.Rewinder.CoreWall == 0:
		add("The wall of the cores is not stated, so diameters are counted from the core's inside: real rolls are somewhat larger.")
	default:
		add("Diameters are counted from the outside of the cores and are estimates: real rolls hold air.")
	}
	return append(all, weightNote(g))
}

func splicesInWords(most int) string {
	switch most {
	case 0:
		return "no splice"
	case 1:
		return "1 splice"
	default:
		return fmt.Sprintf("%d splices", most)
	}
}
