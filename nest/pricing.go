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
// the cuts, each from 0.
type multipliers struct{ pi, rho []float64 }

// between is the point that weights a and m.
func (m multipliers) between(weight float64, a multipliers) multipliers {
	mix := func(a, b []float64) []float64 {
		out := make([]float64, len(b))
		for i := range b {
			out[i] = weight*a[i] + (1-weight)*b[i]
		}
		return out
	}
	return multipliers{mix(a.pi, m.pi), mix(a.rho, m.rho)}
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
	at    multipliers
	order []int // versions that may gain, those that may gain most first
	most  []float64
	hull  []float64 // scratch: the largest marginals of the hulls
	gains []float64 // scratch: of one version, by its lanes
	best  []float64 // scratch of the knapsack
	take  []int8
}

func (b *bounder) newPricer(at multipliers) *columnPricer {
	p := &columnPricer{b: b, at: at, most: make([]float64, len(at.pi))}
	for v, pi := range at.pi {
		p.most[v] = pi*float64(b.target[v]) + b.cutPrice(v, at)
		if p.most[v] > 0 {
			p.order = append(p.order, v)
		}
	}
	sort.SliceStable(p.order, func(i, j int) bool { return p.most[p.order[i]] > p.most[p.order[j]] })
	return p
}

// fillGains sets gains to those of 0, 1, … lanes of version v in a section of
// x rows, as far as a further lane may add to them.
func (p *columnPricer) fillGains(v, x int) {
	p.gains = append(p.gains[:0], 0)
	enough := max(p.b.target[v], p.b.in.need[v])
	for j := 1; j <= p.b.most[v] && (j-1)*x < enough; j++ {
		p.gains = append(p.gains, p.b.gain(v, j, x, p.at))
	}
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
	total := p.b.in.row * float64(x)
	for _, g := range p.hull {
		total -= g
	}
	return total
}

// exact is the value of the best column of length x, and its lanes.
func (p *columnPricer) exact(x int) (float64, []int) {
	L := p.b.in.lanes
	p.best = append(p.best[:0], make([]float64, L+1)...)
	p.take = append(p.take[:0], make([]int8, len(p.order)*(L+1))...)
	for i, v := range p.order {
		take := p.take[i*(L+1) : (i+1)*(L+1)]
		p.fillGains(v, x)
		for l := L; l > 0; l-- {
			for j := 1; j < len(p.gains) && j <= l; j++ {
				if g := p.best[l-j] + p.gains[j]; g > p.best[l] {
					p.best[l], take[l] = g, int8(j)
				}
			}
		}
	}
	lanes := make([]int, len(p.at.pi))
	for i, l := len(p.order)-1, L; i >= 0; i-- {
		j := int(p.take[i*(L+1)+l])
		lanes[p.order[i]] = j
		l -= j
	}
	return p.b.in.row*float64(x) - p.best[L], lanes
}

// price finds the least value of a column, row·x - Σ gains, under the
// multipliers 'at'. Of the best columns of the lengths that it looked at it
// also returns those, at most 'want' and new, that are below 'limit' under the
// multipliers 'judge'.
func (b *bounder) price(at, judge multipliers, limit float64, want int) (least float64, found []column) {
	type candidate struct {
		x     int
		value float64
		lanes []int
	}
	p := b.newPricer(at)
	all := make([]candidate, 0, len(b.lengths))
	for _, x := range b.lengths {
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
		judged := b.in.row * float64(c.x)
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
		if col, fresh := b.column(c.x, c.lanes); fresh {
			found = append(found, col)
		}
	}
	return least, found
}
