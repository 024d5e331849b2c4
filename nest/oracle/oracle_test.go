package oracle

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
)

func versions(quantities ...int) []nest.Version {
	v := make([]nest.Version, len(quantities))
	for i, q := range quantities {
		v[i] = nest.Version{ID: string(rune('A' + i)), Quantity: q}
	}
	return v
}

// TestBestByHand compares with optima that are worked out beside each case.
func TestBestByHand(t *testing.T) {
	tests := []struct {
		name    string
		problem nest.Problem
		cost    float64 // NaN: infeasible
	}{
		// ⌈10/3⌉ rows in one section.
		{"one version", nest.Problem{Lanes: 3, Versions: versions(10), Costs: nest.Costs{Row: 2, Section: 5}, Limits: nest.Limits{MostSections: 3}}, 4*2 + 5},
		// A 5, B 5, C 10 on 3 lanes: 20 labels need 7 rows. One section gives
		// each a lane: 10 rows. Two: A B C x 5 and C C C x 2: 7 rows.
		{"one section where a changeover is dear", nest.Problem{Lanes: 3, Versions: versions(5, 5, 10), Costs: nest.Costs{Row: 1, Section: 4}, Limits: nest.Limits{MostSections: 3}}, 10 + 4},
		{"two sections where it is cheap", nest.Problem{Lanes: 3, Versions: versions(5, 5, 10), Costs: nest.Costs{Row: 1, Section: 2}, Limits: nest.Limits{MostSections: 3}}, 7 + 4},
		// The same with a lane run of 1: one section 3, two sections 6 less
		// the one lane of C that is carried: 10+2+3 = 15 against 7+4+5 = 16.
		{"lane runs are paid once where carried", nest.Problem{Lanes: 3, Versions: versions(5, 5, 10), Costs: nest.Costs{Row: 1, Section: 2, LaneRun: 1}, Limits: nest.Limits{Sections: 2}}, 7 + 4 + 5},
		// Two lanes for 12 labels, 6 rows, but the second lane is closed.
		{"a closed lane", nest.Problem{Lanes: 2, Closed: []int{2}, Versions: versions(12), Costs: nest.Costs{Row: 1}, Limits: nest.Limits{Sections: 1}}, 12},
		// 12 labels on 2 lanes in frames of 4: 8 rows.
		{"whole frames", nest.Problem{Lanes: 2, Versions: versions(12), Costs: nest.Costs{Row: 1}, Limits: nest.Limits{Sections: 1, Frame: 4}}, 8},
		// Two sections of 5 rows at least.
		{"least rows", nest.Problem{Lanes: 2, Versions: versions(12), Costs: nest.Costs{Row: 1}, Limits: nest.Limits{Sections: 2, LeastRows: 5}}, 10},
		// 5 rows of 2 lanes are 10 of 11: a short of 1 at 0.25 beats a row at 1.
		{"a short is cheaper than a row", nest.Problem{Lanes: 2, Versions: []nest.Version{{ID: "A", Quantity: 11, Fewest: 9, ShortCost: 0.25}}, Costs: nest.Costs{Row: 1}, Limits: nest.Limits{Sections: 1}}, 5.25},
		// A sixth row costs 1 and sells 2 labels at 0.75.
		{"overs that pay", nest.Problem{Lanes: 2, Versions: []nest.Version{{ID: "A", Quantity: 10, Most: 12, OverPrice: 0.75}}, Costs: nest.Costs{Row: 1}, Limits: nest.Limits{Sections: 1}}, 6 - 1.5},
		{"nothing earned beyond the most", nest.Problem{Lanes: 2, Versions: []nest.Version{{ID: "A", Quantity: 10, Most: 11, OverPrice: 0.75}}, Costs: nest.Costs{Row: 1}, Limits: nest.Limits{Sections: 1}}, 5},
		// One lane: 3 of A and 4 of B in either order; B alone elsewhere for 3.
		{"a filler goes elsewhere", nest.Problem{Lanes: 1, Versions: []nest.Version{{ID: "A", Quantity: 3}, {ID: "B", Quantity: 4, Filler: true, ElsewhereCost: 3}}, Costs: nest.Costs{Row: 1, Section: 2}, Limits: nest.Limits{MostSections: 2}}, 3 + 2 + 3},
		{"a filler runs here", nest.Problem{Lanes: 1, Versions: []nest.Version{{ID: "A", Quantity: 3}, {ID: "B", Quantity: 4, Filler: true, ElsewhereCost: 7}}, Costs: nest.Costs{Row: 1, Section: 2}, Limits: nest.Limits{MostSections: 2}}, 7 + 4},
		{"nothing runs at all", nest.Problem{Lanes: 1, Versions: []nest.Version{{ID: "A", Quantity: 3, Filler: true, ElsewhereCost: 2}}, Costs: nest.Costs{Fixed: 1, Row: 1, Section: 2}, Limits: nest.Limits{MostSections: 2}}, 1 + 2},
		// Look-alikes cannot be neighbours on 2 lanes: 6 + 6 rows alone, two
		// lanes each, are 3 + 3 rows in two sections.
		{"look-alikes take two sections", nest.Problem{Lanes: 2, Versions: versions(6, 6), Apart: [][]int{{0, 1}}, Costs: nest.Costs{Row: 1, Section: 10}, Limits: nest.Limits{MostSections: 2}}, 6 + 20},
		{"and have no plan in one", nest.Problem{Lanes: 2, Versions: versions(6, 6), Apart: [][]int{{0, 1}}, Costs: nest.Costs{Row: 1, Section: 10}, Limits: nest.Limits{MostSections: 1}}, math.NaN()},
		// On 3 lanes an empty lane parts them: 6 rows.
		{"an empty lane parts them", nest.Problem{Lanes: 3, Versions: versions(6, 6), Apart: [][]int{{0, 1}}, Costs: nest.Costs{Row: 1, Section: 10}, Limits: nest.Limits{MostSections: 2}}, 6 + 10},
		// The shop would run A A, then B B; B has to be ready after 4 rows.
		{"a deadline that order can meet", nest.Problem{Lanes: 1, Versions: []nest.Version{{ID: "A", Quantity: 5}, {ID: "B", Quantity: 4, Deadline: 5}}, Costs: nest.Costs{Row: 1, Section: 1}, Press: nest.Press{SetupMinutes: 1, RowMinutes: 1, ChangeoverMinutes: 2}, Limits: nest.Limits{MostSections: 3}}, 9 + 2},
		{"a deadline that nothing can meet", nest.Problem{Lanes: 1, Versions: []nest.Version{{ID: "A", Quantity: 5}, {ID: "B", Quantity: 4, Deadline: 4.5}}, Costs: nest.Costs{Row: 1, Section: 1}, Press: nest.Press{SetupMinutes: 1, RowMinutes: 1, ChangeoverMinutes: 2}, Limits: nest.Limits{MostSections: 3}}, math.NaN()},
		// 10 rows off rolls of 4 with 1 row of set-up: 3 + 4 + 3, two splices.
		{"splices", nest.Problem{Lanes: 1, Versions: versions(10), Costs: nest.Costs{Row: 1}, Stock: nest.Stock{RollRows: 4, SetupRows: 1, SpliceCost: 10}, Limits: nest.Limits{Sections: 1}}, 30},
		// Two sections let one roll change at the changeover for nothing.
		{"a changeover saves a splice", nest.Problem{Lanes: 1, Versions: versions(6), Costs: nest.Costs{Row: 1, Section: 2}, Stock: nest.Stock{RollRows: 4, SetupRows: 1, SpliceCost: 10}, Limits: nest.Limits{MostSections: 2}}, 6 + 4},
		// Customer rolls of 2 without splices: the first parent roll gives 3
		// rows, of which only 2 can be used: 2 + 4 + 4.
		{"splices between customer rolls only", nest.Problem{Lanes: 1, Versions: []nest.Version{{ID: "A", Quantity: 10, LabelsPerRoll: 2, MostSplices: -1}}, Costs: nest.Costs{Row: 1}, Stock: nest.Stock{RollRows: 4, SetupRows: 1, SpliceCost: 10}, Limits: nest.Limits{Sections: 1}}, 30},
		{"customer rolls longer than the parent roll", nest.Problem{Lanes: 1, Versions: []nest.Version{{ID: "A", Quantity: 10, LabelsPerRoll: 5, MostSplices: -1}}, Costs: nest.Costs{Row: 1}, Stock: nest.Stock{RollRows: 4, SetupRows: 1, SpliceCost: 10}, Limits: nest.Limits{Sections: 1}}, math.NaN()},
		// A must be in whole rolls of 4 before the changeover: A 8 then B 5.
		{"whole rolls before a changeover", nest.Problem{Lanes: 1, Versions: []nest.Version{{ID: "A", Quantity: 5, LabelsPerRoll: 4, Rush: true}, {ID: "B", Quantity: 5}}, Costs: nest.Costs{Row: 1, Section: 1}, Limits: nest.Limits{WholeRolls: true, MostSections: 2}}, 13 + 2},
		// Without the rush B runs first and A needs only 5.
		{"the last section may be part rolls", nest.Problem{Lanes: 1, Versions: []nest.Version{{ID: "A", Quantity: 5, LabelsPerRoll: 4}, {ID: "B", Quantity: 5}}, Costs: nest.Costs{Row: 1, Section: 1}, Limits: nest.Limits{WholeRolls: true, MostSections: 2}}, 10 + 2},
		{"one piece where two were asked for", nest.Problem{Lanes: 1, Versions: []nest.Version{{ID: "A", Quantity: 5, OnePiece: true}}, Costs: nest.Costs{Row: 1}, Limits: nest.Limits{Sections: 2}}, math.NaN()},
		// B may only use lane 2 of 2 and needs both: 8 rows, A beside it.
		{"only lanes", nest.Problem{Lanes: 2, Versions: []nest.Version{{ID: "A", Quantity: 2}, {ID: "B", Quantity: 8, OnlyLanes: []int{2}}}, Costs: nest.Costs{Row: 1}, Limits: nest.Limits{MostSections: 3}}, 8},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := Best(tt.problem)
			require.NoError(t, err)
			require.Equal(t, !math.IsNaN(tt.cost), got.Feasible, "%+v", got.Plan)
			if got.Feasible {
				assert.Equal(t, tt.cost, got.Plan.Cost.Total, "%+v", got.Plan)
				assert.NoError(t, nest.Check(tt.problem, got.Plan))
			}
		})
	}
}

func TestBestRefusesWhatIsNotTiny(t *testing.T) {
	limits := nest.Limits{MostSections: 2}
	for name, p := range map[string]nest.Problem{
		"versions":   {Lanes: 1, Versions: versions(1, 1, 1, 1), Limits: limits},
		"lanes":      {Lanes: 4, Versions: versions(1), Limits: limits},
		"rows":       {Lanes: 1, Versions: versions(41), Limits: limits},
		"sections":   {Lanes: 1, Versions: versions(1), Limits: nest.Limits{Sections: 4}},
		"free count": {Lanes: 2, Versions: versions(7, 8), Costs: nest.Costs{Row: 1}},
		"faulty":     {Lanes: 0, Versions: versions(1), Limits: limits},
	} {
		_, err := Best(p)
		assert.Error(t, err, name)
	}
}

// everyPlan is enumeration at its plainest: every filling, every length up to
// most, every set of splices and roll changes, judged by nest.Check.
func everyPlan(p nest.Problem, most int, visit func(nest.Plan)) {
	fewest, limit := p.Limits.Sections, p.Limits.MostSections
	if fewest > 0 {
		limit = fewest
	}
	var plan nest.Plan
	var section func()
	section = func() {
		if len(plan.Sections) >= fewest {
			everySplicing(p, plan, visit)
		}
		if len(plan.Sections) == limit {
			return
		}
		for rows := 1; rows <= most; rows++ {
			everyFilling(p, nil, func(lanes []int) {
				plan.Sections = append(plan.Sections, nest.Section{Rows: rows, Lanes: lanes})
				section()
				plan.Sections = plan.Sections[:len(plan.Sections)-1]
			})
		}
	}
	section()
}

func everyFilling(p nest.Problem, lanes []int, visit func([]int)) {
	if len(lanes) == p.Lanes {
		visit(append([]int(nil), lanes...))
		return
	}
	for i := nest.Empty; i < len(p.Versions); i++ {
		everyFilling(p, append(lanes, i), visit)
	}
}

func everySplicing(p nest.Problem, plan nest.Plan, visit func(nest.Plan)) {
	if p.Stock.RollRows == 0 {
		visit(plan)
		return
	}
	rows := 0
	for _, s := range plan.Sections {
		rows += s.Rows
	}
	changes := max(len(plan.Sections)-1, 0)
	for set := range 1 << (max(rows-1, 0) + changes) {
		plan.Splices, plan.RollChanges = nil, nil
		for bit := range max(rows-1, 0) + changes {
			switch {
			case set>>bit&1 == 0:
			case bit < rows-1:
				plan.Splices = append(plan.Splices, bit+1)
			default:
				plan.RollChanges = append(plan.RollChanges, bit-rows+2)
			}
		}
		visit(plan)
	}
}

// TestBestAgainstEveryPlan draws problems small enough for plain enumeration.
// The two share only the reading of the rules: one prunes, the other does not.
func TestBestAgainstEveryPlan(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	feasible, infeasible, spliced := 0, 0, 0
	for n := range 300 {
		p := Constrained(rng)
		p.Versions = p.Versions[:min(len(p.Versions), 2)]
		p.Together, p.Apart = nil, nil
		if len(p.Versions) == 2 && n%5 == 0 {
			p.Apart = [][]int{{0, 1}}
		}
		if len(p.Versions) == 2 && n%7 == 0 {
			p.Together = [][]int{{1, 0}}
		}
		p.Limits.Sections = min(p.Limits.Sections, 2)
		p.Limits.MostSections = 2
		most := 1
		for i := range p.Versions {
			v := &p.Versions[i]
			v.Quantity = 1 + v.Quantity%4
			if p.Stock.RollRows > 0 {
				v.Quantity = min(v.Quantity, 3) // sets of splices grow fast
			}
			v.Fewest = min(v.Fewest, v.Quantity)
			if v.Most > 0 {
				v.Most = v.Quantity + v.Most%2
			}
			v.LabelsPerRoll = min(v.LabelsPerRoll, 2)
			most = max(most, v.Quantity, v.Most)
		}
		p.Limits.Frame, p.Limits.LeastRows = min(p.Limits.Frame, 2), min(p.Limits.LeastRows, 2)
		if p.Stock.RollRows > 0 {
			p.Stock = nest.Stock{RollRows: 3 + float64(n%3), SetupRows: 1, ChangeoverRows: float64(n % 2), SpliceCost: 1.5, SpliceRows: 0.5}
			spliced++
		}
		got, err := Best(p)
		require.NoError(t, err)
		want := math.Inf(1)
		everyPlan(p, roundUp(most, 2), func(plan nest.Plan) {
			plan.Cost = nest.Recount(p, plan).Cost
			if plan.Cost.Total < want && nest.Check(p, plan) == nil {
				want = plan.Cost.Total
			}
		})
		if !got.Feasible {
			infeasible++
			require.True(t, math.IsInf(want, 1), "case %d: the oracle sees no plan, enumeration one at %v\n%+v", n, want, p)
			continue
		}
		feasible++
		require.Equal(t, want, got.Plan.Cost.Total, "case %d\n%+v\n%+v", n, p, got.Plan)
	}
	t.Logf("%d feasible, %d infeasible, %d with parent rolls", feasible, infeasible, spliced)
	assert.Greater(t, feasible, 150)
	assert.Greater(t, infeasible, 15)
	assert.Greater(t, spliced, 20)
}

// TestRandomProblems: what the oracle finds passes the independent check, and
// the drawn rules matter.
func TestRandomProblems(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	infeasible, tooLarge := 0, 0
	for range 400 {
		for _, p := range []nest.Problem{Plain(rng), Constrained(rng)} {
			require.NoError(t, nest.Validate(p))
			got, err := Best(p)
			if err != nil {
				tooLarge++
				continue
			}
			if !got.Feasible {
				infeasible++
				continue
			}
			require.NoError(t, nest.Check(p, got.Plan), "%+v\n%+v", p, got.Plan)
		}
	}
	t.Logf("%d infeasible, %d not tiny", infeasible, tooLarge)
	assert.Less(t, tooLarge, 20)
	assert.Greater(t, infeasible, 40)
	assert.Less(t, infeasible, 400)
}

// TestEveryRuleBites: for every rule that Constrained can draw, taking it out
// of the problem makes some optimum cheaper, or a plan possible.
func TestEveryRuleBites(t *testing.T) {
	each := func(change func(*nest.Version)) func(*nest.Problem) {
		return func(p *nest.Problem) {
			p.Versions = append([]nest.Version(nil), p.Versions...)
			for i := range p.Versions {
				change(&p.Versions[i])
			}
		}
	}
	rules := map[string]func(*nest.Problem){
		"closed":               func(p *nest.Problem) { p.Closed = nil },
		"sections":             func(p *nest.Problem) { p.Limits.Sections, p.Limits.MostSections = 0, MostSections },
		"versions per section": func(p *nest.Problem) { p.Limits.VersionsPerSection = 0 },
		"frame":                func(p *nest.Problem) { p.Limits.Frame = 0 },
		"least rows":           func(p *nest.Problem) { p.Limits.LeastRows = 0 },
		"whole rolls":          func(p *nest.Problem) { p.Limits.WholeRolls = false },
		"together":             func(p *nest.Problem) { p.Together = nil },
		"apart":                func(p *nest.Problem) { p.Apart = nil },
		"least lanes":          each(func(v *nest.Version) { v.LeastLanes = 0 }),
		"most lanes":           each(func(v *nest.Version) { v.MostLanes = 0 }),
		"only lanes":           each(func(v *nest.Version) { v.OnlyLanes = nil }),
		"one piece":            each(func(v *nest.Version) { v.OnePiece = false }),
		"rush":                 each(func(v *nest.Version) { v.Rush = false }),
		"deadline":             each(func(v *nest.Version) { v.Deadline = 0 }),
		"splices per roll":     each(func(v *nest.Version) { v.MostSplices = 0 }),
		"parent roll":          func(p *nest.Problem) { p.Stock = nest.Stock{} },
		"lane run":             func(p *nest.Problem) { p.Costs.LaneRun = 0 },
		"label cost":           each(func(v *nest.Version) { v.LabelCost = 0 }),
		"no fewest":            each(func(v *nest.Version) { v.Fewest = 1; v.ShortCost = 0 }),
	}
	bites := map[string]int{}
	rng := rand.New(rand.NewPCG(9, 10))
	biteAll := func() bool {
		for name := range rules {
			if bites[name] < 2 {
				return false
			}
		}
		return true
	}
	for n := 0; n < 4000 && !biteAll(); n++ {
		p := Constrained(rng)
		with, err := Best(p)
		if err != nil {
			continue
		}
		for name, remove := range rules {
			if bites[name] >= 2 {
				continue
			}
			freed := p
			remove(&freed)
			if fmt.Sprint(freed) == fmt.Sprint(p) {
				continue
			}
			without, err := Best(freed)
			if err != nil {
				continue
			}
			require.True(t, without.Feasible || !with.Feasible, "%s: a rule less and no plan any more\n%+v", name, p)
			if !with.Feasible && without.Feasible || with.Feasible && without.Plan.Cost.Total < with.Plan.Cost.Total {
				bites[name]++
			}
			if with.Feasible {
				require.LessOrEqual(t, without.Plan.Cost.Total, with.Plan.Cost.Total, "%s\n%+v", name, p)
			}
		}
	}
	for name := range rules {
		assert.GreaterOrEqual(t, bites[name], 2, "%q never made a difference", name)
	}
}

func BenchmarkBestConstrained(b *testing.B) {
	rng := rand.New(rand.NewPCG(11, 12))
	for b.Loop() {
		_, _ = Best(Constrained(rng))
	}
}

func BenchmarkBestPlain(b *testing.B) {
	rng := rand.New(rand.NewPCG(11, 12))
	for b.Loop() {
		_, _ = Best(Plain(rng))
	}
}
