package jobs_test

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/nest"
)

func money(text string) decimal.Decimal { return decimal.RequireFromString(text) }

func fraction(text string) *decimal.Decimal {
	d := money(text)
	return &d
}

func number(n int) *int { return &n }

func bare(quantities ...int) jobs.Gang {
	g := jobs.Gang{
		ID: "bare", Die: jobs.Die{Lanes: 4},
		Bare:   &jobs.BareCosts{Row: money("13.44"), Section: money("18676"), LaneRun: money("2.5")},
		Orders: []jobs.Order{{}},
	}
	for i, q := range quantities {
		g.Orders[0].Versions = append(g.Orders[0].Versions, jobs.Version{ID: string(rune('A' + i)), Quantity: q})
	}
	return g
}

// shop is a gang in round figures: a row is 0.1 m of web 0.25 m wide.
func shop() jobs.Gang {
	return jobs.Gang{
		ID: "shop", Currency: "EUR",
		Die: jobs.Die{
			Lanes: 4, Across: 60 * jobs.Millimetre, Around: 97 * jobs.Millimetre, GapAcross: 2 * jobs.Millimetre,
			GapAround: 3 * jobs.Millimetre, Web: 250 * jobs.Millimetre, ClosedLanes: []int{2}, FrameRows: 3,
		},
		Stock: jobs.Stock{
			ID: "paper", PricePerSquareMetre: money("0.40"),
			RollLength: 1000 * jobs.Metre, SpliceWeb: 2 * jobs.Metre, SpliceMinutes: money("3"),
		},
		Finishes: []jobs.Finish{{ID: "varnish", PricePerSquareMetre: money("0.08")}},
		Press: jobs.Press{
			Speed: 20 * jobs.Metre, HourlyRate: money("90"), SetupMinutes: money("20"),
			SetupFrames:   &jobs.SetupFrames{Reach: 10 * jobs.Inch, Discard: 3},
			ChangeoverMin: money("6"), ChangeoverWeb: 5 * jobs.Metre, LaneRunCost: money("0.75"),
			ImpressionCharge: money("0.01"), Start: time.Date(2026, 11, 26, 6, 0, 0, 0, time.UTC), HoursADay: money("16"),
		},
		Policy: jobs.Policy{Unders: money("0.02"), Overs: money("0.10"), LimitOvers: true},
		Orders: []jobs.Order{
			{ID: "1", Due: time.Date(2026, 11, 27, 0, 0, 0, 0, time.UTC), Rush: true, Versions: []jobs.Version{
				{ID: "A", Quantity: 333, UnitPrice: money("0.05"), BillOvers: true, OnlyLanes: []int{1, 3}, NotLanes: []int{3}, MostSplices: number(0)},
				{ID: "B", Quantity: 1001, Unders: fraction("0"), AllOvers: true, InkPerLabel: money("0.002"), OnePiece: true, LabelsPerRoll: 500},
			}},
			{ID: "2", Filler: true, Versions: []jobs.Version{
				{ID: "C", Quantity: 50, ElsewhereCost: money("12.5"), NotLanes: []int{4}, LeastLanes: 1, MostLanes: 2, MostSplices: number(1)},
			}},
		},
		Rules: jobs.Rules{
			MostSections: 5, VersionsPerSection: 3, LeastRows: 10, LeastSection: 1050 * jobs.Millimetre,
			Together: [][]string{{"A", "C"}}, Apart: [][]string{{"B", "A"}},
			WholeRolls: jobs.WholeRollsPreferred, WholeRollSaving: money("4.5"),
		},
	}
}

func TestProblemOfABareGang(t *testing.T) {
	got, err := bare(4500, 9000, 16000).Problem()
	require.NoError(t, err)
	want := nest.Problem{
		Lanes: 4, Costs: nest.Costs{Row: 13.44, Section: 18676, LaneRun: 2.5},
		Versions: []nest.Version{{ID: "A", Quantity: 4500, Fewest: 4500}, {ID: "B", Quantity: 9000, Fewest: 9000}, {ID: "C", Quantity: 16000, Fewest: 16000}},
	}
	assert.Equal(t, want, got)
	assert.NoError(t, nest.Validate(got))
}

func TestProblemOfAShopGang(t *testing.T) {
	got, err := shop().Problem()
	require.NoError(t, err)
	require.NoError(t, nest.Validate(got))

	// By hand. Row: 0.25 m × 0.1 m × 0.48 + 0.1/20 min × 1.50 + 0.01.
	assert.InDelta(t, 0.012+0.0075+0.01, got.Costs.Row, 1e-15)
	// Changeover: 0.25 × 5 × 0.48 + 6 × 1.50. Set-up: 3 frames of 3 rows (10 in
	// reach into the third pitch of 100 mm) are 0.9 m, and 20 min.
	assert.InDelta(t, 9.6, got.Costs.Section, 1e-12)
	assert.InDelta(t, 0.25*0.9*0.48+30-9.6, got.Costs.Fixed, 1e-12)
	assert.Equal(t, 0.75, got.Costs.LaneRun)
	assert.Equal(t, 4.5, got.Costs.WholeRollSaving)

	assert.Equal(t, nest.Limits{MostSections: 5, VersionsPerSection: 3, Frame: 3, LeastRows: 11}, got.Limits, "1050 mm are 11 rows of 100 mm")
	assert.Equal(t, nest.Press{SetupMinutes: 20, RowMinutes: 0.005, ChangeoverMinutes: 6}, got.Press)
	assert.Equal(t, []int{2}, got.Closed)
	assert.Equal(t, [][]int{{0, 2}}, got.Together)
	assert.Equal(t, [][]int{{1, 0}}, got.Apart)

	// Splice: 0.25 × 2 × 0.48 + 3 × 1.50.
	assert.InDelta(t, 4.74, got.Stock.SpliceCost, 1e-12)
	got.Stock.SpliceCost = 0
	assert.Equal(t, nest.Stock{RollRows: 10_000, SetupRows: 9, ChangeoverRows: 50, SpliceRows: 20}, got.Stock)

	deadline := 2 * 16 * 60.0 // both working days
	assert.Equal(t, []nest.Version{
		{ID: "A", Quantity: 333, Fewest: 327, Most: 366, ShortCost: 0.05, OverPrice: 0.05, OnlyLanes: []int{1}, Rush: true, Deadline: deadline, MostSplices: -1},
		{ID: "B", Quantity: 1001, Fewest: 1001, LabelCost: 0.002, OnePiece: true, LabelsPerRoll: 500, Rush: true, Deadline: deadline},
		{ID: "C", Quantity: 50, Fewest: 49, Most: 55, OnlyLanes: []int{1, 2, 3}, LeastLanes: 1, MostLanes: 2, Filler: true, ElsewhereCost: 12.5, MostSplices: 1},
	}, got.Versions)
}

func TestMinutesUntil(t *testing.T) {
	start := time.Date(2026, 11, 26, 6, 0, 0, 0, time.UTC)
	day := func(d int) time.Time { return time.Date(2026, 11, d, 0, 0, 0, 0, time.UTC) }
	tests := []struct {
		name  string
		press jobs.Press
		day   time.Time
		want  string
	}{
		{"the first day ends with its hours", jobs.Press{Start: start, HoursADay: money("16")}, day(26), "960"},
		{"the third day", jobs.Press{Start: start, HoursADay: money("7.5")}, day(28), "1350"},
		{"around the clock", jobs.Press{Start: start}, day(27), "2520"},
		{"hours that reach past midnight end with the day", jobs.Press{Start: start.Add(14 * time.Hour), HoursADay: money("8")}, day(26), "240"},
		{"and go on with the next", jobs.Press{Start: start.Add(14 * time.Hour), HoursADay: money("8")}, day(27), "720"},
		{"a day that is over", jobs.Press{Start: start}, day(25), "0"},
		{"no start", jobs.Press{}, day(27), "0"},
		{"no day", jobs.Press{Start: start}, time.Time{}, "0"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			assert.Equal(t, tt.want, tt.press.MinutesUntil(tt.day).String())
		})
	}
}

func TestAnOverdueOrderHasADeadlineThatNoPlanMeets(t *testing.T) {
	g := shop()
	g.Orders[0].Due = g.Press.Start.AddDate(0, 0, -3)
	p, err := g.Problem()
	require.NoError(t, err)
	assert.Positive(t, p.Versions[0].Deadline)
	assert.Less(t, p.Versions[0].Deadline, p.Press.SetupMinutes)
}

func TestProblemRefusesAFaultyGang(t *testing.T) {
	g := bare(5, 0)
	_, err := g.Problem()
	var faults jobs.Faults
	require.ErrorAs(t, err, &faults)
	assert.EqualError(t, err, "orders[0].versions[1].quantity: want 1 to 1000000000 labels, got 0")
}

func TestMomentsOfAPress(t *testing.T) {
	start := time.Date(2026, 11, 26, 6, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		name          string
		hours         string
		minutes       string
		begin, moment string
	}{
		{"at once", "16", "0", "26 06:00", "26 06:00"},
		{"within the first day, to the full minute", "16", "90.2", "26 07:31", "26 07:31"},
		{"the end of a day is the morning of the next for who begins", "16", "960", "27 06:00", "26 22:00"},
		{"the third day", "7.5", "930", "28 06:30", "28 06:30"},
		{"around the clock", "0", "1500", "27 07:00", "27 07:00"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := jobs.Press{Start: start, HoursADay: money(tt.hours)}
			assert.Equal(t, tt.begin, p.Begin(money(tt.minutes)).Format("02 15:04"))
			assert.Equal(t, tt.moment, p.Moment(money(tt.minutes)).Format("02 15:04"))
			// What is ready at a moment is in time for that day.
			assert.True(t, p.MinutesUntil(p.Moment(money(tt.minutes)).Truncate(24*time.Hour)).GreaterThanOrEqual(money(tt.minutes)))
			free := p.MinutesUntil(start.AddDate(0, 0, 3))
			p.Busy = money("30.5")
			assert.Equal(t, free.Sub(p.Busy).String(), p.MinutesUntil(start.AddDate(0, 0, 3)).String())
			p.Busy = free.Add(p.Busy)
			assert.True(t, p.MinutesUntil(start.AddDate(0, 0, 3)).IsZero())
		})
	}
	assert.True(t, jobs.Press{}.Begin(money("5")).IsZero())
	assert.True(t, jobs.Press{}.Moment(money("5")).IsZero())
}
