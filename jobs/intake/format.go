package intake

import (
	"bytes"
	"time"

	"github.com/shopspring/decimal"
	"go.yaml.in/yaml/v3"

	"laneplan/jobs"
	"laneplan/jobs/intake/yamltree"
)

// Format writes a gang as the file that ReadFile reads: what is read from it
// is the gang again. Lengths are written in millimetres, prices for a square metre.
func Format(g jobs.Gang) ([]byte, error) {
	var root fields
	root.whole("laneplan", yamltree.Format)
	root.text("gang", g.ID)
	if g.Bare != nil {
		formatBare(&root, g)
	} else {
		formatShop(&root, g)
	}
	root.tolerance(formatPolicy(g.Policy))
	root.sub("rules", formatRules(g.Rules))
	formatOrders(&root, g.Orders)

	var out bytes.Buffer
	encoder := yaml.NewEncoder(&out)
	encoder.SetIndent(2)
	if err := encoder.Encode(root.node()); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

func formatBare(root *fields, g jobs.Gang) {
	root.whole("lanes", g.Die.Lanes)
	root.wholes("closed_lanes", g.Die.ClosedLanes)
	root.whole("frame_rows", g.Die.FrameRows)
	var costs fields
	costs.number("row", g.Bare.Row)
	costs.number("section", g.Bare.Section)
	costs.money("lane_run", g.Bare.LaneRun)
	root.sub("costs", costs)
}

func formatShop(root *fields, g jobs.Gang) {
	root.text("currency", g.Currency)

	var die fields
	die.text("id", g.Die.ID)
	die.length("across", g.Die.Across)
	die.length("around", g.Die.Around)
	die.whole("lanes", g.Die.Lanes)
	die.lengthOrZero("gap_across", g.Die.GapAcross)
	die.lengthOrZero("gap_around", g.Die.GapAround)
	die.length("web", g.Die.Web)
	die.length("edge", g.Die.Edge)
	die.wholes("closed_lanes", g.Die.ClosedLanes)
	die.whole("frame_rows", g.Die.FrameRows)
	die.whole("teeth", g.Die.Teeth)
	die.length("gear_pitch", g.Die.GearPitch)
	die.whole("labels_around", g.Die.PitchesRoundTheTool)
	root.sub("die", die)

	stock := material(g.Stock.ID, g.Stock.Name, g.Stock.PricePerSquareMetre, g.Stock.Caliper, g.Stock.Grammage)
	stock.money("liner_grams_per_m2", g.Stock.LinerGrammage)
	stock.length("roll_length", g.Stock.RollLength)
	stock.length("splice_web", g.Stock.SpliceWeb)
	stock.money("splice_minutes", g.Stock.SpliceMinutes)
	stock.lengths("widths", g.Stock.Widths)
	root.sub("stock", stock)

	var finishes []*yaml.Node
	for _, f := range g.Finishes {
		finish := material(f.ID, f.Name, f.PricePerSquareMetre, f.Caliper, f.Grammage)
		finishes = append(finishes, finish.node())
	}
	root.list("finishes", finishes)
	root.sub("press", formatPress(g.Press))

	var rewinder fields
	rewinder.text("id", g.Rewinder.ID)
	rewinder.lengths("cores", g.Rewinder.Cores)
	rewinder.length("max_diameter", g.Rewinder.MaxDiameter)
	rewinder.money("max_kg", g.Rewinder.MaxWeight)
	rewinder.length("core_wall", g.Rewinder.CoreWall)
	rewinder.money("core_kg_per_m3", g.Rewinder.CoreDensity)
	rewinder.length("leader", g.Rewinder.Leader)
	rewinder.length("tail", g.Rewinder.Tail)
	rewinder.whole("windings", g.Rewinder.Windings)
	root.sub("rewinder", rewinder)
	root.sub("rates", formatRates(g.Rates))
	root.sub("pricing", formatPricing(g.Pricing))
	if g.Chart != nil {
		root.sub("wind_chart", formatChart(*g.Chart))
	}
	root.sub("papers", formatPapers(g.Papers))
	if g.Begun != nil {
		var begun fields
		begun.lengthOrZero("roll_used", g.Begun.RollUsed)
		begun.number("minutes_gone", g.Begun.MinutesGone)
		begun.lengthOrZero("setup_web", g.Begun.SetupWeb)
		begun.number("setup_minutes", g.Begun.SetupMinutes)
		root.sub("begun", begun)
	}
}

// material is what stock and finish have in common.
func material(id, name string, price decimal.Decimal, caliper jobs.Length, grammage decimal.Decimal) fields {
	var f fields
	f.text("id", id)
	f.text("name", name)
	f.number("price_per_m2", price)
	f.length("caliper", caliper)
	f.money("grams_per_m2", grammage)
	return f
}

func formatPress(p jobs.Press) fields {
	var f fields
	f.text("id", p.ID)
	f.text("name", p.Name)
	f.plain("speed", formatLength(p.Speed)+"/min")
	if p.Budget == nil {
		f.number("hourly_rate", p.HourlyRate)
	} else {
		var budget fields
		budget.number("yearly_cost", p.Budget.YearlyCost)
		budget.number("paid_hours", p.Budget.PaidHours)
		budget.percent("sold", p.Budget.Use)
		f.sub("hourly_budget", budget)
	}
	f.number("setup_minutes", p.SetupMinutes)
	if p.SetupFrames == nil {
		f.lengthOrZero("setup_web", p.SetupWeb)
	} else {
		var frames fields
		frames.length("reach", p.SetupFrames.Reach)
		frames.whole("discard", p.SetupFrames.Discard)
		f.sub("setup_frames", frames)
	}
	f.number("changeover_minutes", p.ChangeoverMin)
	f.lengthOrZero("changeover_web", p.ChangeoverWeb)
	f.money("lane_run_cost", p.LaneRunCost)
	f.length("max_web", p.MaxWeb)
	f.length("min_web", p.MinWeb)
	f.texts("stocks", p.Stocks)
	f.date("start", p.Start, "2006-01-02 15:04")
	f.money("hours_a_day", p.HoursADay)
	f.money("busy_minutes", p.Busy)
	f.money("impression_charge", p.ImpressionCharge)
	f.percent("running_waste", p.RunningWaste)
	return f
}

// formatPolicy says what the policy does as a version would say it.
func formatPolicy(p jobs.Policy) jobs.Version {
	v := jobs.Version{Unders: &p.Unders, BillOvers: p.BillOvers}
	if p.LimitOvers {
		v.Overs = &p.Overs
	}
	return v
}

func formatRules(r jobs.Rules) fields {
	var f fields
	f.whole("sections", r.Sections)
	f.whole("most_sections", r.MostSections)
	f.whole("versions_per_section", r.VersionsPerSection)
	f.whole("least_rows", r.LeastRows)
	f.length("least_section", r.LeastSection)
	f.sets("together", r.Together)
	f.sets("apart", r.Apart)
	f.text("whole_rolls", r.WholeRolls)
	f.money("whole_roll_saving", r.WholeRollSaving)
	return f
}

func formatOrders(root *fields, orders []jobs.Order) {
	if len(orders) == 1 && orders[0].ID == "" {
		root.list("versions", formatVersions(orders[0].Versions))
		return
	}
	var all []*yaml.Node
	for _, o := range orders {
		var f fields
		f.text("id", o.ID)
		f.text("customer", o.Customer)
		f.date("due", o.Due, time.DateOnly)
		f.flag("rush", o.Rush)
		f.texts("flags", o.Flags)
		f.flag("filler", o.Filler)
		f.list("outwork", formatOutwork(o.Outwork))
		f.list("versions", formatVersions(o.Versions))
		all = append(all, f.node())
	}
	root.list("orders", all)
}

func formatVersions(versions []jobs.Version) []*yaml.Node {
	var all []*yaml.Node
	for _, v := range versions {
		var f fields
		f.text("id", v.ID)
		f.text("name", v.Name)
		f.text("artwork", v.Artwork)
		f.whole("quantity", v.Quantity)
		f.tolerance(v)
		f.count("fewest", v.Fewest)
		f.count("most", v.Most)
		f.money("unit_price", v.UnitPrice)
		f.money("ink_per_label", v.InkPerLabel)
		f.text("coverage", v.Coverage)
		f.money("elsewhere_cost", v.ElsewhereCost)
		f.whole("least_lanes", v.LeastLanes)
		f.whole("most_lanes", v.MostLanes)
		f.wholes("only_lanes", v.OnlyLanes)
		f.wholes("not_lanes", v.NotLanes)
		f.flag("one_piece", v.OnePiece)
		f.whole("labels_per_roll", v.LabelsPerRoll)
		f.length("max_diameter", v.MaxDiameter)
		f.length("core", v.Core)
		f.count("most_splices", v.MostSplices)
		if v.Wind != (jobs.Wind{}) {
			f.text("wind", v.Wind.Text())
		}
		f.flag("leave_overs", v.LeaveOvers)
		all = append(all, f.node())
	}
	return all
}
