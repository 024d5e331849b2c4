package nest

import (
	"context"
	"math"
)

// The penalised annealing. State: what every lane of every section holds, and
// the sections' lengths; a section of length 0 is not in use, so the number
// of sections need only be roughly right. It minimises, in rows,
//
//	Σ rows + section·(sections in use) + Σ labels(v) + rules
//
// where a missing label costs phi, which rises to a little over 1: there one
// row repairs one label, so the penalty is exact. Moves: another version in a
// lane (half the time one that is short), a swap between two sections, a new
// length, and pairs of these.

// annealing is how one run goes.
type annealing struct {
	strict     float64 // multiplies what short labels and broken rules cost; below 1 is 1
	moves      int
	hot, cold  float64 // temperatures as fractions of the mean length
	phiStart   float64
	active     []int // sections that may change; nil is all
	rng        *random
	candidates []int16 // versions that may be put into a lane; nil is all
}

type state struct {
	in       *instance
	sections int
	x        []int
	lane     []int16
	printed  []int // by version, the last for empty lanes
	short    []int16
	where    []int32 // position in short, -1 without
	missing  int     // Σ short labels, of versions that must run
	phi      float64
	scale    float64 // of phi
	ruleNow  float64
	psi      float64
	seen     []int // scratch
	seenAt   []int
}

func newState(in *instance, sections int) *state {
	s := &state{in: in, sections: sections, x: make([]int, sections), lane: make([]int16, sections*in.lanes),
		printed: make([]int, in.count+1), where: make([]int32, in.count+1), scale: 1, psi: 1,
		seen: make([]int, in.count+1), seenAt: make([]int, in.count+1)}
	if in.row == 0 {
		s.scale = 1 + in.section
	}
	for i := range s.lane {
		s.lane[i] = int16(in.count)
	}
	s.recount()
	return s
}

// fill gives unused sections that an exact number demands their least
// length.
func (s *state) fill() {
	for k, x := range s.x {
		if x == 0 && s.in.exact > 0 {
			s.stretch(k, s.in.least)
		}
	}
}

// load sets the state to a draft; further sections stay unused.
func (s *state) load(d *draft) {
	for k := range s.x {
		s.x[k] = 0
	}
	copy(s.x, d.rows)
	for i := range s.lane {
		s.lane[i] = int16(s.in.count)
	}
	copy(s.lane, d.lanes)
	s.recount()
}

func (s *state) recount() {
	for v := range s.printed {
		s.printed[v] = 0
		s.where[v] = -1
	}
	s.short, s.missing = s.short[:0], 0
	L := s.in.lanes
	for i, v := range s.lane {
		s.printed[v] += s.x[i/L]
	}
	for v := 0; v < s.in.count; v++ {
		if s.isShort(v) {
			s.where[v] = int32(len(s.short))
			s.short = append(s.short, int16(v))
		}
		s.missing += s.lacks(v)
	}
}

func (s *state) isShort(v int) bool { return s.printed[v] < s.in.need[v] }

// lacks counts labels that a plan may not lack.
func (s *state) lacks(v int) int {
	short := s.in.need[v] - s.printed[v]
	if short <= 0 || s.in.price[v].filler && s.printed[v] == 0 {
		return 0
	}
	return short
}

// print adds labels (may be negative) to version v and keeps the list of
// short versions.
func (s *state) print(v, labels int) {
	before := s.lacks(v)
	s.printed[v] += labels
	s.missing += s.lacks(v) - before
	at := s.where[v]
	if s.printed[v] < s.in.need[v] {
		if at < 0 {
			s.where[v] = int32(len(s.short))
			s.short = append(s.short, int16(v))
		}
	} else if at >= 0 {
		last := s.short[len(s.short)-1]
		s.short[at], s.where[last] = last, at
		s.short, s.where[v] = s.short[:len(s.short)-1], -1
	}
}

// cost of the whole state, in rows.
func (s *state) cost() float64 {
	c := 0.0
	for _, x := range s.x {
		if x > 0 {
			c += s.in.row*float64(x) + s.in.section
		}
	}
	for v := 0; v < s.in.count; v++ {
		c += s.in.labels(v, s.printed[v], s.phi*s.scale)
	}
	if s.in.rules != nil {
		c += s.ruleCost()
	}
	return c
}

// put changes lane i (section·lanes + lane) to version v and returns the
// change in label cost.
func (s *state) put(i int, v int16) float64 {
	old := s.lane[i]
	x := s.x[i/s.in.lanes]
	s.lane[i] = v
	if x == 0 || old == v {
		return 0
	}
	phi := s.phi * s.scale
	delta := -s.in.labels(int(old), s.printed[old], phi) - s.in.labels(int(v), s.printed[v], phi)
	s.print(int(old), -x)
	s.print(int(v), x)
	return delta + s.in.labels(int(old), s.printed[old], phi) + s.in.labels(int(v), s.printed[v], phi)
}

// stretch sets the length of section k and returns the change in cost.
func (s *state) stretch(k, x int) float64 {
	diff := x - s.x[k]
	if diff == 0 {
		return 0
	}
	delta := s.in.row * float64(diff)
	if s.x[k] == 0 {
		delta += s.in.section
	} else if x == 0 {
		delta -= s.in.section
	}
	phi := s.phi * s.scale
	L := s.in.lanes
	for _, v := range s.lane[k*L : k*L+L] {
		delta -= s.in.labels(int(v), s.printed[v], phi)
		s.print(int(v), diff)
		delta += s.in.labels(int(v), s.printed[v], phi)
	}
	s.x[k] = x
	return delta
}

// breakpoint is the length of section k at which version v, in its lanes
// there, is just done: at its need, or at its full quantity.
func (s *state) breakpoint(k int, v int16, full bool) int {
	n := countOf(s.lane[k*s.in.lanes:(k+1)*s.in.lanes], v)
	left := s.in.need[v] - (s.printed[v] - n*s.x[k])
	if full {
		left += s.in.quantity[v] - s.in.need[v]
	}
	if left <= 0 || n == 0 {
		return s.shortest()
	}
	return s.rollLength(k, s.in.length((left+n-1)/n))
}

// shortest is the least length that a section may be given: 0 takes it out
// of use, which an exact number of sections forbids.
func (s *state) shortest() int {
	if s.in.exact > 0 {
		return s.in.least
	}
	return 0
}

// bestLength is the breakpoint of section k with the lowest cost; of many
// lanes it tries a few, since each try costs a walk over the lanes.
func (s *state) bestLength(k int, rng *random) int {
	old := s.x[k]
	best, bestDelta := old, 0.0
	L := s.in.lanes
	delta := 0.0
	try := func(x int) {
		delta += s.stretch(k, x)
		if delta < bestDelta-1e-12 {
			best, bestDelta = x, delta
		}
	}
	const tries = 6
	first := 0
	if L > tries {
		first = rng.below(L)
	}
	for n := 0; n < L && n < tries; n++ {
		i := k*L + (first+n)%L
		v := s.lane[i]
		if int(v) == s.in.count || n > 0 && i > k*L && v == s.lane[i-1] {
			continue
		}
		try(s.breakpoint(k, v, false))
		if s.in.priced {
			try(s.breakpoint(k, v, true))
		}
	}
	try(s.shortest())
	s.stretch(k, old)
	return best
}

// undo remembers what one move changed.
type undo struct {
	lane [2]int
	was  [2]int16
	puts int
	k    int
	x    int // former length of k; -1 where it did not change
}

// anneal runs from the state as it is and returns the cheapest state without
// missing labels or broken rules that it met, or nil.
func (s *state) anneal(ctx context.Context, a annealing) *draft {
	in, rng := s.in, a.rng
	active := a.active
	if active == nil {
		active = make([]int, s.sections)
		for k := range active {
			active[k] = k
		}
	}
	candidates := a.candidates
	if candidates == nil {
		candidates = make([]int16, in.count)
		for v := range candidates {
			candidates[v] = int16(v)
		}
	}
	mean := s.meanLength()
	const steps = 64
	a.strict = math.Max(1, a.strict)
	s.phi, s.psi = a.strict*a.phiStart, a.strict*a.phiStart
	if in.rules != nil {
		s.ruleNow = s.ruleCost()
	}
	var best *draft
	bestCost := math.Inf(1)
	for step := 0; step < steps; step++ {
		if ctx.Err() != nil {
			break
		}
		t := float64(step) / (steps - 1)
		heat := mean * a.hot * math.Pow(a.cold/a.hot, t)
		s.phi = a.strict * (a.phiStart + (1.02-a.phiStart)*t)
		s.psi = s.phi
		if in.rules != nil {
			s.ruleNow = s.ruleCost()
		}
		cost := s.cost()
		for m := a.moves / steps; m > 0; m-- {
			delta, u := s.move(rng, active, candidates)
			if in.rules != nil {
				now := s.ruleCost()
				delta += now - s.ruleNow
				if delta > 0 && delta > heat*rng.threshold() {
					s.revert(&u)
					continue
				}
				s.ruleNow = now
			} else if delta > 0 && delta > heat*rng.threshold() {
				s.revert(&u)
				continue
			}
			cost += delta
			if s.missing == 0 && cost < bestCost-1e-9 && (in.rules == nil || s.broken() == 0) {
				best, bestCost = s.snapshot(best), cost
				best.cost = cost
			}
		}
	}
	if best != nil {
		best = s.tidy(best)
	}
	return best
}

// tidy drops unused sections of a snapshot.
func (s *state) tidy(d *draft) *draft {
	L := s.in.lanes
	out := &draft{cost: d.cost}
	for k, x := range d.rows {
		if x > 0 {
			out.rows = append(out.rows, x)
			out.lanes = append(out.lanes, d.lanes[k*L:k*L+L]...)
		}
	}
	return out
}

func (s *state) snapshot(into *draft) *draft {
	if into == nil {
		into = &draft{rows: make([]int, s.sections), lanes: make([]int16, len(s.lane))}
	}
	copy(into.rows, s.x)
	copy(into.lanes, s.lane)
	return into
}

func (s *state) meanLength() float64 {
	total, used := 0, 0
	for _, x := range s.x {
		if x > 0 {
			total, used = total+x, used+1
		}
	}
	if used == 0 {
		return float64(s.in.target)/float64(max(1, s.sections)) + 1
	}
	return float64(total) / float64(used)
}

// move makes one random change and returns what it costs, rules left out.
func (s *state) move(rng *random, active []int, candidates []int16) (float64, undo) {
	in, L := s.in, s.in.lanes
	r := rng.next()
	k := active[int((r>>32)*uint64(len(active))>>32)]
	kind := r & 15
	u := undo{x: -1, k: k}
	switch {
	case kind < 7: // another version in a lane, and often a new length
		i := k*L + rng.below(L)
		v := s.pick(rng, candidates)
		if in.rules != nil && !in.rules.mayHold(i%L, int(v), in) {
			return 0, u
		}
		u.lane[0], u.was[0], u.puts = i, s.lane[i], 1
		delta := s.put(i, v)
		if kind < 3 {
			u.x = s.x[k]
			delta += s.stretch(k, s.breakpoint(k, v, in.priced && r&16 != 0))
		} else if kind == 3 {
			u.x = s.x[k]
			delta += s.stretch(k, s.bestLength(k, rng))
		}
		return delta, u
	case kind < 11: // swap lanes of two sections (or of one, where lanes matter)
		k2 := active[rng.below(len(active))]
		i, j := k*L+rng.below(L), k2*L+rng.below(L)
		a, b := s.lane[i], s.lane[j]
		if a == b || k == k2 && (in.rules == nil || !in.rules.positional) {
			return 0, u
		}
		if in.rules != nil && (!in.rules.mayHold(i%L, int(b), in) || !in.rules.mayHold(j%L, int(a), in)) {
			return 0, u
		}
		u.lane, u.was, u.puts = [2]int{i, j}, [2]int16{a, b}, 2
		delta := s.put(i, b)
		delta += s.put(j, a)
		if kind == 7 {
			u.x = s.x[k]
			delta += s.stretch(k, s.bestLength(k, rng))
		}
		return delta, u
	case kind < 14: // a length at which some version is just done
		v := s.lane[k*L+rng.below(L)]
		if int(v) == in.count {
			return 0, u
		}
		u.x = s.x[k]
		return s.stretch(k, s.breakpoint(k, v, in.priced && r&16 != 0)), u
	case kind == 14: // the best length
		u.x = s.x[k]
		return s.stretch(k, s.bestLength(k, rng)), u
	default: // a few rows more or less
		if in.rules != nil && rng.next()&3 == 0 {
			return s.ruleMove(rng, k, active)
		}
		step := 1 + rng.below(1+s.x[k]/16)
		if rng.next()&1 == 0 {
			step = -step
		}
		x := s.x[k] + step
		if x <= 0 {
			x = s.shortest()
		} else {
			x = s.in.length(x)
		}
		u.x = s.x[k]
		return s.stretch(k, s.rollLength(k, x)), u
	}
}

// pick draws a version to put into a lane, half the time one that is short.
func (s *state) pick(rng *random, candidates []int16) int16 {
	r := rng.next()
	if n := len(s.short); n > 0 && r&1 == 0 {
		return s.short[int((r>>32)*uint64(n)>>32)]
	}
	if r&62 == 0 {
		return int16(s.in.count)
	}
	return candidates[int((r>>32)*uint64(len(candidates))>>32)]
}

func (s *state) revert(u *undo) {
	if u.puts < 0 {
		s.exchange(u.lane[0], u.lane[1])
		return
	}
	if u.x >= 0 {
		s.stretch(u.k, u.x)
	}
	for n := u.puts - 1; n >= 0; n-- {
		s.put(u.lane[n], u.was[n])
	}
}
