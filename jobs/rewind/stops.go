package rewind

import (
	"cmp"
	"maps"
	"slices"

	"laneplan/jobs"
)

// Stop of the rewinder: lanes are wound side by side on one shaft, so what is
// cut in one of them stops all of them.
type Stop struct {
	Row   int   // counter at which the shaft stops
	Since int   // rows since the stop before, or since the first row that arrives
	Cut   []int // lanes, from 1, in which a roll or a piece ends here
	Join  []int // lanes that are joined over a splice of two parent rolls
	// Waste is web that is taken out here before winding goes on: of the
	// set-up, of a changeover, or of a splice.
	Waste jobs.Length
}

// stops in the order in which the web reaches the rewinder.
func (w *Winding) stops() []Stop {
	found := map[int]*Stop{}
	at := func(row int) *Stop {
		if found[row] == nil {
			found[row] = &Stop{Row: row}
		}
		return found[row]
	}
	ends := func(p Piece) {
		row := p.To
		if w.Backwards {
			row = p.From
		}
		at(row).Cut = append(at(row).Cut, p.Lane)
		for _, splice := range p.Splices {
			at(splice).Join = append(at(splice).Join, p.Lane)
		}
	}
	for _, r := range w.Rolls {
		for _, p := range r.Pieces {
			ends(p)
		}
	}
	for _, p := range w.LeftOff {
		ends(p)
	}
	for _, s := range w.Web.Sections {
		if lost := s.WebFrom - s.ChangeoverFrom; lost > 0 {
			at(s.From).Waste += lost
		}
		for _, splice := range s.Splices {
			at(splice.Row).Waste += splice.WebTo - splice.WebFrom
		}
	}
	all := make([]Stop, 0, len(found))
	for _, row := range slices.Sorted(maps.Keys(found)) {
		all = append(all, *found[row])
	}
	before := 0
	if w.Backwards {
		slices.Reverse(all)
		before = w.Web.Rows
	}
	for i := range all {
		s := &all[i]
		slices.Sort(s.Cut)
		slices.Sort(s.Join)
		s.Since = max(s.Row-before, before-s.Row)
		before = s.Row
	}
	return all
}

// byArrival orders the pieces of a roll as they reach the rewinder, so that a
// roll begun with one can be gone on with when the next one comes.
func (w *Winding) byArrival(a, b Piece) int {
	if w.Backwards {
		return cmp.Or(b.To-a.To, a.Lane-b.Lane)
	}
	return cmp.Or(a.From-b.From, a.Lane-b.Lane)
}
