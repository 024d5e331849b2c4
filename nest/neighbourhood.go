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
// to print what they printed, with as many sections, one less or one more.
// Rules that the box search does not know are judged at the end. It returns a
// cheaper draft or nil, and the steps spent.
func (in *instance) rebox(d *draft, rng *random, steps int) (*draft, int) {
	K, L := len(d.rows), in.lanes
	size := min(K, 2+rng.below(min(5, boxSections-3)))
	chosen := in.relatives(d, rng, size)
	isChosen := make([]bool, K)
	rest := &draft{}
	rows, labels := 0, 0.0
	for _, k := range chosen {
		isChosen[k] = true
		rows += d.rows[k]
	}
	before, printed := make([]int, in.count), make([]int, in.count)
	for k, x := range d.rows {
		for _, v := range d.lanes[k*L : k*L+L] {
			if int(v) < in.count {
				printed[v] += x
				if !isChosen[k] {
					before[v] += x
				}
			}
		}
		if !isChosen[k] {
			rest.rows = append(rest.rows, x)
			rest.lanes = append(rest.lanes, d.lanes[k*L:k*L+L]...)
		}
	}
	for v, p := range printed {
		labels += in.labels(v, p, 1)
	}
	box := in.newBox(before)
	sections, target, floor := len(chosen), float64(rows)+labels, box.least()
	if in.exact == 0 {
		switch rng.below(4) {
		case 0:
			if sections > 1 {
				sections, target = sections-1, target+in.section
			}
		case 1:
			if in.atMost == 0 || K < in.atMost {
				sections, target = sections+1, target-in.section
			}
		}
	}
	// In rows alone the next better plan is a whole frame shorter.
	better := 1e-6 * float64(in.frame)
	if box.plain {
		better = float64(in.frame) * 0.5
	}
	if target -= better; target < floor {
		return nil, 0
	}
	if rng.below(3) == 0 {
		target = floor + rng.unit()*(target-floor)
	}
	b, ok := box.ask(sections, target)
	if !ok {
		return nil, 0
	}
	b.finding = true
	if b.run(steps) != feasible {
		return nil, b.steps
	}
	found := box.draft(b)
	found.rows = append(found.rows, rest.rows...)
	found.lanes = append(found.lanes, rest.lanes...)
	in.finish(found)
	if in.less(found, d) {
		return found, b.steps
	}
	return nil, b.steps
}
