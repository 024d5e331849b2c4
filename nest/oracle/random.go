package oracle

import (
	"math/rand/v2"

	"laneplan/nest"
)

// Plain draws a tiny problem with demands, costs and a limit on the sections,
// and no other rule. Money is in quarters, so that sums of it are exact.
func Plain(rng *rand.Rand) nest.Problem {
	p := nest.Problem{
		Lanes: 1 + rng.IntN(MostLanes),
		Costs: nest.Costs{Row: quarters(rng, 1, 8), Section: []float64{0, 0.25, 1, 2.5, 6, 20}[rng.IntN(6)]},
	}
	for i := range 1 + rng.IntN(MostVersions) {
		p.Versions = append(p.Versions, nest.Version{ID: string(rune('A' + i)), Quantity: 1 + rng.IntN(12)})
	}
	if rng.IntN(3) == 0 {
		p.Costs.LaneRun = quarters(rng, 0, 8)
	}
	switch rng.IntN(3) {
	case 0:
		p.Limits.Sections = 1 + rng.IntN(MostSections)
	default:
		p.Limits.MostSections = 1 + rng.IntN(MostSections)
	}
	return p
}

// Constrained draws a tiny problem like Plain and adds rules: each of the
// shop's rules about one time in six, one problem in ten with no cap on the
// sections. Some problems have no plan at all.
func Constrained(rng *rand.Rand) nest.Problem {
	p := Plain(rng)
	if rng.IntN(10) == 0 {
		p.Limits = nest.Limits{}
		p.Costs.Section = 50 // so that a fourth section cannot pay
	}
	one := func() bool { return rng.IntN(6) == 0 }
	if p.Lanes > 1 && one() {
		p.Closed = []int{1 + rng.IntN(p.Lanes)}
	}
	if one() {
		p.Costs.Fixed = quarters(rng, 0, 20) - 2.5
	}
	if one() {
		p.Limits.VersionsPerSection = 1 + rng.IntN(2)
	}
	if one() {
		p.Limits.Frame = 2 + rng.IntN(2)
	}
	if one() {
		p.Limits.LeastRows = 1 + rng.IntN(6)
	}
	if n := len(p.Versions); n > 1 {
		if one() {
			p.Together = [][]int{pair(rng, n)}
		}
		if one() {
			p.Apart = [][]int{pair(rng, n)}
		}
	}
	for i := range p.Versions {
		demandRules(rng, &p.Versions[i], one)
		laneRules(rng, &p, i, one)
	}
	timeRules(rng, &p, one)
	rollRules(rng, &p, one)
	return p
}

func demandRules(rng *rand.Rand, v *nest.Version, one func() bool) {
	if one() {
		v.Fewest = max(v.Quantity-rng.IntN(4), 1)
		v.ShortCost = quarters(rng, 0, 4)
	}
	if one() {
		v.Most = v.Quantity + rng.IntN(4)
		v.OverPrice = quarters(rng, 0, 4)
	}
	if one() {
		v.LabelCost = quarters(rng, 0, 2)
	}
	if one() {
		v.Filler = true
		v.ElsewhereCost = quarters(rng, 0, 40)
	}
}

func laneRules(rng *rand.Rand, p *nest.Problem, i int, one func() bool) {
	v := &p.Versions[i]
	if one() {
		v.LeastLanes = 1 + rng.IntN(p.Lanes)
	}
	if one() {
		v.MostLanes = max(v.LeastLanes, 1+rng.IntN(p.Lanes))
	}
	if one() {
		v.OnlyLanes = rng.Perm(p.Lanes)[:1+rng.IntN(p.Lanes)]
		for j := range v.OnlyLanes {
			v.OnlyLanes[j]++
		}
	}
	v.OnePiece = one()
	v.Rush = one()
}

// timeRules adds deadlines of which some bind.
func timeRules(rng *rand.Rand, p *nest.Problem, one func() bool) {
	if !one() {
		return
	}
	p.Press = nest.Press{SetupMinutes: float64(rng.IntN(4)), RowMinutes: quarters(rng, 1, 4), ChangeoverMinutes: float64(rng.IntN(4))}
	for i := range p.Versions {
		if rng.IntN(2) == 0 {
			p.Versions[i].Deadline = 2 + float64(rng.IntN(20))
		}
	}
}

// rollRules adds customer rolls and parent rolls.
func rollRules(rng *rand.Rand, p *nest.Problem, one func() bool) {
	if one() {
		for i := range p.Versions {
			if rng.IntN(4) > 0 {
				p.Versions[i].LabelsPerRoll = 2 + rng.IntN(3)
			}
		}
		p.Limits.WholeRolls = rng.IntN(2) == 0
		if rng.IntN(2) == 0 {
			p.Costs.WholeRollSaving = p.Costs.Section / 2
		}
	}
	if one() {
		p.Stock = nest.Stock{
			RollRows:       4 + quarters(rng, 0, 40),
			SetupRows:      quarters(rng, 0, 8),
			ChangeoverRows: quarters(rng, 0, 8),
			SpliceCost:     quarters(rng, 0, 12),
			SpliceRows:     quarters(rng, 0, 4),
		}
		for i := range p.Versions {
			if v := &p.Versions[i]; rng.IntN(2) == 0 {
				v.MostSplices = []int{-1, 1, 2}[rng.IntN(3)]
				v.LabelsPerRoll = max(v.LabelsPerRoll, 2+rng.IntN(5))
			}
		}
	}
}

// quarters draws least/4, …, most/4.
func quarters(rng *rand.Rand, least, most int) float64 {
	return float64(least+rng.IntN(most-least+1)) / 4
}

func pair(rng *rand.Rand, n int) []int { return rng.Perm(n)[:2] }
