package jobs

// Rows that so many labels need in so many lanes: quantity / lanes, rounded
// up to a whole row. Lanes count from 1.
func Rows(quantity, lanes int) int { return (quantity + lanes - 1) / lanes }

// OneSection is the least rows R of a single section that holds all
// quantities, and each one's lanes: the least R with Σ ceil(q/R) ≤ lanes. It
// is the rule of apportionment that rounds up (Adams; the name is from
// memory). False where there are more quantities than lanes. Quantities count
// from 1.
func OneSection(quantities []int, lanes int) (rows int, each []int, possible bool) {
	if len(quantities) > lanes || len(quantities) == 0 {
		return 0, nil, false
	}
	need := func(rows int) (sum int) {
		for _, q := range quantities {
			sum += Rows(q, rows) // lanes of so many rows
		}
		return sum
	}
	low, high := 0, 0 // need(low) is too much, need(high) is not
	for _, q := range quantities {
		high = max(high, q)
	}
	for high-low > 1 {
		if middle := low + (high-low)/2; need(middle) <= lanes {
			high = middle
		} else {
			low = middle
		}
	}
	for _, q := range quantities {
		each = append(each, Rows(q, high))
	}
	return high, each, true
}
