package rest_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/rest"
	"laneplan/nest"
)

func dec(text string) decimal.Decimal { return decimal.RequireFromString(text) }

// shop is a gang in round figures: a row is 0.1 m of web.
func shop() jobs.Gang {
	g := jobs.Gang{
		ID: "jar", Currency: "EUR",
		Die: jobs.Die{
			ID: "d", Lanes: 4, Across: 60 * jobs.Millimetre, Around: 97 * jobs.Millimetre, GapAcross: 2 * jobs.Millimetre,
			GapAround: 3 * jobs.Millimetre, Web: 260 * jobs.Millimetre,
		},
		Stock: jobs.Stock{ID: "paper", PricePerSquareMetre: dec("0.40"), RollLength: 150 * jobs.Metre, SpliceWeb: 2 * jobs.Metre},
		Press: jobs.Press{
			ID: "p", Speed: 20 * jobs.Metre, HourlyRate: dec("90"), SetupMinutes: dec("20"), SetupWeb: 10 * jobs.Metre,
			ChangeoverMin: dec("6"), ChangeoverWeb: 5 * jobs.Metre, Start: time.Date(2026, 11, 26, 6, 0, 0, 0, time.UTC), HoursADay: dec("16"),
		},
		Policy: jobs.Policy{Unders: dec("0.02"), Overs: dec("0.10"), LimitOvers: true},
	}
	for i, id := range []string{"A", "B", "C", "D"} {
		g.Orders = append(g.Orders, jobs.Order{
			ID: fmt.Sprint(i + 1), Customer: "mill", Due: time.Date(2026, 11, 27, 0, 0, 0, 0, time.UTC),
			Versions: []jobs.Version{{ID: id, Quantity: 1000, UnitPrice: dec("0.05")}},
		})
	}
	return g
}

func one(rows int, lanes ...int) nest.Plan {
	return nest.Plan{Sections: []nest.Section{{Rows: rows, Lanes: lanes}}}
}

func goods(c rest.Count) (good []int) {
	for _, v := range c.Versions {
		good = append(good, v.Good)
	}
	return good
}

func planned(t *testing.T, todo rest.Todo) rest.Planned {
	t.Helper()
	p, err := rest.Plan(t.Context(), todo, nest.Options{Work: 0.2, Seed: 1, Unit: 0.01})
	require.NoError(t, err)
	require.NoError(t, nest.Check(p.Problem, p.Result.Plan))
	return p
}

func TestAStoppedSectionGoesOnWithoutAChangeover(t *testing.T) {
	g := shop()
	d := rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 300}}}}
	c, err := rest.Tally(g, one(1000, 0, 1, 2, 3), d)
	require.NoError(t, err)
	assert.Equal(t, []int{300, 300, 300, 300}, goods(c))
	assert.Equal(t, 40*jobs.Metre, c.RollUsed, "set-up and 300 rows")
	assert.Equal(t, "21.5", c.Minutes.String())

	todo := c.Rest(g, d)
	assert.Equal(t, "jar-rest", todo.Gang.ID)
	assert.Equal(t, []int{0, 1, 2, 3}, todo.OnPress)
	assert.Empty(t, todo.Notes)
	v := todo.Gang.Orders[0].Versions[0]
	assert.Equal(t, []int{700, 680, 800}, []int{v.Quantity, *v.Fewest, *v.Most}, "the customer takes 980 to 1100 in all")

	p := planned(t, todo)
	assert.True(t, p.Continues)
	require.Len(t, p.Result.Plan.Sections, 1)
	assert.Equal(t, []int{0, 1, 2, 3}, p.Result.Plan.Sections[0].Lanes)
	assert.Equal(t, 700, p.Result.Plan.Sections[0].Rows, "2 % fewer would be taken, and are worth more than their web")
	m, err := p.Gang.Measure(p.Result.Plan)
	require.NoError(t, err)
	assert.Equal(t, 70*jobs.Metre, m.Web.Total, "neither set-up nor changeover")
	assert.Equal(t, dec("3.5").String(), m.Minutes.Total.String())

	t.Run("off the press it is set up afresh", func(t *testing.T) {
		d := d
		d.OffPress = true
		todo := c.Rest(g, d)
		assert.Nil(t, todo.OnPress)
		p := planned(t, todo)
		assert.False(t, p.Continues)
		m, err := p.Gang.Measure(p.Result.Plan)
		require.NoError(t, err)
		assert.Equal(t, 80*jobs.Metre, m.Web.Total, "with the set-up of the job")
		assert.Equal(t, jobs.Length(0), p.Gang.Begun.RollUsed, "another roll is in the press by then")
	})
	t.Run("a spoiled lane is out of use", func(t *testing.T) {
		d := d
		d.Lanes = []rest.Lane{{Lane: 2, Section: 1, From: rest.Mark{Rows: 201}}}
		c, err := rest.Tally(g, one(1000, 0, 1, 2, 3), d)
		require.NoError(t, err)
		assert.Equal(t, []int{300, 200, 300, 300}, goods(c))
		assert.Equal(t, 100, c.Versions[1].Spoiled)
		todo := c.Rest(g, d)
		assert.Equal(t, []int{2}, todo.Gang.Die.ClosedLanes)
		assert.Equal(t, []int{0, nest.Empty, 2, 3}, todo.OnPress)
		assert.Equal(t, []string{"Lane 2 is out of use"}, todo.Notes)
		p := planned(t, todo)
		assert.True(t, p.Continues)
		assert.Equal(t, todo.OnPress, p.Result.Plan.Sections[0].Lanes)

		d.Lanes[0].Mended = true
		todo = c.Rest(g, d)
		assert.Empty(t, todo.Gang.Die.ClosedLanes)
		assert.Equal(t, []int{0, 1, 2, 3}, todo.OnPress)
	})
	t.Run("no lane is left", func(t *testing.T) {
		d := d
		for lane := range 4 {
			d.Lanes = append(d.Lanes, rest.Lane{Lane: lane + 1, Section: 1})
		}
		_, err := rest.Plan(t.Context(), c.Rest(g, d), nest.Options{Work: 0.1})
		var faults jobs.Faults
		assert.ErrorAs(t, err, &faults)
	})
	t.Run("a restart costs what it is said to", func(t *testing.T) {
		d := d
		d.RestartWeb, d.RestartMinutes = 3*jobs.Metre, dec("4")
		p := planned(t, c.Rest(g, d))
		m, err := p.Gang.Measure(p.Result.Plan)
		require.NoError(t, err)
		assert.Equal(t, 73*jobs.Metre, m.Web.Total)
		assert.Equal(t, "7.5", m.Minutes.Total.String())
	})
}

// Going on is left where what is in the lanes is wanted no more.
func TestAFinishedSectionIsFollowedByAChangeover(t *testing.T) {
	g := shop()
	plan := nest.Plan{Sections: []nest.Section{{Rows: 1000, Lanes: []int{0, 0, 1, 1}}, {Rows: 500, Lanes: []int{2, 2, 3, 3}}}}
	g.Orders[0].Versions[0].Quantity, g.Orders[1].Versions[0].Quantity = 2000, 2000
	d := rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Web: 100 * jobs.Metre}}}}
	c, err := rest.Tally(g, plan, d)
	require.NoError(t, err)
	assert.Equal(t, []int{2000, 2000, 0, 0}, goods(c))
	todo := c.Rest(g, d)
	assert.Nil(t, todo.OnPress)
	assert.Len(t, todo.Gang.Orders, 2)
	p := planned(t, todo)
	m, err := p.Gang.Measure(p.Result.Plan)
	require.NoError(t, err)
	assert.Equal(t, 57*jobs.Metre, m.Web.Total, "a changeover, the section, and a splice: the roll had 40 m left")
	assert.Equal(t, "8.5", m.Minutes.Total.String())
}

func TestWhatTheCustomerTakesAsItIsNeedNotBePrinted(t *testing.T) {
	g := shop()
	d := rest.Done{
		Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 1000}}},
		Spoiled:  []rest.Stretch{{Section: 1, Lanes: []int{1, 3}, From: rest.Mark{Rows: 1}, To: rest.Mark{Rows: 10}}},
	}
	g.Orders[2].Versions[0].UnitPrice = decimal.Zero
	c, err := rest.Tally(g, one(1000, 0, 1, 2, 3), d)
	require.NoError(t, err)
	todo := c.Rest(g, d)
	require.Len(t, todo.Gang.Orders, 1)
	v := todo.Gang.Orders[0].Versions[0]
	assert.Equal(t, []any{"A", 10, 0, 110}, []any{v.ID, v.Quantity, *v.Fewest, *v.Most})
	assert.Equal(t, []string{"Version C is 10 short, within what the customer takes"}, todo.Notes)
	assert.Equal(t, []int{0, nest.Empty, nest.Empty, nest.Empty}, todo.OnPress)
	assert.Equal(t, "Lane 2 runs on with B, of which no more is wanted: its labels count for nothing", todo.RunOn[0])
	p := planned(t, todo)
	assert.True(t, p.Continues)
	assert.Equal(t, one(10, 0, nest.Empty, nest.Empty, nest.Empty).Sections, p.Result.Plan.Sections, "ten rows more cost less than ten labels")
	todo.OnPress = nil
	p = planned(t, todo)
	assert.Empty(t, p.Result.Plan.Sections, "ten labels are worth less than a changeover")
	m, err := p.Gang.Measure(p.Result.Plan)
	require.NoError(t, err)
	assert.Contains(t, fmt.Sprint(m.Money), jobs.KindUnders)
}

func TestNothingIsLeftWhereAllIsGood(t *testing.T) {
	g := shop()
	d := rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 1003}}}}
	c, err := rest.Tally(g, one(1000, 0, 1, 2, 3), d)
	require.NoError(t, err)
	assert.Empty(t, c.Rest(g, d).Gang.Orders)
	assert.Equal(t, []rest.SectionCount{{Number: 1, Planned: 1000, Printed: 1003}}, c.Sections)
}

func TestSpoiledStretchesAreTakenOffOnce(t *testing.T) {
	g := shop()
	d := rest.Done{
		Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 500}}},
		Spoiled: []rest.Stretch{
			{Section: 1, From: rest.Mark{Web: 10 * jobs.Metre}, To: rest.Mark{Web: 20 * jobs.Metre}, Reason: "crease"}, // rows 101 to 200
			{Section: 1, Lanes: []int{1}, From: rest.Mark{Rows: 150}, To: rest.Mark{Rows: 250}},
			{Section: 1, Lanes: []int{1}, From: rest.Mark{Rows: 120}, To: rest.Mark{Rows: 130}},
		},
		Lanes: []rest.Lane{{Lane: 1, Section: 1, From: rest.Mark{Rows: 491}}},
	}
	c, err := rest.Tally(g, one(1000, 0, 1, 2, 3), d)
	require.NoError(t, err)
	assert.Equal(t, []int{500 - 150 - 10, 400, 400, 400}, goods(c))
	assert.Equal(t, rest.Spoil{Section: 1, Lane: 1, FromRow: 201, ThruRow: 250}, c.Spoiled[1])
	assert.Equal(t, "crease", c.Spoiled[0].Reason)
}

func TestTheTimeThatIsGoneCountsAgainstDates(t *testing.T) {
	g := shop()
	plan := one(1000, 0, 1, 2, 3)
	d := rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 300}}}}
	c, err := rest.Tally(g, plan, d)
	require.NoError(t, err)
	assert.Equal(t, "21.5", c.Rest(g, d).Gang.Begun.MinutesGone.String(), "as the plan reckons")
	d.Stopped = time.Date(2026, 11, 27, 7, 0, 0, 0, time.UTC)
	todo := c.Rest(g, d)
	assert.Equal(t, "1020", todo.Gang.Begun.MinutesGone.String(), "a day of 16 hours and one hour")
	assert.Empty(t, todo.Notes)
	d.Stopped = time.Date(2026, 11, 28, 7, 0, 0, 0, time.UTC)
	todo = c.Rest(g, d)
	assert.Equal(t, "Order 1 was due on 2026-11-27, which has passed: it is planned without a date", todo.Notes[0])
	assert.True(t, todo.Gang.Orders[0].Due.IsZero())
	assert.False(t, g.Orders[0].Due.IsZero(), "the job itself is as it was")
}

func TestTheParentRollIsWhereThePressStopped(t *testing.T) {
	g := shop()
	p, err := g.Problem()
	require.NoError(t, err)
	plan, err := nest.PlaceRolls(p, []nest.Section{{Rows: 2000, Lanes: []int{0, 1, 2, 3}}, {Rows: 400, Lanes: []int{0, 1, 2, 3}}})
	require.NoError(t, err)
	require.Equal(t, []int{1400}, plan.Splices, "150 m less 10 m of set-up")
	ran := func(rows ...int) rest.Count {
		var d rest.Done
		for i, n := range rows {
			d.Sections = append(d.Sections, rest.Printed{Section: i + 1, Printed: rest.Mark{Rows: n}})
		}
		c, err := rest.Tally(g, plan, d)
		require.NoError(t, err)
		return c
	}
	assert.Equal(t, 110*jobs.Metre, ran(1000).RollUsed)
	assert.Equal(t, 22*jobs.Metre, ran(1600).RollUsed, "what the splice lost came off the new roll, then 200 rows")
	assert.Equal(t, 82*jobs.Metre, ran(2000, 150).RollUsed, "with a changeover")
	left := 33 * jobs.Metre
	c, err := rest.Tally(g, plan, rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 10}}}, RollLeft: &left})
	require.NoError(t, err)
	assert.Equal(t, 117*jobs.Metre, c.RollUsed)

	d := rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 1390}}}}
	todo := ran(1390).Rest(g, d)
	assert.Equal(t, jobs.Length(0), todo.Gang.Begun.RollUsed)
	assert.Equal(t, []string{"The parent roll in the press is at its end: begin with a new one"}, todo.Notes)
}

func TestRestsOfRestsHaveNamesOfTheirOwn(t *testing.T) {
	g := shop()
	for _, want := range []string{"jar-rest", "jar-rest-2", "jar-rest-3"} {
		d := rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 100}}}}
		c, err := rest.Tally(g, one(1000, 0, 1, 2, 3), d)
		require.NoError(t, err)
		g = c.Rest(g, d).Gang
		assert.Equal(t, want, g.ID)
	}
	assert.Equal(t, 700, g.Orders[0].Versions[0].Quantity)
	assert.Equal(t, 680, *g.Orders[0].Versions[0].Fewest)
	assert.Equal(t, 20.0, g.Begun.SetupMinutes.InexactFloat64(), "a set-up from nothing is still known")
}

func TestWhatCannotBeSoIsRefused(t *testing.T) {
	g := shop()
	bare := jobs.Gang{ID: "b", Die: jobs.Die{Lanes: 4}, Bare: &jobs.BareCosts{Row: dec("1"), Section: dec("10")}, Orders: []jobs.Order{{Versions: g.Orders[0].Versions}}}
	ran := func(d rest.Done) rest.Done {
		d.Sections = []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 500}}}
		return d
	}
	long := 151 * jobs.Metre
	for _, tt := range []struct {
		name string
		g    jobs.Gang
		d    rest.Done
		want string
	}{
		{"a section beyond the plan", g, rest.Done{Sections: []rest.Printed{{Section: 2}}}, "sections[0].section: the plan has 1 sections, got 2"},
		{"a section twice", g, rest.Done{Sections: []rest.Printed{{Section: 1}, {Section: 1}}}, "sections[1].section: section 1 stands here twice"},
		{"a digit too many", g, rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 10001}}}}, "sections[0].rows: section 1 is planned to be 1000 rows long: want at most ten times as many, got 10001"},
		{"a length of a bare problem", bare, rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Web: jobs.Metre}}}}, "sections[0].web: a bare problem knows no lengths: want rows"},
		{"a stretch of what did not run", g, ran(rest.Done{Spoiled: []rest.Stretch{{Section: 2}}}), "spoiled[0].section: section 2 is not among the sections that ran"},
		{"a stretch beyond what ran", g, ran(rest.Done{Spoiled: []rest.Stretch{{Section: 1, From: rest.Mark{Rows: 501}}}}), "spoiled[0].from: section 1 ran for 500 rows: want a place within them, got row 501"},
		{"a stretch that ends beyond", g, ran(rest.Done{Spoiled: []rest.Stretch{{Section: 1, To: rest.Mark{Web: 51 * jobs.Metre}}}}), "spoiled[0].to: section 1 ran for 500 rows: want a place within them, got row 510"},
		{"a stretch the wrong way round", g, ran(rest.Done{Spoiled: []rest.Stretch{{Section: 1, From: rest.Mark{Rows: 20}, To: rest.Mark{Rows: 10}}}}), "spoiled[0].to: want a place from row 20 on, where the stretch begins, got row 10"},
		{"a lane beyond the die", g, ran(rest.Done{Spoiled: []rest.Stretch{{Section: 1, Lanes: []int{5}}}}), "spoiled[0].lanes[0]: the die has 4 lanes, got 5"},
		{"a spoiled lane beyond the die", g, ran(rest.Done{Lanes: []rest.Lane{{Lane: 5, Section: 1}}}), "spoiled_lanes[0].lane: the die has 4 lanes, got 5"},
		{"a spoiled lane twice", g, ran(rest.Done{Lanes: []rest.Lane{{Lane: 1, Section: 1}, {Lane: 1, Section: 1}}}), "spoiled_lanes[1].lane: lane 1 stands here twice"},
		{"more web than a roll has", g, ran(rest.Done{RollLeft: &long}), "roll_left: a parent roll has 150m, got 151m"},
		{"a roll of an endless web", bare, ran(rest.Done{RollLeft: &long}), "roll_left: the job does not say how long a parent roll is"},
		{"minutes of a bare problem", bare, ran(rest.Done{RestartMinutes: dec("1")}), "restart_minutes: a bare problem knows neither"},
		{"a stop before the start", g, ran(rest.Done{Stopped: time.Date(2026, 11, 26, 5, 0, 0, 0, time.UTC)}), "stopped: want a time after the press's start, 2026-11-26 06:00, got 2026-11-26 05:00"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := rest.Tally(tt.g, one(1000, 0, 0, 0, 0), tt.d)
			var faults jobs.Faults
			require.ErrorAs(t, err, &faults)
			assert.ErrorContains(t, err, tt.want)
		})
	}
}

// A filler that is partly printed stays one, and is left out again where that
// is cheaper; what is left of the others is planned either way.
func TestAFillerStaysOne(t *testing.T) {
	g := shop()
	g.Orders[3].Filler = true
	g.Orders[3].Versions[0].ElsewhereCost = dec("0.5")
	d := rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 990}}}}
	c, err := rest.Tally(g, one(1000, 0, 1, 2, 3), d)
	require.NoError(t, err)
	todo := c.Rest(g, d)
	require.Len(t, todo.Gang.Orders, 4)
	assert.Equal(t, one(10, 0, 1, 2, 3).Sections, planned(t, todo).Result.Plan.Sections, "ten labels of each may stay short, but are worth ten rows without a changeover")
	d.OffPress = true
	assert.Empty(t, planned(t, c.Rest(g, d)).Result.Plan.Sections, "and not worth a set-up")
	d.OffPress = false

	d.Sections[0].Printed.Rows = 500
	c, err = rest.Tally(g, one(1000, 0, 1, 2, 3), d)
	require.NoError(t, err)
	p := planned(t, c.Rest(g, d))
	require.NotEmpty(t, p.Result.Plan.Sections)
	count := nest.Recount(p.Problem, p.Result.Plan)
	for i, v := range count.Versions[:3] {
		assert.GreaterOrEqual(t, v.Planned, 480, "version %d", i)
	}
}

// Ctrl-C between two of the searches leaves the best plan so far, and says so.
func TestAnInterruptedRestIsTheBestSoFar(t *testing.T) {
	g := shop()
	d := rest.Done{Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 300}}}}
	c, err := rest.Tally(g, one(1000, 0, 1, 2, 3), d)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	p, err := rest.Plan(ctx, c.Rest(g, d), nest.Options{Work: 0.2, Seed: 1, Progress: func(now nest.Progress) {
		if now.Completed { // the plan with a changeover is there
			cancel()
		}
	}})
	require.NoError(t, err)
	assert.Equal(t, nest.StopContext, p.Result.Stop)
	require.NoError(t, nest.Check(p.Problem, p.Result.Plan))
}
