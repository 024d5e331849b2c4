package nest

import (
	"context"
	"sort"
)

// reanneal takes a few sections out of a plan and plans what they printed
// anew, by a short warm annealing that starts from what they were. It
// returns a cheaper draft or nil.
func (in *instance) reanneal(ctx context.Context, d *draft, rng *random, moves int) *draft {
	spare := 0
	if in.exact == 0 && (in.atMost == 0 || len(d.rows) < in.atMost) {
		spare = 1
	}
	s := newState(in, len(d.rows)+spare)
	s.load(d)
	size := 2 + rng.below(3)
	if rng.below(3) == 0 {
		size = 2 + rng.below(9)
	}
	active := in.relatives(d, rng, size)
	out := append([]int(nil), s.printed...)
	L := in.lanes
	for _, k := range active {
		for _, v := range s.lane[k*L : k*L+L] {
			out[v] -= s.x[k]
		}
	}
	var candidates []int16
	for v := 0; v < in.count; v++ {
		if out[v] < in.need[v] || in.priced && out[v] < in.quantity[v] {
			candidates = append(candidates, int16(v))
		}
	}
	if len(candidates) == 0 {
		return nil
	}
	if spare == 1 {
		active = append(active, len(d.rows))
	}
	hot := 0.002 * float64(int(1)<<rng.below(4))
	found := s.anneal(ctx, annealing{moves: moves, hot: hot, cold: 0.0004, phiStart: 0.7, active: active, rng: rng, candidates: candidates})
	if found == nil {
		return nil
	}
	in.finish(found)
	if in.less(found, d) {
		return found
	}
	return nil
}

// relatives draws sections that have versions in common with a first one
// drawn at random, and random ones where there are not enough.
func (in *instance) relatives(d *draft, rng *random, size int) []int {
	K, L := len(d.rows), in.lanes
	size = min(size, K)
	first := rng.below(K)
	chosen := []int{first}
	taken := make([]bool, K)
	taken[first] = true
	for len(chosen) < size {
		k := rng.below(K)
		if taken[k] {
			continue
		}
		if rng.below(3) > 0 { // prefer one that shares a version
			for try := 0; try < 4; try++ {
				j := rng.below(K)
				if !taken[j] && in.share(d.lanes[j*L:j*L+L], d.lanes[chosen[rng.below(len(chosen))]*L:][:L]) {
					k = j
					break
				}
			}
		}
		taken[k] = true
		chosen = append(chosen, k)
	}
	sort.Ints(chosen)
	return chosen
}

func (in *instance) share(a, b []int16) bool {
	for _, v := range a {
		if int(v) < in.count && indexOf(b, v) >= 0 {
			return true
		}
	}
	return false
}

// rebox takes a few sections out and asks the box search for a cheaper way
// to print what they printed: fewer rows, or one section less or more. For
// loose problems; it returns a cheaper draft or nil, and the steps spent.
func (in *instance) rebox(d *draft, rng *random, steps int) (*draft, int) {
	K, L := len(d.rows), in.lanes
	size := min(K, 2+rng.below(min(5, boxSections-3)))
	chosen := in.relatives(d, rng, size)
	isChosen := make([]bool, K)
	rows := 0
	for _, k := range chosen {
		isChosen[k] = true
		rows += d.rows[k]
	}
	left := append([]int(nil), in.need[:in.count]...)
	rest := &draft{}
	for k, x := range d.rows {
		if isChosen[k] {
			continue
		}
		for _, v := range d.lanes[k*L : k*L+L] {
			if int(v) < in.count {
				left[v] -= x
			}
		}
		rest.rows = append(rest.rows, x)
		rest.lanes = append(rest.lanes, d.lanes[k*L:k*L+L]...)
	}
	// Rows that a section is worth, and what may be saved.
	sections, target := len(chosen), rows-in.frame
	floor := 0
	for _, n := range left {
		floor += max(0, n)
	}
	floor = in.roundUp((floor + L - 1) / L)
	if in.exact == 0 && in.row > 0 {
		worth := int(in.section)
		switch rng.below(4) {
		case 0:
			if sections > 1 {
				sections, target = sections-1, rows+worth-1
			}
		case 1:
			if (in.atMost == 0 || K < in.atMost) && rows-worth-1 >= floor {
				sections, target = sections+1, rows-worth-1
			}
		}
	}
	if target < floor {
		return nil, 0
	}
	if rng.below(3) == 0 && target > floor {
		target = floor + rng.below(target-floor+1)
	}
	found, spent := in.boxDraft(left, sections, target, steps)
	if found == nil {
		return nil, spent
	}
	found.rows = append(found.rows, rest.rows...)
	found.lanes = append(found.lanes, rest.lanes...)
	in.finish(found)
	if in.less(found, d) {
		return found, spent
	}
	return nil, spent
}

// boxDraft asks the box search for 'sections' sections of at most 'rows' rows
// that print 'left' labels of every version.
func (in *instance) boxDraft(left []int, sections, rows, steps int) (*draft, int) {
	b, versions, ok := in.newBox(left, sections, rows)
	if !ok {
		return nil, 0
	}
	if b.run(steps) != feasible {
		return nil, b.steps
	}
	return in.fromBox(b, versions), b.steps
}

// newBox asks in frames instead of rows. versions lists which version each
// demand is, in the order in which the search sorts them.
func (in *instance) newBox(left []int, sections, rows int) (b *boxSearch, versions []int, ok bool) {
	demands := make([]int, 0, len(left))
	for v, n := range left {
		if n > 0 {
			demands = append(demands, (n+in.frame-1)/in.frame)
			versions = append(versions, v)
		}
	}
	sort.SliceStable(versions, func(i, j int) bool { return left[versions[i]] > left[versions[j]] })
	b, ok = newBoxSearch(demands, in.lanes, sections, rows/in.frame, in.least/in.frame)
	return b, versions, ok
}

// fromBox turns the answer of a box search into a draft.
func (in *instance) fromBox(b *boxSearch, versions []int) *draft {
	L, K := in.lanes, b.sections
	d := &draft{lanes: make([]int16, K*L)}
	for i := range d.lanes {
		d.lanes[i] = int16(in.count)
	}
	at := make([]int, K)
	for k, x := range b.found {
		d.rows = append(d.rows, x*in.frame)
		at[k] = k * L
	}
	next := 0
	for i := range b.demand {
		for j := 0; j < b.times[i]; j++ {
			v := versions[next]
			next++
			for k := 0; k < K; k++ {
				for n := b.counts[i][j*K+k]; n > 0; n-- {
					d.lanes[at[k]] = int16(v)
					at[k]++
				}
			}
		}
	}
	return d
}
