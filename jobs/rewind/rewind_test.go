package rewind

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/nest"
)

// The gang of these tests: a spice mill of our own invention, four lanes of
// 105 mm × 60 mm labels.
func spiceGang() jobs.Gang {
	return jobs.Gang{
		ID: "G1", Currency: "EUR",
		Die:   jobs.Die{ID: "D1", Across: 105 * mm, Around: 60 * mm, Lanes: 4, GapAcross: 3 * mm, GapAround: 3 * mm, Web: 440 * mm},
		Stock: jobs.Stock{ID: "P80", Name: "white paper", Caliper: 145 * jobs.Micrometre, Grammage: decimal.NewFromInt(158)},
		Press: jobs.Press{ID: "press", SetupWeb: 40 * jobs.Metre, ChangeoverWeb: 15 * jobs.Metre},
		Rewinder: jobs.Rewinder{ID: "winder", Cores: []jobs.Length{25 * mm, 40 * mm, 76 * mm}, MaxDiameter: 350 * mm,
			MaxWeight: decimal.NewFromInt(16), CoreWall: 5 * mm, Leader: 500 * mm, Tail: 500 * mm},
		Orders: []jobs.Order{
			{ID: "101", Customer: "Mill", Versions: []jobs.Version{version("A", 4500), version("B", 9000)}},
			{ID: "102", Customer: "Mill", Versions: []jobs.Version{version("C", 16000)}},
		},
	}
}

func version(id string, quantity int) jobs.Version {
	return jobs.Version{ID: id, Quantity: quantity, LabelsPerRoll: 1000, Core: 76 * mm, Wind: jobs.Wind{Face: jobs.FaceOut, Edge: jobs.EdgeTop}}
}

// The best plan of the published example 4500/9000/16000 on four places.
func spicePlan() nest.Plan {
	return nest.Plan{Sections: []nest.Section{
		{Rows: 2875, Lanes: []int{2, 2, 2, 2}},
		{Rows: 4500, Lanes: []int{0, 1, 1, 2}},
	}}
}

// problemOf a gang, as far as winding looks at it.
func problemOf(g jobs.Gang) nest.Problem {
	p := nest.Problem{Lanes: g.Die.Lanes}
	for _, o := range g.Orders {
		for _, v := range o.Versions {
			n := nest.Version{ID: v.ID, Quantity: v.Quantity}
			if v.Overs != nil {
				n.Most = int(decimal.NewFromInt(int64(v.Quantity)).Mul(v.Overs.Add(decimal.NewFromInt(1))).IntPart())
			}
			p.Versions = append(p.Versions, n)
		}
	}
	return p
}

func labelsOf(rolls []Roll, version int) (labels, count int) {
	for _, r := range rolls {
		if r.Version == version {
			labels += r.Labels
			count++
		}
	}
	return labels, count
}

func TestRollsOfTheExamplePlan(t *testing.T) {
	w, err := Wind(spiceGang(), problemOf(spiceGang()), spicePlan())
	require.NoError(t, err)

	a, b, c := w.Versions[0], w.Versions[1], w.Versions[2]
	assert.Equal(t, []int{4, 1}, []int{a.FullRolls, a.PartRolls})
	assert.Equal(t, []int{9, 0}, []int{b.FullRolls, b.PartRolls}, "two lanes of 4500 make 8 rolls and one of two halves")
	assert.Equal(t, []int{16, 0}, []int{c.FullRolls, c.PartRolls})
	assert.Equal(t, 30, len(w.Rolls))
	assert.Equal(t, []CoreCount{{Size: 76 * mm, Count: 30}}, w.Cores)

	last := w.Rolls[13] // B 9 of 9
	assert.Equal(t, "G1-02-009", last.Key)
	assert.Equal(t, 1, last.Joins)
	assert.Equal(t, []Piece{
		{Version: 1, Lane: 2, From: 2875 + 4000, To: 2875 + 4500, Sections: []int{2}, WebFrom: at(t, "488.125m"), WebTo: at(t, "519.625m")},
		{Version: 1, Lane: 3, From: 2875 + 4000, To: 2875 + 4500, Sections: []int{2}, WebFrom: at(t, "488.125m"), WebTo: at(t, "519.625m")},
	}, last.Pieces)

	// A changeover of 15 m lies between the two strips of lane 4: C does not
	// run on from one to the other.
	for _, r := range w.Rolls[14:] {
		for _, p := range r.Pieces {
			assert.Len(t, p.Sections, 1)
		}
	}
}

func at(t *testing.T, text string) jobs.Length {
	t.Helper()
	l, err := jobs.ParseLength(text)
	require.NoError(t, err)
	return l
}

func TestWebOfTheExamplePlan(t *testing.T) {
	w, err := Wind(spiceGang(), problemOf(spiceGang()), spicePlan())
	require.NoError(t, err)
	// Recomputed: 7375 rows of 63 mm are 464.625 m; set-up 40 m, one
	// changeover 15 m.
	assert.Equal(t, at(t, "464.625m"), w.Web.Printed)
	assert.Equal(t, at(t, "519.625m"), w.Web.Total)
	require.Len(t, w.Web.Sections, 2)
	one, two := w.Web.Sections[0], w.Web.Sections[1]
	assert.Equal(t, at(t, "40m"), one.WebFrom)
	assert.Equal(t, at(t, "221.125m"), one.WebTo)
	assert.Equal(t, at(t, "236.125m"), two.WebFrom)
	assert.Equal(t, at(t, "519.625m"), two.WebTo)
	assert.Equal(t, []int{4}, two.Carried)
	assert.Equal(t, []int{1, 2, 3}, two.Changed)
}

func TestStripRunsOnWhereAChangeoverLosesNoWeb(t *testing.T) {
	g := spiceGang()
	g.Press.ChangeoverWeb = 0
	w, err := Wind(g, problemOf(g), spicePlan())
	require.NoError(t, err)
	across := 0
	for _, r := range w.Rolls {
		if len(r.Pieces[0].Sections) == 2 {
			across++
			assert.Equal(t, 4, r.Pieces[0].Lane)
			assert.Zero(t, r.Splices)
		}
	}
	assert.Equal(t, 1, across)
}

func TestSplicesInARoll(t *testing.T) {
	g := spiceGang()
	g.Stock.RollLength = 300 * jobs.Metre
	g.Stock.SpliceWeb = 2 * jobs.Metre
	plan := spicePlan()
	plan.Splices = []int{2875 + 500}

	t.Run("a parent roll's splice is counted in the roll that it falls in", func(t *testing.T) {
		w, err := Wind(g, problemOf(g), plan)
		require.NoError(t, err)
		assert.Equal(t, at(t, "2m"), w.Web.Splices)
		assert.Equal(t, at(t, "521.625m"), w.Web.Total)
		var hit []string
		for _, r := range w.Rolls {
			if r.Splices > r.Joins {
				hit = append(hit, r.Key)
			}
		}
		assert.Equal(t, []string{"G1-01-001", "G1-02-001", "G1-02-005", "G1-03-009"}, hit)
	})
	t.Run("an order that takes none gets part rolls instead", func(t *testing.T) {
		none := 0
		for i := range g.Orders {
			for j := range g.Orders[i].Versions {
				g.Orders[i].Versions[j].MostSplices = &none
			}
		}
		w, err := Wind(g, problemOf(g), plan)
		require.NoError(t, err)
		for _, r := range w.Rolls {
			assert.Zero(t, r.Splices, r.Key)
		}
		// Version A: 500 before the splice, then 4000 in four full rolls.
		assert.Equal(t, []int{4, 1}, []int{w.Versions[0].FullRolls, w.Versions[0].PartRolls})
		assert.Equal(t, []int{8, 2}, []int{w.Versions[1].FullRolls, w.Versions[1].PartRolls})
		assert.Contains(t, fmt.Sprint(w.Notes), "Version B has 2 part rolls: its order takes no splice in a roll")
	})
}

func TestJoinedRollPrefersFewJoins(t *testing.T) {
	g := spiceGang()
	g.Orders[1].Versions[0].Quantity = 3000
	g.Orders[0].Versions = g.Orders[0].Versions[:1]
	// Rests of C: 900, 900 and 100, 100; the long ones are each completed by
	// one short one.
	plan := nest.Plan{Sections: []nest.Section{
		{Rows: 100, Lanes: []int{1, 1, 0, 0}},
		{Rows: 900, Lanes: []int{1, 1, 0, 0}},
	}}
	w, err := Wind(g, problemOf(g), plan)
	require.NoError(t, err)
	for _, r := range w.Rolls {
		assert.Equal(t, 1, r.Joins, r.Key)
		assert.Equal(t, 1000, r.Labels)
	}
}

func TestOvers(t *testing.T) {
	g := spiceGang()
	g.Orders = []jobs.Order{{ID: "101", Versions: []jobs.Version{version("A", 9950)}}}
	g.Die.Lanes = 1
	plan := nest.Plan{Sections: []nest.Section{{Rows: 10300, Lanes: []int{0}}}}
	two := decimal.RequireFromString("0.02")
	tests := []struct {
		name                string
		leave               bool
		overs               *decimal.Decimal
		full, part, leftOff int
		lastRollOvers       int
		lastRollLabels      int
	}{
		{name: "wound on: they fill the last roll and then one of their own", full: 10, part: 1, lastRollOvers: 300, lastRollLabels: 300},
		{name: "left off", leave: true, full: 9, part: 1, leftOff: 350, lastRollLabels: 950},
		{name: "wound on up to what the customer takes", overs: &two, full: 10, part: 1, leftOff: 151, lastRollOvers: 149, lastRollLabels: 149},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			g.Orders[0].Versions[0].LeaveOvers = tt.leave
			g.Orders[0].Versions[0].Overs = tt.overs
			w, err := Wind(g, problemOf(g), plan)
			require.NoError(t, err)
			v := w.Versions[0]
			assert.Equal(t, []int{tt.full, tt.part, tt.leftOff}, []int{v.FullRolls, v.PartRolls, v.LeftOff})
			last := w.Rolls[len(w.Rolls)-1]
			assert.Equal(t, tt.lastRollLabels, last.Labels)
			assert.Equal(t, tt.lastRollOvers, last.Overs)
			left := 0
			for _, p := range w.LeftOff {
				left += p.Labels()
			}
			assert.Equal(t, tt.leftOff, left)
		})
	}
}

func TestRollsByDiameter(t *testing.T) {
	g := spiceGang()
	v := version("A", 20000)
	v.LabelsPerRoll, v.MaxDiameter = 0, 200*mm
	g.Orders = []jobs.Order{{ID: "101", Versions: []jobs.Version{v}}}
	g.Die.Lanes = 1
	w, err := Wind(g, problemOf(g), nest.Plan{Sections: []nest.Section{{Rows: 20000, Lanes: []int{0}}}})
	require.NoError(t, err)
	per := w.Versions[0].LabelsPerRoll
	// Recomputed: π(200² − 86²)/(4·0.145) mm of web, less 1000 mm, by 63 mm.
	assert.Equal(t, 2787, per)
	assert.LessOrEqual(t, w.Rolls[0].Diameter, 200*mm)
	oneMore := OutsideDiameter(jobs.Length(per+1)*63*mm+1000*mm, 86*mm, 145*jobs.Micrometre)
	assert.Greater(t, oneMore, 200*mm)
}

func TestLiftingLimit(t *testing.T) {
	g := spiceGang()
	g.Rewinder.MaxDiameter = 0
	g.Orders = []jobs.Order{{ID: "101", Versions: []jobs.Version{version("A", 30000)}}}
	g.Orders[0].Versions[0].LabelsPerRoll = 15000
	g.Die.Lanes = 1
	w, err := Wind(g, problemOf(g), nest.Plan{Sections: []nest.Section{{Rows: 30000, Lanes: []int{0}}}})
	require.NoError(t, err)
	// 0.108 m × 946 m × 158 g/m², recomputed.
	assert.InDelta(t, 16.14, w.Rolls[0].Kilograms, 0.005)
	assert.True(t, w.Rolls[0].Heavy)
	assert.Contains(t, fmt.Sprint(w.Notes), "2 rolls weigh more than the shop lets one person lift")
}

func TestEachWindingTurnsTheLeadingEdge(t *testing.T) {
	for windings, want := range map[int]jobs.Edge{0: jobs.EdgeTop, 1: jobs.EdgeBottom, 2: jobs.EdgeTop, 3: jobs.EdgeBottom} {
		g := spiceGang()
		g.Rewinder.Windings = windings
		w, err := Wind(g, problemOf(g), spicePlan())
		require.NoError(t, err)
		assert.Equal(t, want, w.Versions[0].PressEdge, "%d windings", windings)
	}
}

func TestLeadingEdgesThatShareAWeb(t *testing.T) {
	g := spiceGang()
	g.Orders[0].Versions[1].Wind.Edge = jobs.EdgeBottom
	w, err := Wind(g, problemOf(g), spicePlan())
	require.NoError(t, err)
	assert.Equal(t, []bool{false, true, false}, []bool{w.Versions[0].Turned, w.Versions[1].Turned, w.Versions[2].Turned})

	g.Orders[0].Versions[1].Wind.Edge = jobs.EdgeLeft
	_, err = Wind(g, problemOf(g), spicePlan())
	assert.EqualError(t, err, "versions A (top first) and B (left first) on one web cannot be wound: one copy would have to turn by 90° on a label of 105mm × 60mm, and only leading edges that differ by 180° can be ganged")

	g.Die.Around = g.Die.Across
	w, err = Wind(g, problemOf(g), spicePlan())
	require.NoError(t, err, "a square label may stand at a right angle")
	assert.True(t, w.Versions[1].AtRightAngle)
}

func TestParentRolls(t *testing.T) {
	g := spiceGang()
	g.Stock.RollLength = 300 * jobs.Metre
	g.Stock.SpliceWeb = 2 * jobs.Metre
	g.Stock.Widths = []jobs.Length{500 * mm, 330 * mm, 450 * mm}
	g.Press.RunningWaste = decimal.RequireFromString("0.03")
	plan := spicePlan()

	t.Run("spliced inside a section", func(t *testing.T) {
		plan.Splices, plan.RollChanges = []int{2875 + 900}, nil
		w, err := Wind(g, problemOf(g), plan)
		require.NoError(t, err)
		// 40 + 181.125 + 15 + 900 × 0.063 = 292.825 m, and the splice's 2 m.
		assert.Equal(t, []Parent{
			{Number: 1, From: 0, To: at(t, "294.825m"), Left: at(t, "5.175m"), SplicedInside: true},
			{Number: 2, From: at(t, "294.825m"), To: at(t, "521.625m"), Left: at(t, "73.2m")},
		}, w.Stock.Parents)
		assert.Equal(t, 450*mm, w.Stock.Width)
		assert.Equal(t, at(t, "13.93875m"), w.Stock.Reserve, "3 % of 464.625 m")
		assert.Zero(t, w.Stock.Spare, "the rest of roll 2 covers the reserve")
		assert.Equal(t, at(t, "78.375m"), w.Stock.LeftOver)
	})
	t.Run("changed between two sections", func(t *testing.T) {
		plan.Splices, plan.RollChanges = nil, []int{1}
		w, err := Wind(g, problemOf(g), plan)
		require.NoError(t, err)
		assert.Equal(t, at(t, "236.125m"), w.Stock.Parents[0].To, "the changeover's web comes off the old roll, which has it")
		assert.False(t, w.Stock.Parents[0].SplicedInside)
	})
	t.Run("lost web comes off the new roll where the old one has not enough", func(t *testing.T) {
		g.Stock.RollLength = 293 * jobs.Metre
		plan.Splices, plan.RollChanges = []int{2875 + 900}, nil
		w, err := Wind(g, problemOf(g), plan)
		require.NoError(t, err)
		assert.Equal(t, at(t, "292.825m"), w.Stock.Parents[0].To)
		g.Press.RunningWaste = decimal.RequireFromString("0.5")
		w, err = Wind(g, problemOf(g), plan)
		require.NoError(t, err)
		assert.Equal(t, 1, w.Stock.Spare)
		assert.Equal(t, 3, w.Stock.Rolls())
	})
	t.Run("a plan that takes more off a roll than it holds", func(t *testing.T) {
		plan.Splices, plan.RollChanges = nil, nil
		_, err := Wind(g, problemOf(g), plan)
		require.ErrorIs(t, err, ErrCannotWind)
		assert.ErrorContains(t, err, "takes 519.625m off parent roll 1, which holds 293m")
	})
}

func TestPassesGroupLanesThatShareAShaft(t *testing.T) {
	g := spiceGang()
	g.Orders[0].Versions[1].Core = 40 * mm
	w, err := Wind(g, problemOf(g), spicePlan())
	require.NoError(t, err)
	assert.Equal(t, []Pass{
		{Section: 1, Lanes: []int{1, 2, 3, 4}, Core: 76 * mm, Face: jobs.FaceOut, LabelsPerRoll: 1000},
		{Section: 2, Lanes: []int{1, 4}, Core: 76 * mm, Face: jobs.FaceOut, LabelsPerRoll: 1000},
		{Section: 2, Lanes: []int{2, 3}, Core: 40 * mm, Face: jobs.FaceOut, LabelsPerRoll: 1000},
	}, w.Passes)
	assert.Equal(t, []CoreCount{{40 * mm, 9}, {76 * mm, 21}}, w.Cores)
}

func TestRefusals(t *testing.T) {
	tests := []struct {
		name   string
		change func(*jobs.Gang)
		want   string
		cannot bool
	}{
		{name: "a core that the rewinder does not take", change: func(g *jobs.Gang) { g.Orders[0].Versions[0].Core = 50 * mm },
			want: "order 101, version A: core 50mm: rewinder winder takes 25mm, 40mm, 76mm"},
		{name: "a diameter that holds no label", change: func(g *jobs.Gang) {
			g.Orders[0].Versions[0].LabelsPerRoll, g.Orders[0].Versions[0].MaxDiameter = 0, 87*mm
		}, want: "order 101, version A: max diameter 87mm: holds not even one label of 60mm on a core of 76mm, want a larger one"},
		{name: "a stock with no caliper", change: func(g *jobs.Gang) { g.Stock.Caliper = 0 },
			want: "order 101, version A: stock P80: has no caliper, want its whole thickness with the liner, such as 0.145mm: a largest diameter is stated"},
		{name: "labels and diameter that contradict each other", change: func(g *jobs.Gang) { g.Orders[0].Versions[0].MaxDiameter = 100 * mm },
			want: "order 101, version A: labels per roll 1000: make a roll of 138.6mm, above the largest diameter of 100mm, which holds 208"},
		{name: "a roll too large for the rewinder", change: func(g *jobs.Gang) { g.Orders[0].Versions[0].LabelsPerRoll = 20000 }, cannot: true,
			want: "order 101, version A: labels per roll 20000: make a roll of 490.1mm, above the largest diameter of 350mm, which holds 9880: cannot be wound by rewinder winder"},
		{name: "a die with no gap around", change: func(g *jobs.Gang) { g.Die.GapAround = 0 },
			want: "die D1: has no gap around, want the gap between two labels along the web, such as 3mm"},
		{name: "a die with no gap across", change: func(g *jobs.Gang) { g.Die.GapAcross = 0 },
			want: "die D1: has no gap across, want the gap between two lanes, such as 3mm: the slitting knives stand in it"},
		{name: "a chart that is unfinished", change: func(g *jobs.Gang) { g.Chart = &jobs.WindChart{} },
			want: "a chart of copy positions needs a name, to be printed beside its numbers"},
		{name: "no width that covers the web", change: func(g *jobs.Gang) { g.Stock.Widths = []jobs.Length{330 * mm} },
			want: "stock P80: comes in widths of 330mm, want one of 440mm or more for die D1"},
		{name: "a diameter without a core", change: func(g *jobs.Gang) {
			g.Orders[0].Versions[0].Core, g.Orders[0].Versions[0].MaxDiameter = 0, 200*mm
		}, want: "order 101, version A: max diameter 200mm: the core is not stated, want the inside diameter of one that the rewinder takes"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			g := spiceGang()
			tt.change(&g)
			_, err := Wind(g, problemOf(g), spicePlan())
			require.EqualError(t, err, tt.want)
			assert.Equal(t, tt.cannot, errors.Is(err, ErrCannotWind))
		})
	}
}

func TestVersionsOfAProblemMayStandInAnotherOrder(t *testing.T) {
	g := spiceGang()
	p := problemOf(g)
	p.Versions[0], p.Versions[2] = p.Versions[2], p.Versions[0]
	plan := spicePlan()
	for _, s := range plan.Sections {
		for lane := range s.Lanes {
			s.Lanes[lane] = 2 - s.Lanes[lane]
		}
	}
	turned, err := Wind(g, p, plan)
	require.NoError(t, err)
	plain, err := Wind(g, problemOf(g), spicePlan())
	require.NoError(t, err)
	assert.Equal(t, plain, turned)
}

func TestPlanOfAnotherProblemIsRefused(t *testing.T) {
	g := spiceGang()
	for _, plan := range []nest.Plan{
		{Sections: []nest.Section{{Rows: 1, Lanes: []int{0, 1, 2}}}},
		{Sections: []nest.Section{{Rows: 0, Lanes: []int{0, 1, 2, 2}}}},
		{Sections: []nest.Section{{Rows: 1, Lanes: []int{0, 1, 2, 3}}}},
	} {
		_, err := Wind(g, problemOf(g), plan)
		assert.ErrorContains(t, err, "section 1")
	}
	p := problemOf(g)
	p.Versions[1].ID = "X"
	_, err := Wind(g, p, spicePlan())
	assert.EqualError(t, err, `the gang has no version "X" of the problem`)
	_, err = Wind(g, problemOf(g), nest.Plan{})
	assert.EqualError(t, err, "the plan has no section")
}

func TestBareProblemIsWoundWithoutLengths(t *testing.T) {
	g := jobs.Gang{ID: "bare", Die: jobs.Die{Lanes: 4}, Bare: &jobs.BareCosts{}, Orders: []jobs.Order{{Versions: []jobs.Version{
		{ID: "A", Quantity: 4500}, {ID: "B", Quantity: 9000}, {ID: "C", Quantity: 16000}}}}}
	w, err := Wind(g, problemOf(g), spicePlan())
	require.NoError(t, err)
	assert.Len(t, w.Rolls, 3)
	assert.Zero(t, w.Web.Total)
	assert.Equal(t, 7375, w.Web.Rows)
}

func TestRollKeysAreUniqueAndScannable(t *testing.T) {
	seen := map[string]string{}
	for _, id := range []string{"G1", "g1", "G 1", "G-1", "ä", "茶", "", "A-VERY-LONG-GANG-NAME-1", "A-VERY-LONG-GANG-NAME-2"} {
		key := rollKey(id, 3, 12)
		assert.Regexp(t, `^[A-Za-z0-9-]{1,16}-03-012$`, key)
		assert.Empty(t, seen[key], "%q and %q", seen[key], id)
		seen[key] = "taken by " + id
	}
	assert.Equal(t, "G1-03-012", rollKey("G1", 3, 12))
	assert.Equal(t, "spice-mill-03-012", rollKey("spice-mill", 3, 12))
}

// Invariants of any plan: what is printed is wound or left off, no row is
// wound twice, no roll holds too much, and lengths add up.
func TestInvariants(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 2026))
	for n := range 400 {
		g, plan := randomGang(random)
		w, err := Wind(g, problemOf(g), plan)
		require.NoError(t, err, "case %d", n)

		planned := make([]int, len(w.Versions))
		for _, s := range plan.Sections {
			for _, i := range s.Lanes {
				if i != nest.Empty {
					planned[i] += s.Rows
				}
			}
		}
		covered := map[[2]int]int{} // lane and row
		left := make([]int, len(w.Versions))
		take := func(p Piece) {
			assert.Less(t, p.From, p.To)
			assert.Less(t, p.WebFrom, p.WebTo)
			for row := p.From; row < p.To; row++ {
				covered[[2]int{p.Lane, row}]++
				section := plan.Sections[w.Web.sectionOf(row)]
				require.Equal(t, p.Version, section.Lanes[p.Lane-1], "case %d: another version's label", n)
			}
		}
		for _, p := range w.LeftOff {
			left[p.Version] += p.Labels()
			take(p)
		}
		cores := 0
		for _, c := range w.Cores {
			cores += c.Count
		}
		assert.Equal(t, len(w.Rolls), cores, "case %d", n)
		parts := make([]int, len(w.Versions))
		for _, r := range w.Rolls {
			v := w.Versions[r.Version]
			sum, splices := 0, len(r.Pieces)-1
			for _, p := range r.Pieces {
				take(p)
				sum += p.Labels()
				splices += len(p.Splices)
			}
			assert.Equal(t, r.Labels, sum)
			assert.Equal(t, r.Splices, splices)
			if v.MostSplices >= 0 {
				assert.LessOrEqual(t, r.Splices, v.MostSplices)
			}
			assert.LessOrEqual(t, r.Labels, v.LabelsPerRoll)
			if r.Labels < v.LabelsPerRoll {
				parts[r.Version]++
			}
		}
		for row, times := range covered {
			require.Equal(t, 1, times, "case %d: lane and row %v", n, row)
		}
		for i, v := range w.Versions {
			labels, rolls := labelsOf(w.Rolls, i)
			assert.Equal(t, planned[i], labels+left[i], "case %d", n)
			assert.Equal(t, v.Wound, labels)
			assert.Equal(t, v.LeftOff, left[i])
			assert.Equal(t, v.FullRolls+v.PartRolls, rolls)
			assert.Equal(t, v.Wound-v.Ordered, v.Overs-v.Unders)
			if v.MostSplices < 0 {
				assert.LessOrEqual(t, parts[i], 1, "case %d: without a limit only the last roll is short", n)
			}
			if v.LeaveOvers {
				assert.Equal(t, min(planned[i], v.Ordered), v.Wound)
			}
		}
		pitch := g.Die.Pitch()
		assert.Equal(t, w.Web.Total, g.Press.SetupWeb+jobs.Length(w.Web.Rows)*pitch+
			jobs.Length(len(plan.Sections)-1)*g.Press.ChangeoverWeb+jobs.Length(len(plan.Splices))*g.Stock.SpliceWeb, "case %d", n)
		assert.Equal(t, w.Web.Total, w.Web.Sections[len(w.Web.Sections)-1].WebTo)
		used := jobs.Length(0)
		for _, p := range w.Stock.Parents {
			used += p.Used()
		}
		assert.Equal(t, w.Web.Total, used)
	}
}

func randomGang(random *rand.Rand) (jobs.Gang, nest.Plan) {
	g := spiceGang()
	g.Die.Lanes = 1 + random.IntN(5)
	g.Press.ChangeoverWeb = jobs.Length(random.IntN(2)) * 15 * jobs.Metre
	g.Stock.SpliceWeb = jobs.Length(random.IntN(3)) * jobs.Metre
	g.Orders = []jobs.Order{{ID: "101"}}
	for i := range 1 + random.IntN(5) {
		v := version(string(rune('A'+i)), 1+random.IntN(900))
		v.LabelsPerRoll = 1 + random.IntN(200)
		v.LeaveOvers = random.IntN(2) == 0
		if random.IntN(2) == 0 {
			most := random.IntN(3)
			v.MostSplices = &most
		}
		g.Orders[0].Versions = append(g.Orders[0].Versions, v)
	}
	var plan nest.Plan
	row := 0
	for k := range 1 + random.IntN(4) {
		s := nest.Section{Rows: 1 + random.IntN(300)}
		for lane := range g.Die.Lanes {
			i := random.IntN(len(g.Orders[0].Versions)+1) - 1
			if k > 0 && random.IntN(2) == 0 {
				i = plan.Sections[k-1].Lanes[lane]
			}
			s.Lanes = append(s.Lanes, i)
		}
		if k > 0 && random.IntN(3) == 0 {
			plan.RollChanges = append(plan.RollChanges, k)
		}
		for at := row + 1 + random.IntN(80); at < row+s.Rows; at += 1 + random.IntN(80) {
			plan.Splices = append(plan.Splices, at)
		}
		row += s.Rows
		plan.Sections = append(plan.Sections, s)
	}
	return g, plan
}
