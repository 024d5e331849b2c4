package nest

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// tightCase draws a random plan and then fits a problem to it so tightly that
// nearly every rule of the problem is met without slack.
func tightCase(rng *rand.Rand) (Problem, Plan) {
	lanes, n := 2+rng.IntN(4), 2+rng.IntN(4)
	p := Problem{Lanes: lanes, Costs: Costs{Row: 1 + rng.Float64(), Section: 10 * rng.Float64(), LaneRun: rng.Float64()}}
	p.Press = Press{SetupMinutes: 10, RowMinutes: 0.5, ChangeoverMinutes: 3}
	p.Limits.Frame = 1 + rng.IntN(3)
	closed := 0
	if lanes > 2 && rng.IntN(2) == 0 {
		closed = 1 + rng.IntN(lanes)
		p.Closed = []int{closed}
	}
	var plan Plan
	for range 1 + rng.IntN(4) {
		s := Section{Rows: p.Limits.Frame * (1 + rng.IntN(9)), Lanes: make([]int, lanes)}
		for lane := range s.Lanes {
			s.Lanes[lane] = rng.IntN(n)
			if lane+1 == closed {
				s.Lanes[lane] = Empty
			}
		}
		plan.Sections = append(plan.Sections, s)
	}
	fit(&p, plan, n)
	return p, priced(p, plan)
}

// fit gives p the n versions that plan prints and the tightest rules that the
// plan keeps.
func fit(p *Problem, plan Plan, n int) {
	p.Versions = versions(make([]int, n)...)
	p.Limits.Sections = len(plan.Sections)
	p.Limits.LeastRows = plan.Sections[0].Rows
	minutes := p.Press.SetupMinutes
	beside := make([][]bool, n)
	company := make([]int, n) // set of sections, a bit each
	for i := range beside {
		beside[i] = make([]bool, n)
	}
	for k, s := range plan.Sections {
		if k > 0 {
			minutes += p.Press.ChangeoverMinutes
		}
		minutes += p.Press.RowMinutes * float64(s.Rows)
		p.Limits.LeastRows = min(p.Limits.LeastRows, s.Rows)
		held := map[int]int{}
		for lane, i := range s.Lanes {
			if i == Empty {
				continue
			}
			held[i]++
			v := &p.Versions[i]
			v.Quantity += s.Rows
			v.Deadline = minutes
			company[i] |= 1 << k
			if !slices.Contains(v.OnlyLanes, lane+1) {
				v.OnlyLanes = append(v.OnlyLanes, lane+1)
			}
			if lane > 0 && s.Lanes[lane-1] != Empty {
				beside[i][s.Lanes[lane-1]], beside[s.Lanes[lane-1]][i] = true, true
			}
		}
		p.Limits.VersionsPerSection = max(p.Limits.VersionsPerSection, len(held))
		for i, lanes := range held {
			v := &p.Versions[i]
			if v.LeastLanes == 0 || lanes < v.LeastLanes {
				v.LeastLanes = lanes
			}
			v.MostLanes = max(v.MostLanes, lanes)
		}
	}
	for i := range p.Versions {
		v := &p.Versions[i]
		v.OnePiece = company[i]&(company[i]-1) == 0
		v.Rush = company[i] == 1
		if company[i] == 0 { // printed nowhere: a filler left out
			v.Quantity, v.Filler, v.ElsewhereCost = 5, true, 7
		}
		for j := range i {
			if !beside[i][j] {
				p.Apart = append(p.Apart, []int{j, i})
			}
			if company[i] == company[j] {
				p.Together = append(p.Together, []int{j, i})
			}
		}
	}
}

func clonePlan(plan Plan) Plan {
	plan.Sections = slices.Clone(plan.Sections)
	for k := range plan.Sections {
		plan.Sections[k].Lanes = slices.Clone(plan.Sections[k].Lanes)
	}
	return plan
}

// TestCheckCatchesEveryTightening: a plan that meets all rules without slack
// breaks exactly the rule that is drawn one notch tighter.
func TestCheckCatchesEveryTightening(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		p, plan := tightCase(rng)
		require.NoError(t, Check(p, plan))
		i := slices.IndexFunc(p.Versions, func(v Version) bool { return !v.Filler })
		tighten := map[Rule]func(*Problem){
			RuleDemand:   func(p *Problem) { p.Versions[i].Quantity++ },
			RuleDeadline: func(p *Problem) { p.Versions[i].Deadline -= 0.01 },
			RuleSections: func(p *Problem) { p.Limits.Sections++ },
			RuleCost:     func(p *Problem) { p.Costs.Row *= 1.000001 },
			RuleLeastRows: func(p *Problem) {
				p.Limits.LeastRows++
			},
			RuleOnlyLanes: func(p *Problem) {
				v := &p.Versions[i]
				v.OnlyLanes = append(v.OnlyLanes[1:], p.Closed...)
				if len(v.OnlyLanes) == 0 { // one lane only: allow another instead
					lane := 1
					for s := range plan.Sections {
						if at := slices.Index(plan.Sections[s].Lanes, i); at >= 0 {
							lane = at + 1
						}
					}
					v.OnlyLanes = []int{1 + lane%p.Lanes}
				}
			},
			RuleLeastLanes: func(p *Problem) {
				v := &p.Versions[i]
				v.LeastLanes++
				v.MostLanes = max(v.MostLanes, v.LeastLanes)
			},
		}
		if p.Limits.VersionsPerSection > 1 {
			tighten[RuleVersionsPerSection] = func(p *Problem) { p.Limits.VersionsPerSection-- }
		}
		if p.Limits.Sections > 1 {
			tighten[RuleMostSections] = func(p *Problem) { p.Limits.Sections, p.Limits.MostSections = 0, p.Limits.Sections-1 }
		}
		if p.Versions[i].MostLanes > 1 {
			tighten[RuleMostLanes] = func(p *Problem) {
				p.Versions[i].MostLanes--
				p.Versions[i].LeastLanes = 0
			}
		}
		for rule, change := range tighten {
			tighter := p
			tighter.Versions = slices.Clone(p.Versions)
			for j := range tighter.Versions {
				tighter.Versions[j].OnlyLanes = slices.Clone(p.Versions[j].OnlyLanes)
			}
			change(&tighter)
			broken := slices.Compact(brokenRules(t, Check(tighter, plan)))
			require.Equal(t, []Rule{rule}, broken, "%+v\n%+v", tighter, plan)
		}
	}
}

// TestCheckCatchesMutations changes tight plans in ways that take labels from
// a version, put it where it may not run, or delay it.
func TestCheckCatchesMutations(t *testing.T) {
	mutations := []struct {
		name   string
		rule   Rule
		mutate func(rng *rand.Rand, p Problem, plan *Plan) bool // false: does not apply
	}{
		{"a frame less", RuleDemand, func(rng *rand.Rand, p Problem, plan *Plan) bool {
			k := rng.IntN(len(plan.Sections))
			plan.Sections[k].Rows -= p.Limits.Frame
			return true
		}},
		{"a row less", RuleDemand, func(rng *rand.Rand, p Problem, plan *Plan) bool {
			plan.Sections[rng.IntN(len(plan.Sections))].Rows--
			return true
		}},
		{"a frame more makes the last version late", RuleDeadline, func(rng *rand.Rand, p Problem, plan *Plan) bool {
			plan.Sections[rng.IntN(len(plan.Sections))].Rows += p.Limits.Frame
			return true
		}},
		{"a lane emptied", RuleDemand, func(rng *rand.Rand, p Problem, plan *Plan) bool {
			lanes := plan.Sections[rng.IntN(len(plan.Sections))].Lanes
			lane := rng.IntN(len(lanes))
			was := lanes[lane]
			lanes[lane] = Empty
			return was != Empty
		}},
		{"a lane given to another version", RuleDemand, func(rng *rand.Rand, p Problem, plan *Plan) bool {
			lanes := plan.Sections[rng.IntN(len(plan.Sections))].Lanes
			lane := rng.IntN(len(lanes))
			was := lanes[lane]
			lanes[lane] = rng.IntN(len(p.Versions))
			return was != Empty && was != lanes[lane]
		}},
		{"the closed lane used", RuleClosed, func(rng *rand.Rand, p Problem, plan *Plan) bool {
			if len(p.Closed) == 0 {
				return false
			}
			plan.Sections[rng.IntN(len(plan.Sections))].Lanes[p.Closed[0]-1] = rng.IntN(len(p.Versions))
			return true
		}},
		{"a section dropped", RuleSections, func(rng *rand.Rand, p Problem, plan *Plan) bool {
			plan.Sections = plan.Sections[1:]
			return true
		}},
		{"a section run twice", RuleSections, func(rng *rand.Rand, p Problem, plan *Plan) bool {
			plan.Sections = append(plan.Sections, plan.Sections[0])
			return true
		}},
		{"a rush section moved to the end", RuleRush, func(rng *rand.Rand, p Problem, plan *Plan) bool {
			plan.Sections = append(plan.Sections[1:], plan.Sections[0])
			return len(plan.Sections) > 1 && slices.ContainsFunc(p.Versions, func(v Version) bool { return v.Rush })
		}},
		{"a splice in an endless web", RuleSplice, func(rng *rand.Rand, p Problem, plan *Plan) bool {
			plan.Splices = []int{1}
			return true
		}},
	}
	rng := rand.New(rand.NewPCG(3, 4))
	applied := map[string]int{}
	for range 500 {
		p, plan := tightCase(rng)
		for _, m := range mutations {
			mutated := clonePlan(plan)
			if !m.mutate(rng, p, &mutated) {
				continue
			}
			applied[m.name]++
			require.Contains(t, brokenRules(t, Check(p, priced(p, mutated))), m.rule, "%s: %+v\n%+v", m.name, p, mutated)
		}
	}
	for _, m := range mutations {
		require.Greater(t, applied[m.name], 50, "%s was hardly tried", m.name)
	}
}

// FuzzCheck feeds Check whatever plan the bytes spell: it never panics, and a
// plan that it accepts keeps the plainest rules by a count of its own.
func FuzzCheck(f *testing.F) {
	f.Add([]byte{10, 0, 1, 1}, uint16(0))
	f.Add([]byte{4, 0, 0, 0, 10, 1, 1, 255}, uint16(3))
	f.Add([]byte{0, 9, 9}, uint16(700))
	f.Fuzz(func(t *testing.T, bytes []byte, splice uint16) {
		p := Problem{Lanes: 3, Versions: versions(10, 20), Costs: Costs{Row: 1, Section: 5}}
		if splice > 0 {
			p.Stock = Stock{RollRows: 12, SetupRows: 1, SpliceRows: 1}
		}
		var plan Plan
		for chunk := range slices.Chunk(bytes, 4) {
			s := Section{Rows: int(int8(chunk[0]))}
			for _, b := range chunk[1:] {
				s.Lanes = append(s.Lanes, int(int8(b)))
			}
			plan.Sections = append(plan.Sections, s)
		}
		if splice > 0 {
			plan.Splices = []int{int(splice)}
		}
		if Check(p, priced(p, plan)) != nil {
			return
		}
		labels := map[int]int{}
		for _, s := range plan.Sections {
			for _, i := range s.Lanes {
				labels[i] += s.Rows
			}
		}
		if labels[0] < 10 || labels[1] < 20 {
			t.Fatalf("accepted a plan that is short: %+v", plan)
		}
	})
}
