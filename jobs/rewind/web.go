package rewind

import (
	"slices"

	"laneplan/jobs"
	"laneplan/nest"
)

// Web is where everything lies on the web, in the order in which it runs
// through the press: set-up, sections with their splices, a changeover
// before every section but the first.
type Web struct {
	Pitch     jobs.Length
	SetupRows int // of SetupFrames; 0 where the set-up is stated as a length
	Setup     jobs.Length
	Printed   jobs.Length // rows × pitch over all sections
	Changes   jobs.Length // web lost by changeovers
	Splices   jobs.Length // web lost by splices
	Total     jobs.Length // of the four
	Rows      int
	Sections  []Section
	spliceWeb jobs.Length
}

// Section lies on the web from the end of its changeover to the end of its
// last row. Rows count from 0 over all sections.
type Section struct {
	From, To         int
	ChangeoverFrom   jobs.Length // where the web of its set-up or changeover begins
	WebFrom, WebTo   jobs.Length
	FreshRoll        bool // begins with a new parent roll
	Splices          []Splice
	Carried, Changed []int // lanes from 1, against the section before; Changed holds lanes that print
	Emptied          []int // lanes from 1 that stop printing
}

// Splice of two parent rolls inside a section: web is lost from WebFrom to
// WebTo, and Row is the first row after it.
type Splice struct {
	Row            int
	WebFrom, WebTo jobs.Length
}

func layOut(g jobs.Gang, plan nest.Plan) Web {
	w := Web{Pitch: g.Die.Pitch(), Setup: g.Press.SetupLength(g.Die.Pitch()), spliceWeb: g.Stock.SpliceWeb}
	if g.Press.SetupWeb == 0 && g.Press.SetupFrames != nil {
		w.SetupRows = g.Press.SetupFrames.Rows(w.Pitch)
	}
	at := jobs.Length(0)
	for k, s := range plan.Sections {
		section := Section{From: w.Rows, To: w.Rows + s.Rows, ChangeoverFrom: at, FreshRoll: slices.Contains(plan.RollChanges, k)}
		lost := w.Setup
		if k > 0 {
			lost = g.Press.ChangeoverWeb
			w.Changes += lost
			section.compare(plan.Sections[k-1].Lanes, s.Lanes)
		}
		section.WebFrom = at + lost
		at = section.WebFrom
		row := section.From
		for _, r := range plan.Splices {
			if r > section.From && r < section.To {
				at += jobs.Length(r-row) * w.Pitch
				section.Splices = append(section.Splices, Splice{Row: r, WebFrom: at, WebTo: at + w.spliceWeb})
				at += w.spliceWeb
				w.Splices += w.spliceWeb
				row = r
			}
		}
		at += jobs.Length(section.To-row) * w.Pitch
		section.WebTo = at
		w.Printed += jobs.Length(s.Rows) * w.Pitch
		w.Rows = section.To
		w.Sections = append(w.Sections, section)
	}
	w.Total = w.Setup + w.Printed + w.Changes + w.Splices
	return w
}

func (s *Section) compare(before, now []int) {
	for lane, version := range now {
		switch {
		case version == before[lane] && version != nest.Empty:
			s.Carried = append(s.Carried, lane+1)
		case version != before[lane] && version != nest.Empty:
			s.Changed = append(s.Changed, lane+1)
		case version != before[lane]:
			s.Emptied = append(s.Emptied, lane+1)
		}
	}
}

// start of a row on the web, behind a splice that lies before it.
func (w Web) start(row int) jobs.Length {
	s := w.Sections[w.sectionOf(row)]
	at := s.WebFrom + jobs.Length(row-s.From)*w.Pitch
	for _, splice := range s.Splices {
		if splice.Row <= row {
			at += w.spliceWeb
		}
	}
	return at
}

// end of the row before this one, before any splice that lies between them.
func (w Web) end(row int) jobs.Length { return w.start(row-1) + w.Pitch }

func (w Web) sectionOf(row int) int {
	return slices.IndexFunc(w.Sections, func(s Section) bool { return row < s.To })
}

// piece completes a stretch of a lane with where it lies.
func (w Web) piece(version, lane, from, to int) Piece {
	p := Piece{Version: version, Lane: lane, From: from, To: to, WebFrom: w.start(from), WebTo: w.end(to)}
	for k := w.sectionOf(from); k < len(w.Sections) && w.Sections[k].From < to; k++ {
		p.Sections = append(p.Sections, k+1)
		for _, s := range w.Sections[k].Splices {
			if s.Row > from && s.Row < to {
				p.Splices = append(p.Splices, s.Row)
			}
		}
	}
	return p
}

// strips of every version in web order: one for each lane run, or for several
// that follow each other in a lane with no web lost between them.
func (w Web) strips(g jobs.Gang, plan nest.Plan, versions int) [][]Piece {
	strips := make([][]Piece, versions)
	started := make([]int, len(plan.Sections[0].Lanes)) // row at which the strip of a lane began
	for k, s := range plan.Sections {
		for lane, version := range s.Lanes {
			if version == nest.Empty {
				continue
			}
			before := k > 0 && plan.Sections[k-1].Lanes[lane] == version
			if !before || g.Press.ChangeoverWeb > 0 || w.Sections[k].FreshRoll {
				started[lane] = w.Sections[k].From
			}
			goesOn := k+1 < len(plan.Sections) && plan.Sections[k+1].Lanes[lane] == version &&
				g.Press.ChangeoverWeb == 0 && !w.Sections[k+1].FreshRoll
			if !goesOn {
				strips[version] = append(strips[version], w.piece(version, lane+1, started[lane], w.Sections[k].To))
			}
		}
	}
	for _, of := range strips {
		slices.SortStableFunc(of, byWeb)
	}
	return strips
}

// byWeb orders pieces as they come off the press: by row, then by lane.
func byWeb(a, b Piece) int {
	if a.From != b.From {
		return a.From - b.From
	}
	return a.Lane - b.Lane
}
