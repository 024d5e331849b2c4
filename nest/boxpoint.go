package nest

import "sort"

// decide answers for one point: a dynamic programme over the lanes used in
// every section, version by version.
func (b *boxSearch) decide(n *box) verdict {
	K := b.sections
	x := n.l[:K]
	if _, ok := b.list(n); !ok {
		return refuted
	}
	type item struct{ demand, from, to int }
	var items []item
	for i := range b.demand {
		for range b.times[i] {
			items = append(items, item{i, b.from[i], b.from[i+1]})
		}
	}
	// Versions with few covers first keep the states few.
	sort.SliceStable(items, func(i, j int) bool { return items[i].to-items[i].from < items[j].to-items[j].from })
	rest := make([]float64, len(items)+1) // least waste of the items from here on
	for i := len(items) - 1; i >= 0; i-- {
		rest[i] = rest[i+1] + b.low[items[i].demand]
	}
	packed := make([]uint64, len(b.waste))
	for c := range packed {
		for k := range K {
			packed[c] |= uint64(b.count(c, k)) << (6 * k)
		}
	}
	type state struct {
		used  uint64
		waste float64
		from  int32 // index in the level before
		cover int32
	}
	levels := make([][]state, len(items)+1)
	levels[0] = []state{{}}
	total := 0
	for i, it := range items {
		seen := make(map[uint64]int, len(levels[i])*2)
		var next []state
		for s, st := range levels[i] {
			for c := it.from; c < it.to; c++ {
				w := st.waste + b.waste[c]
				if w+rest[i+1] > b.budget || !b.fits(st.used, packed[c]) {
					continue
				}
				used := st.used + packed[c]
				at, known := seen[used]
				switch {
				case !known:
					seen[used] = len(next)
					next = append(next, state{used, w, int32(s), int32(c)})
				case w < next[at].waste:
					next[at] = state{used, w, int32(s), int32(c)}
				}
			}
			b.steps += 4 * (it.to - it.from)
		}
		if len(next) == 0 {
			return refuted
		}
		if total += len(next); total > b.stateLimit {
			return undecided
		}
		levels[i+1] = next
	}
	at := -1
	b.wasted = b.budget
	for s, st := range levels[len(items)] {
		for k, rows := range x { // idle lanes
			st.waste += float64(rows * (b.lanes - int(st.used>>(6*k)&63)))
		}
		if st.waste < b.wasted || at < 0 && st.waste == b.wasted {
			at, b.wasted = s, st.waste
		}
	}
	if at < 0 {
		return refuted
	}
	b.found = append([]int(nil), x...)
	b.counts = make([][]int, len(b.demand))
	for i := len(items); i > 0; i-- {
		st := levels[i][at]
		counts := make([]int, K)
		for k := range counts {
			counts[k] = b.count(int(st.cover), k)
		}
		d := items[i-1].demand
		b.counts[d] = append(b.counts[d], counts...)
		at = int(st.from)
	}
	return feasible
}

// fits says that no section holds more than its lanes. Fields are 6 bits and
// lanes at most 63, so a field may carry into the next: compare one by one.
func (b *boxSearch) fits(used, more uint64) bool {
	for k := 0; k < b.sections; k++ {
		shift := 6 * k
		if used>>shift&63+more>>shift&63 > uint64(b.lanes) {
			return false
		}
	}
	return true
}
