package nest

import "math"

// finish makes a draft presentable: lane runs and rows that nobody needs are
// dropped, the order of sections and the lanes are chosen, and its cost is
// counted afresh. The cost is +Inf where the draft misses a demand or breaks
// a rule.
func (in *instance) finish(d *draft) {
	if in.exact > 0 {
		in.unblank(d)
	}
	in.trim(d)
	if in.rules == nil && in.p.Stock.RollRows == 0 {
		in.sortSections(d)
	} else {
		in.layout(d)
	}
	d.cost = in.costOf(d)
	if in.p.Stock.RollRows > 0 && !math.IsInf(d.cost, 1) {
		in.reel(d)
	}
}

// trim shortens sections and empties lanes while that costs nothing.
func (in *instance) trim(d *draft) {
	s := newState(in, len(d.rows))
	s.load(d)
	s.phi = 1.02
	if s.missing > 0 {
		return
	}
	allowed := func() bool { return true }
	rule := 0.0
	if in.rules != nil {
		rule = s.ruleCost()
		allowed = func() bool { return s.ruleCost() <= rule+1e-9 }
	}
	L := in.lanes
	for changed := true; changed; {
		changed = false
		for k := range s.x {
			old := s.x[k]
			if x := s.needed(k); x < old {
				if delta := s.stretch(k, x); delta < 0 && s.missing == 0 && allowed() {
					changed = true
				} else {
					s.stretch(k, old)
				}
			}
		}
	}
	for i, v := range s.lane {
		x := s.x[i/L]
		if int(v) == in.count || x == 0 || s.printed[v]-x < in.need[v] || s.prints(i/L) == 1 {
			continue
		}
		if delta := s.put(i, int16(in.count)); delta > 1e-12 || s.missing > 0 || !allowed() {
			s.put(i, v)
		}
	}
	copy(d.rows, s.x)
	copy(d.lanes, s.lane)
	*d = *s.tidy(d)
}

// unblank lets every section print: an exact number of sections may leave
// one over that no demand needs.
func (in *instance) unblank(d *draft) {
	L := in.lanes
	for k := range d.rows {
		lane := d.lanes[k*L : k*L+L]
		if countOf(lane, int16(in.count)) < L {
			continue
		}
		for i := 0; i < L*in.count; i++ { // the first version that any lane may hold
			if l, v := i%L, i/L; in.rules == nil || in.rules.mayHold(l, v, in) {
				lane[l] = int16(v)
				break
			}
		}
	}
}

// prints counts the lanes of section k that print.
func (s *state) prints(k int) int {
	L := s.in.lanes
	return L - countOf(s.lane[k*L:k*L+L], int16(s.in.count))
}

// needed is the least length of section k that leaves no version short.
func (s *state) needed(k int) int {
	L := s.in.lanes
	rows := s.shortest()
	for i := k * L; i < k*L+L; i++ {
		if v := s.lane[i]; int(v) < s.in.count {
			rows = max(rows, s.breakpoint(k, v, false))
		}
	}
	return rows
}

// costOf counts a draft, in rows.
func (in *instance) costOf(d *draft) float64 {
	if in.exact > 0 && len(d.rows) != in.exact || in.atMost > 0 && len(d.rows) > in.atMost {
		return math.Inf(1)
	}
	s := newState(in, len(d.rows))
	s.load(d)
	s.phi = 1
	if s.missing > 0 || in.rules != nil && s.broken() > 0 {
		return math.Inf(1)
	}
	for k, x := range s.x {
		if x < in.least || x%in.frame != 0 || s.prints(k) == 0 {
			return math.Inf(1)
		}
	}
	return s.cost()
}
