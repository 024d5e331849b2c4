package rewind

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/nest"
)

// Stock is what to fetch from the store.
type Stock struct {
	ID, Name string
	Width    jobs.Length // of the parent rolls to pull; 0 where not known
	Roll     jobs.Length // web on one; 0 is endless
	Parents  []Parent    // that the plan uses, in order
	// Gone is web that is gone from the first parent, which is in the press
	// already and not pulled; 0 where it is a whole roll.
	Gone jobs.Length
	// Reserve is web beyond the plan, for running waste, and Spare the parent
	// rolls that it needs on top of Parents.
	Reserve jobs.Length
	Spare   int
	// LeftOver at the end: on the parents and the spare ones, the reserve
	// not taken off.
	LeftOver jobs.Length
}

// Rolls to pull.
func (s Stock) Rolls() int {
	n := len(s.Parents) + s.Spare
	if s.Gone > 0 {
		n-- // it is in the press
	}
	return n
}

// holds is the web that parent roll i, counted from 0, has at the beginning.
func (s Stock) holds(i int) jobs.Length {
	if i == 0 {
		return s.Roll - s.Gone
	}
	return s.Roll
}

// Parent is one parent roll: it gives the web between two points and has
// some left.
type Parent struct {
	Number        int // from 1
	From, To      jobs.Length
	Left          jobs.Length // 0 where rolls are endless
	SplicedInside bool        // it ends in a splice inside a section, not between two sections
}

// Used web of the roll.
func (p Parent) Used() jobs.Length { return p.To - p.From }

// pull works out the parent rolls. What a changeover or a splice loses comes
// off the old roll where it still has enough, otherwise all of it off the new
// one, as nest.Check counts it.
func pull(g jobs.Gang, w Web) (Stock, error) {
	s := Stock{ID: g.Stock.ID, Name: g.Stock.Name, Roll: g.Stock.RollLength}
	if g.Bare != nil {
		return s, nil
	}
	if g.Begun != nil && s.Roll > 0 {
		s.Gone = g.Begun.RollUsed
	}
	var err error
	if s.Width, err = rollWidth(g); err != nil {
		return s, err
	}
	from := jobs.Length(0)
	end := func(lostFrom, lostTo jobs.Length, splice bool) {
		to := lostTo
		if s.Roll > 0 && lostTo-from > s.holds(len(s.Parents)) {
			to = lostFrom
		}
		s.Parents = append(s.Parents, Parent{Number: len(s.Parents) + 1, From: from, To: to, SplicedInside: splice})
		from = to
	}
	for k, section := range w.Sections {
		if k > 0 && section.FreshRoll {
			end(section.ChangeoverFrom, section.WebFrom, false)
		}
		for _, splice := range section.Splices {
			end(splice.WebFrom, splice.WebTo, true)
		}
	}
	end(w.Total, w.Total, false)
	s.Reserve = jobs.Length(g.Press.RunningWaste.Mul(decimal.NewFromInt(int64(w.Printed))).Round(0).IntPart())
	if s.Roll == 0 {
		return s, nil
	}
	for i := range s.Parents {
		p := &s.Parents[i]
		if p.Left = s.holds(i) - p.Used(); p.Left < -w.Pitch {
			return s, fmt.Errorf("the plan takes %s off parent roll %d, which holds %s: %w", p.Used(), p.Number, s.holds(i), ErrCannotWind)
		}
		p.Left = max(p.Left, 0) // a plan counts rolls in rows, so it may be a fraction of one out
		s.LeftOver += p.Left
	}
	// Only the last roll's rest is on the press when waste has to be made good.
	if short := s.Reserve - s.Parents[len(s.Parents)-1].Left; short > 0 {
		s.Spare = int((short + s.Roll - 1) / s.Roll)
		s.LeftOver += jobs.Length(s.Spare) * s.Roll
	}
	return s, nil
}

// rollWidth is the narrowest width of the stock that covers the die's web.
func rollWidth(g jobs.Gang) (jobs.Length, error) {
	if len(g.Stock.Widths) == 0 {
		return g.Die.Web, nil
	}
	widths := slices.Sorted(slices.Values(g.Stock.Widths))
	for _, width := range widths {
		if width >= g.Die.Web {
			return width, nil
		}
	}
	return 0, fmt.Errorf("stock %s: comes in widths of %s, want one of %s or more for die %s", g.Stock.ID, list(widths), g.Die.Web, g.Die.ID)
}

func countCores(w Winding) []CoreCount {
	count := map[jobs.Length]int{}
	for _, r := range w.Rolls {
		count[r.Core]++
	}
	cores := make([]CoreCount, 0, len(count))
	for size, n := range count {
		cores = append(cores, CoreCount{Size: size, Count: n})
	}
	slices.SortFunc(cores, func(a, b CoreCount) int { return int(a.Size - b.Size) })
	return cores
}

// passes groups the lanes of every section by what has to be alike on one
// rewinding shaft (common practice, no source).
func passes(plan nest.Plan, versions []Version) []Pass {
	var all []Pass
	for k, s := range plan.Sections {
		first := len(all)
		for lane, i := range s.Lanes {
			if i == nest.Empty {
				continue
			}
			v := versions[i]
			p := Pass{Section: k + 1, Core: v.Core, Face: v.Wind.Face, LabelsPerRoll: v.LabelsPerRoll}
			same := slices.IndexFunc(all[first:], func(o Pass) bool {
				return o.Core == p.Core && o.Face == p.Face && o.LabelsPerRoll == p.LabelsPerRoll
			})
			if same < 0 {
				all = append(all, p)
				same = len(all) - 1 - first
			}
			all[first+same].Lanes = append(all[first+same].Lanes, lane+1)
		}
	}
	return all
}
