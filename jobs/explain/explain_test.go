package explain

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/nest"
)

const file = `laneplan: 1
currency: EUR
die: {across: 60mm, around: 97mm, lanes: 4, gap_across: 3mm, gap_around: 3mm, web: 260mm}
stock: {id: paper, price_per_m2: 0.50}
press: {speed: 20m/min, hourly_rate: 72, setup_minutes: 15, setup_web: 20m, changeover_minutes: 3, changeover_web: 5m, max_web: 330mm}
unit_price: 0.03
orders:
  - id: "1"
    versions: [{id: dill, quantity: 900, one_piece: true}, {id: fennel, quantity: 1000}]
  - id: "2"
    versions: [{id: sumac, quantity: 1700, labels_per_roll: 100}]
rules:
  together: [[dill, sumac]]
  apart: [[dill, fennel, sumac]]
  whole_rolls: prefer
  whole_roll_saving: 0.50
`

// easy has no rules that make the search work.
var easy, _, _ = strings.Cut(file, "rules:")

func gang(t *testing.T, file string) (jobs.Gang, nest.Problem) {
	t.Helper()
	g, err := intake.Parse("spices.yaml", []byte(file))
	require.NoError(t, err)
	p, err := g.Problem()
	require.NoError(t, err)
	return g, p
}

func TestQuestionsAreTheGangWithOneThingDifferent(t *testing.T) {
	g, before := gang(t, file)
	asked := questionsOf(g)
	problems := map[string]nest.Problem{}
	for _, q := range asked {
		p, err := q.gang.Problem()
		require.NoError(t, err, q.kind)
		problems[q.kind+" "+q.subject] = p
	}
	require.Len(t, problems, 8)
	more := problems["one lane more lane 5"]
	assert.Equal(t, 5, more.Lanes)
	// 63 mm more of 260 mm: the web's part of a row is 323/260 of what it was.
	time := 0.1 / 20 * 72 / 60
	assert.InDelta(t, (before.Costs.Row-time)*323/260+time, more.Costs.Row, 1e-12)
	assert.Equal(t, []int{4}, problems["one lane fewer lane 4"].Closed)
	assert.Equal(t, before.Costs, problems["one lane fewer lane 4"].Costs, "the web is as wide")
	tolerant := problems["tolerance 5 %"]
	assert.Equal(t, 855, tolerant.Versions[0].Fewest)
	assert.Equal(t, 945, tolerant.Versions[0].Most)
	without := problems["leave out dill"]
	assert.Len(t, without.Versions, 2)
	assert.Empty(t, without.Together, "a set of one is none")
	assert.Equal(t, [][]int{{0, 1}}, without.Apart)
	assert.InDelta(t, 0.5, without.Costs.WholeRollSaving, 1e-12)
	assert.Zero(t, problems["leave out sumac"].Costs.WholeRollSaving, "no rolls are left")
	_, after := gang(t, file)
	assert.Equal(t, before, after)
	p, err := g.Problem()
	require.NoError(t, err)
	assert.Equal(t, before, p, "the gang itself is as it was")

	g.Die.ClosedLanes = []int{2, 3}
	again := questionsOf(g)[0]
	assert.Equal(t, "lane 2", again.subject, "a lane out of use comes first")
	assert.Equal(t, []int{3}, again.gang.Die.ClosedLanes)
	g.Die.ClosedLanes = []int{1, 2, 3}
	assert.NotEqual(t, LaneFewer, questionsOf(g)[1].kind, "the last lane stays")
}

func TestGang(t *testing.T) {
	g, p := gang(t, easy)
	o := nest.Options{Work: 0.2, Seed: 1}
	found, err := nest.Solve(context.Background(), p, o)
	require.NoError(t, err)
	var told []string
	e, err := Gang(context.Background(), g, p, found.Plan, o, func(what string) { told = append(told, what) })
	require.NoError(t, err)
	assert.Len(t, told, 9)
	assert.Equal(t, "question 2 of 8: one lane fewer, lane 4", told[2])
	number := func(text string) decimal.Decimal {
		d, err := decimal.NewFromString(text)
		require.NoError(t, err)
		return d
	}
	for _, q := range e.Questions {
		require.Empty(t, q.None, q.Kind)
		change := number(q.Cost.String()).Sub(number(e.Cheapest.String()))
		assert.True(t, change.Sub(number(q.Found.String())).Abs().LessThanOrEqual(decimal.New(1, -2)), q.Kind)
		assert.True(t, number(q.Least.String()).LessThanOrEqual(number(q.Most.String())), q.Kind)
	}
	assert.False(t, number(e.Questions[1].Least.String()).IsNegative(), "a lane fewer saves nothing")

	var out bytes.Buffer
	require.NoError(t, Write(&out, Document{Gangs: []Explanation{e}}))
	schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("schema.json", schema))
	compiled, err := c.Compile("schema.json")
	require.NoError(t, err)
	document, err := jsonschema.UnmarshalJSON(&out)
	require.NoError(t, err)
	assert.NoError(t, compiled.Validate(document))
}

// A plan that is not the cheapest is compared with the cheapest that is found.
func TestGangFromADearPlan(t *testing.T) {
	g, p := gang(t, easy)
	dear := nest.Plan{Sections: []nest.Section{
		{Rows: 1700, Lanes: []int{0, nest.Empty, 2, nest.Empty}},
		{Rows: 1000, Lanes: []int{1, nest.Empty, nest.Empty, nest.Empty}},
	}}
	dear.Cost = nest.Recount(p, dear).Cost
	require.NoError(t, nest.Check(p, dear))
	e, err := Gang(context.Background(), g, p, dear, nest.Options{Work: 0.2, Seed: 1}, nil)
	require.NoError(t, err)
	assert.NotEqual(t, e.Cost, e.Cheapest)
	assert.Equal(t, []string{"sumac"}, e.Sections[0].SetBy)
}

func TestGangInterrupted(t *testing.T) {
	g, p := gang(t, easy)
	found, err := nest.Solve(context.Background(), p, nest.Options{Work: 0.1, Seed: 1})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	asked := 0
	e, err := Gang(ctx, g, p, found.Plan, nest.Options{Work: 0.1, Seed: 1}, func(string) {
		if asked++; asked == 3 {
			cancel()
		}
	})
	require.NoError(t, err)
	assert.Equal(t, "not asked: interrupted", e.Questions[len(e.Questions)-1].None)
	assert.Empty(t, e.Questions[0].None)
}
