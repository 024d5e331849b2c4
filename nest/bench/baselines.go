package bench

import (
	"fmt"
	"slices"

	"laneplan/nest"
)

// EachAlone runs every version in a section of its own, in all open lanes, in
// the order of the problem: what a shop does that does not gang.
func EachAlone(p nest.Problem) (nest.Plan, error) {
	const method = "each version alone"
	s, err := newShop(p, method)
	if err != nil {
		return nest.Plan{}, err
	}
	var sections []nest.Section
	for i, v := range p.Versions {
		rows := (v.Quantity + len(s.open) - 1) / len(s.open)
		sections = append(sections, s.section(rows, []int{i}, []int{len(s.open)}))
	}
	return finish(p, method, sections)
}

// SortedBlocks sorts the versions by quantity, largest first, and gangs as
// many as there are open lanes at a time, each block by the one-section rule:
// a full block has one lane a version, a short last one shares its lanes out.
func SortedBlocks(p nest.Problem) (nest.Plan, error) {
	const method = "sorted blocks"
	s, err := newShop(p, method)
	if err != nil {
		return nest.Plan{}, err
	}
	var order []int
	for i := range p.Versions {
		order = append(order, i)
	}
	slices.SortStableFunc(order, func(a, b int) int { return p.Versions[b].Quantity - p.Versions[a].Quantity })
	var sections []nest.Section
	for block := range slices.Chunk(order, len(s.open)) {
		rows, lanes, _ := nest.OneSection(s.quantities(block), len(s.open))
		sections = append(sections, s.section(rows, block, lanes))
	}
	return finish(p, method, sections)
}

// OneSection runs everything in a single section, as short as can be. It has
// no plan where there are more versions than open lanes.
func OneSection(p nest.Problem) (nest.Plan, error) {
	const method = "one section"
	s, err := newShop(p, method)
	if err != nil {
		return nest.Plan{}, err
	}
	var all []int
	for i := range p.Versions {
		all = append(all, i)
	}
	rows, lanes, possible := nest.OneSection(s.quantities(all), len(s.open))
	if !possible {
		return nest.Plan{}, fmt.Errorf("%s: %w: %d versions do not fit in %d lanes", method, ErrCannot, len(all), len(s.open))
	}
	return finish(p, method, []nest.Section{s.section(rows, all, lanes)})
}
