package nest

import "math"

// The spare lanes of a box (see spare.go): at most K·L less the number of
// versions that must run have a second lane or more; the others are singles, and
// the sorted singles lie side by side in the sorted sections. In a box l ≤ x ≤ u
// with prices μ of lanes, a single section k with singles from version i on is as
// long as l_k and as the first of them needs, a version of several lanes costs
// what its best cover of several lanes costs, and section k pays μ_k back for
// every lane without a single. The dynamic programme over sections, versions and
// spare lanes is above the Lagrangian, which sees the waste of every version by
// itself.
//
// The order of singles needs what a version of several lanes costs to rise no
// quicker than a single's waste where versions get smaller, and to fall no
// quicker than its shortage: otherwise the costs are lowered until that holds.

const (
	// severalKinds is how many numbers of spare lanes of a version are told
	// apart.
	severalKinds = 3
	// singlesCells is the size beyond which the dynamic programme would take
	// longer than the covers that it saves.
	singlesCells = 1 << 18
)

// boxSingles are the versions of a box search as the dynamic programme sees
// them, the largest first.
type boxSingles struct {
	d, barrier []int
	demand     []int // of each version: its place among the distinct demands
	wasteRates
	spare int

	cost   []float64 // scratch: of several lanes, by version and kind
	wasted []float64 // scratch: of groups, by number of singles
	least  []float64 // scratch: of the next section
	before []float64
}

// newBoxSingles is nil where there is nothing to gain.
func newBoxSingles(b *boxSearch) *boxSingles {
	s := &boxSingles{wasteRates: wasteRates{over: 1, under: math.Inf(1)}}
	barrier := math.MaxInt
	for i := range b.demand {
		d := &b.demand[i]
		if d.flat || len(s.d) > 0 && d.peak > s.d[len(s.d)-1] {
			return nil
		}
		if d.optional() {
			continue
		}
		s.lower(d, func(difference float64) float64 { return b.rate(difference, d) })
		barrier = min(barrier, d.fewest)
		for range b.times[i] {
			s.d = append(s.d, d.peak)
			s.barrier = append(s.barrier, max(barrier, b.least))
			s.demand = append(s.demand, i)
		}
	}
	s.spare = b.sections*b.lanes - len(s.d)
	if len(s.d) == 0 || s.spare < 0 || s.spare > 2*len(s.d) || s.over <= 0 ||
		b.sections*len(s.d)*(s.spare+1)*b.lanes > singlesCells {
		return nil
	}
	return s
}

// rate gives a multiple of the grain that is not above the true difference of
// two excesses.
func (b *boxSearch) rate(difference float64, d *demand) float64 {
	if d.whole() {
		return difference // a whole number
	}
	return math.Floor(difference/b.grain-1) * b.grain
}

// several fills the costs of several lanes from the covers that are left, which
// are priced.
func (s *boxSingles) several(b *boxSearch, mu []float64, high int) {
	n := len(s.d)
	if len(s.cost) == 0 {
		s.cost = make([]float64, n*severalKinds)
	}
	cheapest := float64(high) // of another lane; where the price is below 0 none fits
	for _, m := range mu {
		if m >= 0 {
			cheapest = math.Min(cheapest, m)
		}
	}
	for v, i := range s.demand {
		cost := s.cost[v*severalKinds : (v+1)*severalKinds]
		if v > 0 && s.demand[v-1] == i {
			copy(cost, s.cost[(v-1)*severalKinds:])
			continue
		}
		for e := range cost {
			cost[e] = math.Inf(1)
		}
		for c := b.from[i]; c < b.from[i+1]; c++ {
			lanes, price := b.lanesOf(c), b.priced[c]
			for e := max(0, min(lanes-2, severalKinds-1)); e < severalKinds; e++ {
				cost[e] = math.Min(cost[e], price+cheapest*float64(max(0, e+2-lanes)))
			}
		}
	}
	for v := 1; v < n; v++ {
		step := s.over * float64(s.d[v-1]-s.d[v])
		for e := range severalKinds {
			at := v*severalKinds + e
			s.cost[at] = math.Min(s.cost[at], s.cost[at-severalKinds]+step)
		}
	}
	if math.IsInf(s.under, 1) {
		return
	}
	for v := n - 2; v >= 0; v-- {
		step := s.under * float64(s.d[v]-s.d[v+1])
		for e := range severalKinds {
			at := v*severalKinds + e
			s.cost[at] = math.Min(s.cost[at], s.cost[at+severalKinds]+step)
		}
	}
}

// group fills what m singles from version i on waste in a section of low to
// high frames, and returns how many fit.
func (s *boxSingles) group(b *boxSearch, i, low, high int) int {
	n := len(s.d)
	low = max(low, s.barrier[i])
	if low > high {
		return 0
	}
	most := min(b.lanes, n-i)
	try := func(x int, first bool) {
		waste := 0.0
		for m := 1; m <= most; m++ {
			waste += s.wasteAt(x, s.d[i+m-1])
			if first || waste < s.wasted[m] {
				s.wasted[m] = waste
			}
		}
	}
	try(low, true)
	for j := i; j < i+most && s.d[j] > low; j++ {
		if j == i || s.d[j] < s.d[j-1] {
			try(min(s.d[j], high), false)
		}
	}
	return most
}

// value is a bound on the waste in a box under its prices μ. The covers of the
// box are listed and priced.
func (s *boxSingles) value(b *boxSearch, box *box) float64 {
	mu := box.mu[:b.sections]
	s.several(b, mu, box.high)
	n, width := len(s.d), s.spare+1
	if len(s.least) == 0 {
		s.wasted = make([]float64, b.lanes+1)
		s.least, s.before = make([]float64, (n+1)*width), make([]float64, (n+1)*width)
	}
	for i := n; i >= 0; i-- { // no section is left: several lanes each
		row := s.least[i*width : (i+1)*width]
		for t := range row {
			row[t] = 0
			if i < n {
				row[t] = math.Inf(1)
			}
		}
		s.give(i, row)
	}
	for k := b.sections - 1; k >= 0; k-- {
		s.least, s.before = s.before, s.least
		empty := mu[k] * float64(b.lanes)
		for i := n; i >= 0; i-- {
			row := s.least[i*width : (i+1)*width]
			for t, after := range s.before[i*width:][:width] {
				row[t] = after - empty
			}
			if i == n {
				continue
			}
			s.give(i, row)
			for m := s.group(b, i, box.l[k], box.u[k]); m > 0; m-- {
				c := s.wasted[m] - mu[k]*float64(b.lanes-m)
				for t, after := range s.before[(i+m)*width:][:width] {
					if c+after < row[t] {
						row[t] = c + after
					}
				}
			}
		}
	}
	b.steps += b.sections * n * width * (2 + b.lanes) / 8
	return s.least[s.spare]
}

// give lets version i have several lanes where that is cheaper.
func (s *boxSingles) give(i int, row []float64) {
	if i == len(s.d) {
		return
	}
	next := s.least[(i+1)*len(row):][:len(row)]
	for e, c := range s.cost[i*severalKinds : (i+1)*severalKinds] {
		for t := e + 1; t < len(row); t++ {
			if v := c + next[t-e-1]; v < row[t] {
				row[t] = v
			}
		}
	}
}
