package nest

import (
	"math"
	"sort"
)

// instance is a Problem compiled for the search: usable lanes only, versions
// as flat arrays, money counted in rows (money / Costs.Row) so that one row
// always weighs 1.
type instance struct {
	p     *Problem
	lanes int   // usable lanes
	lane  []int // usable lane -> index in Section.Lanes
	count int   // versions; index count stands for an empty lane

	need     []int // fewest labels, with a last entry 0 for the empty lane
	quantity []int
	most     []int

	rowMoney float64 // money of one row; 1 where rows are free
	row      float64 // 1, or 0 where rows are free
	section  float64 // in rows
	laneRun  float64

	frame, least   int  // rows of a section: a multiple of frame, at least least
	exact, atMost  int  // sections; 0 is free
	priced         bool // labels carry money of their own
	price          []pricing
	rules          *rules // nil where the problem is plain
	needed, target int    // Σ need, rows that it takes at least
}

// pricing is the money of one version's labels, in rows.
type pricing struct {
	label, short, over, elsewhere float64
	filler                        bool
}

// rules are the constraints that the plain search does not know; each is
// empty or zero where the problem does not have it.
type rules struct {
	versionsPerSection   int
	leastLanes, mostLane []int
	allowed              []bool // [lane*versions+version], nil where any lane will do
	onePiece             []bool
	together             [][]int
	apart                []bool // [a*versions+b], nil where none
	rush                 []bool
	hasRush              bool
	deadline             []float64 // minutes, +Inf without
	hasDeadline          bool
	perRoll              []int
	requireRolls         bool
	rollSaving           float64 // in rows
	weight               float64 // of one violation, in rows
	positional           bool    // lanes matter: allowed or apart is set
}

// fewest is the least number of labels of v that a plan may print.
func (v *Version) fewest() int {
	if v.Fewest > 0 {
		return v.Fewest
	}
	return v.Quantity
}

func compile(p *Problem) *instance {
	in := &instance{p: p, count: len(p.Versions), row: 1, rowMoney: p.Costs.Row}
	closed := make([]bool, p.Lanes+1)
	for _, c := range p.Closed {
		closed[c] = true
	}
	for l := 0; l < p.Lanes; l++ {
		if !closed[l+1] {
			in.lane = append(in.lane, l)
		}
	}
	in.lanes = len(in.lane)
	if in.rowMoney <= 0 {
		in.rowMoney, in.row = 1, 0
	}
	in.section = p.Costs.Section / in.rowMoney
	in.laneRun = p.Costs.LaneRun / in.rowMoney
	in.frame = max(1, p.Limits.Frame)
	in.least = in.roundUp(max(1, p.Limits.LeastRows))
	in.exact, in.atMost = p.Limits.Sections, p.Limits.MostSections
	if in.exact > 0 {
		in.atMost = in.exact
	}
	for i := range p.Versions {
		v := &p.Versions[i]
		in.need = append(in.need, v.fewest())
		in.quantity = append(in.quantity, v.Quantity)
		most := v.Most
		if most == 0 {
			most = math.MaxInt / 4
		}
		in.most = append(in.most, most)
		in.price = append(in.price, pricing{v.LabelCost / in.rowMoney, v.ShortCost / in.rowMoney,
			v.OverPrice / in.rowMoney, v.ElsewhereCost / in.rowMoney, v.Filler})
		if v.LabelCost != 0 || v.ShortCost != 0 || v.OverPrice != 0 || v.Filler {
			in.priced = true
		}
		if !v.Filler {
			in.needed += v.fewest()
		}
	}
	in.need, in.quantity, in.most = append(in.need, 0), append(in.quantity, 0), append(in.most, math.MaxInt/4)
	in.price = append(in.price, pricing{})
	in.target = (in.needed + in.lanes - 1) / in.lanes
	in.rules = compileRules(in)
	return in
}

func compileRules(in *instance) *rules {
	p, n := in.p, in.count
	r := &rules{versionsPerSection: p.Limits.VersionsPerSection, together: p.Together,
		requireRolls: p.Limits.WholeRolls, rollSaving: p.Costs.WholeRollSaving / in.rowMoney}
	any := r.versionsPerSection > 0 || len(p.Together) > 0 || r.requireRolls || r.rollSaving > 0 || in.laneRun > 0
	r.leastLanes, r.mostLane = make([]int, n+1), make([]int, n+1)
	r.onePiece, r.rush = make([]bool, n+1), make([]bool, n+1)
	r.deadline, r.perRoll = make([]float64, n+1), make([]int, n+1)
	r.mostLane[n], r.deadline[n] = in.lanes, math.Inf(1)
	for i := range p.Versions {
		v := &p.Versions[i]
		r.leastLanes[i], r.mostLane[i] = v.LeastLanes, v.MostLanes
		if v.MostLanes == 0 {
			r.mostLane[i] = in.lanes
		}
		r.onePiece[i], r.rush[i], r.perRoll[i] = v.OnePiece, v.Rush, v.LabelsPerRoll
		r.deadline[i] = v.Deadline
		if v.Deadline == 0 {
			r.deadline[i] = math.Inf(1)
		}
		r.hasRush = r.hasRush || v.Rush
		r.hasDeadline = r.hasDeadline || v.Deadline > 0
		any = any || v.LeastLanes > 1 || v.MostLanes > 0 || v.OnePiece || v.Rush || v.Deadline > 0 || len(v.OnlyLanes) > 0
		if len(v.OnlyLanes) > 0 && r.allowed == nil {
			r.allowed = make([]bool, in.lanes*(n+1))
			for j := range r.allowed {
				r.allowed[j] = true
			}
		}
	}
	for i := range p.Versions {
		if only := p.Versions[i].OnlyLanes; len(only) > 0 {
			places := 0
			for l, die := range in.lane {
				may := containsInt(only, die+1)
				r.allowed[l*(n+1)+i] = may
				if may {
					places++
				}
			}
			r.mostLane[i] = min(r.mostLane[i], places)
		}
	}
	for _, set := range p.Apart {
		any = true
		if r.apart == nil {
			r.apart = make([]bool, (n+1)*(n+1))
		}
		for _, a := range set {
			for _, b := range set {
				if a != b {
					r.apart[a*(n+1)+b] = true
				}
			}
		}
	}
	if !any {
		return nil
	}
	r.positional = r.allowed != nil || r.apart != nil
	r.weight = math.Max(in.section, float64(in.target)/8)
	r.weight = math.Max(r.weight, 4)
	return r
}

func containsInt(list []int, x int) bool {
	for _, y := range list {
		if x == y {
			return true
		}
	}
	return false
}

// roundUp gives the least length of whole frames that is not below rows.
func (in *instance) roundUp(rows int) int {
	if in.frame <= 1 {
		return rows
	}
	return (rows + in.frame - 1) / in.frame * in.frame
}

// length gives the least allowed length of a section that is not below rows.
func (in *instance) length(rows int) int {
	return max(in.least, in.roundUp(rows))
}

// labels is what p printed labels of version v cost beside the web, in rows;
// a label short of need costs phi.
func (in *instance) labels(v, p int, phi float64) float64 {
	if !in.priced {
		if short := in.need[v] - p; short > 0 {
			return phi * float64(short)
		}
		return 0
	}
	return in.pricedLabels(v, p, phi)
}

func (in *instance) pricedLabels(v, p int, phi float64) float64 {
	c := &in.price[v]
	if p == 0 && c.filler {
		return c.elsewhere
	}
	if short := in.need[v] - p; short > 0 {
		// A missing label is dearer than the row that would print it.
		return c.labels(in.need[v], in.quantity[v], in.most[v]) + phi*float64(short)
	}
	return c.labels(p, in.quantity[v], in.most[v])
}

// labels is what p labels cost, of which the customer ordered quantity and
// pays at most 'most'.
func (c *pricing) labels(p, quantity, most int) float64 {
	cost := c.label * float64(p)
	if p < quantity {
		cost += c.short * float64(quantity-p)
	} else if c.over > 0 {
		cost -= c.over * float64(min(p, most)-quantity)
	}
	return cost
}

// draft is a plan while it is searched: usable lanes only, in running order.
type draft struct {
	rows  []int
	lanes []int16 // len(rows) × instance.lanes; instance.count is empty
	cost  float64 // in rows, without Fixed; +Inf where a rule is broken
}

func (d *draft) clone() *draft {
	return &draft{rows: append([]int(nil), d.rows...), lanes: append([]int16(nil), d.lanes...), cost: d.cost}
}

// less is the written rule by which one of two plans wins: cost, then fewer
// sections, then fewer labels, then the first difference in rows and lanes.
func (in *instance) less(a, b *draft) bool {
	if b == nil {
		return a != nil
	}
	if math.Abs(a.cost-b.cost) > 1e-9*(1+math.Abs(b.cost)) || math.IsInf(b.cost, 1) {
		return a.cost < b.cost
	}
	if len(a.rows) != len(b.rows) {
		return len(a.rows) < len(b.rows)
	}
	if x, y := in.printed(a), in.printed(b); x != y {
		return x < y
	}
	for k := range a.rows {
		if a.rows[k] != b.rows[k] {
			return a.rows[k] > b.rows[k]
		}
	}
	for i := range a.lanes {
		if a.lanes[i] != b.lanes[i] {
			return a.lanes[i] < b.lanes[i]
		}
	}
	return false
}

func (in *instance) printed(d *draft) int {
	n := 0
	for i, v := range d.lanes {
		if int(v) != in.count {
			n += d.rows[i/in.lanes]
		}
	}
	return n
}

// sortSections puts the longest section first and versions in index order
// within a section: one form for plans that differ only by symmetry.
func (in *instance) sortSections(d *draft) {
	L := in.lanes
	order := make([]int, len(d.rows))
	for k := range order {
		order[k] = k
		lane := d.lanes[k*L : k*L+L]
		sort.Slice(lane, func(i, j int) bool { return lane[i] < lane[j] })
	}
	sort.SliceStable(order, func(i, j int) bool {
		a, b := order[i], order[j]
		if d.rows[a] != d.rows[b] {
			return d.rows[a] > d.rows[b]
		}
		for l := 0; l < L; l++ {
			if x, y := d.lanes[a*L+l], d.lanes[b*L+l]; x != y {
				return x < y
			}
		}
		return false
	})
	rows, lanes := make([]int, len(d.rows)), make([]int16, len(d.lanes))
	for i, k := range order {
		rows[i] = d.rows[k]
		copy(lanes[i*L:i*L+L], d.lanes[k*L:k*L+L])
	}
	d.rows, d.lanes = rows, lanes
}
