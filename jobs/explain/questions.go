package explain

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
)

// The kinds of questions.
const (
	LaneMore  = "one lane more"
	LaneFewer = "one lane fewer"
	Tolerance = "tolerance"
	LeaveOut  = "leave out"
)

// Tolerances that are asked about, in percent, for overs and unders of every
// version alike.
var Tolerances = []int64{2, 5, 10}

// question is a gang that differs in one thing.
type question struct {
	kind, subject string
	note          string // how it is meant
	gang          jobs.Gang
	version       int // that is left out; -1 for none
}

// questionsOf lists what is asked about a gang, in the order of the answers.
func questionsOf(g jobs.Gang) []question {
	list := []question{laneMore(g)}
	if fewer, ok := laneFewer(g); ok {
		list = append(list, fewer)
	}
	for _, percent := range Tolerances {
		list = append(list, tolerance(g, percent))
	}
	entries := g.Entries()
	if len(entries) < 2 {
		return list
	}
	for i, e := range entries {
		list = append(list, question{kind: LeaveOut, subject: e.Version.ID, gang: leaveOut(g, e.Version.ID), version: i})
	}
	return list
}

// laneMore takes a closed lane into use, else it widens die and web by one
// lane; a row of a bare problem costs the same with a lane more.
func laneMore(g jobs.Gang) question {
	q := question{kind: LaneMore, version: -1}
	if closed := slices.Sorted(slices.Values(g.Die.ClosedLanes)); len(closed) > 0 {
		q.subject = fmt.Sprintf("lane %d", closed[0])
		q.note = "in use again"
		g.Die.ClosedLanes = closed[1:]
		q.gang = g
		return q
	}
	g.Die.Lanes++
	q.subject = fmt.Sprintf("lane %d", g.Die.Lanes)
	q.note = "a row costs what it did"
	if g.Bare == nil {
		wider := g.Die.Across + g.Die.GapAcross
		g.Die.Web += wider
		q.note = fmt.Sprintf("on a web %s wider", wider)
	}
	q.gang = g
	return q
}

// laneFewer takes the last open lane out of use; the web stays as wide.
func laneFewer(g jobs.Gang) (question, bool) {
	for lane := g.Die.Lanes; lane > 0; lane-- {
		if slices.Contains(g.Die.ClosedLanes, lane) {
			continue
		}
		g.Die.ClosedLanes = append(slices.Clone(g.Die.ClosedLanes), lane)
		return question{kind: LaneFewer, subject: fmt.Sprintf("lane %d", lane), note: "out of use, the web as wide", gang: g, version: -1},
			len(g.Die.ClosedLanes) < g.Die.Lanes
	}
	return question{}, false
}

// tolerance gives every version the same unders and overs.
func tolerance(g jobs.Gang, percent int64) question {
	share := decimal.New(percent, -2)
	g.Policy.Unders, g.Policy.Overs, g.Policy.LimitOvers = share, share, true
	priced := true
	g.Orders = slices.Clone(g.Orders)
	for i, o := range g.Orders {
		versions := slices.Clone(o.Versions)
		for j := range versions {
			v := &versions[j]
			v.Unders, v.Overs, v.AllOvers = nil, nil, false
			priced = priced && v.UnitPrice.IsPositive()
		}
		g.Orders[i].Versions = versions
	}
	q := question{kind: Tolerance, subject: fmt.Sprintf("%d %%", percent), note: "unders and overs of every version", gang: g, version: -1}
	if !priced {
		q.note += "; short labels without a unit_price cost nothing"
	}
	return q
}

// leaveOut drops one version, its order too where that has no other, and it
// from all sets of rules.
func leaveOut(g jobs.Gang, id string) jobs.Gang {
	orders := g.Orders
	g.Orders = nil
	rolls := false
	for _, o := range orders {
		o.Versions = slices.DeleteFunc(slices.Clone(o.Versions), func(v jobs.Version) bool { return v.ID == id })
		if len(o.Versions) > 0 {
			g.Orders = append(g.Orders, o)
		}
		rolls = rolls || slices.ContainsFunc(o.Versions, func(v jobs.Version) bool { return v.LabelsPerRoll > 0 })
	}
	g.Rules.Together, g.Rules.Apart = dropFrom(g.Rules.Together, id), dropFrom(g.Rules.Apart, id)
	if !rolls { // the rule says nothing any more
		g.Rules.WholeRolls, g.Rules.WholeRollSaving = "", decimal.Zero
	}
	return g
}

func dropFrom(sets [][]string, id string) (kept [][]string) {
	for _, set := range sets {
		set = slices.DeleteFunc(slices.Clone(set), func(other string) bool { return other == id })
		if len(set) > 1 {
			kept = append(kept, set)
		}
	}
	return kept
}
