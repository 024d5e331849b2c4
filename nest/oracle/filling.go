package oracle

import "laneplan/nest"

// filling is what the lanes of one section hold.
type filling struct {
	lanes    []int
	versions int  // those that run, a bit each
	sorted   bool // the open lanes hold ascending version indices, Empty first
}

// legalFillings lists every filling of the lanes that keeps the rules which
// concern one section alone, whatever its length and place.
func legalFillings(p nest.Problem) []filling {
	var legal []filling
	lanes := make([]int, 0, p.Lanes)
	var extend func()
	extend = func() {
		lane := len(lanes)
		if lane == p.Lanes {
			if f, ok := judge(p, lanes); ok {
				legal = append(legal, f)
			}
			return
		}
		for i := nest.Empty; i < len(p.Versions); i++ {
			if i != nest.Empty && !mayHold(p, lane, i) {
				continue
			}
			lanes = append(lanes, i)
			extend()
			lanes = lanes[:lane]
		}
	}
	extend()
	return legal
}

// mayHold says whether lane (from 0) may hold version i.
func mayHold(p nest.Problem, lane, i int) bool {
	for _, closed := range p.Closed {
		if closed == lane+1 {
			return false
		}
	}
	only := p.Versions[i].OnlyLanes
	for _, allowed := range only {
		if allowed == lane+1 {
			return true
		}
	}
	return len(only) == 0
}

// judge checks a whole filling.
func judge(p nest.Problem, lanes []int) (filling, bool) {
	f := filling{lanes: append([]int(nil), lanes...), sorted: true}
	counts := make([]int, len(p.Versions))
	last := nest.Empty
	for lane, i := range lanes {
		if !isClosed(p, lane) {
			f.sorted = f.sorted && i >= last
			last = i
		}
		if i != nest.Empty {
			counts[i]++
			f.versions |= 1 << i
		}
	}
	if f.versions == 0 {
		return f, false
	}
	kinds := 0
	for i, v := range p.Versions {
		if counts[i] == 0 {
			continue
		}
		kinds++
		if counts[i] < v.LeastLanes || v.MostLanes > 0 && counts[i] > v.MostLanes {
			return f, false
		}
	}
	if most := p.Limits.VersionsPerSection; most > 0 && kinds > most {
		return f, false
	}
	for _, set := range p.Together {
		mask := bits(set)
		if f.versions&mask != 0 && f.versions&mask != mask {
			return f, false
		}
	}
	for _, set := range p.Apart {
		mask := bits(set)
		for lane := 1; lane < len(lanes); lane++ {
			a, b := lanes[lane-1], lanes[lane]
			if a != b && a != nest.Empty && b != nest.Empty && mask>>a&1 == 1 && mask>>b&1 == 1 {
				return f, false
			}
		}
	}
	return f, true
}

func isClosed(p nest.Problem, lane int) bool {
	for _, closed := range p.Closed {
		if closed == lane+1 {
			return true
		}
	}
	return false
}

func bits(set []int) int {
	mask := 0
	for _, i := range set {
		mask |= 1 << i
	}
	return mask
}
