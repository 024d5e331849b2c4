package nest

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Rule names one thing that a plan must obey.
type Rule string

// The rules, in the order in which Check reports them: first section by
// section, then those of the whole plan.
const (
	RuleRows               Rule = "rows"                 // a section is 1 to 1e12 rows long
	RuleFrame              Rule = "frame"                // rows are whole frames
	RuleLeastRows          Rule = "least rows"           // a section is not shorter than Limits.LeastRows
	RuleLanes              Rule = "lanes"                // a section names every lane of the die, no more
	RuleVersion            Rule = "version"              // a lane holds a version of the problem, or Empty
	RuleClosed             Rule = "closed lane"          // a closed lane is empty
	RuleOnlyLanes          Rule = "only lanes"           // a version keeps to its OnlyLanes
	RuleBlank              Rule = "blank section"        // at least one lane of a section prints
	RuleVersionsPerSection Rule = "versions per section" // Limits.VersionsPerSection
	RuleLeastLanes         Rule = "least lanes"          // in every section in which the version runs
	RuleMostLanes          Rule = "most lanes"           // the same
	RuleTogether           Rule = "together"             // where one of a set runs, all of it run
	RuleApart              Rule = "apart"                // two of a set are not next to each other
	RuleWholeRolls         Rule = "whole rolls"          // Limits.WholeRolls

	RuleSections       Rule = "sections"          // exactly Limits.Sections
	RuleMostSections   Rule = "most sections"     // at most Limits.MostSections
	RuleRush           Rule = "rush"              // sections with rush versions come first
	RuleDemand         Rule = "demand"            // a version that runs, or must, is printed Fewest times or more
	RuleOnePiece       Rule = "one piece"         // a OnePiece version runs in one section
	RuleDeadline       Rule = "deadline"          // the last section of a version ends in time
	RuleSplice         Rule = "splice"            // splices lie inside sections, in ascending order
	RuleRollChange     Rule = "roll change"       // roll changes lie between sections, in ascending order
	RuleRollLength     Rule = "roll length"       // no parent roll runs beyond its length
	RuleSplicesPerRoll Rule = "splices in a roll" // Version.MostSplices
	RuleCost           Rule = "cost"              // what the plan states is what it costs
)

// RuleError is one broken rule.
type RuleError struct {
	Rule    Rule
	Version int    // index of the version concerned, -1 for none
	Section int    // section concerned, from 0; -1 for none
	Detail  string // one clause: where, what, and what the rule wants; sections are counted from 1 in it
}

// Error names the rule and gives the detail.
func (e *RuleError) Error() string { return string(e.Rule) + ": " + e.Detail }

// Money and minutes are compared to nine digits: more than enough for cents,
// and wide enough for sums taken in another order.
const checkTolerance = 1e-9

// Check recounts a plan from its sections alone and returns every rule that
// it breaks, joined, each a *RuleError, in a fixed order; nil for a plan that
// keeps them all. It shares no code with the planner. A Problem with faults
// of its own is an error too (see Validate).
//
// What the fields of Problem leave open is settled so:
//
//   - A plan may have no section only where every version is a filler left
//     out. Every section prints in at least one lane.
//   - A filler is left out entirely (no lane anywhere) or meets its demand
//     like any other version; it then pays no ElsewhereCost and no ShortCost
//     is due for one left out. Together binds fillers like the others.
//   - Most is no rule: labels beyond it are scrap and cost what they cost.
//   - Labels of a lane that may not hold the version are counted; the lane is
//     reported, the demand is not.
//   - Rush: no section without a rush version comes before one with.
//   - A version's deadline is compared with SetupMinutes + RowMinutes · rows
//     up to the end of the last section that holds it + ChangeoverMinutes ·
//     changeovers before that end.
//   - Whole rolls: the rows of a section are a multiple of LabelsPerRoll of
//     each of its versions, whether or not a lane is carried; versions
//     without LabelsPerRoll are passed over (but earn no WholeRollSaving).
//   - Parent rolls: the first roll gives SetupRows and then the first
//     section. It may be changed between two sections (RollChanges; the rest
//     of the old roll is laid aside, at no cost) or spliced inside one
//     (Splices; row s is the first row printed from the new roll). The web
//     that a changeover or a splice loses comes off the old roll where enough
//     is left on it, otherwise all of it off the new one. No roll gives more
//     than RollRows.
//   - Splices in a customer roll: for this count every lane run starts a
//     customer roll, which ends after LabelsPerRoll labels; a splice between
//     two customer rolls is in neither. Changes of the parent roll between
//     sections do not count.
//   - The stated cost must equal Recount's, kind by kind, to nine digits.
func Check(p Problem, plan Plan) error {
	if err := Validate(p); err != nil {
		return fmt.Errorf("check: the problem: %w", err)
	}
	c := checker{p: p, plan: plan, count: Recount(p, plan)}
	for k := range plan.Sections {
		c.length(k)
		c.lanes(k)
		c.company(k)
		c.wholeRolls(k)
	}
	c.sections()
	c.rush()
	for i := range p.Versions {
		c.demand(i)
	}
	c.rolls()
	c.cost()
	return errors.Join(c.broken...)
}

type checker struct {
	p      Problem
	plan   Plan
	count  Count
	broken []error
}

// fail notes a broken rule. version and section are -1 where none is
// concerned.
func (c *checker) fail(rule Rule, version, section int, format string, args ...any) {
	detail := fmt.Sprintf(format, args...)
	if version >= 0 {
		detail = fmt.Sprintf("version %q ", c.p.Versions[version].ID) + detail
	}
	if section >= 0 {
		detail = fmt.Sprintf("section %d: ", section+1) + detail
	}
	c.broken = append(c.broken, &RuleError{Rule: rule, Version: version, Section: section, Detail: detail})
}

func (c *checker) length(k int) {
	rows := c.plan.Sections[k].Rows
	if rows < 1 || rows > maxLabels {
		c.fail(RuleRows, -1, k, "%d rows, want 1 to %d", rows, maxLabels)
		return
	}
	if frame := c.p.Limits.Frame; frame > 1 && rows%frame != 0 {
		c.fail(RuleFrame, -1, k, "%d rows, want a multiple of %d", rows, frame)
	}
	if least := c.p.Limits.LeastRows; rows < least {
		c.fail(RuleLeastRows, -1, k, "%d rows, want at least %d", rows, least)
	}
}

func (c *checker) lanes(k int) {
	s := c.plan.Sections[k]
	if len(s.Lanes) != c.p.Lanes {
		c.fail(RuleLanes, -1, k, "names %d lanes, the die has %d", len(s.Lanes), c.p.Lanes)
	}
	for lane, i := range s.Lanes {
		switch {
		case i == Empty:
			continue
		case i < 0 || i >= len(c.p.Versions):
			c.fail(RuleVersion, -1, k, "lane %d holds version index %d, want 0 to %d or %d for none", lane+1, i, len(c.p.Versions)-1, Empty)
			continue
		}
		if slices.Contains(c.p.Closed, lane+1) {
			c.fail(RuleClosed, i, k, "runs in lane %d, which is closed", lane+1)
		}
		if only := c.p.Versions[i].OnlyLanes; len(only) > 0 && !slices.Contains(only, lane+1) {
			c.fail(RuleOnlyLanes, i, k, "runs in lane %d, allowed are %v", lane+1, only)
		}
	}
}

// lanesOf counts the lanes of section k that hold version i.
func (c *checker) lanesOf(k, i int) int {
	n := 0
	for _, held := range c.plan.Sections[k].Lanes {
		if held == i {
			n++
		}
	}
	return n
}

// company checks who runs in section k beside whom.
func (c *checker) company(k int) {
	var running []int
	for i, v := range c.p.Versions {
		n := c.lanesOf(k, i)
		if n == 0 {
			continue
		}
		running = append(running, i)
		if n < v.LeastLanes {
			c.fail(RuleLeastLanes, i, k, "runs in %d lanes, want at least %d", n, v.LeastLanes)
		}
		if v.MostLanes > 0 && n > v.MostLanes {
			c.fail(RuleMostLanes, i, k, "runs in %d lanes, want at most %d", n, v.MostLanes)
		}
	}
	if len(running) == 0 {
		c.fail(RuleBlank, -1, k, "no lane prints")
		return
	}
	if most := c.p.Limits.VersionsPerSection; most > 0 && len(running) > most {
		c.fail(RuleVersionsPerSection, -1, k, "%d versions, want at most %d", len(running), most)
	}
	for _, set := range c.p.Together {
		c.together(k, set, running)
	}
	lanes := c.plan.Sections[k].Lanes
	for lane := 1; lane < len(lanes); lane++ {
		left, right := lanes[lane-1], lanes[lane]
		if left == right || !slices.Contains(running, left) || !slices.Contains(running, right) {
			continue
		}
		for _, set := range c.p.Apart {
			if slices.Contains(set, left) && slices.Contains(set, right) {
				c.fail(RuleApart, left, k, "in lane %d is next to its look-alike %q", lane, c.p.Versions[right].ID)
				break
			}
		}
	}
}

func (c *checker) together(k int, set, running []int) {
	var missing []string
	there := -1
	for _, i := range set {
		if slices.Contains(running, i) {
			there = i
		} else {
			missing = append(missing, fmt.Sprintf("%q", c.p.Versions[i].ID))
		}
	}
	if there >= 0 && len(missing) > 0 {
		c.fail(RuleTogether, there, k, "runs without %s", strings.Join(missing, " and "))
	}
}

func (c *checker) wholeRolls(k int) {
	if !c.p.Limits.WholeRolls || k == len(c.plan.Sections)-1 {
		return
	}
	rows := c.plan.Sections[k].Rows
	for i, v := range c.p.Versions {
		if v.LabelsPerRoll > 0 && rows%v.LabelsPerRoll != 0 && c.lanesOf(k, i) > 0 {
			c.fail(RuleWholeRolls, i, k, "gets %d labels a lane, want whole rolls of %d", rows, v.LabelsPerRoll)
		}
	}
}

func (c *checker) sections() {
	n := len(c.plan.Sections)
	if want := c.p.Limits.Sections; want > 0 && n != want {
		c.fail(RuleSections, -1, -1, "%d sections, want exactly %d", n, want)
	}
	if most := c.p.Limits.MostSections; most > 0 && n > most {
		c.fail(RuleMostSections, -1, -1, "%d sections, want at most %d", n, most)
	}
}

func (c *checker) rush() {
	last := -1 // section without a rush version
	for k := range c.plan.Sections {
		rush := -1
		for i, v := range c.p.Versions {
			if v.Rush && c.lanesOf(k, i) > 0 {
				rush = i
				break
			}
		}
		if rush < 0 {
			last = k
		} else if last >= 0 {
			c.fail(RuleRush, rush, k, "is a rush but runs after section %d, which holds none", last+1)
		}
	}
}

// demand checks what version i gets from the plan as a whole.
func (c *checker) demand(i int) {
	v, n := c.p.Versions[i], c.count.Versions[i]
	if n.LeftOut {
		return
	}
	fewest := v.Fewest
	if fewest == 0 {
		fewest = v.Quantity
	}
	if n.Planned < fewest {
		c.fail(RuleDemand, i, -1, "gets %d labels, want at least %d", n.Planned, fewest)
	}
	if v.OnePiece && n.Sections > 1 {
		c.fail(RuleOnePiece, i, -1, "runs in %d sections, want one", n.Sections)
	}
	if v.Deadline == 0 {
		return
	}
	for k := len(c.plan.Sections) - 1; k >= 0; k-- {
		if c.lanesOf(k, i) == 0 {
			continue
		}
		if end := minutesToEnd(c.p, c.plan, k); end > v.Deadline*(1+checkTolerance) {
			c.fail(RuleDeadline, i, k, "is ready after %.6g minutes, want %.6g at most", end, v.Deadline)
		}
		return
	}
}

// starts returns the first row of every section, counted over all from 0,
// and the row after the last.
func (c *checker) starts() []int {
	at := make([]int, 0, len(c.plan.Sections)+1)
	row := 0
	for _, s := range c.plan.Sections {
		at = append(at, row)
		row += countedRows(s)
	}
	return append(at, row)
}

func (c *checker) rolls() {
	endless := c.p.Stock.RollRows == 0
	starts := c.starts()
	sound := true
	wrong := func(rule Rule, section int, format string, args ...any) {
		sound = false
		c.fail(rule, -1, section, format, args...)
	}
	before := 0
	for _, s := range c.plan.Splices {
		switch {
		case endless:
			wrong(RuleSplice, -1, "splice at row %d, but the web is endless", s)
		case s <= before:
			wrong(RuleSplice, -1, "splice at row %d, want one after row %d", s, before)
		case s >= starts[len(starts)-1]:
			wrong(RuleSplice, -1, "splice at row %d, the plan has %d rows", s, starts[len(starts)-1])
		case slices.Contains(starts, s):
			wrong(RuleSplice, -1, "splice at row %d, which is the start of a section: want a roll change there", s)
		}
		before = s
	}
	before = 0
	for _, k := range c.plan.RollChanges {
		switch {
		case endless:
			wrong(RuleRollChange, -1, "at section %d, but the web is endless", k+1)
		case k <= before || k >= len(c.plan.Sections):
			wrong(RuleRollChange, -1, "at section %d, want one after section %d and not beyond section %d", k+1, before+1, len(c.plan.Sections))
		}
		before = k
	}
	if endless || !sound {
		return
	}
	c.rollLength(starts)
	for k := range c.plan.Sections {
		c.splicesPerRoll(k, starts)
	}
}

// rollLength follows the web and sees that no parent roll gives more than it
// holds.
func (c *checker) rollLength(starts []int) {
	stock := c.p.Stock
	holds := stock.RollRows * (1 + checkTolerance)
	used := stock.SetupRows // of the roll in the press
	// end lays the roll aside; what is lost between two rolls comes off the
	// old one where it still has that much.
	end := func(section int, lost float64) {
		if used > holds {
			c.fail(RuleRollLength, -1, section, "a parent roll gives %.6g rows, want at most %.6g", used, stock.RollRows)
		}
		if used+lost <= holds {
			used = 0
		} else {
			used = lost
		}
	}
	for k := range c.plan.Sections {
		if k > 0 && slices.Contains(c.plan.RollChanges, k) {
			end(k-1, stock.ChangeoverRows)
		} else if k > 0 {
			used += stock.ChangeoverRows
		}
		row := starts[k]
		for _, s := range c.plan.Splices {
			if s > starts[k] && s < starts[k+1] {
				used += float64(s - row)
				row = s
				end(k, stock.SpliceRows)
			}
		}
		used += float64(starts[k+1] - row)
	}
	end(len(c.plan.Sections)-1, 0)
}

// splicesPerRoll counts the splices in every customer roll of section k.
func (c *checker) splicesPerRoll(k int, starts []int) {
	for i, v := range c.p.Versions {
		if v.LabelsPerRoll == 0 || v.MostSplices == 0 || c.lanesOf(k, i) == 0 {
			continue
		}
		most := max(v.MostSplices, 0)
		inRoll := map[int]int{}
		for _, s := range c.plan.Splices {
			wound := s - starts[k] // labels of the lane before the splice
			if s <= starts[k] || s >= starts[k+1] || wound%v.LabelsPerRoll == 0 {
				continue
			}
			roll := wound / v.LabelsPerRoll
			inRoll[roll]++
			if inRoll[roll] == most+1 {
				c.fail(RuleSplicesPerRoll, i, k, "has more than %d splices in customer roll %d of a lane", most, roll+1)
			}
		}
	}
}

func (c *checker) cost() {
	stated, found := c.plan.Cost, c.count.Cost
	scale := 0.0 // of the total: its kinds may cancel
	for _, kind := range []struct {
		name          string
		stated, found float64
	}{
		{"fixed", stated.Fixed, found.Fixed},
		{"rows", stated.Rows, found.Rows},
		{"sections", stated.Sections, found.Sections},
		{"lane runs", stated.LaneRuns, found.LaneRuns},
		{"labels", stated.Labels, found.Labels},
		{"shorts", stated.Shorts, found.Shorts},
		{"overs", stated.Overs, found.Overs},
		{"elsewhere", stated.Elsewhere, found.Elsewhere},
		{"whole rolls", stated.WholeRolls, found.WholeRolls},
		{"splices", stated.Splices, found.Splices},
	} {
		c.money(kind.name, kind.stated, kind.found, math.Abs(kind.found))
		scale += math.Abs(kind.found)
	}
	c.money("total", stated.Total, found.Total, scale)
}

// money compares a stated with a recounted cost; scale is what nine digits
// are of.
func (c *checker) money(kind string, stated, found, scale float64) {
	if !(math.Abs(stated-found) <= checkTolerance*scale) { // NaN fails too
		c.fail(RuleCost, -1, -1, "%s stated as %v, recounted %v", kind, stated, found)
	}
}
