package price_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"io"
	"math/rand"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/price"
)

// quick keeps the plans of tests short.
var quick = price.Options{GangWork: 0.3}

func TestANewOrderAddsNoMoreThanItCostsAlone(t *testing.T) {
	g := bigMill(3)
	further := []jobs.Order{{ID: "new", Customer: "Inn", Versions: []jobs.Version{{ID: "dill", Quantity: 1500, LabelsPerRoll: 500}}}}
	a, err := price.Add(context.Background(), g, further, quick)
	require.NoError(t, err)
	assert.Equal(t, []string{"new"}, a.Orders)
	assert.Equal(t, 1500, a.Labels)
	assert.True(t, a.Together)
	assert.True(t, a.Added.IsPositive())
	assert.True(t, a.Added.LessThan(a.Alone.Cost), "adds %s, alone %s", a.Added, a.Alone.Cost)
	assert.True(t, a.Floor.Equal(a.Added))
	require.NotNil(t, a.Quote)
	assert.True(t, a.Ceiling.Equal(a.Quote.Price), "alone with the usual margin")
	assert.True(t, a.Ceiling.GreaterThan(a.Alone.Cost))
	assert.True(t, a.After.Cost.Sub(a.Before.Cost).Equal(a.Added))

	g.Pricing = jobs.Pricing{}
	a, err = price.Add(context.Background(), g, further, quick)
	require.NoError(t, err)
	assert.Nil(t, a.Quote)
	assert.True(t, a.Ceiling.Equal(a.Alone.Cost))
	assert.Contains(t, strings.Join(a.Notes, "\n"), "the shop has set neither markup nor margin")
}

func TestANewOrderIsFirstInAnEmptyGang(t *testing.T) {
	g := spiceMill()
	further := g.Orders[:1]
	g.Orders = nil
	a, err := price.Add(context.Background(), g, further, quick)
	require.NoError(t, err)
	assert.True(t, a.Before.Cost.IsZero())
	assert.True(t, a.Added.Equal(a.Alone.Cost))
}

func TestARushVersionThatIsPushedLaterIsSaid(t *testing.T) {
	g := spiceMill()
	g.Orders[1].Rush = true
	calm := []jobs.Order{{ID: "calm", Versions: []jobs.Version{{ID: "dill", Quantity: 4000, LabelsPerRoll: 1000}}}}
	a, err := price.Add(context.Background(), g, calm, quick)
	require.NoError(t, err)
	require.Len(t, a.Rush, 1)
	assert.Equal(t, "mace", a.Rush[0].Version)
	assert.Positive(t, a.Rush[0].Before)

	// Calm work runs after it, but may lengthen the section that it runs in:
	// which, is the planner's choice.
	assert.Equal(t, a.Rush[0].After > a.Rush[0].Before+1.0/60, a.Rush[0].Later())

	// In one section everything ends together, and four versions on four
	// lanes make it twice as long.
	g.Rules.MostSections = 1
	a, err = price.Add(context.Background(), g, calm, quick)
	require.NoError(t, err)
	require.True(t, a.Together, "%v", a.Notes)
	require.Len(t, a.Rush, 1)
	assert.True(t, a.Rush[0].Later())
	assert.InDelta(t, 20+10, a.Rush[0].Before, 1e-9, "20 min of set-up and 2,000 rows of 0.1 m at 20 m a minute")
	assert.InDelta(t, 20+20, a.Rush[0].After, 1e-9)

	assert.True(t, price.Shift{Before: 5, After: 6}.Later())
	assert.False(t, price.Shift{Before: 5, After: 5.01}.Later())
	assert.True(t, price.Shift{Before: 5, After: 6, InRows: true}.Later())
}

func TestAnOrderThatCannotJoinIsPricedAlone(t *testing.T) {
	g := spiceMill()
	g.Rules.MostSections = 1
	g.Rules.VersionsPerSection = 3
	further := []jobs.Order{{ID: "new", Versions: []jobs.Version{{ID: "dill", Quantity: 100, LabelsPerRoll: 100}}}}
	a, err := price.Add(context.Background(), g, further, quick)
	require.NoError(t, err)
	assert.False(t, a.Together)
	assert.NotEmpty(t, a.After.Failed)
	assert.True(t, a.Added.Equal(a.Alone.Cost))
	assert.Contains(t, a.Notes[0], "cannot join the gang")
}

// Neither cost nor total price falls as the quantity grows, on random gangs
// and with classes that would make it fall.
func TestLadderIsMonotone(t *testing.T) {
	random := rand.New(rand.NewSource(7))
	raised := 0
	for range 3 {
		g := bigMill(1 + random.Intn(2))
		g.Pricing = jobs.Pricing{Markup: ptr("1"), MinimumPrice: ptr("40"), Classes: []jobs.PriceClass{
			{FromLabels: 2000, Markup: ptr("0.2")}, {FromLabels: 900, Markup: ptr("0.6")}}}
		l, err := price.MakeLadder(context.Background(), g, "v01a", []int{2500, 250, 899, 900, 1999, 2000, 250}, quick)
		require.NoError(t, err)
		require.Len(t, l.Rungs, 6, "sorted, none twice")
		for i := range l.Rungs {
			r := l.Rungs[i]
			assert.True(t, r.Added.Cost.LessThanOrEqual(r.Alone.Cost), "%d: adds %s, alone %s", r.Quantity, r.Added.Cost, r.Alone.Cost)
			assert.True(t, r.Added.Cost.Sign() >= 0)
			if r.RaisedToRungOf > 0 {
				raised++
			}
			if i == 0 {
				continue
			}
			before := l.Rungs[i-1]
			assert.Less(t, before.Quantity, r.Quantity)
			for _, pair := range [][2]price.Quote{{before.Alone, r.Alone}, {before.Added, r.Added}} {
				assert.True(t, pair[0].Cost.LessThanOrEqual(pair[1].Cost), "%d: cost %s, before %s", r.Quantity, pair[1].Cost, pair[0].Cost)
				assert.True(t, pair[0].Price.LessThanOrEqual(pair[1].Price), "%d: price %s, before %s", r.Quantity, pair[1].Price, pair[0].Price)
			}
		}
	}
	assert.Positive(t, raised, "the classes would have made a price fall")
}

func TestALadderTellsWhichPricesHangOnTheGangsGap(t *testing.T) {
	g := bigMill(6)
	markup := dec("0")
	g.Pricing = jobs.Pricing{Markup: &markup}
	tight, err := price.MakeLadder(context.Background(), g, "v01a", []int{500, 2000}, price.Options{GangWork: 0.0001})
	require.NoError(t, err)
	open := false
	for _, r := range tight.Rungs {
		open = open || r.AddedOpen.IsPositive()
	}
	require.True(t, open, "plans of hardly any work are not proven")
	assert.Contains(t, strings.Join(tight.Notes, "\n"), "added to the gang: its plan may cost up to ")
	markup = dec("100")
	wide, err := price.MakeLadder(context.Background(), g, "v01a", []int{500, 2000}, price.Options{GangWork: 0.0001})
	require.NoError(t, err)
	assert.NotContains(t, strings.Join(wide.Notes, "\n"), "added to the gang: its plan")
}

func TestLadderRefuses(t *testing.T) {
	_, err := price.MakeLadder(context.Background(), spiceMill(), "cumin", []int{0, 5}, quick)
	assert.EqualError(t, err, "ladder: want quantities from 1 up")
	_, err = price.MakeLadder(context.Background(), spiceMill(), "basil", []int{5}, quick)
	assert.EqualError(t, err, "ladder: gang mill has no version basil")
}

func TestVary(t *testing.T) {
	g := spiceMill()
	var variations []price.Variation
	for _, text := range []string{"tolerance=0,5,10", "stock_price=-10%,+10%", "hourly_rate=45,180", "changeover_web=2", "speed=+50%", "quantity=+100%"} {
		v, err := price.ParseVariation(text)
		require.NoError(t, err)
		variations = append(variations, v)
	}
	curves, err := price.Vary(context.Background(), g, variations, quick)
	require.NoError(t, err)
	require.Len(t, curves, 6)
	cost := func(i, k int) float64 { return curves[i].Points[k].Cost.InexactFloat64() }
	base := curves[0].AsItIs.Cost.InexactFloat64()
	net := func(k int) float64 { return cost(0, k) + curves[0].Points[k].Unbilled.InexactFloat64() }
	assert.LessOrEqual(t, net(1), net(0)+1e-9, "more tolerance never costs more")
	assert.LessOrEqual(t, net(2), net(1)+1e-9)
	assert.Less(t, cost(1, 0), base)
	assert.Greater(t, cost(1, 1), base)
	assert.Less(t, cost(2, 0), cost(2, 1))
	assert.LessOrEqual(t, cost(3, 0), base)
	assert.Less(t, cost(4, 0), base)
	assert.Greater(t, cost(5, 0), base)
	stock, up, down := 30.0, cost(1, 1)-base, base-cost(1, 0)
	assert.InDelta(t, 0.1*stock, up, 0.3, "a tenth of the stock")
	assert.InDelta(t, up, down, 0.1, "the same plan both ways")
	assert.InDelta(t, cost(1, 1)/base-1, curves[1].Against(curves[1].Points[1]), 1e-6)
	assert.Equal(t, 4000, g.Orders[0].Versions[0].Quantity, "the gang itself stays")
	assert.Equal(t, "0.5", g.Stock.PricePerSquareMetre.String())
}

func TestVaryingABareProblem(t *testing.T) {
	g := jobs.Gang{ID: "covers", Die: jobs.Die{Lanes: 4}, Bare: &jobs.BareCosts{Row: dec("13.44"), Section: dec("18676")},
		Orders: []jobs.Order{{ID: "o", Versions: []jobs.Version{{ID: "A", Quantity: 4500}, {ID: "B", Quantity: 9000}, {ID: "C", Quantity: 16000}}}}}
	v, err := price.ParseVariation("section_cost=0,18676,+30000")
	require.NoError(t, err)
	curves, err := price.Vary(context.Background(), g, []price.Variation{v}, quick)
	require.NoError(t, err)
	assert.Equal(t, "136472", curves[0].AsItIs.Cost.String())
	assert.Equal(t, "136472", curves[0].Points[1].Cost.String())
	assert.Equal(t, "18676", g.Bare.Section.String())
	v, err = price.ParseVariation("speed=10")
	require.NoError(t, err)
	_, err = price.Vary(context.Background(), g, []price.Variation{v}, quick)
	assert.EqualError(t, err, "speed: cannot be varied here: a bare problem has none")
}

func TestParseVariationRefuses(t *testing.T) {
	tests := []struct{ text, want string }{
		{"tolerance", `want what to vary and its values, such as tolerance=0,2,5,10, got "tolerance"`},
		{"weather=1", `unknown "weather", want one of tolerance, quantity, stock_price, hourly_rate, speed, setup_minutes, changeover_minutes, changeover_web, lane_run_cost, row_cost, section_cost`},
		{"tolerance=+5%", `tolerance: want a value to put in its place, in % above and below, got "+5%"`},
		{"quantity=5", `quantity: want a percentage to put on, such as +10%, got "5"`},
		{"stock_price=10%", `stock_price: want a sign before a percentage, such as +10%, got "10%"`},
		{"stock_price=-5", `stock_price: want a value from 0 up, got "-5"`},
		{"stock_price=-100%", `stock_price: want a percentage above -100%, got "-100%"`},
		{"stock_price=1,+5%", `stock_price: want all values in their place or all as percentages put on, got 1 and +5%`},
		{"stock_price=1,1.0", `stock_price: 1.0 stands here twice`},
		{"stock_price=x", `stock_price: want a number or a percentage such as -10%, got "x"`},
	}
	for _, tt := range tests {
		_, err := price.ParseVariation(tt.text)
		assert.EqualError(t, err, tt.want)
	}
}

func TestPlotIsSVG(t *testing.T) {
	v, err := price.ParseVariation("stock_price=+10%,-10%,+5%")
	require.NoError(t, err)
	c := price.Curve{Gang: "mill <&>", Variation: v, Points: []price.Point{
		{Value: v.Values[0], Cost: dec("110")}, {Value: v.Values[1], Cost: dec("90")}, {Value: v.Values[2], Failed: "no plan"}}}
	var out, again bytes.Buffer
	require.NoError(t, price.PlotSVG(&out, []price.Curve{c, c}, "EUR"))
	require.NoError(t, price.PlotSVG(&again, []price.Curve{c, c}, "EUR"))
	assert.Equal(t, out.String(), again.String())
	decoder := xml.NewDecoder(bytes.NewReader(out.Bytes()))
	texts := ""
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		if text, is := token.(xml.CharData); is {
			texts += string(text) + "\n"
		}
	}
	assert.Equal(t, 2, strings.Count(texts, "Cost of gang mill"), "one below the other")
	for _, want := range []string{"Cost of gang mill <&>", "stock_price, % more or less", "cost in EUR"} {
		assert.Contains(t, texts, want)
	}
	c.Points = c.Points[1:]
	assert.ErrorContains(t, price.PlotSVG(io.Discard, []price.Curve{c}, ""), "1 values with a plan, want 2 or more")
}
