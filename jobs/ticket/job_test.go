package ticket

import (
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
	"laneplan/nest"
)

const mm = jobs.Millimetre

// spiceGang is a gang of an invented spice mill: six lanes, five versions,
// names in several scripts, one parent roll spliced on.
func spiceGang() jobs.Gang {
	one := 1
	version := func(id, name string, quantity, perRoll int, core jobs.Length, edge jobs.Edge) jobs.Version {
		return jobs.Version{ID: id, Name: name, Quantity: quantity, LabelsPerRoll: perRoll, Core: core, MostSplices: &one,
			Wind: jobs.Wind{Face: jobs.FaceOut, Edge: edge}}
	}
	return jobs.Gang{
		ID: "G7", Currency: "EUR",
		Die: jobs.Die{ID: "D-60x40", Across: 60 * mm, Around: 40 * mm, Lanes: 6, GapAcross: 3 * mm, GapAround: 3 * mm,
			Web: 400 * mm, ClosedLanes: []int{6}},
		Stock: jobs.Stock{ID: "PP-WHITE", Name: "white film, permanent", Caliper: 140 * jobs.Micrometre, Grammage: decimal.NewFromInt(158), PricePerSquareMetre: decimal.RequireFromString("0.62"),
			RollLength: 400 * jobs.Metre, SpliceWeb: 2 * jobs.Metre},
		Finishes: []jobs.Finish{{ID: "GLOSS", Name: "gloss varnish"}},
		Press: jobs.Press{ID: "NARROW-1", Name: "narrow web press", SetupFrames: &jobs.SetupFrames{Reach: 254 * mm, Discard: 3},
			ChangeoverWeb: 15 * jobs.Metre, RunningWaste: decimal.RequireFromString("0.03"), Speed: 30 * jobs.Metre,
			HourlyRate: decimal.NewFromInt(96), SetupMinutes: decimal.NewFromInt(25), ChangeoverMin: decimal.NewFromInt(8)},
		Policy: jobs.Policy{Overs: decimal.RequireFromString("0.1"), LimitOvers: true},
		Rewinder: jobs.Rewinder{ID: "REW-2", Cores: []jobs.Length{40 * mm, 76 * mm}, MaxDiameter: 350 * mm, CoreWall: 4 * mm,
			MaxWeight: decimal.NewFromInt(16), Leader: 300 * mm, Tail: 300 * mm},
		Chart: &jobs.WindChart{Name: "house chart", Numbers: map[int]jobs.Wind{
			1: {Face: jobs.FaceOut, Edge: jobs.EdgeTop}, 2: {Face: jobs.FaceOut, Edge: jobs.EdgeBottom}}},
		Orders: []jobs.Order{
			{ID: "2041", Customer: "Mühle Süd", Due: day(2026, 12, 4), Flags: []string{"food"}, Versions: []jobs.Version{
				version("CUMIN-100", "Kreuzkümmel gemahlen 100 g", 4500, 1000, 76*mm, jobs.EdgeTop),
				version("PEPPER-50", "Pieprz czarny mielony, słoik 50 g", 9000, 1000, 76*mm, jobs.EdgeTop)}},
			{ID: "2043", Customer: "Teehaus 茶", Due: day(2026, 12, 7), Flags: []string{"food"}, Versions: []jobs.Version{
				version("TEA-MIX", "茶 香料 Chai", 7400, 2000, 76*mm, jobs.EdgeBottom),
				version("CLOVE-20", "قرنفل Nelken", 2900, 500, 40*mm, jobs.EdgeTop)}},
			{ID: "2047", Customer: "Markt Ost", Due: day(2026, 12, 9), Flags: []string{"food"}, Versions: []jobs.Version{
				version("SALT-250", "Meersalz grob 250 g 🧂", 5700, 1000, 76*mm, jobs.EdgeTop)}},
		},
	}
}

func day(year int, month time.Month, d int) time.Time {
	return time.Date(year, month, d, 0, 0, 0, 0, time.UTC)
}

// problemOf is the problem of a gang.
func problemOf(t testing.TB, g jobs.Gang) nest.Problem {
	t.Helper()
	p, err := g.Problem()
	require.NoError(t, err)
	return p
}

func spicePlan() nest.Plan {
	return nest.Plan{Sections: []nest.Section{
		{Rows: 2900, Lanes: []int{0, 1, 1, 2, 3, nest.Empty}},
		{Rows: 1650, Lanes: []int{0, 1, 1, 2, 4, nest.Empty}},
		{Rows: 4100, Lanes: []int{4, nest.Empty, nest.Empty, 2, nest.Empty, nest.Empty}},
	}, Splices: []int{7900}}
}

func describe(t testing.TB, g jobs.Gang, plan nest.Plan) planfile.Gang {
	t.Helper()
	p := problemOf(t, g)
	plan.Cost = nest.Recount(p, plan).Cost
	require.NoError(t, nest.Check(p, plan))
	cost := plan.Cost.Total
	file, err := planfile.Describe(g, p, nest.Result{Plan: plan, Bound: cost * 0.97, Gap: 0.03, Seed: 1, Stop: nest.StopWork}, planfile.Run{Engine: "hand"})
	require.NoError(t, err)
	return file
}

func jobOf(t testing.TB, g jobs.Gang, plan nest.Plan) Job {
	t.Helper()
	j, err := New(g, problemOf(t, g), describe(t, g, plan))
	require.NoError(t, err)
	j.Printed = day(2026, 11, 25)
	return j
}

func spiceJob(t testing.TB) Job {
	j := jobOf(t, spiceGang(), spicePlan())
	money := decimal.RequireFromString
	j.MoneyRule = "proportional"
	j.Money = []OrderMoney{
		{"2041", money("310.20"), money("221.05"), money("89.15")},
		{"2043", money("290.00"), money("206.60"), money("83.40")},
		{"2047", money("175.00"), money("124.70"), money("50.30")},
	}
	return j
}

func long(word string, letters int) string {
	return strings.Repeat(word, letters/len(word)+1)[:letters]
}

func decimalOf(text string) decimal.Decimal { return decimal.RequireFromString(text) }
