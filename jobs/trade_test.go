package jobs_test

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
)

// length reads a length that is right.
func length(t *testing.T, text string) jobs.Length {
	t.Helper()
	l, err := jobs.ParseLength(text)
	require.NoError(t, err)
	return l
}

func TestAreas(t *testing.T) {
	tests := []struct {
		name, width, length, msi string
		source                   string
	}{
		{"12 in × 5000 ft", "12in", "5000ft", "720", "MGX Digital, 'MSI, Feet, and Sheets'"},
		{"a sheet of 12 × 18 in", "12in", "18in", "0.216", "MGX Digital"},
		{"a sheet of 13 × 19 in", "13in", "19in", "0.247", "MGX Digital"},
		{"5.5 in × 2000 ft", "5.5in", "2000ft", "132", "Evans, 'MSI Calculator'"},
		{"one inch of a 1000 in web", "1000in", "1in", "1", "definition"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			area := jobs.Area(length(t, tt.width), length(t, tt.length))
			assert.Equal(t, tt.msi, jobs.MSI(area).String(), tt.source)
		})
	}

	t.Run("feet of web for 1440 MSI at 13 in (MGX Digital)", func(t *testing.T) {
		area := jobs.Area(13*jobs.Inch, length(t, "9230.77ft"))
		assert.InDelta(t, 1440, jobs.MSI(area).InexactFloat64(), 0.001)
	})
	t.Run("1 MSI is 0.64516 m², 1 m² is 1.5500031 MSI (exact: the inch is 25.4 mm)", func(t *testing.T) {
		assert.Equal(t, "0.64516", jobs.Area(1000*jobs.Inch, jobs.Inch).String())
		assert.Equal(t, "1.5500031", jobs.MSI(decimal.NewFromInt(1)).Round(7).String())
	})
	t.Run("1 MSF is 144 MSI (Case Paper, 'Formulas': 5343.75 MSI are 37.109 MSF)", func(t *testing.T) {
		area := money("5343.75").Mul(jobs.SquareInches)
		assert.Equal(t, "37.109", jobs.MSF(area).Round(3).String())
	})
	t.Run("a foot of 13 in web at 0.45 per MSI costs 0.0702 (derived)", func(t *testing.T) {
		cost := jobs.Area(13*jobs.Inch, jobs.Foot).Mul(jobs.PerSquareMetre(money("0.45")))
		assert.Equal(t, "0.0702", cost.Round(9).String())
	})
}

func TestRepeats(t *testing.T) {
	eighth := jobs.Inch / 8
	// F. Burgos, 'CP Versus DP', FlexoExchange: repeat = teeth × circular pitch.
	assert.Equal(t, length(t, "10.25in"), jobs.Repeat(82, eighth))
	// Flexography: Principles and Practices, vol. 1, p. 85: 754 teeth of 0.25 in.
	assert.Equal(t, length(t, "188.5in"), jobs.Repeat(754, jobs.Inch/4))
	for _, tt := range []struct {
		name, repeat string
		teeth        int
		whole        bool
	}{
		{"7.5 in (derived)", "7.5in", 60, true},
		{"a 4 in label and its 1/8 gap (derived)", "4.125in", 33, true},
		{"three of them around (derived)", "12.375in", 99, true},
		{"an 8 in label and its 1/8 gap (Columbine Label, 'Understanding Die Cutting Tolerances')", "8.125in", 65, true},
		{"103 mm is no whole number of teeth (derived)", "103mm", 32, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			teeth, whole := jobs.Teeth(length(t, tt.repeat), eighth)
			assert.Equal(t, tt.teeth, teeth)
			assert.Equal(t, tt.whole, whole)
		})
	}
}

func TestLanesAcross(t *testing.T) {
	// All derived from floor((web - 2·edge + gap) / (across + gap)).
	tests := []struct {
		web, edge, across, gap string
		want                   int
	}{
		{"13in", "0.25in", "3in", "0.125in", 4},
		{"13in", "0.25in", "2in", "0.125in", 5},
		{"13in", "0.25in", "4in", "0.125in", 3},
		{"330mm", "5mm", "50mm", "3mm", 6},
		{"330mm", "5mm", "60mm", "3mm", 5},
		{"330mm", "5mm", "75mm", "3mm", 4},
		{"330mm", "5mm", "100mm", "3mm", 3},
		{"50mm", "5mm", "50mm", "3mm", 0},
	}
	for _, tt := range tests {
		got := jobs.LanesAcross(length(t, tt.web), length(t, tt.edge), length(t, tt.across), length(t, tt.gap))
		assert.Equal(t, tt.want, got, "%+v", tt)
	}
	die := jobs.Die{Lanes: 4, Across: 3 * jobs.Inch, GapAcross: jobs.Inch / 8, Edge: jobs.Inch / 4, Web: 13 * jobs.Inch}
	assert.Equal(t, length(t, "12.875in"), die.UsedWeb(), "the first case: 4 labels, 3 gaps, 2 edges")
}

func TestOneSection(t *testing.T) {
	tests := []struct {
		name       string
		quantities []int
		lanes      int
		rows       int
		each       []int
	}{
		{"CIP4, XJDF specification, example 5.6: 8 positions, 513 impressions", []int{1025, 975, 925, 875}, 8, 513, []int{2, 2, 2, 2}},
		{"4 lanes (derived)", []int{5000, 3000, 1000}, 4, 3000, []int{2, 1, 1}},
		{"6 lanes (derived)", []int{5000, 3000, 1000}, 6, 1667, []int{3, 2, 1}},
		{"9 lanes (derived)", []int{5000, 3000, 1000}, 9, 1000, []int{5, 3, 1}},
		{"6 lanes, five orders (quantities of Stack Overflow 5609093; derived)", []int{1000, 500, 500, 450, 250}, 6, 500, []int{2, 1, 1, 1, 1}},
		{"10 places, two kinds, no overs (a printer's question; recounted)", []int{200, 300}, 10, 50, []int{4, 6}},
		{"cat food with one template (CSPLib prob002; Proll and Smith 1998)", []int{250, 255, 260, 500, 500, 800, 1100}, 9, 550, []int{1, 1, 1, 1, 1, 2, 2}},
		{"as many kinds as lanes", []int{7, 9}, 2, 9, []int{1, 1}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rows, each, possible := jobs.OneSection(tt.quantities, tt.lanes)
			require.True(t, possible)
			assert.Equal(t, tt.rows, rows)
			assert.Equal(t, tt.each, each)
		})
	}
	_, _, possible := jobs.OneSection([]int{1, 2, 3}, 2)
	assert.False(t, possible, "three kinds do not fit two lanes")
}

func TestRowsAreRoundedUp(t *testing.T) {
	// Orders are rounded up to whole rows (common practice, no source).
	assert.Equal(t, 1, jobs.Rows(1, 4))
	assert.Equal(t, 250, jobs.Rows(1000, 4))
	assert.Equal(t, 251, jobs.Rows(1001, 4))
}

func TestBilling(t *testing.T) {
	// KVGO delivery conditions (1992), article 13, as explained with these
	// figures by Datawyse: 200 ordered at 1.13, 10 % more or less accepted.
	tenPercent := jobs.Tolerance{Unders: money("0.1"), Overs: money("0.1"), LimitOvers: true, BillOvers: true}
	price := money("1.13")
	for delivered, want := range map[int]string{215: "16.95", 225: "22.6", 192: "-9.04", 200: "0"} {
		billed := tenPercent.Billed(200, delivered) - 200
		assert.Equal(t, want, price.Mul(decimal.NewFromInt(int64(billed))).String(), "%d delivered", delivered)
	}
	assert.Equal(t, 180, tenPercent.Fewest(200))
	assert.Equal(t, 220, tenPercent.Most(200))

	t.Run("a limit is rounded to whole labels towards what is ordered", func(t *testing.T) {
		assert.Equal(t, 300, tenPercent.Fewest(333))
		assert.Equal(t, 366, tenPercent.Most(333))
		assert.Equal(t, 1, jobs.Tolerance{Unders: money("0.999")}.Fewest(1))
	})
	t.Run("overs that are not billed are not billed", func(t *testing.T) {
		assert.Equal(t, 200, jobs.Tolerance{Overs: money("0.1"), LimitOvers: true}.Billed(200, 215))
		assert.Equal(t, 195, jobs.Tolerance{}.Billed(200, 195), "what is short is not billed either")
	})
	t.Run("without a limit all overs are taken", func(t *testing.T) {
		assert.Zero(t, jobs.Tolerance{}.Most(200))
		assert.Equal(t, 900, jobs.Tolerance{BillOvers: true}.Billed(200, 900))
	})
}

func TestToleranceOfAVersion(t *testing.T) {
	limited := jobs.Gang{Policy: jobs.Policy{Unders: money("0.02"), Overs: money("0.1"), LimitOvers: true, BillOvers: true}}
	tests := []struct {
		name    string
		version jobs.Version
		want    jobs.Tolerance
	}{
		{"the policy's where it says nothing", jobs.Version{}, jobs.Tolerance{Unders: money("0.02"), Overs: money("0.1"), LimitOvers: true, BillOvers: true}},
		{"its own", jobs.Version{Unders: fraction("0"), Overs: fraction("0.05"), FreeOvers: true}, jobs.Tolerance{Unders: money("0"), Overs: money("0.05"), LimitOvers: true}},
		{"all overs", jobs.Version{AllOvers: true}, jobs.Tolerance{Unders: money("0.02"), BillOvers: true}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := limited.Tolerance(tt.version)
			assert.Equal(t, tt.want.Unders.String(), got.Unders.String())
			assert.Equal(t, tt.want.Overs.String(), got.Overs.String())
			assert.Equal(t, tt.want.LimitOvers, got.LimitOvers)
			assert.Equal(t, tt.want.BillOvers, got.BillOvers)
		})
	}
	assert.True(t, jobs.Gang{}.Tolerance(jobs.Version{BillOvers: true}).BillOvers)
}
