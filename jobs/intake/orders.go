package intake

import (
	"fmt"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/intake/parts"
	"laneplan/jobs/intake/yamltree"
)

// orders reads the orders of a file, or its versions as one order without id.
func orders(root *yamltree.Map, defaults jobs.Version) []jobs.Order {
	if root.Has("versions") {
		if root.Has("orders") {
			root.Fault("versions", "want orders with versions in them, or versions alone, got both", "")
		}
		return []jobs.Order{{Versions: versions(root, defaults)}}
	}
	root.Need("orders", "orders with versions in them, or versions alone")
	var all []jobs.Order
	for _, m := range root.Maps("orders") {
		all = append(all, order(m, defaults))
	}
	return all
}

func order(m *yamltree.Map, defaults jobs.Version) jobs.Order {
	m.Need("id", "the number of the order, such as 2026-118")
	m.Need("versions", "the versions of the order, such as [{id: A, quantity: 2500}]")
	return jobs.Order{
		ID:       m.Text("id"),
		Customer: m.Text("customer"),
		Due:      m.Date("due"),
		Rush:     m.Flag("rush"),
		Flags:    m.Choices("flags", jobs.OrderFlags...),
		Filler:   m.Flag("filler"),
		Outwork:  outwork(m),
		Versions: versions(m, tolerance(m, versionFields(m, defaults))),
	}
}

// outwork is what is bought in for an order.
func outwork(m *yamltree.Map) []jobs.Outwork {
	var all []jobs.Outwork
	for _, work := range m.Maps("outwork") {
		work.Need("name", "what is bought in, such as foil")
		work.Need("amount", "the money for it, such as 45")
		all = append(all, jobs.Outwork{Name: work.Text("name"), Amount: parts.Money(work, "amount")})
	}
	return all
}

func versions(m *yamltree.Map, defaults jobs.Version) []jobs.Version {
	var all []jobs.Version
	for _, one := range m.Maps("versions") {
		one.Need("id", "a short name of the version, such as A")
		one.Need("quantity", "the number of labels ordered, such as 2500")
		v := tolerance(one, versionFields(one, defaults))
		v.ID = one.Text("id")
		v.Name = one.Text("name")
		v.Artwork = one.Text("artwork")
		v.Quantity = one.Whole("quantity", 1, jobs.MostQuantity)
		v.Fewest, v.Most = labels(one, "fewest", "unders"), labels(one, "most", "overs")
		all = append(all, v)
	}
	return all
}

// labels reads a number of labels that stands in the place of a fraction.
func labels(m *yamltree.Map, key, fraction string) *int {
	if !m.Has(key) {
		return nil
	}
	if m.Has(fraction) {
		m.Fault(key, fmt.Sprintf("want %s in labels or %s as a percentage, got both", key, fraction), "")
	}
	n := m.Whole(key, 0, jobs.MostQuantity)
	return &n
}

// set reads a field that is given here over what was given further out.
func set[T any](field *T, m *yamltree.Map, key string, read func(key string) T) {
	if m.Has(key) {
		*field = read(key)
	}
}

// versionFields reads what may be said of one version, of all versions of an
// order or of all versions of the file.
func versionFields(m *yamltree.Map, v jobs.Version) jobs.Version {
	money := func(key string) decimal.Decimal { return parts.Money(m, key) }
	length := func(key string) jobs.Length { return parts.Length(m, key) }
	lanes := func(key string) int { return m.Whole(key, 1, jobs.MostLanes) }
	laneList := func(key string) []int { return m.Wholes(key, 1, jobs.MostLanes) }
	set(&v.UnitPrice, m, "unit_price", money)
	set(&v.InkPerLabel, m, "ink_per_label", money)
	set(&v.Coverage, m, "coverage", m.Text)
	set(&v.ElsewhereCost, m, "elsewhere_cost", money)
	set(&v.LeastLanes, m, "least_lanes", lanes)
	set(&v.MostLanes, m, "most_lanes", lanes)
	set(&v.OnlyLanes, m, "only_lanes", laneList)
	set(&v.NotLanes, m, "not_lanes", laneList)
	set(&v.OnePiece, m, "one_piece", m.Flag)
	set(&v.LabelsPerRoll, m, "labels_per_roll", func(key string) int { return m.Whole(key, 1, jobs.MostQuantity) })
	set(&v.MaxDiameter, m, "max_diameter", length)
	set(&v.Core, m, "core", length)
	set(&v.MostSplices, m, "most_splices", func(key string) *int {
		most := m.Whole(key, 0, jobs.MostQuantity)
		return &most
	})
	set(&v.Wind, m, "wind", func(key string) jobs.Wind { return yamltree.Value(m, key, jobs.ParseWind) })
	set(&v.LeaveOvers, m, "leave_overs", m.Flag)
	return v
}

// tolerance reads unders and overs over those given further out.
func tolerance(m *yamltree.Map, v jobs.Version) jobs.Version {
	set(&v.Unders, m, "unders", func(key string) *decimal.Decimal {
		unders := m.Percent(key, 100)
		return &unders
	})
	if m.Has("overs") {
		v.Overs = parts.Overs(m, "overs")
		v.AllOvers = v.Overs == nil
	}
	if m.Has("bill_overs") {
		v.BillOvers = m.Flag("bill_overs")
		v.FreeOvers = !v.BillOvers
	}
	return v
}
