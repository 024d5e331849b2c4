package nest

import (
	"math"
	"sort"
)

// The bound by spare lanes. K sections have K·L lanes. With one for every
// version that must run, s are to spare, so at most s versions have two lanes or
// more; every other is a single: printed in one lane of one section, which is
// as long as it needs, and what the section is longer is waste. Since the lengths
// of K sections cannot suit all singles, that is most of what a plan must waste
// where lanes are few, and just what the linear programme of bound.go does not
// see: a fraction of a section for every quantity.
//
// Sort the versions by their cheapest number of units d. Whatever the lengths,
// sorted singles lie best in sorted sections (their waste grows with x - d at one
// rate above and at another below), so that the singles of a section stand side
// by side in the order, and a dynamic programme over versions, sections and spare
// lanes finds the least waste of the singles.
//
// The other lanes must be of use, too. For lengths x_k with m_k singles, any t and
// the units q_v that a version of several lanes prints,
//
//	Σ_k (L - m_k) max(0, x_k - t) ≤ Σ_v max(0, q_v - t) + idle lanes
//
// (its lanes, each less t, are no more than their sum less t), and q_v above d_v
// is waste. So with μ(x) = Σ_t ω_t max(0, x - t), ω ≥ 0, Σω ≤ the rate at which
// units above d are wasted, every plan wastes at least
//
//	Σ_singles waste + Σ_k (L - m_k) μ(x_k) - Σ_others μ(d_v),
//
// and the dynamic programme minimises that as well. It proposes its own ω by
// subgradients; any ω gives a bound. (The argument is ours; the order of singles
// is the exchange argument for convex costs of a difference.)
type spareBound struct {
	box     *boxed
	lanes   int
	most    int   // singles of a section
	d       []int // versions that must run, the largest first
	fewest  []int // units that each needs
	barrier []int // a length that a single of each needs; never rises along the order
	fillers []int // d of the versions that need not run
	wasteRates
	levels []float64
	work   int // cells looked at

	spans [][]span // by version, see spansOf

	// Of the multipliers in hand: Σ ω and Σ ω·t of the levels up to each.
	slope, base []float64

	// Scratch: the least value and its choice for [sections left][version]
	// [spare lanes left]; a choice is the singles of the section that begins
	// there, 0 a version of several lanes.
	least  []float64
	choice []int16
}

const (
	spareRounds = 100
	// spareCells is about what one number of sections may take, and cellsOfUnit
	// what takes as long as a million annealing moves.
	spareCells  = 30_000_000
	cellsOfUnit = 100_000_000
	// sparePatience is how many rounds may bring nothing before the steps get
	// shorter.
	sparePatience = 5
	// spareLanes is up to how many lanes of a version are told apart.
	spareLanes = 16
	// spareMost keeps the arithmetic of lanes small.
	spareMost = 1 << 30
)

// newSpareBound is nil where the method says nothing: where labels in excess
// are paid for like ordered ones.
func newSpareBound(b *boxed) *spareBound {
	s := &spareBound{box: b, lanes: b.in.lanes, most: b.in.lanes, wasteRates: wasteRates{over: 1, under: math.Inf(1)}}
	if r := b.in.rules; r != nil && r.versionsPerSection > 0 {
		s.most = min(s.most, r.versionsPerSection)
	}
	s.levels = []float64{0}
	longest := math.MaxInt
	for i := range b.demands {
		d := &b.demands[i]
		if d.flat {
			return nil
		}
		s.lower(d, func(difference float64) float64 { return difference * (1 - 1e-9) })
		if d.optional() {
			s.fillers = append(s.fillers, d.peak)
			continue
		}
		if t := float64(d.peak); t != s.levels[len(s.levels)-1] {
			s.levels = append(s.levels, t)
		}
		longest = min(longest, d.fewest)
		s.d = append(s.d, d.peak)
		s.fewest = append(s.fewest, d.fewest)
		s.barrier = append(s.barrier, max(longest, b.in.least/b.in.frame))
	}
	if len(s.d) == 0 || s.over <= 0 {
		return nil
	}
	sort.Float64s(s.levels)
	for i := range len(s.d) + 1 {
		s.spans = append(s.spans, s.spansOf(i))
	}
	return s
}

// rest is a bound, in rows, on what a plan with so many sections costs beside
// them; there is no use in more than 'enough'. Infinite where the lanes are not
// enough.
func (s *spareBound) rest(sections int, enough float64) float64 {
	n := len(s.d)
	if sections < (n+s.lanes-1)/s.lanes {
		return math.Inf(1)
	}
	spare := min(sections*s.lanes-n, spareMost)
	sections = min(sections, n+1) // no more have a single, and one may be the longest
	in := s.box.in
	scale := float64(s.lanes) / float64(in.frame)
	waste := 0.0
	if (sections+1)*(n+1)*(min(spare, n)+1) <= spareCells/(2+s.most) {
		waste = s.waste(sections, spare, (enough-s.box.base)*scale)
	}
	if s.box.plain {
		rows := (float64(s.box.peak) + waste) / float64(s.lanes) // in frames
		return math.Ceil(rows*(1-1e-12)-1e-6) * float64(in.frame)
	}
	rest := s.box.base + waste/scale
	return rest - 1e-9*(1+math.Abs(rest))
}

// sparePlan is what the dynamic programme chose: sections with their length and
// number of singles, and the versions of several lanes.
type sparePlan struct {
	lengths, singles []int
	several          []bool
}

// waste in units; it stops at 'enough'. The multipliers follow subgradients
// with some inertia, and go back to the best ones so far, with shorter steps,
// when nothing gets better.
func (s *spareBound) waste(sections, spare int, enough float64) float64 {
	n := len(s.levels)
	omega, best, direction := make([]float64, n), make([]float64, n), make([]float64, n)
	high, step, idle := 0.0, 1.0, 0
	start := s.work
	for round := 0; round < spareRounds && high < enough && s.work-start < spareCells; round++ {
		value, plan := s.solve(sections, spare, omega)
		if math.IsInf(value, 1) {
			return value
		}
		if value > high+1e-9*(1+high) || round == 0 {
			high, idle = math.Max(high, value), 0
			copy(best, omega)
		} else if idle++; idle > sparePatience {
			step, idle = step*0.7, 0
			copy(omega, best)
			continue
		}
		norm := 0.0
		for i, g := range s.gradient(plan) {
			if g < 0 && omega[i] == 0 {
				g = 0
			}
			direction[i] = 0.7*direction[i] + 0.3*g
			norm += direction[i] * direction[i]
		}
		if norm == 0 {
			break
		}
		length := step * (math.Min(enough, 2*value+float64(s.d[0])) - value) / norm
		sum := 0.0
		for i, g := range direction {
			omega[i] = math.Max(0, omega[i]+length*g)
			sum += omega[i]
		}
		for i := range omega {
			omega[i] *= math.Min(1, s.over/sum)
		}
	}
	return high
}

// gradient is how the value of a plan changes with the multipliers.
func (s *spareBound) gradient(plan sparePlan) []float64 {
	out := make([]float64, len(s.levels))
	add := func(times, x int) {
		for i, t := range s.levels {
			if t >= float64(x) {
				break
			}
			out[i] += float64(times) * (float64(x) - t)
		}
	}
	for k, x := range plan.lengths {
		add(s.lanes-plan.singles[k], x)
	}
	for v, several := range plan.several {
		if several {
			add(-1, s.d[v])
		}
	}
	for _, d := range s.fillers {
		add(-1, d)
	}
	return out
}

// tabulate sums multipliers so that price has them at hand.
func (s *spareBound) tabulate(omega []float64) {
	s.slope, s.base = append(s.slope[:0], 0), append(s.base[:0], 0)
	for i, t := range s.levels {
		s.slope = append(s.slope, s.slope[i]+omega[i])
		s.base = append(s.base, s.base[i]+omega[i]*t)
	}
}

// price is μ of a length.
func (s *spareBound) price(x int) float64 {
	i := sort.SearchFloat64s(s.levels, float64(x))
	return s.slope[i]*float64(x) - s.base[i]
}

// groups is, for m singles from version i on side by side in one section, what
// they waste and the other lanes of the section cost, and its length.
func (s *spareBound) groups() (cost []float64, length []int) {
	n, L := len(s.d), s.lanes
	cost, length = make([]float64, n*(L+1)), make([]int, n*(L+1))
	try := func(i, x int) {
		s.work += s.most
		price, waste := s.price(x), 0.0
		for m := 1; m <= s.most && i+m <= n; m++ {
			waste += s.wasteAt(x, s.d[i+m-1])
			if c, at := waste+float64(L-m)*price, i*(L+1)+m; length[at] == 0 || c < cost[at] {
				cost[at], length[at] = c, x
			}
		}
	}
	for i := range s.d {
		// The cost is convex in the length: its least is at a kink, or where
		// the barrier is.
		try(i, s.barrier[i])
		for j := i; j < n && s.d[j] > s.barrier[i]; j++ {
			if j == i || s.d[j] < s.d[j-1] {
				try(i, s.d[j])
			}
		}
	}
	return cost, length
}

// span is a range of lengths, both ends included.
type span struct{ low, high int }

// spansOf a version are the ranges of the longest section in which version i,
// but not the one before, may be a single, cut where one of those before needs a
// lane less.
func (s *spareBound) spansOf(i int) []span {
	n := len(s.d)
	low, high := 1, math.MaxInt
	if i < n {
		low = s.barrier[i]
	}
	if i > 0 {
		high = s.barrier[i-1] - 1
	}
	cuts := []int{low}
	for v := 0; v < i; v++ {
		for j := 2; j <= spareLanes; j++ {
			if x := (s.fewest[v] + j - 1) / j; x > low && x <= high {
				cuts = append(cuts, x)
			}
		}
	}
	sort.Ints(cuts)
	var out []span
	for c, x := range cuts {
		end := high
		if c+1 < len(cuts) {
			end = cuts[c+1] - 1
		}
		if x <= end {
			out = append(out, span{x, end})
		}
	}
	return out
}

// solve finds the least value for the multipliers, in units.
func (s *spareBound) solve(sections, spare int, omega []float64) (float64, sparePlan) {
	s.tabulate(omega)
	g := &spareTable{bound: s, sections: sections, spare: spare, width: min(spare, len(s.d)) + 1}
	g.cost, g.length = s.groups()
	for _, d := range s.d {
		g.gain = append(g.gain, s.price(d))
	}
	g.fill()
	value, plan := g.best()
	for _, d := range s.fillers {
		value -= s.price(d)
	}
	return value, plan
}

// spareTable is the dynamic programme for one set of multipliers.
type spareTable struct {
	bound           *spareBound
	sections, spare int
	width           int       // spare lanes that are told apart, and one
	cost            []float64 // of groups, by first version and number
	length          []int     // of groups
	gain            []float64 // of versions of several lanes
}

// at is the place in the table for so many sections left and the versions from
// i on, with no spare lane left.
func (g *spareTable) at(sections, i int) int {
	return (sections*(len(g.gain)+1) + i) * g.width
}

func (g *spareTable) fill() {
	s, n, L := g.bound, len(g.gain), g.bound.lanes
	if size := g.at(g.sections+1, 0); len(s.least) != size {
		s.least, s.choice = make([]float64, size), make([]int16, size)
	}
	for k := 0; k <= g.sections; k++ {
		for end, t := g.at(k, n), 0; t < g.width; t++ {
			s.least[end+t] = 0
		}
		for i := n - 1; i >= 0; i-- {
			at := g.at(k, i)
			row, take := s.least[at:at+g.width], s.choice[at:at+g.width]
			row[0], take[0] = math.Inf(1), 0
			for t, c := range s.least[at+g.width : at+2*g.width-1] {
				row[t+1], take[t+1] = c-g.gain[i], 0
			}
			s.work += g.width
			if k == 0 {
				continue
			}
			for m := 1; m <= s.most && i+m <= n; m++ {
				c := g.cost[i*(L+1)+m]
				for t, after := range s.least[g.at(k-1, i+m):][:g.width] {
					if c+after < row[t] {
						row[t], take[t] = c+after, int16(m)
					}
				}
			}
			s.work += min(s.most, n-i) * g.width
		}
	}
}

// best tries every length of the longest section. Where it is too short for a
// single of a version, that version and all before have several lanes: so many
// that such sections do.
func (g *spareTable) best() (float64, sparePlan) {
	s, n, L := g.bound, len(g.gain), g.bound.lanes
	value, first, from, left := math.Inf(1), sparePlan{}, 0, 0
	gains := 0.0 // of the versions with several lanes before the first single
	for i := 0; i <= n; i++ {
		if i > 0 {
			gains += g.gain[i-1]
		}
		for _, span := range s.spans[i] {
			t := g.spare
			for v := 0; v < i && t >= 0; v++ {
				t -= max(2, (s.fewest[v]+span.high-1)/span.high) - 1
			}
			if t = min(t, g.width-1); t < 0 {
				continue
			}
			// The longest section has no single, or some from version j on.
			price, before := s.price(span.low), gains
			if c := float64(L)*price + s.least[g.at(g.sections-1, i)+t] - before; c < value {
				value, from, left = c, i, t
				first = sparePlan{lengths: []int{span.low}, singles: []int{0}}
			}
			for j := i; j < n && t >= 0; j, t = j+1, t-1 {
				waste := 0.0
				for m := 1; m <= s.most && j+m <= n; m++ {
					waste += s.over * float64(span.low-s.d[j+m-1])
					c, x := waste+float64(L-m)*price, span.low
					if at := j*(L+1) + m; g.cost[at] > c {
						c, x = g.cost[at], g.length[at]
					}
					if c += s.least[g.at(g.sections-1, j+m)+t] - before; c < value {
						value, from, left = c, j+m, t
						first = sparePlan{lengths: []int{x}, singles: []int{m}}
					}
				}
				before += g.gain[j]
			}
		}
	}
	if math.IsInf(value, 1) {
		return value, first
	}
	return value, g.trace(first, from, left)
}

// trace reads the rest of a plan whose longest section is known off the table.
func (g *spareTable) trace(plan sparePlan, from, left int) sparePlan {
	n := len(g.gain)
	plan.several = make([]bool, n)
	for v := range from - plan.singles[0] {
		plan.several[v] = true
	}
	for i, k, t := from, g.sections-1, left; i < n; {
		m := int(g.bound.choice[g.at(k, i)+t])
		if m == 0 {
			plan.several[i] = true
			i, t = i+1, t-1
			continue
		}
		plan.lengths = append(plan.lengths, g.length[i*(g.bound.lanes+1)+m])
		plan.singles = append(plan.singles, m)
		i, k = i+m, k-1
	}
	return plan
}
