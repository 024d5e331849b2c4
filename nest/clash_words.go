package nest

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Clause tells one term of a clash in words, versions named.
func (t Term) Clause(p Problem) string {
	if t.Version >= 0 {
		return t.ofVersion(p.Versions[t.Version])
	}
	l := p.Limits
	switch t.Rule {
	case RuleClosed:
		return fmt.Sprintf("lane %d is out of use", t.Set)
	case RuleTogether:
		return fmt.Sprintf("versions %s share their sections", names(p, p.Together[t.Set]))
	case RuleApart:
		return fmt.Sprintf("versions %s never run side by side", names(p, p.Apart[t.Set]))
	case RuleSections:
		return fmt.Sprintf("there %s exactly %s", are(l.Sections), counted(l.Sections, "section"))
	case RuleMostSections:
		return fmt.Sprintf("there %s at most %s", are(l.MostSections), counted(l.MostSections, "section"))
	case RuleVersionsPerSection:
		return fmt.Sprintf("a section holds at most %s", counted(l.VersionsPerSection, "version"))
	case RuleFrame:
		return fmt.Sprintf("sections are whole frames of %s", counted(l.Frame, "row"))
	case RuleLeastRows:
		return fmt.Sprintf("a section has at least %s", counted(l.LeastRows, "row"))
	case RuleWholeRolls:
		return "all sections but the last are whole customer rolls"
	case RuleRollLength:
		return fmt.Sprintf("a parent roll holds %.6g rows", p.Stock.RollRows)
	}
	return string(t.Rule)
}

func (t Term) ofVersion(v Version) string {
	switch t.Rule {
	case RuleDemand:
		return fmt.Sprintf("version %s must run (%s)", v.ID, counted(v.fewest(), "label"))
	case RuleOnlyLanes:
		return fmt.Sprintf("version %s may run in %s only", v.ID, lanesOf(v.OnlyLanes))
	case RuleLeastLanes:
		return fmt.Sprintf("version %s wants at least %s of a section", v.ID, counted(v.LeastLanes, "lane"))
	case RuleMostLanes:
		return fmt.Sprintf("version %s takes at most %s of a section", v.ID, counted(v.MostLanes, "lane"))
	case RuleOnePiece:
		return fmt.Sprintf("all of version %s is to run in one section", v.ID)
	case RuleRush:
		return fmt.Sprintf("rush version %s runs first", v.ID)
	case RuleDeadline:
		if v.Deadline < 1 {
			return fmt.Sprintf("version %s is due before the press starts", v.ID)
		}
		return fmt.Sprintf("version %s is due %.0f minutes after the start", v.ID, v.Deadline)
	case RuleSplicesPerRoll:
		return fmt.Sprintf("version %s takes %s in a customer roll of %s", v.ID, splices(v.MostSplices), counted(v.LabelsPerRoll, "label"))
	}
	return fmt.Sprintf("version %s: %s", v.ID, t.Rule)
}

func splices(most int) string {
	if most < 1 {
		return "no splice"
	}
	return "at most " + counted(most, "splice")
}

// sentence tells a clash: versions that merely must run at once, then rule by
// rule, then what the versions need.
func sentence(p Problem, e *Infeasible) string {
	named := map[int]bool{}
	for _, t := range e.Terms {
		switch {
		case t.Rule == RuleDemand:
		case t.Rule == RuleTogether:
			for _, i := range p.Together[t.Set] {
				named[i] = true
			}
		default:
			named[t.Version] = true
		}
	}
	var merely, closed, due []int
	last := 0.0
	for _, t := range e.Terms {
		if t.Rule == RuleDeadline {
			due = append(due, t.Version)
			last = max(last, p.Versions[t.Version].Deadline)
		}
	}
	if len(due) <= mostDue {
		due = nil
	}
	var clauses []string
	size := false // the number of lanes matters
	for _, t := range e.Terms {
		switch t.Rule {
		case RuleDemand:
			if !named[t.Version] {
				merely = append(merely, t.Version)
			}
		case RuleClosed:
			closed = append(closed, t.Set)
		case RuleDeadline:
			if due == nil {
				clauses = append(clauses, t.Clause(p))
			}
		default:
			clauses = append(clauses, t.Clause(p))
			size = size || slices.Contains([]Rule{RuleLeastLanes, RuleTogether, RuleApart, RuleMostSections, RuleSections}, t.Rule)
		}
	}
	slices.Sort(merely)
	switch {
	case len(merely) == 1:
		clauses = append([]string{Term{RuleDemand, merely[0], -1}.Clause(p)}, clauses...)
	case len(merely) > 1:
		clauses = append([]string{fmt.Sprintf("%d versions must run (%s)", len(merely), names(p, merely))}, clauses...)
	}
	if due != nil {
		clauses = append(clauses, fmt.Sprintf("%d versions are due by %.0f minutes after the start or before (%s)", len(due), last, names(p, due)))
	}
	if len(closed) > 0 {
		clauses = append(clauses, fmt.Sprintf("%s %s out of use", lanesOf(closed), are(len(closed))))
	}
	if size {
		clauses = append(clauses, fmt.Sprintf("the die has %s", counted(p.Lanes, "lane")))
	}
	text := listed(clauses)
	if e.Minutes > 0 {
		text += fmt.Sprintf("; that takes at least %g minutes, set-up included", math.Floor(e.Minutes*10+1e-6)/10)
	}
	return text
}

// mostDue versions are told each with its own date.
const mostDue = 4

// mostNames are written out in a sentence; the rest are counted.
const mostNames = 12

func names(p Problem, versions []int) string {
	var ids []string
	for _, i := range versions {
		if len(ids) == mostNames {
			ids = append(ids, fmt.Sprintf("%d more", len(versions)-mostNames))
			break
		}
		ids = append(ids, p.Versions[i].ID)
	}
	return listed(ids)
}

func lanesOf(lanes []int) string {
	var numbers []string
	for _, lane := range lanes {
		numbers = append(numbers, fmt.Sprint(lane))
	}
	if len(lanes) == 1 {
		return "lane " + numbers[0]
	}
	return "lanes " + listed(numbers)
}

// listed joins words with commas and a last 'and'.
func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

func are(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}
