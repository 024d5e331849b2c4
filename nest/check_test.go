package nest

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// priced states the recounted cost in a plan, so that a test breaks one rule
// and not the cost rule with it.
func priced(p Problem, plan Plan) Plan {
	plan.Cost = Recount(p, plan).Cost
	return plan
}

// brokenRules lists the rules that an error of Check names.
func brokenRules(t *testing.T, err error) []Rule {
	t.Helper()
	if err == nil {
		return nil
	}
	joined, ok := err.(interface{ Unwrap() []error })
	require.True(t, ok, "want joined errors, got %v", err)
	var rules []Rule
	for _, e := range joined.Unwrap() {
		var broken *RuleError
		require.True(t, errors.As(e, &broken), "want a RuleError, got %v", e)
		rules = append(rules, broken.Rule)
	}
	return rules
}

func sections(s ...Section) Plan { return Plan{Sections: s} }

func section(rows int, lanes ...int) Section { return Section{Rows: rows, Lanes: lanes} }

// versions gives versions A, B, C… of the given quantities.
func versions(quantities ...int) []Version {
	v := make([]Version, len(quantities))
	for i, q := range quantities {
		v[i] = Version{ID: string(rune('A' + i)), Quantity: q}
	}
	return v
}

type ruleCase struct {
	name     string
	problem  Problem
	good     Plan
	broken   Plan
	rule     Rule
	detail   string
	unpriced bool // the broken plan states its own cost
}

func ruleCases() []ruleCase {
	plain := func() Problem {
		return Problem{Lanes: 3, Costs: Costs{Row: 2, Section: 50}, Versions: versions(10, 20)}
	}
	with := func(change func(*Problem)) Problem {
		p := plain()
		change(&p)
		return p
	}
	simple := sections(section(10, 0, 1, 1))
	stock := with(func(p *Problem) {
		p.Stock = Stock{RollRows: 8, SetupRows: 2, ChangeoverRows: 1, SpliceCost: 5, SpliceRows: 1}
	})
	return []ruleCase{
		{name: "a section of no rows", problem: plain(), good: simple, broken: sections(section(10, 0, 1, 1), section(0, 1, 1, 1)),
			rule: RuleRows, detail: "section 2: 0 rows, want 1 to 1000000000000"},
		{name: "a section beyond counting", problem: plain(), good: simple, broken: sections(section(math.MaxInt, 0, 1, 1)),
			rule: RuleRows},
		{name: "rows that are not whole frames", problem: with(func(p *Problem) { p.Limits.Frame = 5 }), good: simple,
			broken: sections(section(11, 0, 1, 1)), rule: RuleFrame, detail: "section 1: 11 rows, want a multiple of 5"},
		{name: "a section that is too short", problem: with(func(p *Problem) { p.Limits.LeastRows = 5 }),
			good: sections(section(5, 0, 0, 0), section(10, 1, 1, 1)), broken: sections(section(4, 0, 0, 0), section(10, 1, 1, 1)),
			rule: RuleLeastRows, detail: "section 1: 4 rows, want at least 5"},
		{name: "a lane too many", problem: plain(), good: simple, broken: sections(section(10, 0, 1, 1, Empty)),
			rule: RuleLanes, detail: "section 1: names 4 lanes, the die has 3"},
		{name: "a lane missing", problem: plain(), good: sections(section(20, 0, 1, Empty)), broken: sections(section(20, 0, 1)), rule: RuleLanes},
		{name: "a version that does not exist", problem: plain(), good: sections(section(20, 0, 1, Empty)),
			broken: sections(section(20, 0, 1, 2)), rule: RuleVersion, detail: "section 1: lane 3 holds version index 2, want 0 to 1 or -1 for none"},
		{name: "a negative version index", problem: plain(), good: sections(section(20, 0, 1, Empty)),
			broken: sections(section(20, 0, 1, -2)), rule: RuleVersion},
		{name: "a closed lane in use", problem: with(func(p *Problem) { p.Closed = []int{2} }),
			good: sections(section(20, 0, Empty, 1)), broken: sections(section(20, 0, 1, 1)), rule: RuleClosed,
			detail: `section 1: version "B" runs in lane 2, which is closed`},
		{name: "a version outside its lanes", problem: with(func(p *Problem) { p.Versions[0].OnlyLanes = []int{1, 3} }),
			good: sections(section(10, 0, 1, 1)), broken: sections(section(10, 1, 0, 1)), rule: RuleOnlyLanes,
			detail: `section 1: version "A" runs in lane 2, allowed are [1 3]`},
		{name: "a section that prints nothing", problem: plain(), good: simple,
			broken: sections(section(10, 0, 1, 1), section(1, Empty, Empty, Empty)), rule: RuleBlank, detail: "section 2: no lane prints"},
		{name: "too many versions in a section", problem: with(func(p *Problem) { p.Limits.VersionsPerSection = 1 }),
			good: sections(section(4, 0, 0, 0), section(7, 1, 1, 1)), broken: sections(section(10, 0, 1, 1)),
			rule: RuleVersionsPerSection, detail: "section 1: 2 versions, want at most 1"},
		{name: "too few lanes of a version", problem: with(func(p *Problem) { p.Versions[1].LeastLanes = 2 }),
			good: simple, broken: sections(section(20, 0, Empty, 1)), rule: RuleLeastLanes,
			detail: `section 1: version "B" runs in 1 lanes, want at least 2`},
		{name: "too many lanes of a version", problem: with(func(p *Problem) { p.Versions[1].MostLanes = 1 }),
			good: sections(section(20, 0, 1, Empty)), broken: simple, rule: RuleMostLanes,
			detail: `section 1: version "B" runs in 2 lanes, want at most 1`},
		{name: "two that belong together apart", problem: with(func(p *Problem) { p.Together = [][]int{{0, 1}} }),
			good: simple, broken: sections(section(4, 0, 0, 0), section(10, 0, 1, 1)), rule: RuleTogether,
			detail: `section 1: version "A" runs without "B"`},
		{name: "look-alikes next to each other", problem: with(func(p *Problem) { p.Apart = [][]int{{0, 1}} }),
			good: sections(section(20, 0, Empty, 1)), broken: sections(section(20, Empty, 0, 1)), rule: RuleApart,
			detail: `section 1: version "A" in lane 2 is next to its look-alike "B"`},
		{name: "a closed lane keeps look-alikes apart", problem: with(func(p *Problem) { p.Apart, p.Closed, p.Lanes = [][]int{{0, 1}}, []int{2}, 4 }),
			good: sections(section(20, 0, Empty, 1, Empty)), broken: sections(section(20, Empty, Empty, 0, 1)), rule: RuleApart},
		{name: "part of a customer roll before a changeover", problem: with(func(p *Problem) {
			p.Limits.WholeRolls = true
			p.Versions[1].LabelsPerRoll = 5
		}), good: sections(section(5, 1, 1, 1), section(11, 0, 1, Empty)), broken: sections(section(6, 1, 1, 1), section(11, 0, 1, Empty)),
			rule: RuleWholeRolls, detail: `section 1: version "B" gets 6 labels a lane, want whole rolls of 5`},
		{name: "fewer sections than asked for", problem: with(func(p *Problem) { p.Limits.Sections = 2 }),
			good: sections(section(10, 0, 1, 1), section(1, 0, 0, 0)), broken: simple, rule: RuleSections, detail: "1 sections, want exactly 2"},
		{name: "more sections than allowed", problem: with(func(p *Problem) { p.Limits.MostSections = 1 }),
			good: simple, broken: sections(section(10, 0, 1, 1), section(1, 0, 0, 0)), rule: RuleMostSections, detail: "2 sections, want at most 1"},
		{name: "a rush that waits", problem: with(func(p *Problem) { p.Versions[1].Rush = true }),
			good: sections(section(7, 1, 1, 1), section(4, 0, 0, 0)), broken: sections(section(4, 0, 0, 0), section(7, 1, 1, 1)),
			rule: RuleRush, detail: `section 2: version "B" is a rush but runs after section 1, which holds none`},
		{name: "a label short", problem: plain(), good: sections(section(10, 0, 1, Empty), section(10, 1, Empty, Empty)),
			broken: sections(section(10, 0, 1, Empty), section(9, 1, Empty, Empty)),
			rule:   RuleDemand, detail: `version "B" gets 19 labels, want at least 20`},
		{name: "shorter than the customer takes", problem: with(func(p *Problem) { p.Versions[1].Fewest = 18 }),
			good: sections(section(10, 0, 1, Empty), section(8, 1, Empty, Empty)), broken: sections(section(10, 0, 1, Empty), section(7, 1, Empty, Empty)),
			rule: RuleDemand, detail: `version "B" gets 17 labels, want at least 18`},
		{name: "a version left out that may not be", problem: plain(), good: simple, broken: sections(section(10, 0, Empty, Empty)),
			rule: RuleDemand, detail: `version "B" gets 0 labels, want at least 20`},
		{name: "a filler half done", problem: with(func(p *Problem) { p.Versions[1].Filler = true }),
			good: sections(section(10, 0, Empty, Empty)), broken: sections(section(10, 0, 1, Empty)), rule: RuleDemand},
		{name: "one piece in two sections", problem: with(func(p *Problem) { p.Versions[1].OnePiece = true }),
			good: simple, broken: sections(section(10, 0, 1, Empty), section(10, Empty, 1, Empty)), rule: RuleOnePiece,
			detail: `version "B" runs in 2 sections, want one`},
		{name: "ready after its deadline", problem: with(func(p *Problem) {
			p.Press = Press{SetupMinutes: 30, RowMinutes: 0.5, ChangeoverMinutes: 10}
			p.Versions[1].Deadline = 30 + 0.5*11 + 10
		}), good: sections(section(4, 0, 0, 0), section(7, 1, 1, 1)), broken: sections(section(5, 0, 0, 0), section(7, 1, 1, 1)),
			rule: RuleDeadline, detail: `section 2: version "B" is ready after 46 minutes, want 45.5 at most`},
		{name: "a splice in an endless web", problem: plain(), good: simple,
			broken: Plan{Sections: simple.Sections, Splices: []int{5}}, rule: RuleSplice, detail: "splice at row 5, but the web is endless"},
		{name: "a splice before the first row", problem: stock, good: Plan{Sections: simple.Sections, Splices: []int{5}},
			broken: Plan{Sections: simple.Sections, Splices: []int{0, 5}}, rule: RuleSplice, detail: "splice at row 0, want one after row 0"},
		{name: "a splice beyond the last row", problem: stock, good: Plan{Sections: simple.Sections, Splices: []int{5}},
			broken: Plan{Sections: simple.Sections, Splices: []int{5, 10}}, rule: RuleSplice, detail: "splice at row 10, the plan has 10 rows"},
		{name: "splices out of order", problem: stock, good: Plan{Sections: simple.Sections, Splices: []int{4, 6}},
			broken: Plan{Sections: simple.Sections, Splices: []int{6, 4}}, rule: RuleSplice},
		{name: "a splice at a changeover", problem: stock,
			good:   Plan{Sections: []Section{section(5, 0, 0, 1), section(8, 1, 1, Empty)}, RollChanges: []int{1}},
			broken: Plan{Sections: []Section{section(5, 0, 0, 1), section(8, 1, 1, Empty)}, Splices: []int{5}},
			rule:   RuleSplice, detail: "splice at row 5, which is the start of a section: want a roll change there"},
		{name: "a roll change in an endless web", problem: plain(), good: sections(section(5, 0, 0, 1), section(8, 1, 1, Empty)),
			broken: Plan{Sections: []Section{section(5, 0, 0, 1), section(8, 1, 1, Empty)}, RollChanges: []int{1}}, rule: RuleRollChange},
		{name: "a roll change before the first section", problem: stock, good: Plan{Sections: simple.Sections, Splices: []int{5}},
			broken: Plan{Sections: simple.Sections, Splices: []int{5}, RollChanges: []int{0}}, rule: RuleRollChange,
			detail: "at section 1, want one after section 1 and not beyond section 1"},
		{name: "a roll change after the last section", problem: stock, good: Plan{Sections: simple.Sections, Splices: []int{5}},
			broken: Plan{Sections: simple.Sections, Splices: []int{5}, RollChanges: []int{1}}, rule: RuleRollChange},
		// The roll of 8 rows gives 2 of set-up and 6 of the section.
		{name: "the first roll runs too long", problem: stock, good: Plan{Sections: simple.Sections, Splices: []int{6}},
			broken: Plan{Sections: simple.Sections, Splices: []int{7}}, rule: RuleRollLength,
			detail: "section 1: a parent roll gives 9 rows, want at most 8"},
		// After a splice at row 6 nothing is left for the lost row on the old
		// roll, so the new one gives 1 + 7 rows.
		{name: "the lost web of a splice counts", problem: stock, good: Plan{Sections: []Section{section(13, 0, 1, 1)}, Splices: []int{6}},
			broken: Plan{Sections: []Section{section(14, 0, 1, 1)}, Splices: []int{6}}, rule: RuleRollLength},
		// A splice one row earlier leaves the lost row on the old roll.
		{name: "the old roll bears the lost web where it can", problem: stock, good: Plan{Sections: []Section{section(13, 0, 1, 1)}, Splices: []int{5}},
			broken: Plan{Sections: []Section{section(14, 0, 1, 1)}, Splices: []int{5}}, rule: RuleRollLength},
		// 2 of set-up, 5 rows and the changeover are 8; the new roll gives 8.
		{name: "the changeover comes off the old roll", problem: stock,
			good:   Plan{Sections: []Section{section(5, 0, 0, 1), section(8, 1, 1, Empty)}, RollChanges: []int{1}},
			broken: Plan{Sections: []Section{section(6, 0, 0, 1), section(8, 1, 1, Empty)}, RollChanges: []int{1}}, rule: RuleRollLength,
			detail: "section 2: a parent roll gives 9 rows, want at most 8"},
		{name: "no roll change where one is needed", problem: stock,
			good:   Plan{Sections: []Section{section(5, 0, 0, 1), section(8, 1, 1, Empty)}, RollChanges: []int{1}},
			broken: sections(section(5, 0, 0, 1), section(8, 1, 1, Empty)), rule: RuleRollLength},
		{name: "a splice in a customer roll that allows none", problem: func() Problem {
			p := stock
			p.Versions = versions(10, 20)
			p.Versions[1].LabelsPerRoll, p.Versions[1].MostSplices = 5, -1
			return p
		}(), good: Plan{Sections: simple.Sections, Splices: []int{5}}, broken: Plan{Sections: simple.Sections, Splices: []int{6}},
			rule: RuleSplicesPerRoll, detail: `section 1: version "B" has more than 0 splices in customer roll 2 of a lane`},
		{name: "one splice more than a customer roll allows", problem: func() Problem {
			p := stock
			p.Versions = versions(10, 20)
			p.Versions[1].LabelsPerRoll, p.Versions[1].MostSplices = 5, 1
			return p
		}(), good: Plan{Sections: simple.Sections, Splices: []int{3, 6}}, broken: Plan{Sections: simple.Sections, Splices: []int{3, 4}},
			rule: RuleSplicesPerRoll},
		{name: "a total that is not the sum", problem: plain(), good: simple, rule: RuleCost, unpriced: true,
			broken: Plan{Sections: simple.Sections, Cost: Cost{Total: 70.001, Rows: 20, Sections: 50}}, detail: "total stated as 70.001, recounted 70"},
		{name: "a kind of cost that is wrong", problem: plain(), good: simple, rule: RuleCost, unpriced: true,
			broken: Plan{Sections: simple.Sections, Cost: Cost{Total: 70, Rows: 20, Sections: 50, Labels: 1e-6}}},
		{name: "a cost that is no number", problem: plain(), good: simple, rule: RuleCost, unpriced: true,
			broken: Plan{Sections: simple.Sections, Cost: Cost{Total: math.NaN(), Rows: 20, Sections: 50}}},
	}
}

func TestCheckNamesTheBrokenRule(t *testing.T) {
	seen := map[Rule]bool{}
	for _, tt := range ruleCases() {
		t.Run(tt.name, func(t *testing.T) {
			seen[tt.rule] = true
			require.NoError(t, Check(tt.problem, priced(tt.problem, tt.good)), "the good plan")
			broken := tt.broken
			if !tt.unpriced {
				broken = priced(tt.problem, broken)
			}
			err := Check(tt.problem, broken)
			require.Equal(t, []Rule{tt.rule}, brokenRules(t, err), "%v", err)
			if tt.detail != "" {
				assert.EqualError(t, err, string(tt.rule)+": "+tt.detail)
			}
		})
	}
	for _, rule := range allRules() {
		assert.True(t, seen[rule], "no case breaks the rule %q", rule)
	}
}

func allRules() []Rule {
	return []Rule{RuleRows, RuleFrame, RuleLeastRows, RuleLanes, RuleVersion, RuleClosed, RuleOnlyLanes, RuleBlank,
		RuleVersionsPerSection, RuleLeastLanes, RuleMostLanes, RuleTogether, RuleApart, RuleWholeRolls, RuleSections,
		RuleMostSections, RuleRush, RuleDemand, RuleOnePiece, RuleDeadline, RuleSplice, RuleRollChange, RuleRollLength,
		RuleSplicesPerRoll, RuleCost}
}
