package ledger

import (
	"laneplan/jobs"
	"laneplan/jobs/planfile"
	"laneplan/jobs/rest"
)

// Printed is the entry of what ran of a gang's plan, as rest.Tally counted it.
// The caller adds At, Key, Program and Inputs.
func Printed(g jobs.Gang, plan planfile.Gang, c rest.Count) Entry {
	e := Planned(g, plan)
	e.Kind, e.Bound, e.Gap, e.Proven, e.Stop = KindPrinted, nil, nil, false, ""
	e.Cost, e.Rows, e.Sections = &c.Cost, c.Rows, len(c.Sections)
	e.Web, e.Minutes = nil, nil
	if g.Bare == nil {
		web, minutes := c.Web.In(jobs.Metre).Round(3), c.Minutes.Round(3)
		e.Web, e.Minutes = &web, &minutes
	}
	for _, s := range c.Sections {
		e.Printed = append(e.Printed, Section(s))
	}
	for _, s := range c.Spoiled {
		e.Spoiled = append(e.Spoiled, Spoil(s))
	}
	at := 0
	for i := range e.Orders {
		for j := range e.Orders[i].Versions {
			v, n := &e.Orders[i].Versions[j], c.Versions[at]
			at++
			tolerance := g.Tolerance(g.Orders[i].Versions[j])
			v.Good, v.Spoiled = n.Good, n.Spoiled
			v.LeftOut = v.LeftOut && n.Good+n.Spoiled == 0
			v.Unders, v.Overs, v.Scrap = max(0, n.Ordered-n.Good), max(0, n.Good-n.Ordered), 0
			if v.LeftOut { // as it was planned: nothing is short
				v.Unders = 0
			}
			if most := tolerance.Most(n.Ordered); most > 0 && n.Good > most {
				v.Scrap = n.Good - most
				v.Overs -= v.Scrap
			}
		}
	}
	return e
}
