package jobs

import (
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// What a gang may hold at the most. They keep every count of labels and every
// sum of lengths far inside 64 bits.
const (
	MostQuantity = 1_000_000_000     // labels of one version
	MostLabels   = 1_000_000_000_000 // labels of all versions together
)

// mostOvers is the highest tolerance above what is ordered: ten times as much.
var mostOvers = decimal.NewFromInt(10)

// Check finds everything that is wrong with a gang whatever the plan: values
// out of range, that contradict each other or that name what does not exist.
// Rules that no plan can meet together are for the planner to find. Paths are
// those of a job file; in a bare gang the die's fields stand at the top.
func (g Gang) Check() Faults {
	c := checker{gang: g, entries: g.Entries(), paths: map[string]string{}}
	if g.Bare == nil {
		c.shop()
		c.faults.under("die", g.Die.Check())
	} else {
		c.faults.under("", g.Die.Check())
	}
	c.press()
	c.faults.under("rates", g.Rates.Check())
	c.faults.under("pricing", g.Pricing.Check())
	c.tolerance("", g.Policy.Unders, &g.Policy.Overs)
	c.versions()
	c.orders()
	c.rules()
	c.office()
	return c.faults
}

type checker struct {
	gang    Gang
	entries []Entry
	paths   map[string]string // version id to the path of its first use
	faults  Faults
}

// shop checks that die, stock and press are there and suit each other.
func (c *checker) shop() {
	g := c.gang
	needs := func(path string, there bool, what string) {
		if !there {
			c.faults.add(path, "want %s, got nothing", what)
		}
	}
	needs("die.across", g.Die.Across > 0, "the label's size across the web")
	needs("die.around", g.Die.Around > 0, "the label's size along the web")
	needs("die.web", g.Die.Web > 0, "the width of the web")
	needs("press.speed", g.Press.Speed > 0, "the speed of the web")
	p := g.Press
	if p.MaxWeb > 0 && g.Die.Web > p.MaxWeb {
		c.faults.clash("die.web", "press.max_web", "the web is %s wide, the press takes at most %s", g.Die.Web, p.MaxWeb)
	}
	if g.Die.Web < p.MinWeb && g.Die.Web > 0 {
		c.faults.clash("die.web", "press.min_web", "the web is %s wide, the press takes at least %s", g.Die.Web, p.MinWeb)
	}
	if len(p.Stocks) > 0 && !slices.Contains(p.Stocks, g.Stock.ID) {
		c.faults.add("stock.id", "press %s does not run stock %s: want one of %s", p.ID, g.Stock.ID, strings.Join(p.Stocks, ", "))
	}
	if len(g.Stock.Widths) > 0 && !slices.Contains(g.Stock.Widths, g.Die.Web) {
		c.faults.add("die.web", "stock %s cannot be had %s wide", g.Stock.ID, g.Die.Web)
	}
	c.parentRoll()
}

// parentRoll wants every loss of web to leave a row on a fresh roll.
func (c *checker) parentRoll() {
	roll, pitch := c.gang.Stock.RollLength, c.gang.Die.Pitch()
	if roll == 0 {
		if c.gang.Stock.SpliceWeb > 0 || c.gang.Stock.SpliceMinutes.IsPositive() {
			c.faults.add("stock.roll_length", "want the web on a parent roll, since a splice is described")
		}
		return
	}
	for _, lost := range []struct {
		path, what string
		length     Length
	}{
		{"press.setup_web", "the set-up", c.gang.Press.SetupLength(pitch)},
		{"begun.roll_used", "what is gone with the set-up", c.gang.rollUsed() + c.gang.Press.SetupLength(pitch)},
		{"press.changeover_web", "a changeover", c.gang.Press.ChangeoverWeb},
		{"stock.splice_web", "a splice", c.gang.Stock.SpliceWeb},
	} {
		if lost.length+pitch > roll {
			c.faults.clash("stock.roll_length", lost.path, "%s takes %s of web: want a parent roll longer than that, got %s", lost.what, lost.length, roll)
		}
	}
}

func (c *checker) press() {
	p := c.gang.Press
	if p.SetupWeb > 0 && p.SetupFrames != nil {
		c.faults.clash("press.setup_frames", "press.setup_web", "want the set-up web as a length or as frames, not both")
	}
	if p.HoursADay.GreaterThan(decimal.NewFromInt(24)) {
		c.faults.add("press.hours_a_day", "a day has 24 hours, got %s", p.HoursADay)
	}
}

// tolerance checks the fractions stated at one level.
func (c *checker) tolerance(prefix string, unders decimal.Decimal, overs *decimal.Decimal) {
	if unders.IsNegative() || !unders.LessThan(one) {
		c.faults.add(prefix+"unders", "want unders from 0%% to less than 100%%, got %s%%", unders.Shift(2))
	}
	if overs != nil && (overs.IsNegative() || overs.GreaterThan(mostOvers)) {
		c.faults.add(prefix+"overs", "want overs from 0%% to %s%%, got %s%%", mostOvers.Shift(2), overs.Shift(2))
	}
}

func (c *checker) versions() {
	if len(c.entries) == 0 {
		c.faults.add("orders", "want at least one version")
	}
	sum := 0
	for i, o := range c.gang.Orders {
		for j, v := range o.Versions {
			path := fmt.Sprintf("orders[%d].versions[%d]", i, j)
			switch earlier, twice := c.paths[v.ID]; {
			case v.ID == "":
				c.faults.add(path+".id", "want an id of its own for every version, got nothing")
			case twice:
				c.faults.clash(path+".id", earlier, "version %s stands here twice: want an id of its own for every version", v.ID)
			default:
				c.paths[v.ID] = path + ".id"
			}
			c.version(path+".", o, v)
			sum += min(max(v.Quantity, 0), MostQuantity)
		}
	}
	if sum > MostLabels {
		c.faults.add("orders", "all versions together want %d labels: want at most %d", sum, MostLabels)
	}
	// Rows × pitch must stay within what a length can hold, too.
	if pitch := c.gang.Die.Pitch(); pitch > 0 && sum > int(maxLength/pitch) {
		c.faults.add("orders", "%d labels of %s would take more than 10,000 km of web: want fewer", sum, pitch)
	}
}

func (c *checker) version(prefix string, o Order, v Version) {
	if v.Quantity < 1 || v.Quantity > MostQuantity {
		c.faults.add(prefix+"quantity", "want 1 to %d labels, got %d", MostQuantity, v.Quantity)
	}
	unders := decimal.Zero
	if v.Unders != nil {
		unders = *v.Unders
	}
	c.tolerance(prefix, unders, v.Overs)
	tolerance := c.gang.Tolerance(v)
	if v.Fewest != nil && (*v.Fewest < 0 || *v.Fewest > v.Quantity) {
		c.faults.clash(prefix+"fewest", prefix+"quantity", "want 0 to the %d labels ordered, got %d", v.Quantity, *v.Fewest)
	}
	if v.Most != nil && *v.Most < v.Quantity {
		c.faults.clash(prefix+"most", prefix+"quantity", "want at least the %d labels ordered, got %d", v.Quantity, *v.Most)
	}
	if tolerance.BillOvers && !tolerance.LimitOvers {
		c.faults.add(prefix+"overs", "version %s bills its overs: want a limit to them such as 10%%", v.ID)
	}
	if tolerance.BillOvers && !v.UnitPrice.IsPositive() {
		c.faults.add(prefix+"unit_price", "version %s bills its overs: want the price of a label", v.ID)
	}
	if o.Filler && !v.ElsewhereCost.IsPositive() {
		c.faults.add(prefix+"elsewhere_cost", "version %s is a filler: want what it costs to print it another day", v.ID)
	}
	if v.MaxDiameter > 0 && v.MaxDiameter <= v.Core {
		c.faults.clash(prefix+"max_diameter", prefix+"core", "want a roll wider than its core of %s, got %s", v.Core, v.MaxDiameter)
	}
	if _, err := c.gang.Rates.LabelInk(v); err != nil {
		c.faults.add(prefix+"coverage", "version %s: unknown coverage class %q, want one of the shop's rates", v.ID, v.Coverage)
	}
	if v.MostSplices != nil && *v.MostSplices < 0 {
		c.faults.add(prefix+"most_splices", "want 0 or more, got %d", *v.MostSplices)
	}
	c.placement(prefix, v)
}

// placement checks the rules about a version's lanes.
func (c *checker) placement(prefix string, v Version) {
	lanes := c.gang.Die.Lanes
	if lanes < 1 {
		return
	}
	before := len(c.faults)
	if v.LeastLanes < 0 || v.LeastLanes > lanes {
		c.faults.add(prefix+"least_lanes", "the die has %d lanes, got %d", lanes, v.LeastLanes)
	}
	if v.MostLanes < 0 || v.MostLanes > 0 && v.MostLanes < v.LeastLanes {
		c.faults.clash(prefix+"most_lanes", prefix+"least_lanes", "want at least as many as least_lanes, %d, got %d", v.LeastLanes, v.MostLanes)
	}
	c.faults.lanes(prefix+"only_lanes", v.OnlyLanes, lanes)
	c.faults.lanes(prefix+"not_lanes", v.NotLanes, lanes)
	if len(c.faults) == before && len(v.NotLanes) > 0 && len(c.gang.allowedLanes(v)) == 0 {
		c.faults.add(prefix+"not_lanes", "no lane is left for version %s: want one that is not among them", v.ID)
	}
}

func (c *checker) orders() {
	first := map[string]string{}
	for i, o := range c.gang.Orders {
		path := fmt.Sprintf("orders[%d].", i)
		if earlier, twice := first[o.ID]; twice && o.ID != "" {
			c.faults.clash(path+"id", earlier, "order %s stands here twice: want one order with all its versions", o.ID)
		} else {
			first[o.ID] = path + "id"
		}
		for j, flag := range o.Flags {
			if !slices.Contains(OrderFlags, flag) {
				c.faults.add(fmt.Sprintf("%sflags[%d]", path, j), "want one of %s, got %q", strings.Join(OrderFlags, ", "), flag)
			}
		}
		if i > 0 && !sameSet(o.Flags, c.gang.Orders[0].Flags) {
			c.faults.clash(path+"flags", "orders[0].flags", "order %s is for %s, order %s for %s: want them in different gangs, since ink and stock have to suit the use",
				name(o.ID), use(o.Flags), name(c.gang.Orders[0].ID), use(c.gang.Orders[0].Flags))
		}
	}
}

func sameSet(a, b []string) bool {
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}

func use(flags []string) string {
	if len(flags) == 0 {
		return "no special use"
	}
	return strings.Join(slices.Sorted(slices.Values(flags)), " and ")
}

func name(id string) string {
	if id == "" {
		return "without id"
	}
	return id
}

func (c *checker) rules() {
	r := c.gang.Rules
	if r.MostSections > 0 && r.Sections > r.MostSections {
		c.faults.clash("rules.sections", "rules.most_sections", "want at most most_sections, %d, got %d", r.MostSections, r.Sections)
	}
	if c.gang.Bare != nil && r.LeastSection > 0 {
		c.faults.add("rules.least_section", "a bare problem knows no lengths: want least_rows")
	}
	c.sets("rules.together", r.Together)
	c.sets("rules.apart", r.Apart)
	known := slices.ContainsFunc(c.entries, func(e Entry) bool { return e.Version.LabelsPerRoll > 0 })
	switch {
	case !slices.Contains([]string{"", WholeRollsPreferred, WholeRollsRequired}, r.WholeRolls):
		c.faults.add("rules.whole_rolls", "want %s or %s, got %q", WholeRollsPreferred, WholeRollsRequired, r.WholeRolls)
	case r.WholeRolls == WholeRollsPreferred && !r.WholeRollSaving.IsPositive():
		c.faults.add("rules.whole_roll_saving", "want the money that a changeover on a roll change saves")
	case r.WholeRolls != WholeRollsPreferred && r.WholeRollSaving.IsPositive():
		c.faults.clash("rules.whole_roll_saving", "rules.whole_rolls", "want whole_rolls: %s beside it", WholeRollsPreferred)
	case r.WholeRolls != "" && !known:
		c.faults.add("rules.whole_rolls", "no version states its labels_per_roll: want them where whole rolls are asked for")
	}
}

// office checks rates, pricing and the chart of copy positions.
func (c *checker) office() {
	c.faults.under("rates", c.gang.Rates.Check())
	c.faults.under("pricing", c.gang.Pricing.Check())
	if c.gang.Chart != nil {
		if err := c.gang.Chart.Check(); err != nil {
			c.faults.add("wind_chart", "%v", err)
		}
	}
}

// sets wants sets of two or more versions of the gang, none twice.
func (c *checker) sets(path string, sets [][]string) {
	for i, set := range sets {
		at := fmt.Sprintf("%s[%d]", path, i)
		if len(set) < 2 {
			c.faults.add(at, "want two versions or more in a set, got %d", len(set))
		}
		seen := map[string]bool{}
		for j, id := range set {
			at := fmt.Sprintf("%s[%d]", at, j)
			switch {
			case seen[id]:
				c.faults.add(at, "version %s stands in this set twice: want it once", id)
			case c.paths[id] == "":
				c.faults.add(at, "there is no version %s: want the id of one", id)
			}
			seen[id] = true
		}
	}
}
