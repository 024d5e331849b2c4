package rest

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"

	"laneplan/jobs"
	"laneplan/nest"
)

// Todo is what is left to print.
type Todo struct {
	// Gang is the rest as a job of its own. Its press is set up by a
	// changeover, or from nothing where it is off the press. It has no orders
	// where nothing is short.
	Gang jobs.Gang
	// OnPress are the versions (indices of the rest) now in the lanes. Closed
	// lanes are empty in it, and so are those with a version of which no more
	// is wanted, see RunOn. Nil where the rest cannot go on with them: the
	// gang is off the press, or of no version more is wanted.
	OnPress []int
	// RunOn are sentences about lanes that print what nobody wants while the
	// rest goes on with the lanes on the press; their labels are not counted.
	RunOn []string
	// Left is what was planned of the section on the press, in rows.
	Left int
	// Notes are what people should know, a sentence each without a full stop.
	Notes []string

	continued jobs.Press // as the press costs where the rest goes on
}

// Rest is what a count leaves to do. A version that the customer would take
// as it is stays in, as one that may be left out, if its labels have a price.
func (c Count) Rest(g jobs.Gang, d Done) Todo {
	t := Todo{Gang: g, Left: c.Left}
	t.Gang.ID = nextID(g.ID)
	index := map[int]int{} // of the gang's versions in the rest
	t.Gang.Orders = nil
	at, left := -1, 0
	for _, o := range g.Orders {
		order := o
		order.Versions = nil
		for _, v := range o.Versions {
			at++
			if short, wanted := c.short(g, at, v, &t); wanted {
				index[at] = left
				left++
				order.Versions = append(order.Versions, short)
			}
		}
		if len(order.Versions) > 0 {
			t.Gang.Orders = append(t.Gang.Orders, order)
		}
	}
	t.closeLanes(d)
	t.rules(g, index, len(c.Sections))
	t.press(g, c, d)
	t.due()
	t.OnPress = t.onPress(g, c.OnPress, index, d.OffPress)
	return t
}

// short is a version as the rest has it; false where no more of it is wanted.
func (c Count) short(g jobs.Gang, at int, v jobs.Version, t *Todo) (jobs.Version, bool) {
	good, tolerance := c.Versions[at].Good, g.Tolerance(v)
	if good >= v.Quantity {
		return v, false
	}
	fewest := 0
	if !tolerance.Optional() {
		fewest = max(0, tolerance.Fewest(v.Quantity)-good)
	}
	if most := tolerance.Most(v.Quantity); most > 0 {
		most -= good
		v.Most = &most
	}
	v.Quantity -= good
	v.Fewest, v.Unders, v.Overs = &fewest, nil, nil
	if fewest == 0 && !v.UnitPrice.IsPositive() {
		t.note("Version %s is %d short, within what the customer takes", v.ID, v.Quantity)
		return v, false
	}
	if good > 0 && v.OnePiece {
		t.note("Version %s is to be of one piece, and %d labels of it are good already: its rest makes a second piece, unless it goes on with the section on the press", v.ID, good)
	}
	return v, true
}

func (t *Todo) note(format string, values ...any) {
	t.Notes = append(t.Notes, fmt.Sprintf(format, values...))
}

func (t *Todo) closeLanes(d Done) {
	t.Gang.Die.ClosedLanes = slices.Clone(t.Gang.Die.ClosedLanes)
	for _, l := range d.Lanes {
		if !l.Mended && !slices.Contains(t.Gang.Die.ClosedLanes, l.Lane) {
			t.Gang.Die.ClosedLanes = append(t.Gang.Die.ClosedLanes, l.Lane)
			t.note("Lane %d is out of use", l.Lane)
		}
	}
	slices.Sort(t.Gang.Die.ClosedLanes)
}

// rules leaves out of the rules what is printed. A fixed number of sections
// was for the whole; of the most, what ran is gone.
func (t *Todo) rules(g jobs.Gang, index map[int]int, ran int) {
	rest := map[string]bool{}
	for i, e := range g.Entries() {
		if _, is := index[i]; is {
			rest[e.Version.ID] = true
		}
	}
	kept := func(sets [][]string) (out [][]string) {
		for _, set := range sets {
			set = slices.DeleteFunc(slices.Clone(set), func(id string) bool { return !rest[id] })
			if len(set) > 1 {
				out = append(out, set)
			}
		}
		return out
	}
	r := &t.Gang.Rules
	r.Together, r.Apart = kept(r.Together), kept(r.Apart)
	if r.Sections > 0 {
		t.note("The job's %d sections were for the whole: the rest takes as many as are cheapest", r.Sections)
		r.Sections = 0
	}
	if r.MostSections > 0 {
		r.MostSections = max(1, r.MostSections-ran)
	}
	if !slices.ContainsFunc(t.Gang.Entries(), func(e jobs.Entry) bool { return e.Version.LabelsPerRoll > 0 }) {
		r.WholeRolls, r.WholeRollSaving = "", jobs.Rules{}.WholeRollSaving
	}
}

// press is where the press stands: what it takes before the first section,
// the web and the time that are gone.
func (t *Todo) press(g jobs.Gang, c Count, d Done) {
	if g.Bare != nil {
		return
	}
	b := jobs.Begun{SetupWeb: g.Press.SetupLength(g.Die.Pitch()), SetupMinutes: g.Press.SetupMinutes}
	gone := c.Minutes
	if g.Begun != nil {
		b.SetupWeb, b.SetupMinutes = g.Begun.SetupWeb, g.Begun.SetupMinutes
		gone = gone.Add(g.Begun.MinutesGone)
	}
	b.MinutesGone = gone.Round(3)
	if !d.Stopped.IsZero() && !g.Press.Start.IsZero() {
		b.MinutesGone = g.Press.WorkingMinutes(d.Stopped)
	}
	p := &t.Gang.Press
	p.SetupFrames = nil
	p.SetupWeb, p.SetupMinutes = d.RestartWeb, d.RestartMinutes
	t.continued = *p
	if d.OffPress {
		p.SetupWeb, p.SetupMinutes = p.SetupWeb+b.SetupWeb, p.SetupMinutes.Add(b.SetupMinutes)
	} else {
		p.SetupWeb, p.SetupMinutes = p.SetupWeb+p.ChangeoverWeb, p.SetupMinutes.Add(p.ChangeoverMin)
	}
	// A roll on which not even the start has room is changed first.
	if !d.OffPress || d.RollLeft != nil {
		b.RollUsed = c.RollUsed
	}
	if roll := g.Stock.RollLength; roll > 0 && b.RollUsed+p.SetupWeb+g.Die.Pitch() > roll {
		b.RollUsed = 0
		t.note("The parent roll in the press is at its end: begin with a new one")
	}
	t.Gang.Begun = &b
}

// due drops dates that have passed, since no plan could meet them.
func (t *Todo) due() {
	if t.Gang.Press.Start.IsZero() {
		return
	}
	for i, o := range t.Gang.Orders {
		if !o.Due.IsZero() && !t.Gang.MinutesUntil(o.Due).IsPositive() {
			t.note("Order %s was due on %s, which has passed: it is planned without a date", o.ID, o.Due.Format("2006-01-02"))
			t.Gang.Orders[i].Due = jobs.Order{}.Due
		}
	}
}

func (t *Todo) onPress(g jobs.Gang, lanes []int, index map[int]int, offPress bool) []int {
	if offPress {
		return nil
	}
	on := make([]int, len(lanes))
	prints := false
	for lane, v := range lanes {
		on[lane] = nest.Empty
		if v == nest.Empty || slices.Contains(t.Gang.Die.ClosedLanes, lane+1) {
			continue
		}
		i, wanted := index[v]
		if !wanted {
			t.RunOn = append(t.RunOn, fmt.Sprintf("Lane %d runs on with %s, of which no more is wanted: its labels count for nothing",
				lane+1, g.Entries()[v].Version.ID))
			continue
		}
		on[lane], prints = i, true
	}
	if !prints {
		return nil
	}
	return on
}

var restID = regexp.MustCompile(`^(.*)-rest(?:-([0-9]{1,6}))?$`)

// nextID names the rest of a gang: x-rest, then x-rest-2 and so on.
func nextID(id string) string {
	parts := restID.FindStringSubmatch(id)
	if parts == nil {
		return id + "-rest"
	}
	n, _ := strconv.Atoi(parts[2])
	return fmt.Sprintf("%s-rest-%d", parts[1], max(1, n)+1)
}
