package rewind

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/nest"
)

// Two lanes and a parent roll that ends inside the second section.
func stopsGang() (jobs.Gang, nest.Plan) {
	g := spiceGang()
	g.Die.Lanes = 2
	g.Stock.SpliceWeb = 3 * jobs.Metre
	two := 2
	a, b := version("A", 1500), version("B", 1400)
	a.LabelsPerRoll, b.LabelsPerRoll, a.MostSplices, b.MostSplices = 1000, 1000, &two, &two
	g.Orders = []jobs.Order{{ID: "101", Versions: []jobs.Version{a, b}}}
	return g, nest.Plan{Sections: []nest.Section{{Rows: 1200, Lanes: []int{0, 1}}, {Rows: 300, Lanes: []int{0, 1}}}, Splices: []int{1350}}
}

func TestStopsOfTheShaft(t *testing.T) {
	g, plan := stopsGang()
	g.Orders[0].Versions[1].LeaveOvers = true

	t.Run("the press winds the web up, so counters fall", func(t *testing.T) {
		w, err := Wind(g, problemOf(g), plan)
		require.NoError(t, err)
		require.True(t, w.Backwards)
		assert.Equal(t, []Stop{
			{Row: 1350, Since: 150, Join: []int{1, 2}, Waste: 3 * jobs.Metre},
			{Row: 1200, Since: 150, Cut: []int{1, 2}, Waste: 15 * jobs.Metre},
			{Row: 1100, Since: 100, Cut: []int{2}}, // 100 labels of B are left off
			{Row: 1000, Since: 100, Cut: []int{1, 2}},
			{Row: 0, Since: 1000, Cut: []int{1, 2}, Waste: 40 * jobs.Metre},
		}, w.Stops)
		assert.Equal(t, []int{1200, 1000}, []int{w.Rolls[1].Pieces[0].From, w.Rolls[1].Pieces[1].From}, "pieces in the order in which they arrive")
	})
	t.Run("slit in line, so counters rise", func(t *testing.T) {
		g := g
		g.Rewinder.Windings = 1
		w, err := Wind(g, problemOf(g), plan)
		require.NoError(t, err)
		rows := make([]int, len(w.Stops))
		for i, s := range w.Stops {
			rows[i] = s.Row
		}
		assert.Equal(t, []int{0, 1000, 1100, 1200, 1350, 1500}, rows)
		assert.Equal(t, Stop{Row: 0, Waste: 40 * jobs.Metre}, w.Stops[0])
		assert.Equal(t, []int{1000, 1200}, []int{w.Rolls[1].Pieces[0].From, w.Rolls[1].Pieces[1].From})
	})
}

func TestStopsCoverTheWholeWeb(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 2026))
	for n := range 200 {
		g, plan := randomGang(random)
		g.Rewinder.Windings = 1 + random.IntN(2)
		w, err := Wind(g, problemOf(g), plan)
		require.NoError(t, err, "case %d", n)
		waste, since := jobs.Length(0), 0
		cuts := map[[2]int]int{}
		for _, s := range w.Stops {
			waste += s.Waste
			since += s.Since
			for _, lane := range s.Cut {
				cuts[[2]int{lane, s.Row}]++
			}
		}
		assert.Equal(t, w.Web.Total-w.Web.Printed, waste, "case %d", n)
		assert.LessOrEqual(t, since, w.Web.Rows)
		pieces := slices.Clone(w.LeftOff)
		for _, r := range w.Rolls {
			pieces = append(pieces, r.Pieces...)
			assert.True(t, slices.IsSortedFunc(r.Pieces, w.byArrival))
		}
		assert.Len(t, cuts, len(pieces), "every piece ends at a stop of its own lane")
		for _, p := range pieces {
			row := p.To
			if w.Backwards {
				row = p.From
			}
			assert.Equal(t, 1, cuts[[2]int{p.Lane, row}], "case %d", n)
		}
	}
}
