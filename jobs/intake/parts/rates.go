package parts

import (
	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/intake/yamltree"
)

// optional reads a field that is nil where it is not given: a rate that was
// not set is not zero.
func optional(m *yamltree.Map, key string, read func(*yamltree.Map, string) decimal.Decimal) *decimal.Decimal {
	if !m.Has(key) {
		return nil
	}
	value := read(m, key)
	return &value
}

func percent(most int64) func(*yamltree.Map, string) decimal.Decimal {
	return func(m *yamltree.Map, key string) decimal.Decimal { return m.Percent(key, most) }
}

func minutes(m *yamltree.Map, key string) decimal.Decimal { return m.Decimal(key, 0, MostMoney) }

// Rates reads what the shop reckons beside stock, finish and press time.
func Rates(m *yamltree.Map) jobs.Rates {
	r := jobs.Rates{
		PlatePerVersion:      optional(m, "plate_per_version", Money),
		RIPPerVersion:        optional(m, "rip_per_version", Money),
		RewindHourlyRate:     optional(m, "rewind_hourly_rate", Money),
		RewindSetupMinutes:   optional(m, "rewind_setup_minutes", minutes),
		RewindMinutesPerRoll: optional(m, "rewind_minutes_per_roll", minutes),
		CorePrice:            optional(m, "core_price", Money),
		TagPrice:             optional(m, "tag_price", Money),
		PackingPerRoll:       optional(m, "packing_per_roll", Money),
		PackingPerOrder:      optional(m, "packing_per_order", Money),
		MinimumCharge:        optional(m, "minimum_charge", Money),
	}
	for _, class := range m.Maps("coverage") {
		class.Need("id", "a name such as light")
		class.Need("per_thousand", "the money for ink or clicks on 1,000 labels, such as 1.20")
		r.Coverage = append(r.Coverage, jobs.CoverageClass{ID: class.Text("id"), PerThousand: Money(class, "per_thousand")})
	}
	return r
}

// Pricing reads how a price is made out of a cost.
func Pricing(m *yamltree.Map) jobs.Pricing {
	p := jobs.Pricing{
		Rule:         m.Text("rule"),
		Markup:       optional(m, "markup", percent(10_000)),
		Margin:       optional(m, "margin", percent(100)),
		MinimumPrice: optional(m, "minimum_price", Money),
		RoundTo:      optional(m, "round_to", Money),
		RoundUp:      m.Flag("round_up"),
	}
	for _, class := range m.Maps("classes") {
		p.Classes = append(p.Classes, jobs.PriceClass{
			Customer:   class.Text("customer"),
			FromLabels: class.Whole("from_labels", 0, jobs.MostQuantity),
			Markup:     optional(class, "markup", percent(10_000)),
			Margin:     optional(class, "margin", percent(100)),
		})
	}
	return p
}
