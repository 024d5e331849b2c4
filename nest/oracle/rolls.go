package oracle

import (
	"fmt"
)

// splicing is where the parent rolls of a plan end.
type splicing struct {
	splices, changes []int
	possible         bool
}

// fewestSplices finds the fewest splices with which the web reaches to the
// end of the attempt's plan, by trying every place for every one of them.
func (t *attempt) fewestSplices() (splicing, bool) {
	if t.p.Stock.RollRows == 0 || len(t.rows) == 0 {
		return splicing{possible: true}, true
	}
	// Only the versions that limit their splices matter, so fillings that
	// agree on those share the answer.
	key := ""
	for _, f := range t.chosen {
		limited := 0
		for i, v := range t.p.Versions {
			if f.versions>>i&1 == 1 && v.LabelsPerRoll > 0 && v.MostSplices != 0 {
				limited |= 1 << i
			}
		}
		key += fmt.Sprint(limited, " ")
	}
	found, known := t.rolls[key]
	if !known {
		w := web{attempt: t, memo: map[webState]webStep{}}
		found = w.trace(webState{used: t.p.Stock.SetupRows})
		t.rolls[key] = found
	}
	return found, found.possible
}

// web walks along the web row by row.
type web struct {
	*attempt
	memo map[webState]webStep
}

// webState is all that the web ahead depends on: where we are, how much of
// the roll is used, and the splices so far in the customer roll that every
// version is being wound on.
type webState struct {
	section, row int // row rows of the section are printed
	used         float64
	inRoll       [MostVersions]int
}

// webStep is the best that can be done from a state.
type webStep struct {
	splices int // from here on; impossible if negative
	to      webState
	splice  bool // a splice is made here
	change  bool // the roll is changed here, between two sections
}

const impossible = -1

// from finds the best step from a state.
func (w *web) from(s webState) webStep {
	if done, ok := w.memo[s]; ok {
		return done
	}
	best := webStep{splices: impossible}
	offer := func(step webStep) {
		rest := w.from(step.to).splices
		if rest == impossible {
			return
		}
		if step.splice {
			rest++
		}
		if best.splices == impossible || rest < best.splices {
			step.splices = rest
			best = step
		}
	}
	stock := w.p.Stock
	switch {
	case s.used > stock.RollRows*(1+1e-9):
	case s.row < w.rows[s.section]:
		// Print one row; or splice before it, inside the section.
		on := s
		on.row++
		on.used++
		on.inRoll = w.wound(on)
		offer(webStep{to: on})
		if s.row > 0 {
			if fresh, ok := w.spliced(s); ok {
				fresh.row++
				fresh.used++
				fresh.inRoll = w.wound(fresh)
				offer(webStep{to: fresh, splice: true})
			}
		}
	case s.section == len(w.rows)-1:
		best.splices = 0
	default:
		next := webState{section: s.section + 1, used: s.used + stock.ChangeoverRows}
		offer(webStep{to: next})
		next.used = w.fresh(s.used, stock.ChangeoverRows)
		offer(webStep{to: next, change: true})
	}
	w.memo[s] = best
	return best
}

// fresh is how much of a new roll is used when it takes over: the lost web
// comes off the old roll where it still has that much, else off the new one.
func (w *web) fresh(used, lost float64) float64 {
	if used+lost <= w.p.Stock.RollRows*(1+1e-9) {
		return 0
	}
	return lost
}

// spliced makes a splice after the rows that are printed, if every customer
// roll on the winder allows one more; a splice between two customer rolls is
// in neither.
func (w *web) spliced(s webState) (webState, bool) {
	s.used = w.fresh(s.used, w.p.Stock.SpliceRows)
	for i, v := range w.p.Versions {
		if w.chosen[s.section].versions>>i&1 == 0 || v.LabelsPerRoll == 0 || v.MostSplices == 0 || s.row%v.LabelsPerRoll == 0 {
			continue
		}
		s.inRoll[i]++
		if s.inRoll[i] > max(v.MostSplices, 0) {
			return s, false
		}
	}
	return s, true
}

// wound forgets the splices of customer rolls that are full.
func (w *web) wound(s webState) [MostVersions]int {
	for i, v := range w.p.Versions {
		if v.LabelsPerRoll > 0 && s.row%v.LabelsPerRoll == 0 {
			s.inRoll[i] = 0
		}
	}
	return s.inRoll
}

// trace follows the best steps and writes down the rolls.
func (w *web) trace(s webState) splicing {
	if w.from(s).splices == impossible {
		return splicing{}
	}
	found := splicing{possible: true}
	before := 0 // rows of the sections before
	for {
		step := w.memo[s]
		if step.splice {
			found.splices = append(found.splices, before+s.row)
		}
		if s.section == len(w.rows)-1 && s.row == w.rows[s.section] {
			return found
		}
		if step.to.section > s.section {
			before += w.rows[s.section]
			if step.change {
				found.changes = append(found.changes, step.to.section)
			}
		}
		s = step.to
	}
}
