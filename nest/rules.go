package nest

import "math"

// What the annealing pays for the shop's rules. Everything here is counted
// over the sections in use, in running order.

func (r *rules) mayHold(lane, v int, in *instance) bool {
	return r.allowed == nil || r.allowed[lane*(in.count+1)+v]
}

// loose says that any lane may hold any version in any number: the rules, if
// there are any, concern the order of sections and the cost of lane runs.
func (in *instance) loose() bool {
	r := in.rules
	if r == nil {
		return true
	}
	if r.positional || r.versionsPerSection > 0 || len(r.together) > 0 || r.requireRolls {
		return false
	}
	for v := 0; v < in.count; v++ {
		if r.onePiece[v] || r.leastLanes[v] > 1 || r.mostLane[v] < in.lanes {
			return false
		}
	}
	return true
}

// rollLength lengthens x until the sections' lane runs are whole customer
// rolls, where that is required and the rolls agree on a length in reach.
func (s *state) rollLength(k, x int) int {
	r := s.in.rules
	if r == nil || x == 0 || !r.requireRolls && r.rollSaving == 0 || s.isLast(k) {
		return x
	}
	step := s.in.frame
	for _, v := range s.lane[k*s.in.lanes : (k+1)*s.in.lanes] {
		if n := r.perRoll[v]; n > 0 {
			step = lcm(step, n)
			if step > 1<<30 {
				return x
			}
		}
	}
	rounded := (x + step - 1) / step * step
	if !r.requireRolls && float64(rounded-x) > r.rollSaving {
		return x
	}
	if r.requireRolls && rounded > x+s.in.target {
		return x
	}
	return rounded
}

// isLast says that no section after k is in use.
func (s *state) isLast(k int) bool {
	for _, x := range s.x[k+1:] {
		if x > 0 {
			return false
		}
	}
	return true
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func lcm(a, b int) int { return a / gcd(a, b) * b }

// ruleMove is a change that only rules make worthwhile: two sections change
// places.
func (s *state) ruleMove(rng *random, k int, active []int) (float64, undo) {
	k2 := active[rng.below(len(active))]
	s.exchange(k, k2)
	return 0, undo{x: -1, puts: -1, lane: [2]int{k, k2}}
}

func (s *state) exchange(j, k int) {
	L := s.in.lanes
	s.x[j], s.x[k] = s.x[k], s.x[j]
	for l := 0; l < L; l++ {
		s.lane[j*L+l], s.lane[k*L+l] = s.lane[k*L+l], s.lane[j*L+l]
	}
}

// ruleCost is the money of lane runs and whole rolls plus psi times the
// weight of every broken rule, in rows.
func (s *state) ruleCost() float64 {
	money, broken := s.judge()
	return money + s.psi*s.in.rules.weight*broken
}

// broken counts broken rules.
func (s *state) broken() float64 {
	_, broken := s.judge()
	return broken
}

// judge goes through the sections once.
func (s *state) judge() (money, broken float64) {
	in, r, L := s.in, s.in.rules, s.in.lanes
	n := in.count
	lastUsed := -1
	for k := s.sections - 1; k >= 0; k-- {
		if s.x[k] > 0 {
			lastUsed = k
			break
		}
	}
	previous := -1
	minutes := in.p.Press.SetupMinutes
	restSeen := false
	for v := range s.seenAt {
		s.seenAt[v] = 0
	}
	for k := 0; k < s.sections; k++ {
		if s.x[k] == 0 {
			continue
		}
		lane := s.lane[k*L : k*L+L]
		for v := range s.seen {
			s.seen[v] = 0
		}
		distinct, whole, known, rush := 0, 0, 0, false
		deadline := math.Inf(1)
		for l, v := range lane {
			if int(v) == n {
				continue
			}
			if !r.mayHold(l, int(v), in) {
				broken++
			}
			if s.seen[v] == 0 {
				distinct++
				s.seenAt[v]++
				rush = rush || r.rush[v]
				deadline = math.Min(deadline, r.deadline[v])
			}
			s.seen[v]++
			if per := r.perRoll[v]; per > 0 {
				known++
				if s.x[k]%per == 0 {
					whole++
				}
			}
			if r.apart != nil && l+1 < L && in.lane[l+1] == in.lane[l]+1 && r.apart[int(v)*(n+1)+int(lane[l+1])] {
				broken++
			}
		}
		runs := L - countOf(lane, int16(n))
		if r.versionsPerSection > 0 && distinct > r.versionsPerSection {
			broken += float64(distinct - r.versionsPerSection)
		}
		for _, v := range lane {
			if int(v) == n || s.seen[v] < 0 {
				continue
			}
			if c := s.seen[v]; c < r.leastLanes[v] {
				broken += float64(r.leastLanes[v] - c)
			} else if c > r.mostLane[v] {
				broken += float64(c - r.mostLane[v])
			}
			s.seen[v] = -s.seen[v] // judged once; together only asks for 'not 0'
		}
		for _, set := range r.together {
			present := 0
			for _, v := range set {
				if s.seen[v] != 0 {
					present++
				}
			}
			if present > 0 && present < len(set) {
				broken += float64(min(present, len(set)-present))
			}
		}
		if k != lastUsed {
			if r.requireRolls {
				broken += 0.5 * float64(known-whole)
			}
			if r.rollSaving > 0 && runs > 0 && whole == runs {
				money -= r.rollSaving
			}
		}
		if r.hasRush {
			if rush && restSeen {
				broken++
			}
			restSeen = restSeen || !rush
		}
		if previous >= 0 {
			minutes += in.p.Press.ChangeoverMinutes
		}
		minutes += float64(s.x[k]) * in.p.Press.RowMinutes
		if minutes > deadline {
			broken += 0.5 + (minutes-deadline)/(1+minutes)
		}
		if in.laneRun > 0 {
			carried := 0
			if previous >= 0 {
				carried = s.carried(previous, k)
			}
			money += in.laneRun * float64(runs-carried)
		}
		previous = k
	}
	for v := 0; v < n; v++ {
		if r.onePiece[v] && s.seenAt[v] > 1 {
			broken += float64(s.seenAt[v] - 1)
		}
	}
	return money, broken
}

// carried counts the lanes that keep their version from section j to k: by
// place where lanes matter, otherwise as many as a placement can keep.
func (s *state) carried(j, k int) int {
	return s.in.carried(s.lane[j*s.in.lanes:(j+1)*s.in.lanes], s.lane[k*s.in.lanes:(k+1)*s.in.lanes])
}

func (in *instance) carried(a, b []int16) int {
	n := 0
	if in.rules != nil && in.rules.positional {
		for l := range a {
			if a[l] == b[l] && int(a[l]) != in.count {
				n++
			}
		}
		return n
	}
	for l, v := range a {
		if int(v) == in.count || indexOf(a[:l], v) >= 0 {
			continue
		}
		n += min(countOf(a, v), countOf(b, v))
	}
	return n
}

func indexOf(lanes []int16, v int16) int {
	for l, w := range lanes {
		if w == v {
			return l
		}
	}
	return -1
}

func countOf(lanes []int16, v int16) int {
	n := 0
	for _, w := range lanes {
		if w == v {
			n++
		}
	}
	return n
}
