package nest

import "math"

// greedy builds a start section by section: over the lengths ⌈residual/j⌉
// it takes the lanes with the largest useful deliveries and keeps the section
// with the lowest cost per useful label, a version that it finishes counting
// extra. The draw of the bonus makes every start another one. Rules are left
// to the annealing, which starts from here.
func (in *instance) greedy(rng *random) *draft {
	n, L := in.count, in.lanes
	left := make([]int, n)
	open := 0
	for v := range left {
		if !in.price[v].filler {
			left[v] = in.need[v]
			open++
		}
	}
	bonus := rng.unit() * float64(in.needed) / float64(max(1, n)) * 2
	d := &draft{}
	type gain struct{ v, useful int }
	heap := make([]gain, 0, L+1)
	lanes := make([]int16, L)
	used := make([]int, n)
	for open > 0 {
		bestScore := math.Inf(1)
		bestRows := 0
		best := make([]int16, L)
		for v := range left {
			for j := 1; left[v] > 0 && j <= L; j++ {
				x := in.length((left[v] + j - 1) / j)
				if j > 1 && rng.next()&3 == 0 {
					continue
				}
				heap = heap[:0]
				for w, rest := range left {
					for ; rest > 0; rest -= x {
						g := gain{w, min(rest, x)}
						if len(heap) == L && heap[L-1].useful >= g.useful {
							break
						}
						i := len(heap)
						heap = append(heap, g)
						for ; i > 0 && heap[i-1].useful < g.useful; i-- {
							heap[i] = heap[i-1]
						}
						heap[i] = g
						if len(heap) > L {
							heap = heap[:L]
						}
					}
				}
				useful, finished := 0, 0
				for i := range lanes {
					lanes[i] = int16(n)
				}
				for i, g := range heap {
					lanes[i] = int16(g.v)
					useful += g.useful
					if used[g.v] += x; used[g.v] >= left[g.v] && used[g.v]-x < left[g.v] {
						finished++
					}
				}
				for _, g := range heap {
					used[g.v] = 0
				}
				score := (in.row*float64(x) + in.section + 1e-9) / (float64(useful) + bonus*float64(finished))
				score *= 1 + 0.05*rng.unit()
				if score < bestScore {
					bestScore, bestRows = score, x
					copy(best, lanes)
				}
			}
		}
		for _, v := range best {
			if int(v) < n && left[v] > 0 {
				if left[v] -= bestRows; left[v] <= 0 {
					left[v] = 0
					open--
				}
			}
		}
		d.rows = append(d.rows, bestRows)
		d.lanes = append(d.lanes, best...)
	}
	return d
}
