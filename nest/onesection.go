package nest

// OneSection is the shortest single section that holds all quantities, and
// the lanes that each needs in it: the least number of rows R with
// Σ ⌈quantity/R⌉ ≤ lanes. It is the rule of apportionment that rounds every
// share up (Adams; the name is from memory). False where there are more
// quantities than lanes, or none. Quantities count from 1.
func OneSection(quantities []int, lanes int) (rows int, each []int, possible bool) {
	if len(quantities) > lanes || len(quantities) == 0 {
		return 0, nil, false
	}
	fits := func(rows int) bool {
		sum := 0
		for _, q := range quantities {
			sum += (q + rows - 1) / rows
		}
		return sum <= lanes
	}
	tooShort, enough := 0, 1
	for _, q := range quantities {
		enough = max(enough, q)
	}
	for enough-tooShort > 1 {
		if middle := tooShort + (enough-tooShort)/2; fits(middle) {
			enough = middle
		} else {
			tooShort = middle
		}
	}
	for _, q := range quantities {
		each = append(each, (q+enough-1)/enough)
	}
	return enough, each, true
}
