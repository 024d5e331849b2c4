package pool

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/starter"
)

func on(date string) time.Time {
	d, err := time.Parse(time.DateOnly, date)
	if err != nil {
		panic(err)
	}
	return d
}

func dec(text string) decimal.Decimal { return decimal.RequireFromString(text) }

func die(id string, across, around jobs.Length, lanes int, web jobs.Length) jobs.Die {
	return jobs.Die{ID: id, Across: across * jobs.Millimetre, Around: around * jobs.Millimetre, Lanes: lanes,
		GapAcross: 3 * jobs.Millimetre, GapAround: 3 * jobs.Millimetre, Web: web * jobs.Millimetre}
}

func press(id string, setup string, speed, maxWeb jobs.Length, stocks ...string) jobs.Press {
	return jobs.Press{ID: id, Speed: speed * jobs.Metre, HourlyRate: dec("60"), SetupMinutes: dec(setup), SetupWeb: 5 * jobs.Metre,
		ChangeoverMin: dec("2"), ChangeoverWeb: 3 * jobs.Metre, MaxWeb: maxWeb * jobs.Millimetre, Stocks: stocks}
}

func testShop() *jobs.Shop {
	return &jobs.Shop{
		Currency: "EUR",
		Dies:     []jobs.Die{die("jar", 70, 100, 4, 300), die("jar-3", 70, 100, 3, 230), die("lid", 50, 50, 5, 280), die("wide", 200, 100, 2, 450)},
		Shapes:   map[string]string{"jar": "jar", "jar-3": "jar"},
		Stocks: []jobs.Stock{
			{ID: "paper", PricePerSquareMetre: dec("0.46")}, {ID: "film", PricePerSquareMetre: dec("0.7")},
			{ID: "narrow", PricePerSquareMetre: dec("0.5"), Widths: []jobs.Length{230 * jobs.Millimetre}},
		},
		Finishes: []jobs.Finish{{ID: "varnish", PricePerSquareMetre: dec("0.05")}, {ID: "laminate", PricePerSquareMetre: dec("0.2")}},
		Presses:  []jobs.Press{press("big", "20", 20, 330), press("small", "4", 6, 240, "paper", "narrow")},
		Rewinders: []jobs.Rewinder{
			{ID: "R1", Cores: []jobs.Length{76 * jobs.Millimetre, 40 * jobs.Millimetre}},
			{ID: "R2", Cores: []jobs.Length{25 * jobs.Millimetre}},
		},
		Pooling: jobs.PoolingRules{WindowDays: 3},
	}
}

// line makes an order line out of 'order version die stock quantity due' and
// changes.
func line(text string, changes ...func(*jobs.OrderLine)) jobs.OrderLine {
	words := strings.Fields(text)
	l := jobs.OrderLine{Order: words[0], Customer: "C" + words[0], Version: words[1], Die: words[2], Stock: words[3], Due: on(words[5])}
	if _, err := fmt.Sscan(words[4], &l.Quantity); err != nil {
		panic(err)
	}
	for _, change := range changes {
		change(&l)
	}
	return l
}

func flags(names ...string) func(*jobs.OrderLine) {
	return func(l *jobs.OrderLine) { l.Flags = names }
}
func finish(ids ...string) func(*jobs.OrderLine) { return func(l *jobs.OrderLine) { l.Finishes = ids } }
func ink(set string) func(*jobs.OrderLine)       { return func(l *jobs.OrderLine) { l.InkSet = set } }
func core(mm jobs.Length) func(*jobs.OrderLine) {
	return func(l *jobs.OrderLine) { l.Core = mm * jobs.Millimetre }
}
func first(e jobs.Edge) func(*jobs.OrderLine) {
	return func(l *jobs.OrderLine) { l.Wind = jobs.Wind{Face: jobs.FaceOut, Edge: e} }
}
func rush(l *jobs.OrderLine) { l.Rush = true }

// sketch shows a pooling in a line a gang and a line an order that is out.
func sketch(p Pooling) []string {
	var all []string
	for _, g := range p.Gangs {
		text := g.ID + ":"
		for _, o := range g.Orders {
			text += " " + o.ID
			if o.Filler {
				text += "?"
			}
		}
		if g.Alone != "" {
			text += " alone, " + g.Alone
		}
		all = append(all, text)
	}
	for _, o := range p.Out {
		text := "out: " + o.Order + ", " + o.Reason
		if o.Must {
			text = "must be " + text
		}
		all = append(all, text)
	}
	return all
}

const (
	today = "2026-11-30"
	soon  = "2026-12-02"
	later = "2026-12-09"
)

func TestWhoRunsWithWhom(t *testing.T) {
	for _, tt := range []struct {
		name  string
		lines []jobs.OrderLine
		want  []string
	}{
		{"one die, one stock", []jobs.OrderLine{line("2 a jar paper 900 2026-12-02"), line("1 a jar paper 500 2026-12-03")},
			[]string{"jar-paper: 2 1"}},
		{"dies of one shape", []jobs.OrderLine{line("1 a jar paper 900 2026-12-02"), line("2 a jar-3 paper 500 2026-12-02")},
			[]string{"jar-paper: 1 2"}},
		{"the last day of the window and the day after", []jobs.OrderLine{line("1 a lid paper 900 2026-12-03"), line("2 a lid paper 500 2026-12-04")},
			[]string{"lid-paper: 1 2?"}},
		{"rush whatever the date", []jobs.OrderLine{line("1 a lid paper 900 2026-12-20", rush)},
			[]string{"lid-paper: 1 alone, no other order in the book"}},
		{"a due date that nobody stated", []jobs.OrderLine{line("1 a lid paper 900 2026-12-20", func(l *jobs.OrderLine) { l.Due = time.Time{} })},
			[]string{"lid-paper: 1 alone, no other order in the book"}},
		{"nothing due in the window", []jobs.OrderLine{line("1 a lid paper 900 2026-12-09")},
			[]string{"out: 1, due 2026-12-09, after the gang window (until 2026-12-03), and nothing due within it could share its set-up"}},
		{"another die", []jobs.OrderLine{line("1 a lid paper 900 2026-12-02"), line("2 a jar paper 500 2026-12-02"), line("3 a jar paper 500 2026-12-02")},
			[]string{"jar-paper: 2 3", "lid-paper: 1 alone, no other order is for die lid"}},
		{"another stock", []jobs.OrderLine{line("1 a lid paper 900 2026-12-02"), line("2 a lid film 500 2026-12-02"), line("3 a lid film 500 2026-12-02")},
			[]string{"lid-film: 2 3", "lid-paper: 1 alone, the others for its die are on stock film, this one on paper"}},
		{"another finish", []jobs.OrderLine{line("1 a lid film 900 2026-12-02"), line("2 a lid film 500 2026-12-02", finish("varnish"))},
			[]string{"lid-film: 1 alone, the others for its die and stock have finish varnish, this one none",
				"lid-film-varnish: 2 alone, the others for its die and stock have finish none, this one varnish"}},
		{"finishes in another order are the same", []jobs.OrderLine{line("1 a lid film 900 2026-12-02", finish("laminate", "varnish")), line("2 a lid film 500 2026-12-02", finish("varnish", "laminate"))},
			[]string{"lid-film-laminate-varnish: 1 2"}},
		{"another ink set", []jobs.OrderLine{line("1 a lid film 900 2026-12-02"), line("2 a lid film 500 2026-12-02", ink("white/../x"))},
			[]string{"lid-film: 1 alone, the others for its set-up are in ink set white/../x, this one in standard",
				"lid-film-white-..-x: 2 alone, the others for its set-up are in ink set standard, this one in white/../x"}},
		{"food never with unflagged", []jobs.OrderLine{line("1 a lid film 900 2026-12-02", flags("food")), line("2 a lid film 500 2026-12-02"), line("3 a lid film 500 2026-12-02", flags("food"))},
			[]string{"lid-film: 2 alone, the others for its set-up are for food, this one for no special use: such work is not mixed", "lid-film-food: 1 3"}},
		{"food and toy never with food", []jobs.OrderLine{line("1 a lid film 900 2026-12-02", flags("food")), line("2 a lid film 500 2026-12-02", flags("food", "toy"))},
			[]string{"lid-film-food: 1 alone, the others for its set-up are for food+toy, this one for food: such work is not mixed",
				"lid-film-food-toy: 2 alone, the others for its set-up are for food, this one for food+toy: such work is not mixed"}},
		{"top with bottom, never with left", []jobs.OrderLine{
			line("1 a jar film 900 2026-12-02", first(jobs.EdgeTop)), line("2 a jar film 900 2026-12-02", first(jobs.EdgeBottom)),
			line("3 a jar film 900 2026-12-02", first(jobs.EdgeLeft)), line("4 a jar film 900 2026-12-02")},
			[]string{"jar-film: 1 2 4", "jar-film-sideways: 3 alone, its copies leave the roll left or right first, those of the others for its set-up do not: they would stand at right angles"}},
		{"an edge that nobody stated goes with the only ones", []jobs.OrderLine{line("3 a jar film 900 2026-12-02", first(jobs.EdgeLeft)), line("4 a jar film 900 2026-12-02")},
			[]string{"jar-film-sideways: 3 4"}},
		{"a square label stands any way", []jobs.OrderLine{line("1 a lid film 900 2026-12-02", first(jobs.EdgeTop)), line("3 a lid film 900 2026-12-02", first(jobs.EdgeLeft))},
			[]string{"lid-film: 1 3"}},
		{"an order with two dies is in two gangs", []jobs.OrderLine{line("1 a lid film 900 2026-12-02"), line("1 b jar film 900 2026-12-09"), line("2 c jar film 900 2026-12-02")},
			[]string{"jar-film: 2 1?", "lid-film: 1 alone, no other order is for die lid"}},
		{"the earliest date of an order counts", []jobs.OrderLine{line("1 a lid film 900 2026-12-02"), line("1 b lid film 900 2026-12-09")},
			[]string{"lid-film: 1 alone, no other order in the book"}},
		{"no press is wide enough", []jobs.OrderLine{line("1 a wide film 900 2026-12-02")},
			[]string{"must be out: 1, no press can run it: die wide on press big: the web is 450mm wide, the press takes at most 330mm; die wide on press small: the web is 450mm wide, the press takes at most 240mm"}},
		{"a stock that is not that wide", []jobs.OrderLine{line("1 a lid narrow 900 2026-12-02"), line("2 a jar narrow 900 2026-12-02")},
			[]string{"jar-3-narrow: 2 alone, no other order is for die jar", "must be out: 1, no press can run it: die lid on press big: stock narrow cannot be had 280mm wide; die lid on press small: the web is 280mm wide, the press takes at most 240mm"}},
		{"a die that is not there", []jobs.OrderLine{line("1 a star film 900 2026-12-02")}, []string{"must be out: 1, no die star in the shop file"}},
		{"a stock that is not there", []jobs.OrderLine{line("1 a lid foil 900 2026-12-02")}, []string{"must be out: 1, no stock foil in the shop file"}},
		{"a finish that is not there", []jobs.OrderLine{line("1 a lid film 900 2026-12-02", finish("gold"))}, []string{"must be out: 1, no finish gold in the shop file"}},
		{"cores for two rewinders", []jobs.OrderLine{line("1 a lid film 900 2026-12-02", core(76)), line("2 a lid film 900 2026-12-02", core(25)), line("3 a lid film 900 2026-12-09", core(40))},
			[]string{"lid-film: 1 3?", "lid-film-2: 2 alone, the others for its set-up are left out, fill their gangs or need another rewinder"}},
		{"a core for no rewinder", []jobs.OrderLine{line("1 a lid film 900 2026-12-02", core(50))}, []string{"must be out: 1, no rewinder takes its cores: 50mm"}},
		{"overs billed without a price", []jobs.OrderLine{line("1 a lid film 900 2026-12-02", func(l *jobs.OrderLine) { yes := true; l.BillOvers = &yes; l.Overs = new(decimal.Decimal) })},
			[]string{"must be out: 1, version a bills its overs: want the price of a label"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p, err := Pool(testShop(), tt.lines, on(today))
			require.NoError(t, err)
			assert.Equal(t, tt.want, sketch(p))
			every(t, testShop(), tt.lines, p)
		})
	}
}

func TestGangsAreNoLargerThanTheShopAllows(t *testing.T) {
	shop := testShop()
	shop.Pooling.MostVersions = 3
	var lines []jobs.OrderLine
	for i := range 7 {
		lines = append(lines, line(fmt.Sprintf("%d a lid film 900 2026-12-02", i)))
	}
	for _, version := range []string{"a", "b", "c", "d"} {
		lines = append(lines, line("long "+version+" lid film 100 2026-12-03"))
	}
	lines = append(lines, line("x a lid film 100 2026-12-09"), line("y a lid film 100 2026-12-10"))
	p, err := Pool(shop, lines, on(today))
	require.NoError(t, err)
	assert.Equal(t, []string{
		"lid-film: 0 1 2", "lid-film-2: 3 4 5", "lid-film-3: 6 alone, the others for its set-up are left out, fill their gangs or need another rewinder",
		"lid-film-4: long alone, the others for its set-up are left out, fill their gangs or need another rewinder",
		"out: x, due 2026-12-09, after the gang window, and its gang is full at 3 versions, the most that the shop file allows",
		"out: y, due 2026-12-10, after the gang window, and its gang is full at 3 versions, the most that the shop file allows",
	}, sketch(p))
}

func TestTheCheapestPressThatCanRunIt(t *testing.T) {
	shop := testShop()
	for _, tt := range []struct{ name, order, press, die string }{
		{"a short run on the press with the short set-up", "1 a jar paper 500 2026-12-02", "small", "jar-3"},
		{"a long run on the fast press", "1 a jar paper 90000 2026-12-02", "big", "jar"},
		{"a stock that only one press runs", "1 a jar film 500 2026-12-02", "big", "jar"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p, err := Pool(shop, []jobs.OrderLine{line(tt.order)}, on(today))
			require.NoError(t, err)
			require.Len(t, p.Gangs, 1)
			assert.Equal(t, tt.press, p.Gangs[0].Press.ID)
			assert.Equal(t, tt.die, p.Gangs[0].Die.ID)
		})
	}
}

func TestTheEstimateIsThatOfAPlanByHand(t *testing.T) {
	// 4 lanes; 900, 500 and 100 labels in one section: 2, 1 and 1 lanes, 500
	// rows. Two sections would pay a changeover for less web.
	shop := testShop()
	shop.Presses = shop.Presses[:1]
	shop.Presses[0].LaneRunCost = dec("0.5")
	lines := []jobs.OrderLine{line("1 a jar film 100 2026-12-02"), line("2 b jar film 900 2026-12-02"), line("3 c jar film 500 2026-12-02")}
	p, err := Pool(shop, lines, on(today))
	require.NoError(t, err)
	g := p.Gangs[0]
	require.Equal(t, "jar", g.Die.ID)
	costs := g.UnitCosts()
	want := costs.Setup.Add(costs.Row.Mul(dec("500"))).Add(dec("2"))
	assert.Equal(t, want.Round(6).String(), g.Estimate.String())
}

func TestVersionsHaveIDsOfTheirOwn(t *testing.T) {
	lines := []jobs.OrderLine{
		line("1 a lid film 900 2026-12-02"), line("2 a lid film 900 2026-12-02"), line("2 1/a lid film 900 2026-12-02"), line("3 b lid film 900 2026-12-02"),
	}
	p, err := Pool(testShop(), lines, on(today))
	require.NoError(t, err)
	require.Len(t, p.Gangs, 1)
	var ids []string
	for _, e := range p.Gangs[0].Entries() {
		ids = append(ids, e.Version.ID)
	}
	assert.Equal(t, []string{"1/a'", "1/a", "2/a", "b"}, ids)
	_, err = p.Gangs[0].Problem()
	assert.NoError(t, err)
}

func TestLateOrdersRunFirstAndBindThePlanNoMore(t *testing.T) {
	shop := testShop()
	for i := range shop.Presses {
		shop.Presses[i].Start = on("2026-11-02").Add(6 * time.Hour)
		shop.Presses[i].HoursADay = dec("8")
	}
	lines := []jobs.OrderLine{line("1 a lid film 900 2026-11-27"), line("2 a lid film 900 2026-12-01")}
	p, err := Pool(shop, lines, on(today))
	require.NoError(t, err)
	require.Len(t, p.Gangs, 1)
	g := p.Gangs[0]
	assert.Equal(t, on(today).Add(6*time.Hour), g.Press.Start, "the press starts today")
	assert.Equal(t, []Late{{Order: "1", Due: on("2026-11-27")}}, g.Late)
	assert.True(t, g.Orders[0].Rush && g.Orders[0].Due.IsZero())
	assert.Equal(t, on("2026-12-01"), g.Orders[1].Due)
}

func TestFillersKnowWhatTheyCostElsewhere(t *testing.T) {
	shop := testShop()
	shop.Dies = shop.Dies[:1]
	lines := []jobs.OrderLine{line("1 a jar film 900 2026-12-02"), line("2 b jar film 1000 2026-12-09")}
	p, err := Pool(shop, lines, on(today))
	require.NoError(t, err)
	g := p.Gangs[0]
	require.True(t, g.Orders[1].Filler)
	// 250 rows in 4 lanes, and a quarter of a changeover.
	costs := g.UnitCosts()
	want := costs.Row.Mul(dec("250")).Add(costs.Changeover.Div(dec("4")))
	assert.Equal(t, want.Round(6).String(), g.Orders[1].Versions[0].ElsewhereCost.String())
	assert.True(t, g.Orders[0].Versions[0].ElsewhereCost.IsZero())
}

func TestPoolRefuses(t *testing.T) {
	shop := testShop()
	_, err := Pool(shop, []jobs.OrderLine{line("1 a lid film 9 2026-12-02"), line("1 a jar film 9 2026-12-02")}, on(today))
	assert.ErrorContains(t, err, "order 1 has version a twice")
	shop.Presses = nil
	_, err = Pool(shop, nil, on(today))
	assert.ErrorContains(t, err, "the shop has no press")
}

// every checks what holds of any pooling: each order line is in exactly one
// place, no gang mixes what must match, what is due in the window runs, every
// gang is a problem for the planner.
func every(t *testing.T, shop *jobs.Shop, lines []jobs.OrderLine, p Pooling) {
	t.Helper()
	type place struct{ order, version string }
	source := map[place]jobs.OrderLine{}
	for _, l := range lines {
		source[place{l.Order, l.Version}] = l
	}
	seen := map[place]int{}
	for _, o := range p.Out {
		assert.NotEmpty(t, o.Reason)
		for _, v := range o.Versions {
			seen[place{o.Order, v}]++
		}
	}
	ids := map[string]bool{}
	for _, g := range p.Gangs {
		assert.False(t, ids[g.ID], g.ID)
		ids[g.ID] = true
		_, err := g.Problem()
		require.NoError(t, err, g.ID)
		assert.Equal(t, len(g.Orders) == 1, g.Alone != "", g.ID)
		must := 0
		var axis jobs.Edge
		require.Len(t, g.Orders, len(g.parts))
		for i, o := range g.Orders {
			if !o.Filler {
				must++
			}
			for j, v := range o.Versions {
				l := source[place{o.ID, g.parts[i].lines[j].Version}]
				seen[place{l.Order, l.Version}]++
				assert.Equal(t, l.Quantity, v.Quantity)
				assert.Equal(t, l.Stock, g.Stock.ID)
				assert.True(t, l.Die == g.Die.ID || shop.Shapes[l.Die] != "" && shop.Shapes[l.Die] == shop.Shapes[g.Die.ID])
				assert.ElementsMatch(t, l.Flags, o.Flags)
				assert.ElementsMatch(t, l.Flags, g.Orders[0].Flags)
				var finishes []string
				for _, f := range g.Finishes {
					finishes = append(finishes, f.ID)
				}
				assert.ElementsMatch(t, l.Finishes, finishes)
				assert.Equal(t, g.parts[0].lines[0].InkSet, l.InkSet)
				assert.True(t, len(g.Press.Stocks) == 0 || slices.Contains(g.Press.Stocks, g.Stock.ID))
				assert.LessOrEqual(t, g.Die.Web, g.Press.MaxWeb)
				if l.Core > 0 && len(shop.Rewinders) > 0 {
					assert.Contains(t, g.Rewinder.Cores, l.Core)
				}
				if edge := l.Wind.Edge; edge != jobs.EdgeUnknown && g.Die.Across != g.Die.Around {
					assert.True(t, axis == jobs.EdgeUnknown || edge == axis || edge == axis.Opposite(), g.ID)
					axis = edge
				}
				if o.Filler {
					assert.True(t, l.Due.After(p.Until) && !l.Rush)
					assert.True(t, v.ElsewhereCost.IsPositive())
				}
			}
		}
		assert.Positive(t, must, "%s runs for fillers alone", g.ID)
		if most := shop.Pooling.MostVersions; most > 0 && len(g.Orders) > 1 {
			assert.LessOrEqual(t, len(g.Entries()), most)
		}
	}
	for key := range source {
		assert.Equal(t, 1, seen[key], "order %s version %s is in one place", key.order, key.version)
	}
	assert.Len(t, seen, len(source))
}

// randomBook draws an order book; small ranges make clashes and company.
func randomBook(r *rand.Rand) (*jobs.Shop, []jobs.OrderLine) {
	shop := testShop()
	shop.Pooling.WindowDays = r.IntN(8)
	shop.Pooling.MostVersions = []int{0, 0, 3, 8}[r.IntN(4)]
	if r.IntN(3) == 0 {
		shop.Rewinders = nil
	}
	pick := func(of ...string) string { return of[r.IntN(len(of))] }
	var lines []jobs.OrderLine
	for order := range 1 + r.IntN(30) {
		for version := range 1 + r.IntN(4) {
			l := line(fmt.Sprintf("%d v%d %s %s %d 2026-12-%02d", order, version, pick("jar", "jar-3", "lid", "lid", "wide"),
				pick("paper", "film", "film", "narrow"), 1+r.IntN(9000), 1+r.IntN(14)))
			l.Rush = r.IntN(10) == 0
			l.Finishes = [][]string{nil, nil, {"varnish"}, {"varnish", "laminate"}, {"laminate", "varnish"}}[r.IntN(5)]
			l.Flags = [][]string{nil, nil, {"food"}, {"toy", "food"}}[r.IntN(4)]
			l.InkSet = pick("", "", "white")
			l.Wind.Edge = jobs.Edge(r.IntN(5))
			l.Core = []jobs.Length{0, 76, 40, 25, 50}[r.IntN(5)] * jobs.Millimetre
			lines = append(lines, l)
		}
	}
	return shop, lines
}

func TestAnyBookIsPooledWhole(t *testing.T) {
	for seed := range uint64(400) {
		r := rand.New(rand.NewPCG(seed, 4))
		shop, lines := randomBook(r)
		p, err := Pool(shop, lines, on(today))
		require.NoError(t, err)
		every(t, shop, lines, p)

		r.Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
		again, err := Pool(shop, lines, on(today))
		require.NoError(t, err)
		require.Equal(t, p, again, "seed %d: the order of the lines says nothing", seed)
	}
}

func TestTheStarterShopHasWorkToPool(t *testing.T) {
	shop, lines, day, err := starter.Book()
	require.NoError(t, err)
	p, err := Pool(shop, lines, day)
	require.NoError(t, err)
	var alone, together, fillers int
	for _, g := range p.Gangs {
		if g.Alone != "" {
			alone++
		} else {
			together++
		}
		for _, o := range g.Orders {
			if o.Filler {
				fillers++
			}
		}
	}
	assert.Positive(t, alone)
	assert.GreaterOrEqual(t, together, 3)
	assert.Positive(t, fillers)
	assert.NotEmpty(t, p.Out)
}

// To many file systems A and a are one folder, so gangs whose dies differ in
// that alone get ids that differ in more.
func TestIdsOfGangsDifferInMoreThanCapitals(t *testing.T) {
	gang := func(die, order string) Gang {
		return Gang{Gang: jobs.Gang{Stock: jobs.Stock{ID: "film"}}, options: []option{{die: jobs.Die{ID: die}}}, parts: []part{{order: order}}}
	}
	p := Pooling{Gangs: []Gang{gang("jar", "3"), gang("JAR", "1"), gang("Jar", "2"), gang("jar", "4")}}
	p.name()
	var ids []string
	seen := map[string]bool{}
	for _, g := range p.Gangs {
		ids = append(ids, g.ID)
		seen[strings.ToLower(g.ID)] = true
	}
	assert.ElementsMatch(t, []string{"JAR-film", "Jar-film-2", "jar-film-3", "jar-film-4"}, ids)
	assert.Len(t, seen, 4)
}
