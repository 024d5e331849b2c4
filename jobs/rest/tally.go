package rest

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/nest"
)

// Count is what ran and what of it is good.
type Count struct {
	Versions []VersionCount // in the order of the gang's Entries
	Sections []SectionCount // in the order in which they ran
	Spoiled  []Spoil        // by section as they ran, lane and row; none overlap
	Rows     int
	// Cost of web, press time, ink and lane runs; Web and Minutes are zero
	// where the gang is bare.
	Cost    decimal.Decimal
	Web     jobs.Length
	Minutes decimal.Decimal
	// RollUsed is web gone from the parent roll in the press.
	RollUsed jobs.Length
	// OnPress are the versions (indices) in the lanes of the last section.
	OnPress []int
	// Left is what is planned and not printed of the last section, in rows.
	Left int
}

// VersionCount is the labels of one version; Good + Spoiled were printed.
type VersionCount struct {
	ID            string
	Ordered       int
	Good, Spoiled int
}

// SectionCount is the rows of one section.
type SectionCount struct{ Number, Planned, Printed int }

// Spoil is rows of one lane that are not good; FromRow and ThruRow count from
// 1 in the section.
type Spoil struct {
	Section, Lane    int
	FromRow, ThruRow int
	Reason           string
}

// Tally counts what ran. The plan is one of the gang's problem. It fails where
// Check finds fault: the error is then a jobs.Faults.
func Tally(g jobs.Gang, plan nest.Plan, d Done) (Count, error) {
	if faults := d.Check(g, plan); len(faults) > 0 {
		return Count{}, faults
	}
	c := Count{}
	for _, e := range g.Entries() {
		c.Versions = append(c.Versions, VersionCount{ID: e.Version.ID, Ordered: e.Version.Quantity})
	}
	var ran nest.Plan
	order := map[int]int{} // of a section's number, as it ran
	for i, s := range d.Sections {
		planned := plan.Sections[s.Section-1]
		rows := whole(g, s.Printed)
		order[s.Section] = i
		c.Sections = append(c.Sections, SectionCount{s.Section, planned.Rows, rows})
		c.Rows += rows
		ran.Sections = append(ran.Sections, nest.Section{Rows: rows, Lanes: planned.Lanes})
		c.OnPress, c.Left = planned.Lanes, max(0, planned.Rows-rows)
	}
	c.spoil(g, d, order)
	for i, s := range ran.Sections {
		for lane, v := range s.Lanes {
			if v == nest.Empty {
				continue
			}
			bad := c.spoiledRows(c.Sections[i].Number, lane+1)
			c.Versions[v].Good += s.Rows - bad
			c.Versions[v].Spoiled += bad
		}
	}
	ran.Splices, c.RollUsed = web(g, plan, c.Sections)
	if d.RollLeft != nil {
		c.RollUsed = g.Stock.RollLength - *d.RollLeft
	}
	return c, c.measure(g, ran)
}

// spoil resolves the spoiled stretches and lanes into rows that do not
// overlap, so that no label is taken off twice.
func (c *Count) spoil(g jobs.Gang, d Done, order map[int]int) {
	var all []Spoil
	for _, s := range d.Spoiled {
		lanes := s.Lanes
		if len(lanes) == 0 {
			for lane := range g.Die.Lanes {
				lanes = append(lanes, lane+1)
			}
		}
		ran := c.Sections[order[s.Section]].Printed
		for _, lane := range lanes {
			all = append(all, Spoil{s.Section, lane, firstRow(g, s.From), lastRow(g, s.To, ran), s.Reason})
		}
	}
	for _, l := range d.Lanes {
		from := firstRow(g, l.From)
		for _, s := range c.Sections[order[l.Section]:] {
			if s.Printed >= from {
				all = append(all, Spoil{s.Number, l.Lane, from, s.Printed, l.Reason})
			}
			from = 1
		}
	}
	slices.SortStableFunc(all, func(a, b Spoil) int {
		return slices.Compare([]int{order[a.Section], a.Lane, a.FromRow}, []int{order[b.Section], b.Lane, b.FromRow})
	})
	for _, s := range all {
		if n := len(c.Spoiled); n > 0 {
			if last := &c.Spoiled[n-1]; last.Section == s.Section && last.Lane == s.Lane {
				s.FromRow = max(s.FromRow, last.ThruRow+1)
			}
		}
		if s.FromRow <= s.ThruRow {
			c.Spoiled = append(c.Spoiled, s)
		}
	}
}

func (c *Count) spoiledRows(section, lane int) int {
	rows := 0
	for _, s := range c.Spoiled {
		if s.Section == section && s.Lane == lane {
			rows += s.ThruRow - s.FromRow + 1
		}
	}
	return rows
}

// web follows the parent rolls through what ran, as the plan ends them: the
// splices, counted over the rows that ran, and the web gone from the roll now
// in the press. A press that ran on beyond a roll's length has changed it.
func web(g jobs.Gang, plan nest.Plan, ran []SectionCount) (splices []int, used jobs.Length) {
	pitch, roll := g.Die.Pitch(), g.Stock.RollLength
	if g.Bare != nil || roll == 0 {
		return nil, 0
	}
	fresh := func(lost jobs.Length) {
		if used+lost <= roll {
			lost = 0
		}
		used = lost
	}
	run := func(rows int) {
		if used += jobs.Length(rows) * pitch; used > roll {
			used %= roll
		}
	}
	starts := make([]int, len(plan.Sections)+1)
	for k, s := range plan.Sections {
		starts[k+1] = starts[k] + s.Rows
	}
	if g.Begun != nil {
		used = g.Begun.RollUsed
	}
	used += g.Press.SetupLength(pitch)
	at := 0
	for i, s := range ran {
		k := s.Number - 1
		switch {
		case i > 0 && slices.Contains(plan.RollChanges, k):
			fresh(g.Press.ChangeoverWeb)
		case i > 0:
			used += g.Press.ChangeoverWeb
		}
		row := 0 // of this section
		for _, splice := range plan.Splices {
			if in := splice - starts[k]; in > row && in < min(s.Printed, s.Planned) {
				run(in - row)
				fresh(g.Stock.SpliceWeb)
				splices = append(splices, at+in)
				row = in
			}
		}
		run(s.Printed - row)
		at += s.Printed
	}
	return splices, used
}

// measure counts the web, the time and the money of what ran: without what
// follows only from all of the orders, such as unders that are not billed.
func (c *Count) measure(g jobs.Gang, ran nest.Plan) error {
	m, err := g.Measure(ran)
	if err != nil {
		return fmt.Errorf("measure what ran of gang %s: %w", g.ID, err)
	}
	c.Web, c.Minutes = m.Web.Total, m.Minutes.Total
	for _, money := range m.Money {
		switch money.Kind {
		case jobs.KindUnders, jobs.KindOvers, jobs.KindElsewhere, jobs.KindWholeRolls:
		default:
			c.Cost = c.Cost.Add(money.Amount)
		}
	}
	c.Cost = c.Cost.Round(g.Places())
	return nil
}
