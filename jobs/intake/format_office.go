package intake

import (
	"maps"
	"slices"
	"strconv"

	"go.yaml.in/yaml/v3"

	"laneplan/jobs"
)

// What the office adds to a gang: rates, pricing, charts and papers.

func formatRates(r jobs.Rates) fields {
	var f fields
	f.optional("plate_per_version", r.PlatePerVersion)
	f.optional("rip_per_version", r.RIPPerVersion)
	var classes []*yaml.Node
	for _, class := range r.Coverage {
		var one fields
		one.text("id", class.ID)
		one.number("per_thousand", class.PerThousand)
		classes = append(classes, one.node())
	}
	f.list("coverage", classes)
	f.optional("rewind_hourly_rate", r.RewindHourlyRate)
	f.optional("rewind_setup_minutes", r.RewindSetupMinutes)
	f.optional("rewind_minutes_per_roll", r.RewindMinutesPerRoll)
	f.optional("core_price", r.CorePrice)
	f.optional("tag_price", r.TagPrice)
	f.optional("packing_per_roll", r.PackingPerRoll)
	f.optional("packing_per_order", r.PackingPerOrder)
	f.optional("minimum_charge", r.MinimumCharge)
	return f
}

func formatPricing(p jobs.Pricing) fields {
	var f fields
	f.text("rule", p.Rule)
	f.optionalPercent("markup", p.Markup)
	f.optionalPercent("margin", p.Margin)
	var classes []*yaml.Node
	for _, class := range p.Classes {
		var one fields
		one.text("customer", class.Customer)
		one.whole("from_labels", class.FromLabels)
		one.optionalPercent("markup", class.Markup)
		one.optionalPercent("margin", class.Margin)
		classes = append(classes, one.node())
	}
	f.list("classes", classes)
	f.optional("minimum_price", p.MinimumPrice)
	f.optional("round_to", p.RoundTo)
	f.flag("round_up", p.RoundUp)
	return f
}

func formatChart(c jobs.WindChart) fields {
	var f, positions fields
	f.text("name", c.Name)
	for _, number := range slices.Sorted(maps.Keys(c.Numbers)) {
		positions.text(strconv.Itoa(number), c.Numbers[number].Text())
	}
	f.sub("positions", positions)
	return f
}

func formatPapers(p jobs.Papers) fields {
	var f, tags fields
	if p.Inches {
		f.plain("units", "inches")
	}
	if p.Letter {
		f.plain("paper", "Letter")
	}
	t := p.Tags
	tags.length("width", t.Width)
	tags.length("height", t.Height)
	tags.whole("columns", t.Columns)
	tags.whole("rows", t.Rows)
	tags.length("left", t.Left)
	tags.length("top", t.Top)
	tags.length("gap_across", t.GapAcross)
	tags.length("gap", t.Gap)
	f.sub("tags", tags)
	return f
}

func formatOutwork(all []jobs.Outwork) []*yaml.Node {
	var works []*yaml.Node
	for _, work := range all {
		var f fields
		f.text("name", work.Name)
		f.number("amount", work.Amount)
		works = append(works, f.node())
	}
	return works
}
