package jobs

import "laneplan/nest"

// Rows that so many labels need in so many lanes: quantity / lanes, rounded
// up to a whole row. Lanes count from 1.
func Rows(quantity, lanes int) int { return (quantity + lanes - 1) / lanes }

// OneSection is the least rows R of a single section that holds all
// quantities, and each one's lanes: the least R with Σ ceil(q/R) ≤ lanes. It
// is the rule of apportionment that rounds up (Adams; the name is from
// memory). False where there are more quantities than lanes. Quantities count
// from 1.
func OneSection(quantities []int, lanes int) (rows int, each []int, possible bool) {
	return nest.OneSection(quantities, lanes)
}
