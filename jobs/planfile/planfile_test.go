package planfile

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/nest"
)

var update = flag.Bool("update", false, "rewrite the golden files")

const goldens = "../../testdata/planfile"

// bare is the problem of three versions whose optimum is 136472, with that
// optimum (costs and quantities of the cover printing example on D. Romero's
// page at UNAM; the optimum was computed by full enumeration).
func bare(t *testing.T) (jobs.Gang, nest.Problem, nest.Result) {
	t.Helper()
	g := jobs.Gang{
		ID:   "covers",
		Die:  jobs.Die{Lanes: 4},
		Bare: &jobs.BareCosts{Row: decimal.RequireFromString("13.44"), Section: decimal.NewFromInt(18676)},
		Orders: []jobs.Order{{ID: "covers", Versions: []jobs.Version{
			{ID: "A", Quantity: 4500}, {ID: "B", Quantity: 9000}, {ID: "C", Quantity: 16000},
		}}},
	}
	return found(t, g, nest.Plan{Sections: []nest.Section{
		{Rows: 2875, Lanes: []int{2, 2, 2, 2}}, {Rows: 4500, Lanes: []int{0, 1, 1, 2}},
	}}, 0)
}

// crowded has every optional thing that a plan file can say.
func crowded(t *testing.T) (jobs.Gang, nest.Problem, nest.Result) {
	t.Helper()
	number := decimal.RequireFromString
	percent := func(text string) *decimal.Decimal { d := number(text); return &d }
	g := jobs.Gang{
		ID: "14:spices", Currency: "EUR",
		Die:   jobs.Die{ID: "jar", Across: 70 * jobs.Millimetre, Around: 97 * jobs.Millimetre, Lanes: 3, GapAcross: 3 * jobs.Millimetre, GapAround: 3 * jobs.Millimetre, Web: 230 * jobs.Millimetre, ClosedLanes: []int{2}},
		Stock: jobs.Stock{ID: "paper", PricePerSquareMetre: number("0.5"), RollLength: 60 * jobs.Metre, SpliceMinutes: number("2")},
		Press: jobs.Press{ID: "press", Speed: 20 * jobs.Metre, HourlyRate: number("90"), ChangeoverMin: number("3"), LaneRunCost: number("1.5")},
		Orders: []jobs.Order{
			{ID: "1009", Versions: []jobs.Version{
				{ID: "mace", Name: "Mace, ground <40 g>", Quantity: 1000, Overs: percent("0.1"), UnitPrice: number("0.02"), BillOvers: true},
				{ID: "cumin", Quantity: 900, Unders: percent("0.02"), Overs: percent("0.05"), UnitPrice: number("0.01")},
			}},
			{ID: "1010", Filler: true, Versions: []jobs.Version{{ID: "anise", Quantity: 300, ElsewhereCost: number("21")}}},
		},
	}
	return found(t, g, nest.Plan{
		Sections:    []nest.Section{{Rows: 500, Lanes: []int{0, nest.Empty, 1}}, {Rows: 650, Lanes: []int{0, nest.Empty, nest.Empty}}, {Rows: 390, Lanes: []int{1, nest.Empty, nest.Empty}}},
		Splices:     []int{600, 1100},
		RollChanges: []int{2},
	}, 60)
}

// found dresses a plan made by hand as a result, with the bound so far below.
func found(t *testing.T, g jobs.Gang, plan nest.Plan, below float64) (jobs.Gang, nest.Problem, nest.Result) {
	t.Helper()
	p, err := g.Problem()
	require.NoError(t, err)
	plan.Cost = nest.Recount(p, plan).Cost
	require.NoError(t, nest.Check(p, plan))
	r := nest.Result{
		Plan: plan, Bound: plan.Cost.Total - below, Gap: below / plan.Cost.Total, Proven: below == 0,
		Work: 1.5, Time: 1234567 * time.Microsecond, Seed: 7,
	}
	if !r.Proven {
		r.Stop = nest.StopWork
	}
	return g, p, r
}

func described(t *testing.T, g jobs.Gang, p nest.Problem, r nest.Result, run Run) Gang {
	t.Helper()
	d, err := Describe(g, p, r, run)
	require.NoError(t, err)
	return d
}

var cases = []struct {
	name string
	run  Run
	make func(*testing.T) (jobs.Gang, nest.Problem, nest.Result)
}{
	{"bare", Run{}, bare},
	{"crowded", Run{Engine: "an engine", Limits: Limits{Seconds: "60", Work: "1.5"}, Times: true}, crowded},
}

func written(t *testing.T, g Gang) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, Write(&b, Document{Gangs: []Gang{g}}))
	return b.Bytes()
}

func schema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("plan.schema.json", document))
	compiled, err := c.Compile("plan.schema.json")
	require.NoError(t, err)
	return compiled
}

func TestWhatIsWrittenMatchesGoldenSchemaAndReader(t *testing.T) {
	schema := schema(t)
	wanted := map[string]bool{}
	for _, tt := range cases {
		t.Run(tt.name, func(t *testing.T) {
			g, p, r := tt.make(t)
			got := written(t, described(t, g, p, r, tt.run))
			golden := filepath.Join(goldens, tt.name+".json")
			wanted[filepath.Base(golden)] = true
			if *update {
				require.NoError(t, os.MkdirAll(goldens, 0o755))
				require.NoError(t, os.WriteFile(golden, got, 0o644))
			}
			want, err := os.ReadFile(golden)
			require.NoError(t, err, "run the test with -update")
			assert.Equal(t, string(want), string(got))

			instance, err := jsonschema.UnmarshalJSON(bytes.NewReader(got))
			require.NoError(t, err)
			assert.NoError(t, schema.Validate(instance))

			d, err := Read(got, golden)
			require.NoError(t, err)
			assert.Equal(t, string(got), string(written(t, d.Gangs[0])), "what we write, we read without loss")
			plan, err := d.Gangs[0].Plan(p)
			require.NoError(t, err)
			assert.Equal(t, r.Plan, plan)
			_, err = Verify(d, g, p)
			assert.NoError(t, err)
		})
	}
	entries, err := os.ReadDir(goldens)
	require.NoError(t, err)
	for _, e := range entries {
		assert.True(t, wanted[e.Name()], "no case writes %s", e.Name())
	}
}

// The example of the format's own description, field by field.
func TestBareSaysWhatTheFormatPromises(t *testing.T) {
	g, p, r := bare(t)
	var got map[string]any
	require.NoError(t, json.Unmarshal(written(t, described(t, g, p, r, Run{Times: true})), &got))
	assert.Equal(t, 1.0, got["laneplan"])
	gang := got["gangs"].([]any)[0].(map[string]any)
	assert.Equal(t, map[string]any{"number": 2.0, "rows": 4500.0, "lanes": []any{"A", "B", "B", "C"}, "carried_lanes": []any{4.0}}, gang["sections"].([]any)[1])
	assert.Equal(t, map[string]any{"id": "A", "order": "covers", "ordered": 4500.0, "planned": 4500.0, "overs": 0.0, "unders": 0.0, "scrap": 0.0}, gang["versions"].([]any)[0])
	assert.Equal(t, map[string]any{"rows": 7375.0, "sections": 2.0, "labels_ordered": 29500.0, "labels_planned": 29500.0, "overs": 0.0, "unders": 0.0, "scrap": 0.0, "lane_runs": 7.0}, gang["totals"])
	assert.Equal(t, 136472.0, gang["cost"].(map[string]any)["total"])
	assert.Equal(t, map[string]any{"cost": 136472.0, "gap": 0.0, "proven": true}, gang["bound"])
	assert.Equal(t, 1.235, gang["solve"].(map[string]any)["seconds"])
}

func TestBoundIsRoundedDownAndGapUp(t *testing.T) {
	g, p, r := crowded(t)
	r.Bound, r.Gap = 33.2999, 0.0000001
	d := described(t, g, p, r, Run{})
	assert.Equal(t, json.Number("33.29"), d.Bound.Cost)
	assert.Equal(t, json.Number("0.000001"), d.Bound.Gap)
	assert.False(t, d.Bound.Proven)
}

// What a plan costs by kind adds up to its total, to the cent a kind.
func TestKindsAddUp(t *testing.T) {
	g, p, r := crowded(t)
	cost := described(t, g, p, r, Run{}).Cost
	sum := decimal.Zero
	for _, k := range cost.Kinds {
		sum = sum.Add(Decimal(k.Cost))
	}
	assert.Less(t, sum.Sub(Decimal(cost.Total)).Abs().InexactFloat64(), 0.005*float64(len(cost.Kinds)))
	assert.InDelta(t, r.Plan.Cost.Total, Decimal(cost.Total).InexactFloat64(), 0.005)
	assert.Greater(t, len(cost.Kinds), 4)
}

func TestPlacesOfMoney(t *testing.T) {
	for _, tt := range []struct {
		name string
		g    jobs.Gang
		want int32
	}{
		{"euro has cents", jobs.Gang{Currency: "EUR"}, 2},
		{"yen has none", jobs.Gang{Currency: "JPY"}, 0},
		{"Kuwaiti dinar has mils", jobs.Gang{Currency: "KWD"}, 3},
		{"abstract costs have two", jobs.Gang{Bare: &jobs.BareCosts{Row: decimal.NewFromInt(1)}}, 2},
		{"or as many as they need", jobs.Gang{Bare: &jobs.BareCosts{Row: decimal.RequireFromString("0.0625")}}, 4},
	} {
		t.Run(tt.name, func(t *testing.T) { assert.Equal(t, tt.want, tt.g.Places()) })
	}
}

func TestSecondsAreWrittenOnlyWhenWanted(t *testing.T) {
	g, p, r := bare(t)
	assert.NotContains(t, string(written(t, described(t, g, p, r, Run{}))), "seconds")
	assert.Contains(t, string(written(t, described(t, g, p, r, Run{Times: true}))), `"seconds": 1.235`)
}
