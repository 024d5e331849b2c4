package jobs_test

import (
	"math/rand"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/nest"
)

// byKind is the money of the measures as text; a kind that occurs twice would
// show in the length.
func byKind(m jobs.Measures) map[string]string {
	kinds := map[string]string{}
	for _, k := range m.Money {
		kinds[k.Kind] = k.Amount.Round(6).String()
	}
	return kinds
}

func TestMeasureOfABareGang(t *testing.T) {
	// The optimum of the cover printing example, recounted by hand:
	// 7375 × 13.44 + 2 × 18676 + 7 lane runs not carried × 2.5.
	plan := nest.Plan{Sections: []nest.Section{
		{Rows: 2875, Lanes: []int{2, 2, 2, 2}}, {Rows: 4500, Lanes: []int{0, 1, 1, 2}},
	}}
	m, err := bare(4500, 9000, 16000).Measure(plan)
	require.NoError(t, err)
	assert.Equal(t, map[string]string{"rows": "99120", "sections": "37352", "lane runs": "17.5"}, byKind(m))
	assert.Equal(t, "136489.5", m.Total.String())
	assert.Zero(t, m.Web)
	assert.Equal(t, 7375, m.Count.Rows)
}

func TestMeasureOfAShopGang(t *testing.T) {
	// A 333, B 1001 and the filler C 50 on lanes 1, 3 and 4; lane 2 is closed.
	plan := nest.Plan{Sections: []nest.Section{
		{Rows: 348, Lanes: []int{0, nest.Empty, 1, 1}}, {Rows: 306, Lanes: []int{2, nest.Empty, 1, nest.Empty}},
	}}
	m, err := shop().Measure(plan)
	require.NoError(t, err)
	assert.Equal(t, jobs.WebUse{
		Setup: 900 * jobs.Millimetre, Sections: 65_400 * jobs.Millimetre, Changeovers: 5 * jobs.Metre,
		Total: 71_300 * jobs.Millimetre,
	}, m.Web)
	assert.Equal(t, "17.825", m.Area.String(), "71.3 m × 0.25 m")
	assert.Equal(t, "29.27", m.Minutes.Total.String(), "20 + 65.4/20 + 6")
	assert.Equal(t, map[string]string{
		"stock":        "7.13",   // 17.825 × 0.40
		"finish":       "1.426",  // 17.825 × 0.08
		"press time":   "43.905", // 29.27 × 1.50
		"impressions":  "6.54",   // 654 × 0.01
		"lane runs":    "3",      // A, B, B, C; B is carried in lane 3
		"ink":          "2.004",  // 1002 × 0.002
		"overs billed": "-0.75",  // A: 348 - 333, × 0.05
	}, byKind(m))
	assert.Equal(t, 5, m.Count.Versions[2].Overs, "C: 306 - 50, of which 5 within the tolerance")
	assert.Equal(t, 251, m.Count.Versions[2].Scrap)
}

func TestMoneyByKindAddsUpToThePlannersCost(t *testing.T) {
	random := rand.New(rand.NewSource(5))
	for range 200 {
		g := shop()
		g.Orders[0].Versions[0].Unders = fraction("0.5")
		g.Stock.SpliceMinutes = decimal.New(random.Int63n(1000), -2)
		g.Press.Speed = jobs.Length(1 + random.Int63n(int64(40*jobs.Metre)))
		g.Press.ChangeoverMin = decimal.New(random.Int63n(1000), -2)
		problem, err := g.Problem()
		require.NoError(t, err)
		var plan nest.Plan
		for range 1 + random.Intn(4) {
			section := nest.Section{Rows: 1 + random.Intn(500)}
			for range g.Die.Lanes {
				section.Lanes = append(section.Lanes, random.Intn(4)-1)
			}
			plan.Sections = append(plan.Sections, section)
			if section.Rows > 2 && random.Intn(2) == 0 {
				plan.Splices = append(plan.Splices, nest.Recount(problem, plan).Rows-1)
			}
		}
		m, err := g.Measure(plan)
		require.NoError(t, err)
		want := nest.Recount(problem, plan).Cost.Total
		assert.InEpsilon(t, want, m.Total.InexactFloat64(), 1e-12)
		sum := decimal.Zero
		for _, k := range m.Money {
			sum = sum.Add(k.Amount)
		}
		assert.True(t, sum.Equal(m.Total))
	}
}
