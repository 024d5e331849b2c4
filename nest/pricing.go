package nest

import (
	"math"
	"sort"
)

// The best column of the configuration bound under given multipliers, and the
// rows that cut it (their reason is told in bound.go).

// shareCut is the row Σ g(y) ≥ 1 of one version for one m.
type shareCut struct{ v, m int }

// share is g of so many labels.
func (c shareCut) share(labels, fewest int) float64 {
	switch {
	case labels >= fewest:
		return 1
	case labels == 0:
		return 0
	}
	return float64((c.m-1)*labels/fewest+1) / float64(c.m)
}

// multipliers are a proposal of the linear programme: of the demands and of
// the cuts, each from 0, and of a node's limits on lengths, from 0 where there is
// no upper one.
type multipliers struct{ pi, rho, tau []float64 }

// between is the point that weights a and m.
func (m multipliers) between(weight float64, a multipliers) multipliers {
	mix := func(a, b []float64) []float64 {
		out := make([]float64, len(b))
		for i := range b {
			out[i] = weight*a[i] + (1-weight)*b[i]
		}
		return out
	}
	return multipliers{mix(a.pi, m.pi), mix(a.rho, m.rho), mix(a.tau, m.tau)}
}

// shareCuts are the m for which shares are cut.
var shareCuts = [...]int{2, 3}

// gain of j lanes of version v in a section of x rows.
func (b *bounder) gain(v, j, x int, at multipliers) float64 {
	gain := at.pi[v] * float64(min(j*x, b.target[v]))
	for _, c := range b.cutsOf[v] {
		if at.rho[c] > 0 {
			gain += at.rho[c] * b.cuts[c].share(j*x, b.in.need[v])
		}
	}
	return gain
}

// bonus is what a column of length x earns from the limits of a node.
func (n *lengthNode) bonus(x int, at multipliers) float64 {
	sum := 0.0
	for i := range n.limits {
		if x >= n.limits[i].from {
			sum += at.tau[i]
		}
	}
	return sum
}

// cutPrice is Σ ρ of a version's cuts.
func (b *bounder) cutPrice(v int, at multipliers) float64 {
	sum := 0.0
	for _, c := range b.cutsOf[v] {
		sum += at.rho[c]
	}
	return sum
}

// columnPricer prices columns: the knapsacks of one set of multipliers.
type columnPricer struct {
	b     *bounder
	n     *lengthNode
	at    multipliers
	order []int   // versions that may gain, those that may gain most first
	sets  [][]int // those that run together, or alone, where one of them may gain
	most  []float64
	hull  []float64 // scratch: the largest marginals of the hulls
	gains []float64 // scratch: of one version, by its lanes
	best  []float64 // scratch of the knapsack
	take  []int16
}

func (b *bounder) newPricer(n *lengthNode, at multipliers) *columnPricer {
	p := &columnPricer{b: b, n: n, at: at, most: make([]float64, len(at.pi))}
	for v, pi := range at.pi {
		p.most[v] = pi*float64(b.target[v]) + b.cutPrice(v, at)
		if p.most[v] > 0 {
			p.order = append(p.order, v)
		}
	}
	sort.SliceStable(p.order, func(i, j int) bool { return p.most[p.order[i]] > p.most[p.order[j]] })
	seen := make([]bool, len(b.setOf))
	for _, v := range p.order {
		if set := b.setOf[v]; !seen[set[0]] {
			seen[set[0]] = true
			p.sets = append(p.sets, set)
		}
	}
	return p
}

// fillGains sets gains to those of 0, 1, … lanes of version v in a section of
// x rows, as far as a further lane may add to them; -Inf where there must be more.
func (p *columnPricer) fillGains(v, x int) {
	p.gains = append(p.gains[:0], 0)
	enough, least := max(p.b.target[v], p.b.in.need[v]), p.b.fewestLanes[v]
	for j := 1; j <= p.b.most[v] && (j <= least || (j-1)*x < enough); j++ {
		gain := math.Inf(-1)
		if j >= least {
			gain = p.b.gain(v, j, x, p.at)
		}
		p.gains = append(p.gains, gain)
	}
}

// together is what versions that run together gain by their lanes in all, each
// with one at least, and how many of them each but the first has.
func (p *columnPricer) together(set []int, x int) (gains []float64, lanes [][]int16) {
	L := p.b.in.lanes
	for i, v := range set {
		p.fillGains(v, x)
		if i == 0 {
			gains = append([]float64(nil), p.gains...)
			gains[0] = math.Inf(-1)
			lanes = append(lanes, nil)
			continue
		}
		sum, take := make([]float64, L+1), make([]int16, L+1)
		for l := range sum {
			sum[l] = math.Inf(-1)
			for j := 1; j < len(p.gains) && j <= l; j++ {
				if l-j < len(gains) && gains[l-j]+p.gains[j] > sum[l] {
					sum[l], take[l] = gains[l-j]+p.gains[j], int16(j)
				}
			}
		}
		gains, lanes = sum, append(lanes, take)
	}
	return gains, lanes
}

// relaxed is a value that no column of length x is below: the L largest
// marginals of the concave hulls.
func (p *columnPricer) relaxed(x int) float64 {
	L := p.b.in.lanes
	p.hull = p.hull[:0]
	for _, v := range p.order {
		if len(p.hull) == L && p.most[v] <= p.hull[L-1] {
			break // the order says that no later version has more
		}
		p.fillGains(v, x)
		for from := 0; from+1 < len(p.gains); {
			slope, to := 0.0, 0
			for j := from + 1; j < len(p.gains); j++ {
				if s := (p.gains[j] - p.gains[from]) / float64(j-from); s >= slope {
					slope, to = s, j
				}
			}
			if to == 0 || len(p.hull) == L && slope <= p.hull[L-1] {
				break
			}
			for ; from < to; from++ {
				i := len(p.hull)
				if i < L {
					p.hull = append(p.hull, 0)
				} else {
					i = L - 1
					if slope <= p.hull[i] {
						from = to
						break
					}
				}
				for ; i > 0 && p.hull[i-1] < slope; i-- {
					p.hull[i] = p.hull[i-1]
				}
				p.hull[i] = slope
			}
		}
	}
	total := p.b.in.row*float64(x) - p.n.bonus(x, p.at)
	for _, g := range p.hull {
		total -= g
	}
	return total
}

// exact is the value of the best column of length x, and its lanes: a knapsack
// over lanes and, where a section holds so many versions at most, over those.
func (p *columnPricer) exact(x int) (float64, []int) {
	L, N := p.b.in.lanes, p.b.versions
	width := (N + 1) * (L + 1)
	p.best = append(p.best[:0], make([]float64, width)...)
	p.take = append(p.take[:0], make([]int16, len(p.sets)*width)...)
	weight := func(set []int) int {
		if N == 0 {
			return 0
		}
		return len(set)
	}
	for i, set := range p.sets {
		take, w := p.take[i*width:(i+1)*width], weight(set)
		var gains []float64
		if len(set) > 1 {
			gains, _ = p.together(set, x)
		} else {
			p.fillGains(set[0], x)
			gains = p.gains
		}
		for n := N; n >= w; n-- {
			for l := L; l > 0; l-- {
				at := n*(L+1) + l
				for j := 1; j < len(gains) && j <= l; j++ {
					if g := p.best[at-w*(L+1)-j] + gains[j]; g > p.best[at] {
						p.best[at], take[at] = g, int16(j)
					}
				}
			}
		}
	}
	lanes := make([]int, len(p.at.pi))
	for i, at := len(p.sets)-1, width-1; i >= 0; i-- {
		set, j := p.sets[i], int(p.take[i*width+at])
		if j == 0 {
			continue
		}
		at -= weight(set)*(L+1) + j
		if len(set) > 1 {
			_, split := p.together(set, x)
			for m := len(set) - 1; m > 0; m-- {
				lanes[set[m]] = int(split[m][j])
				j -= lanes[set[m]]
			}
		}
		lanes[set[0]] = j
	}
	return p.b.in.row*float64(x) - p.n.bonus(x, p.at) - p.best[width-1], lanes
}

// price finds the least value of a column of a node, row·x - Σ gains, under the
// multipliers 'at'. Of the best columns of the lengths that it looked at it
// also returns those, at most 'want' and new, that are below 'limit' under the
// multipliers 'judge'.
func (b *bounder) price(n *lengthNode, at, judge multipliers, limit float64, want int) (least float64, found []*column) {
	type candidate struct {
		x     int
		value float64
		lanes []int
	}
	p := b.newPricer(n, at)
	lengths := b.lengthsOf(n)
	all := make([]candidate, 0, len(lengths))
	for _, x := range lengths {
		all = append(all, candidate{x: x, value: p.relaxed(x)})
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].value < all[j].value })
	least = math.Inf(1)
	var below []candidate
	for i, c := range all {
		if c.value >= least && (c.value >= limit || i >= 4*want) {
			break
		}
		value, lanes := p.exact(c.x)
		least = math.Min(least, value)
		judged := b.in.row*float64(c.x) - n.bonus(c.x, judge)
		for v, j := range lanes {
			if j > 0 {
				judged -= b.gain(v, j, c.x, judge)
			}
		}
		if judged < limit {
			below = append(below, candidate{c.x, judged, lanes})
		}
	}
	sort.SliceStable(below, func(i, j int) bool { return below[i].value < below[j].value })
	for _, c := range below {
		if len(found) == want {
			break
		}
		if col := b.column(c.x, c.lanes); !col.there {
			found = append(found, col)
		}
	}
	return least, found
}
