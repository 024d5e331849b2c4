// Package rest tells what of a plan is printed and good, and plans what is
// short. It reads no files (jobs/intake/donefile does).
//
//	count, err := rest.Tally(gang, plan, done)
//	todo := count.Rest(gang, done)
//	planned, err := rest.Plan(ctx, todo, nest.Options{Engine: engine})
//
// What is good counts towards the orders, labels of a spoiled stretch do not,
// and every version's limits shrink by what is good: the rest has as many
// labels still to be had, at least and at most, as the customer still takes.
//
// The lanes now on the press are more than a nest.Problem can say, since
// every plan of one starts at a changeover. So Plan makes two plans and takes
// the cheaper: one whose first section is set up by a changeover, and one
// whose first section goes on with what is on the press and costs none. Lane
// runs of the first section are charged as if they were new in both.
package rest

import (
	"fmt"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/nest"
)

// Done is what ran on the press, as people there tell it.
type Done struct {
	Gang string // id; empty where there is but one
	// Stopped is when the press stopped, on the shop's clock; zero is not
	// stated.
	Stopped time.Time
	// Sections in the order in which they ran.
	Sections []Printed
	// Spoiled stretches are over; a spoiled lane goes on.
	Spoiled []Stretch
	Lanes   []Lane
	// OffPress says that the gang has left the press: its rest needs a set-up
	// from nothing.
	OffPress bool
	// RollLeft is the web left on the parent roll in the press; nil is as the
	// plan has it.
	RollLeft *jobs.Length
	// RestartWeb and RestartMinutes are lost before the rest begins.
	RestartWeb     jobs.Length
	RestartMinutes decimal.Decimal
}

// Printed is how much of a section of the plan ran. Nothing at all is a
// section that was set up and no more.
type Printed struct {
	Section int // number in the plan, from 1
	Printed Mark
}

// Mark is a place in a section, counted from its start: in rows, or as a
// length of web where Rows is 0.
type Mark struct {
	Rows int
	Web  jobs.Length
}

// Stretch is a part of a section of which no label is good.
type Stretch struct {
	Section int
	Lanes   []int // from 1; empty is all
	// From is the first row and To the last, both spoiled; a zero From is the
	// first of the section, a zero To the last that ran.
	From, To Mark
	Reason   string
}

// Lane is spoiled from a place on to the end of what ran.
type Lane struct {
	Lane    int // from 1
	Section int
	From    Mark // as in Stretch
	// Mended lanes print again; the others are out of use for the rest.
	Mended bool
	Reason string
}

// Check finds what cannot be so, given the plan that was printed; paths are
// those of a file such as jobs/intake/donefile reads.
func (d Done) Check(g jobs.Gang, plan nest.Plan) jobs.Faults {
	c := checker{g: g, plan: plan, rows: map[int]int{}}
	for i, s := range d.Sections {
		c.section(fmt.Sprintf("sections[%d]", i), s)
	}
	for i, s := range d.Spoiled {
		path := fmt.Sprintf("spoiled[%d]", i)
		if c.ran(path, s.Section) {
			c.lanes(path+".lanes", s.Section, s.Lanes)
			c.stretch(path, s.Section, s.From, s.To)
		}
	}
	for i, l := range d.Lanes {
		path := fmt.Sprintf("spoiled_lanes[%d]", i)
		if c.ran(path, l.Section) {
			if l.Lane > g.Die.Lanes {
				c.add(path+".lane", "the die has %d lanes, got %d", g.Die.Lanes, l.Lane)
			}
			c.stretch(path, l.Section, l.From, Mark{})
		}
		if j := slices.IndexFunc(d.Lanes, func(other Lane) bool { return other.Lane == l.Lane }); j < i {
			c.add(path+".lane", "lane %d stands here twice, want it once", l.Lane)
		}
	}
	if d.RollLeft != nil {
		switch roll := g.Stock.RollLength; {
		case roll == 0:
			c.add("roll_left", "the job does not say how long a parent roll is: leave this out")
		case *d.RollLeft > roll:
			c.add("roll_left", "a parent roll has %s, got %s", roll, *d.RollLeft)
		}
	}
	if g.Bare != nil && (d.RestartWeb > 0 || d.RestartMinutes.IsPositive()) {
		c.add("restart_minutes", "a bare problem knows neither web nor minutes: leave the restart out")
	}
	if !d.Stopped.IsZero() && !g.Press.Start.IsZero() && d.Stopped.Before(g.Press.Start) {
		c.add("stopped", "want a time after the press's start, %s, got %s", clock(g.Press.Start), clock(d.Stopped))
	}
	return c.faults
}

func clock(t time.Time) string { return t.Format("2006-01-02 15:04") }

type checker struct {
	g      jobs.Gang
	plan   nest.Plan
	rows   map[int]int // that ran, by section
	faults jobs.Faults
}

func (c *checker) add(path, format string, values ...any) {
	c.faults = append(c.faults, jobs.Fault{Path: path, Message: fmt.Sprintf(format, values...)})
}

func (c *checker) section(path string, s Printed) {
	if s.Section > len(c.plan.Sections) {
		c.add(path+".section", "the plan has %d sections, got %d", len(c.plan.Sections), s.Section)
		return
	}
	if _, twice := c.rows[s.Section]; twice {
		c.add(path+".section", "section %d stands here twice, want it once with all that ran", s.Section)
		return
	}
	field := path + ".rows"
	if s.Printed.Web > 0 {
		field = path + ".web"
	}
	if !c.measurable(field, s.Printed) {
		return
	}
	c.rows[s.Section] = whole(c.g, s.Printed)
	// A press may run on for a while; ten times as far is a slip of the pen.
	if most := 10 * c.plan.Sections[s.Section-1].Rows; c.rows[s.Section] > most {
		c.add(field, "section %d is planned to be %d rows long: want at most ten times as many, got %d",
			s.Section, c.plan.Sections[s.Section-1].Rows, c.rows[s.Section])
	}
}

func (c *checker) measurable(field string, m Mark) bool {
	if m.Web > 0 && c.g.Bare != nil {
		c.add(field, "a bare problem knows no lengths: want rows")
		return false
	}
	return true
}

func (c *checker) ran(path string, section int) bool {
	if _, ran := c.rows[section]; !ran {
		c.add(path+".section", "section %d is not among the sections that ran", section)
		return false
	}
	return true
}

func (c *checker) lanes(path string, section int, lanes []int) {
	for i, lane := range lanes {
		if lane > c.g.Die.Lanes {
			c.add(fmt.Sprintf("%s[%d]", path, i), "the die has %d lanes, got %d", c.g.Die.Lanes, lane)
		}
	}
}

func (c *checker) stretch(path string, section int, from, to Mark) {
	if !c.measurable(path+".from", from) || !c.measurable(path+".to", to) {
		return
	}
	first, last, ran := firstRow(c.g, from), lastRow(c.g, to, c.rows[section]), c.rows[section]
	switch {
	case first > ran:
		c.add(path+".from", "section %d ran for %d rows: want a place within them, got row %d", section, ran, first)
	case last > ran:
		c.add(path+".to", "section %d ran for %d rows: want a place within them, got row %d", section, ran, last)
	case last < first:
		c.add(path+".to", "want a place from row %d on, where the stretch begins, got row %d", first, last)
	}
}

// whole rows that end by a mark.
func whole(g jobs.Gang, m Mark) int {
	if m.Web == 0 {
		return m.Rows
	}
	return int(m.Web / g.Die.Pitch())
}

// firstRow is the row, from 1, in which a stretch begins.
func firstRow(g jobs.Gang, m Mark) int {
	if m.Web == 0 {
		return max(1, m.Rows)
	}
	return int(m.Web/g.Die.Pitch()) + 1
}

// lastRow is the row in which a stretch ends, of a section that ran so far.
func lastRow(g jobs.Gang, m Mark, ran int) int {
	switch {
	case m == Mark{}:
		return ran
	case m.Web == 0:
		return m.Rows
	}
	pitch := g.Die.Pitch()
	return int((m.Web + pitch - 1) / pitch)
}
