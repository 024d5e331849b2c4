package price_test

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/price"
	"laneplan/nest"
)

func dec(text string) decimal.Decimal { return decimal.RequireFromString(text) }

func ptr(text string) *decimal.Decimal {
	d := dec(text)
	return &d
}

// spiceMill is a gang of an invented mill: two orders, three versions on four
// lanes. Every figure is made up; the set-up web and the web's width are such
// that areas come out round.
func spiceMill() jobs.Gang {
	return jobs.Gang{
		ID: "mill", Currency: "EUR",
		Die: jobs.Die{ID: "d1", Across: 60 * jobs.Millimetre, Around: 97 * jobs.Millimetre, Lanes: 4,
			GapAcross: 3 * jobs.Millimetre, GapAround: 3 * jobs.Millimetre, Web: 260 * jobs.Millimetre},
		Stock:    jobs.Stock{ID: "paper", PricePerSquareMetre: dec("0.50"), Caliper: 145 * jobs.Micrometre},
		Finishes: []jobs.Finish{{ID: "matt", PricePerSquareMetre: dec("0.20")}},
		Press: jobs.Press{ID: "p1", Speed: 20 * jobs.Metre, HourlyRate: dec("90"), SetupMinutes: dec("20"), SetupWeb: 30 * jobs.Metre,
			ChangeoverMin: dec("2"), ChangeoverWeb: 5 * jobs.Metre, LaneRunCost: dec("0.75"), ImpressionCharge: dec("0.004")},
		Rewinder: jobs.Rewinder{ID: "r1", Cores: []jobs.Length{76 * jobs.Millimetre}},
		Orders: []jobs.Order{
			{ID: "o1", Customer: "Mill", Outwork: []jobs.Outwork{{Name: "foil", Amount: dec("35")}}, Versions: []jobs.Version{
				{ID: "cumin", Quantity: 4000, LabelsPerRoll: 1000, Coverage: "full"},
				{ID: "thyme", Quantity: 2000, LabelsPerRoll: 1000, InkPerLabel: dec("0.002")}}},
			{ID: "o2", Customer: "Shop", Versions: []jobs.Version{{ID: "mace", Quantity: 1000, LabelsPerRoll: 500}}},
		},
		Rates: jobs.Rates{
			Coverage:        []jobs.CoverageClass{{ID: "full", PerThousand: dec("4")}},
			PlatePerVersion: ptr("12"), RIPPerVersion: ptr("3"),
			RewindHourlyRate: ptr("60"), RewindSetupMinutes: ptr("10"), RewindMinutesPerRoll: ptr("1.5"),
			CorePrice: ptr("0.30"), TagPrice: ptr("0.05"), PackingPerRoll: ptr("0.10"), PackingPerOrder: ptr("2.50"),
		},
		Pricing: jobs.Pricing{Margin: ptr("0.4")},
	}
}

// millPlan prints the mill's gang in two sections.
func millPlan() nest.Plan {
	return nest.Plan{Sections: []nest.Section{
		{Rows: 1000, Lanes: []int{0, 0, 1, 1}},
		{Rows: 1000, Lanes: []int{0, 0, 2, nest.Empty}},
	}}
}

func TestSheetByHand(t *testing.T) {
	s, err := price.NewSheet(spiceMill(), millPlan())
	require.NoError(t, err)
	want := map[string]string{
		// 0.26 m of web: set-up 30 m = 7.8 m², section 100 m = 26 m², changeover 5 m = 1.3 m².
		"stock 0 set-up": "3.90", "stock 1 rows": "13.00", "stock 2 changeover": "0.65", "stock 2 rows": "13.00",
		"finishing 0 matt, set-up": "1.56", "finishing 1 matt, rows": "5.20", "finishing 2 matt, changeover": "0.26", "finishing 2 matt, rows": "5.20",
		// 90 an hour: 20 min, 100 m at 20 m a minute = 5 min, 2 min.
		"press time 0 set-up": "30.00", "press time 1 run": "7.50", "press time 2 changeover": "3.00", "press time 2 run": "7.50",
		// Section 2 carries cumin in two lanes and starts mace in one.
		"press time 1 lane runs not carried": "3.00", "press time 2 lane runs not carried": "0.75",
		"ink and clicks 1 impressions": "4.00", "ink and clicks 2 impressions": "4.00",
		"ink and clicks 1 version cumin": "8.00", "ink and clicks 1 version thyme": "4.00", "ink and clicks 2 version cumin": "8.00",
		// Rolls: cumin 4, thyme 2, mace 2; 1.5 min each at 60 an hour.
		"finishing 0 setting up the slitter-rewinder": "10.00",
		"finishing 0 rewinding version cumin":         "6.00", "finishing 0 rewinding version thyme": "3.00", "finishing 0 rewinding version mace": "3.00",
		"finishing 0 cores of version cumin": "1.20", "finishing 0 cores of version thyme": "0.60", "finishing 0 cores of version mace": "0.60",
		"finishing 0 tags of version cumin": "0.20", "finishing 0 tags of version thyme": "0.10", "finishing 0 tags of version mace": "0.10",
		"finishing 0 packing rolls of version cumin": "0.40", "finishing 0 packing rolls of version thyme": "0.20", "finishing 0 packing rolls of version mace": "0.20",
		"plates and RIP 0 plate of version cumin": "12.00", "plates and RIP 0 plate of version thyme": "12.00", "plates and RIP 0 plate of version mace": "12.00",
		"plates and RIP 0 RIP of version cumin": "3.00", "plates and RIP 0 RIP of version thyme": "3.00", "plates and RIP 0 RIP of version mace": "3.00",
		"outwork 0 foil": "35.00",
	}
	got := map[string]string{}
	packing := 0
	for _, line := range s.Lines {
		if line.What == "packing the order" {
			packing++
			assert.Equal(t, "2.5", line.Amount.String())
			continue
		}
		got[string(line.Kind)+" "+string(rune('0'+line.Section))+" "+line.What] = line.Amount.StringFixed(2)
	}
	assert.Equal(t, want, got)
	assert.Equal(t, 2, packing, "one for each order")
	assert.Equal(t, "233.12", s.Total.StringFixed(2))
	assert.Empty(t, s.NotSet)
}

func TestPartsAddUpToTheTotal(t *testing.T) {
	for _, currency := range []string{"EUR", "JPY", "KWD"} {
		g := spiceMill()
		g.Currency = currency
		g.Stock.PricePerSquareMetre = dec("0.4837")
		s, err := price.NewSheet(g, millPlan())
		require.NoError(t, err)
		kinds, sections := decimal.Zero, decimal.Zero
		for _, sum := range s.ByKind() {
			kinds = kinds.Add(sum.Amount)
		}
		for _, sum := range s.BySection() {
			sections = sections.Add(sum.Amount)
		}
		assert.True(t, s.Total.Equal(kinds), "%s: kinds add up to %s, total %s", currency, kinds, s.Total)
		assert.True(t, s.Total.Equal(sections), "%s: sections add up to %s, total %s", currency, sections, s.Total)
		for _, line := range s.Lines {
			assert.True(t, line.Amount.Equal(line.Quantity.Mul(line.Rate).Round(s.Places)), "%s: %s", currency, line.What)
			assert.True(t, line.Amount.Equal(line.Amount.Round(g.Places())), "%s: %s is %s", currency, line.What, line.Amount)
		}
	}
}

// What the planner minimises is what the sheet charges, but for what a plan
// cannot change and the rounding of each line.
func TestSheetAgreesWithThePlannersCost(t *testing.T) {
	g := spiceMill()
	g.Rates = jobs.Rates{Coverage: g.Rates.Coverage}
	g.Orders[0].Outwork = nil
	g.Stock.RollLength, g.Stock.SpliceWeb, g.Stock.SpliceMinutes = 150*jobs.Metre, 2*jobs.Metre, dec("4")
	plan := millPlan()
	plan.Splices = []int{1150}
	problem, err := g.Problem()
	require.NoError(t, err)
	s, err := price.NewSheet(g, plan)
	require.NoError(t, err)
	half := 0.005 * float64(len(s.Lines))
	assert.InDelta(t, nest.Recount(problem, plan).Cost.Total, s.Total.InexactFloat64(), half)
	var splices int
	for _, line := range s.Lines {
		if line.What == "splices" || line.What == "matt, splices" {
			splices++
			assert.Equal(t, 2, line.Section)
		}
	}
	assert.Equal(t, 3, splices, "stock, finish and press time of the one splice")
}

func TestBareSheetIsThePlansCost(t *testing.T) {
	g := jobs.Gang{ID: "covers", Die: jobs.Die{Lanes: 4}, Bare: &jobs.BareCosts{Row: dec("13.44"), Section: dec("18676")},
		Orders: []jobs.Order{{ID: "o", Versions: []jobs.Version{{ID: "A", Quantity: 4500}, {ID: "B", Quantity: 9000}, {ID: "C", Quantity: 16000}}}}}
	s, err := price.NewSheet(g, nest.Plan{Sections: []nest.Section{{Rows: 2875, Lanes: []int{2, 2, 2, 2}}, {Rows: 4500, Lanes: []int{0, 1, 1, 2}}}})
	require.NoError(t, err)
	assert.Equal(t, "136472", s.Total.String())
	assert.Equal(t, []price.Sum{{Section: 0, Amount: decimal.Zero}, {Section: 1, Amount: dec("57316")}, {Section: 2, Amount: dec("79156")}}, equalised(s.BySection()))
}

// equalised gives decimals their shortest form, so that they compare.
func equalised(sums []price.Sum) []price.Sum {
	for i := range sums {
		sums[i].Amount = dec(sums[i].Amount.String())
		if sums[i].Amount.IsZero() {
			sums[i].Amount = decimal.Zero
		}
	}
	return sums
}

// Set-up hours, run hours and materials at the budgeted hourly rate, as in P.
// K. Ruggles, 'Printing Estimating'; 6.5 h × 65 = 422.50 is the worked example
// of Signs of the Times, 'How to bolster your business'.
func TestPressTimeAtTheBudgetedHourlyRate(t *testing.T) {
	g := spiceMill()
	g.Press.HourlyRate = dec("65")
	g.Press.SetupMinutes = dec("90") // 1.5 h
	g.Press.ChangeoverMin, g.Press.LaneRunCost = decimal.Zero, decimal.Zero
	g.Press.Speed = 200 * jobs.Metre / 300 // 200 m in 5 h: 300 min
	s, err := price.NewSheet(g, millPlan())
	require.NoError(t, err)
	for _, sum := range s.ByKind() {
		if sum.Kind == price.KindPress {
			assert.Equal(t, "422.50", sum.Amount.StringFixed(2))
		}
	}
}

func TestTheTraceTellsWhereAnHourlyRateComesFrom(t *testing.T) {
	g := spiceMill()
	g.Press.Budget = &jobs.HourlyBudget{YearlyCost: dec("149760"), PaidHours: dec("2080"), Use: dec("0.8")}
	g.Press.HourlyRate = g.Press.Budget.Rate()
	s, err := price.NewSheet(g, millPlan())
	require.NoError(t, err)
	assert.Contains(t, s.Trace(), "press time, section 2, changeover: 0.033333333 h × 90 = 3.00 (2 min; press p1: hourly_budget, 149760 a year over 2080 paid hours, 80% of them sold)")
}

// A web 13 in wide at 0.45 for 1,000 square inches costs 0.0702 a linear foot
// (derived from the suppliers' formula 'price per MSI × width × 12 / 1000':
// MGX Digital, 'MSI, Feet, and Sheets').
func TestStockByThousandSquareInches(t *testing.T) {
	g := spiceMill()
	g.Die.Web = 13 * jobs.Inch
	g.Die.Around, g.Die.GapAround = 23*jobs.Inch/2, jobs.Inch/2 // 12 in: a row is a foot
	g.Stock.PricePerSquareMetre = jobs.PerSquareMetre(dec("0.45"))
	s, err := price.NewSheet(g, millPlan())
	require.NoError(t, err)
	for _, line := range s.Lines {
		if line.Kind == price.KindStock && line.What == "rows" {
			assert.Equal(t, "70.20", line.Amount.StringFixed(2), "1,000 rows of a foot")
		}
	}
}

func TestEdgeTrimIsShownAndNotChargedTwice(t *testing.T) {
	s, err := price.NewSheet(spiceMill(), millPlan())
	require.NoError(t, err)
	require.Len(t, s.OfWhich, 1)
	// 260 − (4 × 63 − 3) = 11 mm beside the lanes over 235 m of web, at 0.50.
	assert.Equal(t, "1.29", s.OfWhich[0].Amount.StringFixed(2))
	assert.Contains(t, s.Trace(), "of which stock, job, edge trim: 2.585 m² × 0.5 = 1.29 (235m of web × 11mm beside the lanes)")
}

func TestTraceShowsTheArithmetic(t *testing.T) {
	s, err := price.NewSheet(spiceMill(), millPlan())
	require.NoError(t, err)
	trace := s.Trace()
	for _, line := range []string{
		"stock, section 1, rows: 26 m² × 0.5 = 13.00 (1000 rows of 100mm: 100m × 260mm of web; stock paper: price_per_m2)",
		"press time, section 2, changeover: 0.033333333 h × 90 = 3.00 (2 min; press p1: hourly_rate)",
		"ink and clicks, section 1, version cumin: 2000 labels × 0.004 = 8.00 (2 lanes × 1000 rows; coverage class full)",
		"finishing, order o1, rewinding version cumin: 0.1 h × 60 = 6.00 (4 rolls × 1.5 min; rates.rewind_hourly_rate)",
	} {
		assert.Contains(t, trace, line)
	}
}

func TestRatesThatTheShopDidNotSet(t *testing.T) {
	g := spiceMill()
	g.Rates, g.Press.ImpressionCharge = jobs.Rates{}, decimal.Zero
	g.Finishes[0].PricePerSquareMetre = decimal.Zero
	for i := range g.Orders[0].Versions {
		g.Orders[0].Versions[i].Coverage, g.Orders[0].Versions[i].InkPerLabel = "", decimal.Zero
	}
	s, err := price.NewSheet(g, millPlan())
	require.NoError(t, err)
	for _, field := range []string{"finish matt: price_per_m2", "ink and clicks (coverage, ink or impression_charge)", "rates.rewind_hourly_rate", "rates.core_price", "rates.tag_price", "rates.packing_per_roll", "rates.packing_per_order", "rates.plate_per_version", "rates.rip_per_version"} {
		assert.Contains(t, s.NotSet, field)
	}

	g.Stock.PricePerSquareMetre, g.Press.HourlyRate = decimal.Zero, decimal.Zero
	_, err = price.NewSheet(g, millPlan())
	assert.EqualError(t, err, `stock.price_per_m2: stock paper has no price, so no cost can be told: want an amount above 0
press.hourly_rate: press p1 has no hourly rate, so no cost can be told: want an amount above 0`)
	var faults jobs.Faults
	assert.ErrorAs(t, err, &faults, "bad input, with a place in the file")
}

func TestMinimumChargeFillsUp(t *testing.T) {
	g := spiceMill()
	g.Rates.MinimumCharge = ptr("300")
	s, err := price.NewSheet(g, millPlan())
	require.NoError(t, err)
	assert.Equal(t, "300.00", s.Total.StringFixed(2))
	last := s.Lines[len(s.Lines)-1]
	assert.Equal(t, price.KindMinimum, last.Kind)
	assert.Equal(t, "66.88", last.Amount.StringFixed(2))
	g.Rates.MinimumCharge = ptr("233.12")
	s, err = price.NewSheet(g, millPlan())
	require.NoError(t, err)
	assert.Equal(t, "233.12", s.Total.StringFixed(2))
}
