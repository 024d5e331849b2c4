package nest

import "math"

// exactOrder is the number of sections up to which their order is optimal:
// dynamic programming over subsets. Beyond it the order starts from the
// draft's and is improved by moving stretches of one to three sections and by
// reversals until neither helps.
const exactOrder = 12

// layout orders the sections and places versions in lanes so that the costs
// that depend on order (lane runs, whole rolls) are least and, after that, as
// many lanes as possible are carried over each changeover. It keeps to rush
// and deadlines where the draft can.
func (in *instance) layout(d *draft) {
	K := len(d.rows)
	if K == 0 {
		return
	}
	o := in.newOrdering(d)
	var order []int
	if K <= exactOrder {
		order = o.exact()
	} else {
		order = o.improve()
	}
	if order != nil {
		in.reorder(d, order)
	}
	in.place(d)
}

func (in *instance) reorder(d *draft, order []int) {
	L := in.lanes
	rows, lanes := make([]int, len(order)), make([]int16, len(d.lanes))
	for i, k := range order {
		rows[i] = d.rows[k]
		copy(lanes[i*L:i*L+L], d.lanes[k*L:k*L+L])
	}
	d.rows, d.lanes = rows, lanes
}

// ordering holds what the order of sections depends on.
type ordering struct {
	in       *instance
	K        int
	gain     []float64 // [j*K+k] of k right after j
	whole    []bool    // every lane run is whole customer rolls
	known    []bool    // ... of those whose rolls are known
	rush     []bool
	minutes  []float64
	deadline []float64
}

func (in *instance) newOrdering(d *draft) *ordering {
	K, L := len(d.rows), in.lanes
	o := &ordering{in: in, K: K, gain: make([]float64, K*K), whole: make([]bool, K), known: make([]bool, K),
		rush: make([]bool, K), minutes: make([]float64, K), deadline: make([]float64, K)}
	counts := make([][]int, K)
	for k := range counts {
		counts[k] = make([]int, in.count+1)
		o.deadline[k] = math.Inf(1)
		o.whole[k], o.known[k] = true, true
		o.minutes[k] = float64(d.rows[k]) * in.p.Press.RowMinutes
		for _, v := range d.lanes[k*L : k*L+L] {
			counts[k][v]++
			if r := in.rules; r != nil && int(v) < in.count {
				o.rush[k] = o.rush[k] || r.rush[v]
				o.deadline[k] = math.Min(o.deadline[k], r.deadline[v])
				if n := r.perRoll[v]; n == 0 {
					o.whole[k] = false
				} else if d.rows[k]%n != 0 {
					o.whole[k], o.known[k] = false, false
				}
			}
		}
	}
	for j := 0; j < K; j++ {
		for k := 0; k < K; k++ {
			carried := 0
			for v := 0; v < in.count; v++ {
				carried += min(counts[j][v], counts[k][v])
			}
			// The small share decides between orders of equal money.
			o.gain[j*K+k] = float64(carried) * (in.laneRun + 1e-6)
		}
	}
	return o
}

// inner is what section k earns where it is not the last, and whether it may
// be anything but the last.
func (o *ordering) inner(k int) (gain float64, allowed bool) {
	r := o.in.rules
	if r == nil {
		return 0, true
	}
	if r.requireRolls && !o.known[k] {
		return 0, false
	}
	if r.rollSaving > 0 && o.whole[k] {
		return r.rollSaving, true
	}
	return 0, true
}

// exact finds the best order by dynamic programming over the set of sections
// that have run and the last of them; nil where no order keeps the rules.
func (o *ordering) exact() []int {
	K := o.K
	size := 1 << K
	value := make([]float64, size*K)
	from := make([]int8, size*K)
	for i := range value {
		value[i] = math.Inf(-1)
	}
	time := make([]float64, size)
	rushes := 0
	for k := 0; k < K; k++ {
		if o.rush[k] {
			rushes |= 1 << k
		}
	}
	p := &o.in.p.Press
	for set := 1; set < size; set++ {
		n := 0
		for k := 0; k < K; k++ {
			if set&(1<<k) != 0 {
				time[set] += o.minutes[k]
				n++
			}
		}
		time[set] += p.SetupMinutes + float64(n-1)*p.ChangeoverMinutes
		for k := 0; k < K; k++ {
			before := set &^ (1 << k)
			if before == set || time[set] > o.deadline[k]+1e-9 || !o.rush[k] && rushes&^set != 0 {
				continue
			}
			if before == 0 {
				value[set*K+k], from[set*K+k] = 0, -1
				continue
			}
			for j := 0; j < K; j++ {
				if before&(1<<j) == 0 || math.IsInf(value[before*K+j], -1) {
					continue
				}
				inner, ok := o.inner(j)
				if !ok {
					continue
				}
				if v := value[before*K+j] + o.gain[j*K+k] + inner; v > value[set*K+k] {
					value[set*K+k], from[set*K+k] = v, int8(j)
				}
			}
		}
	}
	best, last := math.Inf(-1), -1
	for k := 0; k < K; k++ {
		if v := value[(size-1)*K+k]; v > best {
			best, last = v, k
		}
	}
	if last < 0 {
		return nil
	}
	order := make([]int, K)
	for set, i := size-1, K-1; i >= 0; i-- {
		order[i] = last
		previous := from[set*K+last]
		set &^= 1 << last
		last = int(previous)
	}
	return order
}

// worth of an order; -Inf where it breaks a rule.
func (o *ordering) worth(order []int) float64 {
	p := &o.in.p.Press
	total, minutes, rest := 0.0, p.SetupMinutes, false
	for i, k := range order {
		if i > 0 {
			total += o.gain[order[i-1]*o.K+k]
			minutes += p.ChangeoverMinutes
		}
		if i < len(order)-1 {
			inner, ok := o.inner(k)
			if !ok {
				return math.Inf(-1)
			}
			total += inner
		}
		minutes += o.minutes[k]
		if minutes > o.deadline[k]+1e-9 || o.rush[k] && rest {
			return math.Inf(-1)
		}
		rest = rest || !o.rush[k]
	}
	return total
}

// improve starts from the order as it is (or, where that breaks a rule, from
// rush first, then by deadline) and moves and reverses stretches while that
// helps.
func (o *ordering) improve() []int {
	K := o.K
	order := make([]int, K)
	for k := range order {
		order[k] = k
	}
	best := o.worth(order)
	if start := o.chain(); o.worth(start) > best {
		order, best = start, o.worth(start)
	}
	if math.IsInf(best, -1) {
		return nil
	}
	trial := make([]int, K)
	for improved := true; improved; {
		improved = false
		for i := 0; i < K; i++ {
			for n := 1; n <= 3 && i+n <= K; n++ {
				for to := 0; to+n <= K; to++ {
					if to == i {
						continue
					}
					moveStretch(trial, order, i, n, to)
					if w := o.worth(trial); w > best+1e-9 {
						best, improved = w, true
						copy(order, trial)
					}
				}
			}
			for j := i + 2; j <= K; j++ {
				copy(trial, order)
				for a, b := i, j-1; a < b; a, b = a+1, b-1 {
					trial[a], trial[b] = trial[b], trial[a]
				}
				if w := o.worth(trial); w > best+1e-9 {
					best, improved = w, true
					copy(order, trial)
				}
			}
		}
	}
	return order
}

// chain is a greedy order: rush first, then due sections by deadline, then
// whichever carries most.
func (o *ordering) chain() []int {
	order := make([]int, 0, o.K)
	used := make([]bool, o.K)
	for len(order) < o.K {
		best := -1
		better := func(a, b int) bool {
			if o.rush[a] != o.rush[b] {
				return o.rush[a]
			}
			if o.deadline[a] != o.deadline[b] {
				return o.deadline[a] < o.deadline[b]
			}
			if len(order) > 0 {
				last := order[len(order)-1]
				return o.gain[last*o.K+a] > o.gain[last*o.K+b]
			}
			return false
		}
		for k := 0; k < o.K; k++ {
			if !used[k] && (best < 0 || better(k, best)) {
				best = k
			}
		}
		used[best] = true
		order = append(order, best)
	}
	return order
}

// moveStretch writes order into trial with n entries from i moved to begin
// at position to.
func moveStretch(trial, order []int, i, n, to int) {
	rest := trial[:0]
	stretch := order[i : i+n]
	j := 0
	for len(rest) < len(order) {
		if len(rest) == to {
			rest = append(rest, stretch...)
			continue
		}
		if j == i {
			j += n
		}
		rest = append(rest, order[j])
		j++
	}
}

// place gives every version of a section its lanes: the lane that it had in
// the section before, and neighbours for the rest.
func (in *instance) place(d *draft) {
	L := in.lanes
	positional := in.rules != nil && in.rules.positional
	for k := range d.rows {
		lane := d.lanes[k*L : k*L+L]
		var before []int16
		if k > 0 {
			before = d.lanes[(k-1)*L : k*L]
		}
		if positional {
			in.placeByRules(lane, before)
			continue
		}
		left := make([]int, in.count+1)
		for _, v := range lane {
			left[v]++
		}
		fixed := make([]bool, L)
		for l := range lane {
			if before != nil && int(before[l]) < in.count && left[before[l]] > 0 {
				lane[l] = before[l]
				left[before[l]]--
				fixed[l] = true
			}
		}
		next := 0
		for l := range lane {
			if fixed[l] {
				continue
			}
			for left[next] == 0 {
				next++
			}
			lane[l] = int16(next)
			left[next]--
		}
	}
}

// placeByRules searches the arrangement of one section that keeps the most
// lanes of the section before among those that the rules allow; the given
// arrangement stays where the search finds none better within its limit.
func (in *instance) placeByRules(lane, before []int16) {
	if before == nil {
		return
	}
	L, n, r := in.lanes, in.count, in.rules
	left := make([]int, n+1)
	kept := 0
	for l, v := range lane {
		left[v]++
		if v == before[l] && int(v) < n {
			kept++
		}
	}
	best := kept
	trial := make([]int16, L)
	nodes := 0
	var walk func(l, carried int)
	walk = func(l, carried int) {
		if nodes++; nodes > 50_000 || carried+L-l <= best {
			return
		}
		if l == L {
			best = carried
			copy(lane, trial)
			return
		}
		try := func(v int) {
			if left[v] == 0 || !r.mayHold(l, v, in) {
				return
			}
			if r.apart != nil && l > 0 && in.lane[l] == in.lane[l-1]+1 && r.apart[int(trial[l-1])*(n+1)+v] {
				return
			}
			left[v]--
			trial[l] = int16(v)
			gain := 0
			if v < n && int(before[l]) == v {
				gain = 1
			}
			walk(l+1, carried+gain)
			left[v]++
		}
		first := int(before[l])
		try(first)
		for v := 0; v <= n; v++ {
			if v != first {
				try(v)
			}
		}
	}
	walk(0, 0)
}
