// Package rewind is the arithmetic from a lane plan to customer rolls: where
// every section, splice and roll lies on the web, what is wound on which
// roll, which cores and parent rolls to pull. It decides nothing about lanes
// or sections, knows no prices and writes no files.
//
//	w, err := rewind.Wind(gang, problem, plan)
//	for _, r := range w.Rolls {
//		fmt.Println(r.Key, r.Labels, r.Diameter)
//	}
//
// The web is slit into one strip a lane. A strip ends where its lane gets
// another version, where the parent roll is changed between two sections and
// where a changeover loses web. The rule by which strips become rolls:
//
//  1. Strips are taken in web order. From the start of each, full rolls are
//     wound without a join. Where a full roll would hold more parent-roll
//     splices than its order allows, what lies before the first of them is
//     set aside.
//  2. What is left of the strips is joined into further rolls: the longest
//     piece first, then the shortest that completes the roll, or where none
//     does the longest again. A join is a splice in that roll. A roll that
//     may take no more splices stays a part roll. Its pieces are wound in the
//     order in which they reach the rewinder.
//  3. No roll holds more labels than the order states, so overs are the last
//     labels wound: on the last part roll, or on rolls of their own once that
//     is full. They are left off where the order says so, and so is whatever
//     the customer does not take.
package rewind

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"laneplan/jobs"
	"laneplan/nest"
)

// ErrCannotWind marks the errors of a plan that no winding can serve, as
// against bad input.
var ErrCannotWind = errors.New("cannot be wound")

// Winding is everything that follows from a gang and its plan. Lengths are 0
// where they are not known, as in a bare problem.
type Winding struct {
	Versions []Version // in the order of the gang
	Rolls    []Roll    // by version, then by number
	LeftOff  []Piece   // printed and not wound
	Cores    []CoreCount
	Web      Web
	Stock    Stock
	// Passes are the settings of the rewinder's shafts: rolls wound together
	// share core, face and labels per roll.
	Passes []Pass
	Stops  []Stop // of the shaft, in the order in which the web arrives
	// Backwards says that the last row printed is the first to reach the
	// rewinder, as it is where the press winds the web up before.
	Backwards bool
	Notes     []string // what people must know; whole sentences
}

// Version is what becomes of one version.
type Version struct {
	Index           int // in the gang, from 0
	Order, Customer string
	ID, Name        string
	Due             time.Time
	Flags           []string
	Ordered         int
	Planned         int // printed: Wound + LeftOff
	Wound           int // on rolls
	LeftOff         int // printed and not wound
	Overs, Unders   int // of what is wound against what is ordered
	LabelsPerRoll   int // of a full roll; 0 where neither labels nor diameter are stated
	FullRolls       int
	PartRolls       int
	MostSplices     int // in a roll; -1 is no limit
	Most            int // labels that the customer takes; 0 is no limit
	LeaveOvers      bool
	Filler          bool // may be left out
	Core            jobs.Length
	Wind            jobs.Wind
	// PressEdge is the edge of the copy that leaves the press first, so that
	// after all windings Wind.Edge leaves the customer's roll first.
	PressEdge jobs.Edge
	// Turned says that this copy stands 180° to that of the gang's first
	// version, AtRightAngle that it stands 90° to it (square labels only).
	Turned, AtRightAngle bool
	LeftOut              bool // a filler that the plan does not print
}

// Roll is one customer roll.
type Roll struct {
	// Key names the roll for the shop: letters of the Latin alphabet, digits
	// and hyphens only, so that every bar code can hold it. Unique in a gang.
	Key       string
	Version   int // index in Winding.Versions
	Number    int // of its version, from 1
	Of        int
	Labels    int
	Overs     int // of the labels
	Full      bool
	Pieces    []Piece // in the order in which they are wound
	Joins     int     // between pieces
	Splices   int     // joins and parent-roll splices
	Core      jobs.Length
	Length    jobs.Length // leader and tail included
	Diameter  jobs.Length // outside; 0 where caliper or core is not known
	Kilograms float64     // 0 where not known; Winding.Notes say what it holds
	Heavy     bool        // above the shop's lifting limit
}

// Piece is a stretch of one lane. Rows count from 0 over all sections; To is
// the first row that is not in it.
type Piece struct {
	Version        int
	Lane           int // from 1 at the operator's left
	From, To       int
	Sections       []int // from 1
	Splices        []int // rows at which a parent roll ends inside it
	WebFrom, WebTo jobs.Length
}

// Labels in the piece.
func (p Piece) Labels() int { return p.To - p.From }

// CoreCount is how many empty cores of a size to pull. Size 0 is not stated.
type CoreCount struct {
	Size  jobs.Length
	Count int
}

// Pass is one setting of the rewinder's shaft in one section.
type Pass struct {
	Section       int // from 1
	Lanes         []int
	Core          jobs.Length
	Face          jobs.Face
	LabelsPerRoll int
}

// Wind a plan of the gang's problem p. The plan must have passed nest.Check.
func Wind(g jobs.Gang, p nest.Problem, plan nest.Plan) (Winding, error) {
	if err := Check(g); err != nil {
		return Winding{}, err
	}
	w := Winding{Versions: versionsOf(g), Backwards: g.Rewinder.Windings%2 == 0}
	plan, err := w.ownOrder(p, plan)
	if err != nil {
		return Winding{}, err
	}
	w.Web = layOut(g, plan)
	strips := w.Web.strips(g, plan, len(w.Versions))
	for i := range w.Versions {
		v := &w.Versions[i]
		rolls, left := v.wind(strips[i], w.Web)
		for _, pieces := range rolls {
			slices.SortStableFunc(pieces, w.byArrival)
		}
		w.LeftOff = append(w.LeftOff, left...)
		w.Rolls = append(w.Rolls, v.finish(g, rolls)...)
	}
	w.Cores = countCores(w)
	w.Passes = passes(plan, w.Versions)
	w.Stops = w.stops()
	if w.Stock, err = pull(g, w.Web); err != nil {
		return Winding{}, err
	}
	if err := w.checkRolls(g); err != nil {
		return Winding{}, err
	}
	w.Notes = notes(g, w)
	return w, nil
}

// ownOrder numbers the versions of a plan as the gang orders them, and takes
// from the problem what the customer takes.
func (w *Winding) ownOrder(p nest.Problem, plan nest.Plan) (nest.Plan, error) {
	byID := map[string]int{}
	for i, v := range w.Versions {
		byID[v.ID] = i
	}
	for _, v := range p.Versions {
		i, known := byID[v.ID]
		if !known {
			return plan, fmt.Errorf("the gang has no version %q of the problem", v.ID)
		}
		w.Versions[i].Most = v.Most
	}
	if len(plan.Sections) == 0 {
		return plan, errors.New("the plan has no section")
	}
	sections := make([]nest.Section, len(plan.Sections))
	for k, s := range plan.Sections {
		if len(s.Lanes) != p.Lanes || s.Rows < 1 {
			return plan, fmt.Errorf("section %d has %d lanes and %d rows, want %d lanes and 1 row or more", k+1, len(s.Lanes), s.Rows, p.Lanes)
		}
		sections[k] = nest.Section{Rows: s.Rows, Lanes: make([]int, len(s.Lanes))}
		for lane, i := range s.Lanes {
			if i != nest.Empty && (i < 0 || i >= len(p.Versions)) {
				return plan, fmt.Errorf("section %d, lane %d: the problem has no version number %d", k+1, lane+1, i)
			}
			if i != nest.Empty {
				i = byID[p.Versions[i].ID]
			}
			sections[k].Lanes[lane] = i
		}
	}
	plan.Sections = sections
	return plan, nil
}
