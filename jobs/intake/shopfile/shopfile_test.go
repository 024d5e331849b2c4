package shopfile

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"laneplan/jobs"
	"laneplan/jobs/intake/internal/schematest"
)

const small = `laneplan: 1
currency: EUR
dies:
  - {id: D1, across: 70mm, around: 100mm, lanes: 4, gap_across: 3mm, gap_around: 3mm, web: 300mm}
stocks:
  - {id: paper, price_per_m2: 0.46}
presses:
  - {id: P1, speed: 18m/min, hourly_rate: 84, setup_minutes: 18, setup_web: 10m, changeover_minutes: 2, changeover_web: 6m}
`

func TestTheSmallestShopFile(t *testing.T) {
	shop, err := Parse("shop.yaml", []byte(small))
	require.NoError(t, err)
	assert.Equal(t, "EUR", shop.Currency)
	assert.Equal(t, 4, shop.Dies[0].Lanes)
	assert.Equal(t, jobs.BookFormat{}, shop.Book)
	assert.False(t, shop.Policy.LimitOvers)
	valid(t, small)
}

// full has every field of a shop file.
func full(t *testing.T) string {
	t.Helper()
	data, err := os.ReadFile("testdata/full.yaml")
	require.NoError(t, err)
	return string(data)
}

func TestEveryFieldIsRead(t *testing.T) {
	text := full(t)
	shop, err := Parse("full.yaml", []byte(text))
	require.NoError(t, err)
	valid(t, text)
	assert.Equal(t, map[string]string{"D1": "jar", "D2": "jar"}, shop.Shapes)
	assert.Equal(t, []string{"D1", "D2"}, []string{shop.AlikeDies("D2")[0].ID, shop.AlikeDies("D2")[1].ID})
	assert.Equal(t, jobs.PoolingRules{WindowDays: 3, MostVersions: 40}, shop.Pooling)
	assert.Equal(t, jobs.BookFormat{
		Separator: ';', DecimalMark: ',', DateLayout: "02.01.2006", Sheet: "Aufträge",
		Columns: map[string]string{"Auftrag": "order", "Notiz": "ignore"},
	}, shop.Book)
	assert.True(t, shop.Policy.LimitOvers && shop.Policy.BillOvers)
	assert.Equal(t, "0.1", shop.Policy.Overs.String())
	assert.Equal(t, jobs.Wind{Face: jobs.FaceIn, Edge: jobs.EdgeLeft}, shop.Chart.Numbers[7])
	assert.True(t, shop.Papers.Inches && shop.Papers.Letter)
	assert.Equal(t, 3, shop.Papers.Tags.Columns)
	assert.Equal(t, "1.5", shop.Rates.RIPPerVersion.String())
	assert.Equal(t, "46", shop.Presses[1].HourlyRate.String(), "76544 / (2080 × 80 %)")
	assert.Equal(t, "2.4", shop.Rates.Coverage[0].PerThousand.String())
	assert.Equal(t, "Hill", shop.Pricing.Classes[0].Customer)
	assert.True(t, shop.Pricing.RoundUp)
}

// Every key of the example of every field stands in the schema and the other
// way round, so that neither forgets one.
func TestSchemaAndReaderKnowTheSameFields(t *testing.T) {
	var schema map[string]any
	require.NoError(t, yaml.Unmarshal(Schema, &schema))
	stated := map[string]bool{}
	properties(schema, stated)
	// Of two fields that exclude each other an example has one.
	for _, other := range []string{"setup_web", "price_per_msi", "margin"} {
		assert.True(t, stated[other], other)
	}
	var document yaml.Node
	require.NoError(t, yaml.Unmarshal([]byte(full(t)), &document))
	used := map[string]bool{}
	keys(&document, used)
	for name := range stated {
		assert.True(t, used[name], "testdata/full.yaml lacks %s", name)
	}
}

func properties(schema any, into map[string]bool) {
	switch is := schema.(type) {
	case map[string]any:
		if inner, has := is["properties"].(map[string]any); has {
			for name := range inner {
				into[name] = true
			}
		}
		for _, value := range is {
			properties(value, into)
		}
	case []any:
		for _, value := range is {
			properties(value, into)
		}
	}
}

func keys(node *yaml.Node, into map[string]bool) {
	if node.Kind == yaml.MappingNode {
		for i := 0; i < len(node.Content); i += 2 {
			into[node.Content[i].Value] = true
		}
	}
	for _, child := range node.Content {
		keys(child, into)
	}
}

func TestAShopFileIsRefusedWithLineAndField(t *testing.T) {
	change := func(from, to string) string {
		require.Contains(t, small, from)
		return strings.Replace(small, from, to, 1)
	}
	for _, tt := range []struct{ name, text, want string }{
		{"a field of nobody", small + "colour: red\n", "9:1: colour: there is no such field here"},
		{"no currency", change("currency: EUR\n", ""), "currency: this field is missing"},
		{"a currency in words", change("EUR", "Euro"), "2:11: currency: want a currency code of three capital letters"},
		{"a die without an id", change("id: D1, ", ""), "4:5: id: this field is missing: want an id by which orders name it"},
		{"lanes in decimals", change("lanes: 4", "lanes: 4.5"), "4:50: lanes: want a whole number, got 4.5"},
		{"lanes with a leading zero", change("lanes: 4", "lanes: 010"), "4:50: lanes: want a whole number without leading zeros"},
		{"a length without a unit", change("70mm", "70"), "4:22: across: want a length with a unit"},
		// 5 lanes of 70 mm with 4 gaps of 3 mm are 362 mm of a web of 300 mm;
		// floor((300 + 3) / 73) = 4. Formula of lanes across: derived.
		{"more lanes than fit", change("lanes: 4", "lanes: 5"), "4:50: lanes: 5 lanes of 70mm with gaps of 3mm and edges of 0mm take 362mm, the web is 300mm wide: want at most 4 lanes or a wider web (see line 4)"},
		// 33 teeth of 1/8 in are 4.125 in, a 4 in label with its gap of 1/8 in:
		// circular pitch as F. Burgos, 'CP Versus DP', FlexoExchange.
		{"a repeat that is not the gear's", change("web: 300mm", "web: 300mm, teeth: 33, gear_pitch: 1/8in, labels_around: 1"), "teeth: 33 teeth of 3.175mm make a repeat of 104.775mm, 1 labels with their gaps make 103mm: want a gap around of 4.775mm, or another cylinder"},
		{"an id twice", change("stocks:\n", "stocks:\n  - {id: paper, price_per_m2: 1}\n"), "7:10: id: paper stands here twice: want every id once (see line 6)"},
		{"an id that would join finishes", change("id: paper", "id: pa+per"), "6:10: id: want an id without + , ; in it, got pa+per"},
		{"a press for a stock that is not there", change("speed:", "stocks: [foil], speed:"), "8:23: stocks: there is no stock foil in the shop file"},
		{"a press narrower than itself", change("speed:", "min_web: 300mm, max_web: 200mm, speed:"), "max_web: want at least the narrowest web, 300mm, got 200mm"},
		{"an unknown shape mate", strings.Replace(change("lanes: 4", "shape: x, lanes: 4"), "stocks:", "  - {id: D2, shape: x, across: 60mm, around: 100mm, lanes: 4, gap_across: 3mm, gap_around: 3mm, web: 300mm}\nstocks:", 1), "die D2 cuts 60mm × 100mm, die D1 of the same shape 70mm × 100mm: want the same label"},
		{"a circle of columns", small + "order_book:\n  columns: {Nr: Auftrag, Auftrag: Nr}\n", "order_book: columns: Auftrag → Nr → Auftrag goes round in a circle"},
		{"our own names in a circle", small + "order_book:\n  columns: {order: customer, customer: version, version: order}\n", "columns: customer → version → order → customer goes round in a circle"},
		{"a column of nobody", small + "order_book:\n  columns: {Nr: number}\n", `Nr is mapped to "number", which is not a column of ours`},
		{"a separator of nobody", small + "order_book: {separator: \"|\"}\n", "separator: want , or ;"},
		{"dates in another form", small + "order_book: {dates: D.M.Y}\n", "dates: want DD.MM.YYYY, DD/MM/YYYY, MM/DD/YYYY or YYYY-MM-DD"},
		{"a bare number of a copy position", small + "wind_chart: {name: x, positions: {1: out}}\n", "want face/edge such as out/top"},
		{"a copy position twice", small + "wind_chart: {name: x, positions: {1: out/top, 2: out/top}}\n", "positions 1 and 2 are both face out, top first"},
		{"a copy position without a number", small + "wind_chart: {name: x, positions: {one: out/top}}\n", "want a number from 1 to 99 before the position, got one"},
		{"overs billed without a limit", small + "policy: {overs: any, bill_overs: true}\n", "overs: overs are billed: want a limit to them such as 10%"},
		{"a markup and a margin", small + "pricing: {markup: 10%, margin: 10%}\n", "want a markup or a margin, not both"},
		{"a rate below zero", small + "rates: {core_price: -1}\n", "core_price: want a number from 0 up, got -1"},
		{"a second document", small + "---\nlaneplan: 1\n", "want one document, got a second one"},
		{"another format", change("laneplan: 1", "laneplan: 2"), "1:11: laneplan: want format 1, got 2"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			shop, err := Parse("shop.yaml", []byte(tt.text))
			require.Error(t, err)
			assert.Nil(t, shop)
			assert.Contains(t, err.Error(), "shop.yaml:")
			assert.Contains(t, err.Error(), tt.want)
		})
	}
}

// valid checks a shop file against the schema, as an editor does.
func valid(t *testing.T, text string) {
	t.Helper()
	assert.NoError(t, schematest.Check(t, Schema, text))
}

func TestTheSchemaRefusesWhatTheReaderRefuses(t *testing.T) {
	for name, text := range map[string]string{
		"a field of nobody": small + "colour: red\n",
		"no unit":           strings.Replace(small, "70mm", "70", 1),
		"no lanes":          strings.Replace(small, "lanes: 4, ", "", 1),
		"no set-up":         strings.Replace(small, "setup_web: 10m, ", "", 1),
		"a column":          small + "order_book: {columns: {Nr: number}}\n",
	} {
		t.Run(name, func(t *testing.T) {
			assert.Error(t, schematest.Check(t, Schema, text))
			_, err := Parse("shop.yaml", []byte(text))
			assert.Error(t, err)
		})
	}
}
