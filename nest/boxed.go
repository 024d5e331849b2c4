package nest

import (
	"math"
	"sort"
)

// boxed is a problem, or what is left of it beside some sections, as the box
// search sees it: one demand a version. It knows lanes, lengths, labels and
// lane starts; of the other rules only those that a version keeps by itself.
type boxed struct {
	in       *instance
	demands  []demand
	versions []int   // of each demand
	base     float64 // rows: the least cost of all versions, their web included
	labels   float64 // rows: the least of their labels and lane starts
	peak     int     // units: Σ peak
	plain    bool    // cost is rows and nothing else
}

// newBox is what is left where 'before' labels of every version are printed;
// nil is none.
func (in *instance) newBox(before []int) *boxed {
	b := &boxed{in: in, plain: true}
	for v := 0; v < in.count; v++ {
		n := 0
		if before != nil {
			n = before[v]
		}
		d := in.demandOf(v, n)
		b.base += d.base
		b.labels += d.leastLabels()
		if d.useful > 0 {
			b.demands = append(b.demands, d)
			b.versions = append(b.versions, v)
			b.peak += d.peak
			b.plain = b.plain && d.whole()
		}
	}
	order := make([]int, len(b.demands))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return b.demands[order[i]].larger(&b.demands[order[j]]) })
	demands, versions := make([]demand, len(order)), make([]int, len(order))
	for i, j := range order {
		demands[i], versions[i] = b.demands[j], b.versions[j]
	}
	b.demands, b.versions = demands, versions
	return b
}

// least is a bound on what the sections can cost beside their number, in rows.
func (b *boxed) least() float64 {
	if b.plain {
		L := b.in.lanes
		return float64((b.peak + L - 1) / L * b.in.frame)
	}
	return b.base
}

// onePiece says that some version must stay in one section.
func (b *boxed) onePiece() bool {
	for i := range b.demands {
		if b.demands[i].onePiece {
			return true
		}
	}
	return false
}

// ask whether so many sections can do it at no more than 'cost' rows of web,
// labels and lane starts. ok is false where the question is too large.
func (b *boxed) ask(sections int, cost float64) (s *boxSearch, ok bool) {
	in := b.in
	L, frame := in.lanes, float64(in.frame)
	high := int(math.Floor((cost-b.labels)/frame + 1e-9))
	low := high
	budget, noise := float64(L*high-b.peak), 0.0
	if !b.plain {
		scale := float64(L) / frame
		budget = (cost - b.base) * scale
		noise = 1e-14 * scale * (math.Abs(cost) + math.Abs(b.base) + float64(high)*frame)
		low = b.fewestFrames(budget + noise)
	}
	return newBoxSearch(b.demands, L, sections, low, high, in.least/in.frame, budget, noise)
}

// askLess is the same question at less cost, from where it stands.
func (b *boxed) askLess(from *boxSearch, cost float64) *boxSearch {
	s, _ := b.ask(from.sections, cost) // not larger than it was
	s.inherit(from, b.plain)
	return s
}

// fewestFrames is how few frames may be enough where no more than the budget
// is spent on printing less than the cheapest number.
func (b *boxed) fewestFrames(budget float64) int {
	type saving struct {
		units int
		each  float64
	}
	var savings []saving
	for i := range b.demands {
		d := &b.demands[i]
		switch {
		case !math.IsInf(d.skip, 1):
			savings = append(savings, saving{d.peak, 0})
		case d.peak > d.fewest: // convex: no unit less is cheaper than the first
			savings = append(savings, saving{d.peak - d.fewest, d.excess(d.peak-1, 1)})
		}
	}
	sort.Slice(savings, func(i, j int) bool { return savings[i].each < savings[j].each })
	units := b.peak
	for _, s := range savings {
		n := s.units
		if s.each > 0 {
			n = min(n, int(budget/s.each))
		}
		units -= n
		budget -= float64(n) * s.each
	}
	return (units + b.in.lanes - 1) / b.in.lanes
}

// draft turns the answer of a search into a draft.
func (b *boxed) draft(s *boxSearch) *draft {
	in := b.in
	L, K := in.lanes, s.sections
	d := &draft{lanes: make([]int16, K*L)}
	for i := range d.lanes {
		d.lanes[i] = int16(in.count)
	}
	at := make([]int, K)
	for k, x := range s.found {
		d.rows = append(d.rows, x*in.frame)
		at[k] = k * L
	}
	next := 0
	for i := range s.demand {
		for j := 0; j < s.times[i]; j++ {
			v := b.versions[next]
			next++
			for k := 0; k < K; k++ {
				for n := s.counts[i][j*K+k]; n > 0; n-- {
					d.lanes[at[k]] = int16(v)
					at[k]++
				}
			}
		}
	}
	return d
}

// rest is what the answer of a search costs beside its sections, as the box
// search counts: at most what was asked for.
func (b *boxed) rest(s *boxSearch, asked float64) float64 {
	if b.plain {
		return asked
	}
	return math.Min(asked, b.base+s.wasted*float64(b.in.frame)/float64(b.in.lanes))
}
