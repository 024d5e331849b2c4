package nest

import "math"

// Every cover a that a version may have, listed or containing a listed one, keeps
//
//	d ≤ a·x ≤ d + s   and so   Σ - (d + s) ≤ (1 - a)·x ≤ Σ - d,
//
// d being its fewest units and d + s the most, by what the budget leaves the
// version where all others waste the least (for labels that cost money, by the
// whole budget). A version that need not run keeps none of it.
// Each of the four rows narrows the sides of the box; what all covers of a
// version leave out is cut off. The upper row holds with the lanes of the
// listed cover; the lower one with those and as many more as s leaves room for.

// rows are the four rows of a cover in a box: how far it can move from where they
// hold best until each is broken.
type rows struct {
	toMost, toLeast     int // of a·x, to d + s and to d
	restLeast, restMost int // of (1 - a)·x
}

// rowTables give the least and the most a·x and (1 - a)·x for the codes of a cover.
type rowTables struct{ least, most, restLeast, restMost table[int] }

// tabulate makes them for a box.
func (b *boxSearch) tabulate(n *box) {
	var none, minusL, minusU [boxSections]int
	for k := range b.sections {
		minusL[k], minusU[k] = -n.l[k], -n.u[k]
	}
	fill(b, &b.rows.least, &none, &n.l, &n.l)
	fill(b, &b.rows.most, &none, &n.u, &n.u)
	fill(b, &b.rows.restLeast, &n.l, &none, &minusU)
	fill(b, &b.rows.restMost, &n.u, &none, &minusL)
}

// rowsOf gives the rows of cover c of demand i; ok is false where the box holds
// no point that keeps them.
func (b *boxSearch) rowsOf(n *box, i, c int) (r rows, ok bool) {
	G := b.groups
	codes := b.codes[c*G : c*G+G]
	d := &b.demand[i]
	waste := min(b.spareWaste+b.low[i], b.sparePrice+b.cheap[i]-b.priced[c]+b.waste[c])
	most := b.atMost(i, waste)
	r.toMost = most - b.rows.least.of(codes)
	r.restLeast = b.rows.restMost.of(codes) - (n.low - most)
	if r.toMost < 0 || r.restLeast < 0 {
		return r, false
	}
	r.toLeast = b.rows.most.of(codes) - d.fewest
	r.restMost = n.high - d.fewest - b.rows.restLeast.of(codes)
	for k := b.sections - 1; k >= 0 && n.l[k] <= r.toMost; k-- {
		a := b.count(c, k)
		if more := r.more(n, d, k, a); more > a {
			r.toLeast += (more - a) * n.u[k]
			if a == 0 {
				r.restMost += n.l[k] - n.u[k]
			}
			r.restMost += (more - a) * n.u[k]
		}
	}
	return r, r.toLeast >= 0 && r.restMost >= 0
}

// more is how many lanes of section k a cover can have that contains one with a.
// Both the rows and the sides that they narrow go by it.
func (r *rows) more(n *box, d *demand, k, a int) int {
	return min(d.cap, a+r.toMost/n.l[k])
}

// side narrows side k of a box by the rows of a cover that has a lanes there.
func (r *rows) side(n *box, d *demand, k, a int) (low, high int) {
	low, high = n.l[k], n.u[k]
	switch {
	case a == 0:
		low = max(low, n.u[k]-r.restLeast)
	case a == 1:
		high = min(high, n.l[k]+r.toMost)
	default:
		high = min(high, n.l[k]+min(r.toMost/a, r.restLeast/(a-1)))
	}
	switch a = r.more(n, d, k, a); a {
	case 0:
		high = min(high, n.l[k]+r.restMost)
	case 1:
		low = max(low, n.u[k]-r.toLeast)
	default:
		low = max(low, n.u[k]-min(r.toLeast/a, r.restMost/(a-1)))
	}
	return low, high
}

// tighten drops the covers that have no point in the box and narrows it to what
// is left; true where that is nothing. The covers are listed and priced.
func (b *boxSearch) tighten(n *box) bool {
	least := 0.0
	for i := range b.demand {
		b.low[i] = lowest(b.waste[b.from[i]:b.from[i+1]]) // some were dropped
		least += b.low[i] * float64(b.times[i])
	}
	b.spareWaste, b.sparePrice = b.budget-least, b.budget-b.value
	for {
		changed, ok := b.narrow(n)
		if !ok || !changed {
			return !ok
		}
	}
}

// narrow goes through all versions once.
func (b *boxSearch) narrow(n *box) (changed, ok bool) {
	b.tabulate(n)
	b.steps += len(b.waste)
	K, to := b.sections, 0
	for i := range b.demand {
		from, end := b.from[i], b.from[i+1]
		b.from[i] = to
		optional := b.demand[i].optional()
		var low, high [boxSections]int
		for k := range K {
			low[k], high[k] = n.u[k]+1, n.l[k]-1
		}
		open := !optional // the covers do not have the whole box yet
		for c := from; c < end; c++ {
			if !optional {
				r, ok := b.rowsOf(n, i, c)
				if !ok {
					continue
				}
				if open {
					open = false
					for k := range K {
						l, u := r.side(n, &b.demand[i], k, b.count(c, k))
						low[k], high[k] = min(low[k], l), max(high[k], u)
						open = open || low[k] > n.l[k] || high[k] < n.u[k]
					}
				}
			}
			to = b.keep(c, to)
		}
		if to == b.from[i] {
			return false, false
		}
		if open {
			changed = true
			for k := range K {
				n.l[k], n.u[k] = max(n.l[k], low[k]), min(n.u[k], high[k])
			}
			if !n.propagate() { // the rows are read off sorted sections
				return false, false
			}
			b.tabulate(n)
		}
	}
	b.from[len(b.demand)] = to
	b.drop(to)
	return changed, true
}

// cutParts is in how many parts a side is looked at.
const cutParts = 16

// cut is the last length of the lower part of side k: near the middle, where
// the fewest choices of covers are left on both sides of it. The box is tightened,
// and the rows are tabulated for it.
func (b *boxSearch) cut(n *box, k int) int {
	width := n.u[k] - n.l[k] + 1
	parts := min(cutParts, width)
	var below, above [cutParts]float64 // choices left, as a part of all
	for j := range parts {
		below[j], above[j] = 1, 1
	}
	for i := range b.demand {
		var first, last [cutParts]int // covers by the first and the last part that they reach
		total := 0
		for c := b.from[i]; c < b.from[i+1]; c++ {
			low, high := n.l[k], n.u[k]
			if !b.demand[i].optional() {
				r, ok := b.rowsOf(n, i, c)
				if low, high = r.side(n, &b.demand[i], k, b.count(c, k)); !ok || low > high {
					continue
				}
			}
			total++
			first[(low-n.l[k])*parts/width]++
			last[(high-n.l[k])*parts/width]++
		}
		if total == 0 {
			continue
		}
		begun, ended := 0, 0
		for j := range parts - 1 {
			begun += first[j]
			ended += last[j]
			for range b.times[i] {
				below[j] *= math.Max(0.25, float64(begun)) / float64(total)
				above[j] *= math.Max(0.25, float64(total-ended)) / float64(total)
			}
		}
	}
	b.steps += len(b.waste)
	at, least := n.l[k]+width/2-1, math.Inf(1)
	for j := parts / 4; j < parts-1-parts/4; j++ {
		part := float64(j+1) / float64(parts)
		if work := part*below[j]*below[j] + (1-part)*above[j]*above[j]; work < least {
			at, least = n.l[k]+(j+1)*width/parts-1, work
		}
	}
	return at
}
