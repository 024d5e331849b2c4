package price

import (
	"fmt"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/rewind"
	"laneplan/nest"
)

// NewSheet costs a plan of a gang. The plan's version indices are those of
// the gang's nest problem. Missing rates without which no cost can be told
// (stock, press) are jobs.Faults; others are listed in Sheet.NotSet. What nest counts as earnings (billed overs) or as lost
// billing (unders) is no cost and is not in the sheet; neither is what
// fillers cost that are left out of the plan.
func NewSheet(g jobs.Gang, plan nest.Plan) (Sheet, error) {
	problem, err := g.Problem()
	if err != nil {
		return Sheet{}, err
	}
	c := costing{
		gang: g, plan: plan, problem: problem, entries: g.Entries(), count: nest.Recount(problem, plan), places: g.Places(),
		sheet: Sheet{Gang: g.ID, Currency: g.Currency, Places: g.Places()},
	}
	if g.Bare != nil {
		c.bare()
	} else {
		if err := c.rates(); err != nil {
			return Sheet{}, err
		}
		c.web()
		c.pressTime()
		if err := c.ink(); err != nil {
			return Sheet{}, err
		}
		if err := c.rewinding(); err != nil {
			return Sheet{}, err
		}
		c.plates()
	}
	c.outwork()
	c.minimum()
	return c.sheet, nil
}

// costing collects the lines of one sheet.
type costing struct {
	gang    jobs.Gang
	plan    nest.Plan
	problem nest.Problem
	count   nest.Count
	places  int32
	sheet   Sheet
	// entries are the plan's versions by index.
	entries []jobs.Entry
}

// add takes in a line, rounding its amount; lines of nothing are left out.
func (c *costing) add(line Line) {
	line.Amount = line.Quantity.Mul(line.Rate).Round(c.places)
	if line.Quantity.IsZero() || line.Rate.IsZero() {
		return
	}
	c.sheet.Lines = append(c.sheet.Lines, line)
	c.sheet.Total = c.sheet.Total.Add(line.Amount)
}

// rates refuses a gang without the rates that every cost needs. The planner
// needs the press's speed and has refused a gang without it.
func (c *costing) rates() error {
	var missing jobs.Faults
	g := c.gang
	if !g.Stock.PricePerSquareMetre.IsPositive() {
		missing = append(missing, jobs.Fault{Path: "stock.price_per_m2",
			Message: "stock " + g.Stock.ID + " has no price, so no cost can be told: want an amount above 0"})
	}
	if !g.Press.HourlyRate.IsPositive() {
		missing = append(missing, jobs.Fault{Path: "press.hourly_rate",
			Message: "press " + g.Press.ID + " has no hourly rate, so no cost can be told: want an amount above 0"})
	}
	if len(missing) > 0 {
		return missing
	}
	return nil
}

func whole(n int) decimal.Decimal { return decimal.NewFromInt(int64(n)) }

// bare costs rows, sections and lane runs in abstract units.
func (c *costing) bare() {
	for k, section := range c.plan.Sections {
		c.add(Line{Kind: KindAbstract, Section: k + 1, What: "rows", Quantity: whole(section.Rows), Unit: "rows",
			Rate: c.gang.Bare.Row, RateFrom: "costs: row"})
		c.add(Line{Kind: KindAbstract, Section: k + 1, What: "starting the section", Quantity: whole(1), Unit: "section",
			Rate: c.gang.Bare.Section, RateFrom: "costs: section"})
		c.add(Line{Kind: KindAbstract, Section: k + 1, What: "lane runs not carried", Quantity: whole(c.started(k)), Unit: "lane runs",
			Rate: c.gang.Bare.LaneRun, RateFrom: "costs: lane_run"})
	}
}

// started is the number of lane runs of section k that are not carried over.
func (c *costing) started(k int) int {
	n := 0
	for lane, version := range c.plan.Sections[k].Lanes {
		if version != nest.Empty && (k == 0 || c.plan.Sections[k-1].Lanes[lane] != version) {
			n++
		}
	}
	return n
}

// stretch is a length of web with its place in the job.
type stretch struct {
	section int
	what    string
	length  jobs.Length
	from    string
}

// stretches lists all web that runs through the press: set-up, then a
// changeover before every section but the first, the rows, the splices.
func (c *costing) stretches() []stretch {
	g := c.gang
	list := []stretch{{0, "set-up", g.Press.SetupLength(g.Die.Pitch()), "the press's set-up web"}}
	for k, section := range c.plan.Sections {
		if k > 0 {
			list = append(list, stretch{k + 1, "changeover", g.Press.ChangeoverWeb, "the press's changeover web"})
		}
		list = append(list, stretch{k + 1, "rows", jobs.Length(section.Rows) * g.Die.Pitch(),
			fmt.Sprintf("%d rows of %s", section.Rows, g.Die.Pitch())})
		if n := c.splices(k); n > 0 {
			list = append(list, stretch{k + 1, "splices", jobs.Length(n) * g.Stock.SpliceWeb,
				fmt.Sprintf("%d splices of %s", n, g.Stock.SpliceWeb)})
		}
	}
	return list
}

// splices inside section k.
func (c *costing) splices(k int) int {
	first := 0
	for _, section := range c.plan.Sections[:k] {
		first += section.Rows
	}
	n := 0
	for _, row := range c.plan.Splices {
		if row >= first && row < first+c.plan.Sections[k].Rows {
			n++
		}
	}
	return n
}

// web costs stock and finishes by the area of the whole web, edge trim and
// gaps included.
func (c *costing) web() {
	g := c.gang
	var all jobs.Length
	for _, s := range c.stretches() {
		all += s.length
		from := fmt.Sprintf("%s: %s × %s of web", s.from, s.length, g.Die.Web)
		c.add(Line{Kind: KindStock, Section: s.section, What: s.what, Quantity: jobs.Area(g.Die.Web, s.length), Unit: "m²",
			Rate: g.Stock.PricePerSquareMetre, QuantityFrom: from, RateFrom: "stock " + g.Stock.ID + ": price_per_m2"})
		for _, finish := range g.Finishes {
			c.add(Line{Kind: KindFinishing, Section: s.section, What: finish.ID + ", " + s.what, Quantity: jobs.Area(g.Die.Web, s.length), Unit: "m²",
				Rate: finish.PricePerSquareMetre, QuantityFrom: from, RateFrom: "finish " + finish.ID + ": price_per_m2"})
		}
	}
	for _, finish := range g.Finishes {
		if finish.PricePerSquareMetre.IsZero() {
			c.notSet("finish %s: price_per_m2", finish.ID)
		}
	}
	printed := jobs.Length(g.Die.Lanes)*(g.Die.Across+g.Die.GapAcross) - g.Die.GapAcross
	if trim := g.Die.Web - printed; trim > 0 {
		quantity := jobs.Area(trim, all)
		c.sheet.OfWhich = append(c.sheet.OfWhich, Line{Kind: KindStock, What: "edge trim", Quantity: quantity, Unit: "m²",
			Rate: g.Stock.PricePerSquareMetre, Amount: quantity.Mul(g.Stock.PricePerSquareMetre).Round(c.places),
			QuantityFrom: fmt.Sprintf("%s of web × %s beside the lanes", all, trim)})
	}
}

// hours from minutes, to 9 decimals.
func hours(minutes decimal.Decimal) decimal.Decimal { return minutes.DivRound(whole(60), 9) }

// pressTime costs set-up, run, changeovers and splices at the hourly rate,
// and what starting lanes and rows cost on the press.
func (c *costing) pressTime() {
	g := c.gang
	rateFrom := "press " + g.Press.ID + ": hourly_rate"
	if g.Press.Budget != nil {
		rateFrom = "press " + g.Press.ID + ": hourly_budget, " + g.Press.Budget.Text()
	}
	time := func(section int, what string, minutes decimal.Decimal, from string) {
		c.add(Line{Kind: KindPress, Section: section, What: what, Quantity: hours(minutes), Unit: "h",
			Rate: g.Press.HourlyRate, QuantityFrom: from, RateFrom: rateFrom})
	}
	time(0, "set-up", g.Press.SetupMinutes, fmt.Sprintf("%s min", g.Press.SetupMinutes))
	for k, section := range c.plan.Sections {
		if k > 0 {
			time(k+1, "changeover", g.Press.ChangeoverMin, fmt.Sprintf("%s min", g.Press.ChangeoverMin))
		}
		run := jobs.Length(section.Rows) * g.Die.Pitch()
		time(k+1, "run", g.Press.RunMinutes(run), fmt.Sprintf("%s at %s a minute", run, g.Press.Speed))
		if n := c.splices(k); n > 0 {
			time(k+1, "splices", g.Stock.SpliceMinutes.Mul(whole(n)), fmt.Sprintf("%d splices of %s min", n, g.Stock.SpliceMinutes))
		}
		c.add(Line{Kind: KindPress, Section: k + 1, What: "lane runs not carried", Quantity: whole(c.started(k)), Unit: "lane runs",
			Rate: g.Press.LaneRunCost, RateFrom: "press " + g.Press.ID + ": lane_run_cost"})
	}
}

// ink costs impressions by the row and ink by the label.
func (c *costing) ink() error {
	priced := !c.gang.Press.ImpressionCharge.IsZero()
	for k, section := range c.plan.Sections {
		c.add(Line{Kind: KindInk, Section: k + 1, What: "impressions", Quantity: whole(section.Rows), Unit: "rows",
			Rate: c.gang.Press.ImpressionCharge, RateFrom: "press " + c.gang.Press.ID + ": impression_charge"})
		for i, entry := range c.entries {
			version := entry.Version
			lanes := 0
			for _, held := range section.Lanes {
				if held == i {
					lanes++
				}
			}
			rate, err := c.gang.Rates.LabelInk(*version)
			if err != nil {
				return err
			}
			priced = priced || !rate.IsZero()
			from := "version " + version.ID + ": ink"
			if version.InkPerLabel.IsZero() {
				from = "coverage class " + version.Coverage
			}
			c.add(Line{Kind: KindInk, Section: k + 1, What: "version " + version.ID, Quantity: whole(lanes * section.Rows), Unit: "labels",
				Rate: rate, QuantityFrom: fmt.Sprintf("%d lanes × %d rows", lanes, section.Rows), RateFrom: from})
		}
	}
	if !priced {
		c.notSet("ink and clicks (coverage, ink or impression_charge)")
	}
	return nil
}

// rewinding costs the slitter-rewinder's time, cores, tags and packing.
func (c *costing) rewinding() error {
	r := c.gang.Rates
	wound, err := rewind.Wind(c.gang, c.problem, c.plan)
	if err != nil {
		return err
	}
	rolls := make([]int, len(c.entries))
	for _, roll := range wound.Rolls {
		rolls[roll.Version]++
	}
	var minutesPerRoll *decimal.Decimal
	if r.RewindHourlyRate != nil {
		minutesPerRoll = r.RewindMinutesPerRoll
		if minutesPerRoll == nil {
			c.notSet("rates.rewind_minutes_per_roll")
		}
		if r.RewindSetupMinutes != nil {
			c.add(Line{Kind: KindFinishing, What: "setting up the slitter-rewinder", Quantity: hours(*r.RewindSetupMinutes), Unit: "h",
				Rate: *r.RewindHourlyRate, QuantityFrom: fmt.Sprintf("%s min", *r.RewindSetupMinutes), RateFrom: "rates.rewind_hourly_rate"})
		} else {
			c.notSet("rates.rewind_setup_minutes")
		}
	} else {
		c.notSet("rates.rewind_hourly_rate")
	}
	perRoll := []struct {
		what, field string
		rate        *decimal.Decimal
	}{{"cores", "core_price", r.CorePrice}, {"tags", "tag_price", r.TagPrice}, {"packing rolls", "packing_per_roll", r.PackingPerRoll}}
	for i, entry := range c.entries {
		version := entry.Version
		n, from := rolls[i], "rolls as they are wound"
		if minutesPerRoll != nil {
			minutes := minutesPerRoll.Mul(whole(n))
			c.add(Line{Kind: KindFinishing, Order: entry.Order.ID, What: "rewinding version " + version.ID, Quantity: hours(minutes), Unit: "h",
				Rate: *r.RewindHourlyRate, QuantityFrom: fmt.Sprintf("%d rolls × %s min", n, *minutesPerRoll), RateFrom: "rates.rewind_hourly_rate"})
		}
		for _, p := range perRoll {
			if p.rate != nil {
				c.add(Line{Kind: KindFinishing, Order: entry.Order.ID, What: p.what + " of version " + version.ID, Quantity: whole(n), Unit: "rolls",
					Rate: *p.rate, QuantityFrom: from, RateFrom: "rates." + p.field})
			}
		}
	}
	for _, p := range perRoll {
		if p.rate == nil {
			c.notSet("rates.%s", p.field)
		}
	}
	if r.PackingPerOrder == nil {
		c.notSet("rates.packing_per_order")
		return nil
	}
	for _, order := range c.printedOrders() {
		c.add(Line{Kind: KindFinishing, Order: order.ID, What: "packing the order", Quantity: whole(1), Unit: "order",
			Rate: *r.PackingPerOrder, RateFrom: "rates.packing_per_order"})
	}
	return nil
}

// plates costs plates and RIP by the version.
func (c *costing) plates() {
	r := c.gang.Rates
	for _, p := range []struct {
		what, field string
		rate        *decimal.Decimal
	}{{"plate", "plate_per_version", r.PlatePerVersion}, {"RIP", "rip_per_version", r.RIPPerVersion}} {
		if p.rate == nil {
			c.notSet("rates.%s", p.field)
			continue
		}
		for i, entry := range c.entries {
			version := entry.Version
			if !c.count.Versions[i].LeftOut {
				c.add(Line{Kind: KindPlates, Order: entry.Order.ID, What: p.what + " of version " + version.ID, Quantity: whole(1), Unit: "version",
					Rate: *p.rate, RateFrom: "rates." + p.field})
			}
		}
	}
}

// printedOrders are the orders of which the plan prints at least a version.
func (c *costing) printedOrders() []jobs.Order {
	printed := map[string]bool{}
	for i, n := range c.count.Versions {
		if !n.LeftOut {
			printed[c.entries[i].Order.ID] = true
		}
	}
	var list []jobs.Order
	for _, order := range c.gang.Orders {
		if printed[order.ID] {
			list = append(list, order)
		}
	}
	return list
}

// outwork costs what is bought in for an order.
func (c *costing) outwork() {
	for _, order := range c.printedOrders() {
		for _, work := range order.Outwork {
			c.add(Line{Kind: KindOutwork, Order: order.ID, What: work.Name, Quantity: whole(1), Unit: "order",
				Rate: work.Amount, RateFrom: "order " + order.ID + ": outwork"})
		}
	}
}

// minimum raises the total to the minimum charge.
func (c *costing) minimum() {
	least := c.gang.Rates.MinimumCharge
	if least == nil {
		return
	}
	c.add(Line{Kind: KindMinimum, What: "up to the minimum charge", Quantity: whole(1), Unit: "job",
		Rate:         decimal.Max(decimal.Zero, least.Round(c.places).Sub(c.sheet.Total)),
		QuantityFrom: "", RateFrom: fmt.Sprintf("rates.minimum_charge %s, the lines above add up to %s", *least, c.sheet.Total)})
}

func (c *costing) notSet(format string, args ...any) {
	c.sheet.NotSet = append(c.sheet.NotSet, fmt.Sprintf(format, args...))
}
