package jobs

// Entry is one version of a gang beside the order that it belongs to. Both
// point into the gang.
type Entry struct {
	Order   *Order
	Version *Version
}

// Entries lists the versions of all orders as they stand in the gang. It is
// the order of nest.Problem.Versions: a version's index there is its index
// here.
func (g Gang) Entries() []Entry {
	var entries []Entry
	for i := range g.Orders {
		o := &g.Orders[i]
		for j := range o.Versions {
			entries = append(entries, Entry{Order: o, Version: &o.Versions[j]})
		}
	}
	return entries
}
