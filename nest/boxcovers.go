package nest

import (
	"math"
	"slices"
)

// codeSize is how many codes a group of sections has at most. (Indices are masked
// by it to spare the checks of bounds.)
const codeSize = 64

// coverCode packs lane counts: those of a few sections are the digits of one
// code, so any sum over the sections of a cover is read from tables by its codes.
type coverCode struct {
	radix  int // of a digit: one more than the lanes of a version in a section
	group  int // sections in a code
	groups int // codes of a cover
	place  [boxSections]struct{ group, digit, weight uint8 }
	digit  [codeSize][8]uint8 // of each code
	sum    [codeSize]uint8    // of each code
}

func newCoverCode(sections, most int) *coverCode {
	p := &coverCode{radix: most + 1, group: 1}
	size := p.radix
	for ; size*p.radix <= codeSize && p.group < sections; size *= p.radix {
		p.group++
	}
	p.groups = (sections + p.group - 1) / p.group
	for k, weight := 0, 1; k < sections; k++ {
		if k%p.group == 0 {
			weight = 1
		}
		p.place[k].group, p.place[k].digit, p.place[k].weight = uint8(k/p.group), uint8(k%p.group), uint8(weight)
		weight *= p.radix
	}
	for code := range size {
		for rest, j := code, 0; j < p.group; j++ {
			p.digit[code][j] = uint8(rest % p.radix)
			p.sum[code] += uint8(rest % p.radix)
			rest /= p.radix
		}
	}
	return p
}

// coverList holds the covers of a box, those of each demand side by side.
type coverList struct {
	*coverCode
	limit []int // units that each demand can have within the whole budget

	codes  []uint8
	waste  []float64
	priced []float64 // waste and lanes at the prices of the box
	from   []int     // first cover of each demand, and the end
	low    []float64 // least waste of each demand
	cheap  []float64 // least priced of each demand
	fewest []int     // least units that a cover of each demand prints
	walk   coverWalk

	value  float64 // the Lagrangian at the prices of the box
	prices table[float64]

	spareWaste, sparePrice float64 // of the budget, over the least and the priced wastes
	rows                   rowTables
}

// newCoverList makes the list for sections of up to 'high' frames in all.
func (b *boxSearch) newCoverList(high int) coverList {
	most := 1
	var list coverList
	for i := range b.demand {
		most = max(most, b.demand[i].cap)
		list.limit = append(list.limit, b.within(&b.demand[i], high*b.lanes*b.sections))
	}
	list.coverCode = newCoverCode(b.sections, most)
	return list
}

// empty is such a list with nothing in it.
func (list *coverList) empty() coverList {
	return coverList{coverCode: list.coverCode, limit: list.limit}
}

// within is how many units a demand can have, up to most, before their excess
// alone is beyond the budget.
func (b *boxSearch) within(d *demand, most int) int {
	if d.whole() {
		return min(most, d.peak+int(b.budget))
	}
	low, high := d.peak, most+1 // excess rises from the peak on
	for low+1 < high {
		if p := low + (high-low)/2; b.round(d.excess(p, 1), d) <= b.budget {
			low = p
		} else {
			high = p
		}
	}
	return max(low, d.peak)
}

// count of lanes that cover c has in section k.
func (list *coverList) count(c, k int) int {
	place := &list.place[k]
	code := list.codes[c*list.groups+int(place.group)]
	return int(list.digit[code&(codeSize-1)][place.digit&7])
}

// lanesOf is how many lanes cover c has.
func (list *coverList) lanesOf(c int) int {
	lanes := 0
	for _, code := range list.codes[c*list.groups : (c+1)*list.groups] {
		lanes += int(list.sum[code&(codeSize-1)])
	}
	return lanes
}

// table gives a sum over the sections of a cover by its codes.
type table[T int | float64] [boxSections][codeSize]T

// fill makes the table of Σ over k: none[k] where there is no lane, first[k] for
// the first lane and more[k] for each other.
func fill[T int | float64](b *boxSearch, t *table[T], none, first, more *[boxSections]T) {
	for g, k := 0, 0; k < b.sections; g++ {
		t[g][0] = 0
		size := 1
		for range min(b.group, b.sections-k) {
			for a := b.radix - 1; a >= 0; a-- {
				value := none[k]
				if a > 0 {
					value = first[k] + T(a-1)*more[k]
				}
				for i := range size {
					t[g][a*size+i] = t[g][i] + value
				}
			}
			size *= b.radix
			k++
		}
	}
}

// of is the sum for the codes of a cover.
func (t *table[T]) of(codes []uint8) T {
	sum := T(0)
	for g, code := range codes {
		sum += t[g][code&(codeSize-1)]
	}
	return sum
}

// list lists the covers of every demand that are worth having, and what each
// wastes at least in the box; those that waste more than the budget are left
// out. It returns the least waste of all; ok is false where that is beyond the
// budget, also where there is no cover.
func (b *boxSearch) list(n *box) (least float64, ok bool) {
	b.codes, b.waste = b.codes[:0], b.waste[:0]
	b.from, b.low, b.fewest = b.from[:0], b.low[:0], b.fewest[:0]
	b.walk.begin(b, n)
	for i := range b.demand {
		b.from = append(b.from, len(b.waste))
		b.fewest = append(b.fewest, math.MaxInt)
		b.listCovers(n, i)
		b.low = append(b.low, lowest(b.waste[b.from[i]:]))
		least += b.low[i] * float64(b.times[i])
		if least > b.budget {
			return least, false
		}
	}
	b.from = append(b.from, len(b.waste))
	b.priced = slices.Grow(b.priced[:0], len(b.waste))[:len(b.waste)]
	return least, true
}

// lowest of some wastes; +Inf where there is none.
func lowest(wastes []float64) float64 {
	low := math.Inf(1)
	for _, w := range wastes {
		if w < low {
			low = w
		}
	}
	return low
}

// coverWalk is the cover that is being built, section by section.
type coverWalk struct {
	*coverCode
	box        *box
	d          *demand
	limit      int // units
	cover      [boxSections]uint8
	code       [boxSections]uint8
	later      [boxSections + 1]int // units that the sections from k on can print
	sumL, sumU [boxSections + 1]int // of the sections from k on
}

func (w *coverWalk) begin(b *boxSearch, n *box) {
	w.coverCode, w.box = b.coverCode, n
	for k := b.sections - 1; k >= 0; k-- {
		w.sumL[k], w.sumU[k] = w.sumL[k+1]+n.l[k], w.sumU[k+1]+n.u[k]
	}
}

func (w *coverWalk) set(k, a int) {
	place := &w.place[k]
	w.code[place.group] += uint8(a-int(w.cover[k])) * place.weight
	w.cover[k] = uint8(a)
}

// listCovers lists the covers of demand i.
func (b *boxSearch) listCovers(n *box, i int) {
	d := &b.demand[i]
	w := &b.walk
	w.d, w.limit = d, b.limit[i]
	if skip := b.round(d.skip, d); skip <= b.budget {
		b.add(skip, 0)
	}
	if d.onePiece {
		for k, u := range n.u[:b.sections] {
			for a := min(d.cap, (d.useful+u-1)/u); a > 0 && a*u >= d.fewest; a-- {
				w.set(k, a)
				b.steps++
				b.weigh(k, a*n.l[k], a*u, n.low-n.l[k]-w.sumU[0]+n.u[k], n.u[k]+w.sumL[0]-n.l[k]-n.high)
			}
			w.set(k, 0)
		}
		return
	}
	for k := b.sections - 1; k >= 0; k-- {
		w.later[k] = w.later[k+1] + n.u[k]*d.cap
	}
	b.extend(0, d.useful, 0, n.low, -n.high)
}

// extend lists the covers that begin with the first k sections as they are:
// 'left' is what they do not print at u, 'least' what they print at l. Where s
// are those of them with lanes and r the rest, 'slack' is the least Σx less Σ_s l
// and Σ_r u, and 'over' is Σ_s u and Σ_r l less the most.
func (b *boxSearch) extend(k, left, least, slack, over int) {
	b.steps++
	w := &b.walk
	n, d := w.box, w.d
	l, u := n.l[k], n.u[k]
	a := (left + u - 1) / u
	if a <= d.cap {
		if least+a*l <= w.limit {
			w.set(k, a)
			b.weigh(k, least+a*l, d.useful-left+a*u, slack-l-w.sumU[k+1], over+u+w.sumL[k+1])
		}
		a--
	} else {
		a = d.cap
	}
	// Later sections are no longer than this one, so 'left' must stay
	// within what they can print.
	rest := d.useful - d.fewest + w.later[k+1]
	for ; a >= 0 && left-a*u <= rest; a-- {
		if least+a*l > w.limit {
			continue
		}
		w.set(k, a)
		slack, over := slack-l, over+u
		if a == 0 {
			slack, over = slack+l-u, over-u+l
		}
		if k+1 < b.sections {
			b.extend(k+1, left-a*u, least+a*l, slack, over)
		} else {
			b.weigh(k, least+a*l, d.useful-left+a*u, slack, over)
		}
	}
	w.set(k, 0)
}

// weigh adds the cover with what it wastes: it prints 'least' units at l and
// 'reach' at u, and 'slack' and 'over' are as above for all sections.
func (b *boxSearch) weigh(k, least, reach, slack, over int) {
	if waste := b.round(b.leastWaste(k, least, reach, slack, over), b.walk.d); waste <= b.budget {
		b.add(waste, least)
	}
}

func (b *boxSearch) add(waste float64, least int) {
	i := len(b.fewest) - 1
	b.fewest[i] = min(b.fewest[i], least)
	b.codes = append(b.codes, b.walk.code[:b.groups]...)
	b.waste = append(b.waste, waste)
}

// round gives a multiple of the grain that is not above the true excess.
func (b *boxSearch) round(excess float64, d *demand) float64 {
	if d.whole() {
		return max(0, excess) // a whole number
	}
	return math.Max(0, math.Floor(excess/b.grain-0.5)*b.grain)
}

// leastWaste is the least excess that the cover, which has lanes up to section
// k, can have in the box.
func (b *boxSearch) leastWaste(k, least, reach, slack, over int) float64 {
	w := &b.walk
	d := w.d
	if least == 0 { // no lanes: sections have frames
		if d.fewest > 0 {
			return math.Inf(1)
		}
		return d.excess(0, 1)
	}
	widest := uint8(1)
	if d.start != 0 {
		for _, a := range w.cover[:k+1] {
			widest = max(widest, a)
		}
	}
	// What is left of Σx goes to the sections with the fewest lanes first,
	// and what is too much is taken from them.
	if slack > 0 {
		least += w.spread(k, slack)
	}
	if least >= d.peak {
		return d.excess(least, int(widest))
	}
	if reach >= d.peak {
		// A cover with more lanes may contain this one: the limits of Σx
		// must not cut what it can reach.
		return d.excess(d.peak, int(widest))
	}
	if over > 0 {
		reach -= w.spread(k, over)
	}
	if reach < d.fewest {
		return math.Inf(1)
	}
	return d.excess(reach, int(widest))
}

// spread is the least that so many frames count in the lanes of the cover,
// where each section that has some has room for u - l.
func (w *coverWalk) spread(last, frames int) int {
	// Sections come in no order of a, and K is small: select the least again
	// and again.
	total := 0
	var done uint32
	for frames > 0 {
		k := -1
		for j, a := range w.cover[:last+1] {
			if a > 0 && done&(1<<j) == 0 && (k < 0 || a < w.cover[k]) {
				k = j
			}
		}
		if k < 0 {
			break
		}
		done |= 1 << k
		room := min(frames, w.box.u[k]-w.box.l[k])
		total += int(w.cover[k]) * room
		frames -= room
	}
	return total
}
