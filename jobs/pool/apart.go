package pool

import (
	"slices"

	"laneplan/jobs"
)

// InkSet that the gang's versions share; "" is the standard set.
func (g Gang) InkSet() string { return g.parts[0].inkSet }

// VersionNames are the names that the order book has for the versions of one
// of the gang's orders, by its index.
func (g Gang) VersionNames(order int) []string { return g.parts[order].versions() }

// Apart are the gangs that each order of g would be alone, on the die and
// press that make it cheapest by estimate, with those versions for which
// prints is true, by their ids in g. An order of which none is printed has no
// gang.
func Apart(shop *jobs.Shop, p Pooling, g Gang, prints func(version string) bool) []jobs.Gang {
	maker := newPooler(shop, &p)
	ids := versionIDs(g.parts)
	var gangs []jobs.Gang
	for i, one := range g.parts {
		lines := one.lines
		one.lines = nil
		for j, line := range lines {
			if prints(ids[i][j]) {
				one.lines = append(one.lines, line)
			}
		}
		if len(one.lines) == 0 {
			continue
		}
		alone := maker.best([]part{one}, g.options).Gang
		alone.ID = g.ID + " " + one.order
		alone.Orders = slices.Clone(alone.Orders)
		alone.Orders[0].Filler = false
		gangs = append(gangs, alone)
	}
	return gangs
}
