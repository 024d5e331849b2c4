package quotefile_test

import (
	"bytes"
	"encoding/csv"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/price"
	"laneplan/jobs/price/game"
	"laneplan/jobs/price/quotefile"
	"laneplan/jobs/report"
)

func dec(text string) decimal.Decimal { return decimal.RequireFromString(text) }

// everything is a gang with each thing that can be asked for, its figures
// made up.
func everything(t *testing.T) quotefile.Document {
	t.Helper()
	g := quotefile.Describe(price.Sheet{
		Gang: "mill & sons", Currency: "EUR", Places: 2, Total: dec("30"), NotSet: []string{"rates.core_price"},
		Lines: []price.Line{
			{Kind: price.KindStock, Section: 1, What: "rows", Quantity: dec("40"), Unit: "m²", Rate: dec("0.5"), Amount: dec("20"), QuantityFrom: "100 rows", RateFrom: "stock paper"},
			{Kind: price.KindOutwork, Order: "o1", What: "=foil", Quantity: dec("1"), Unit: "order", Rate: dec("10"), Amount: dec("10")},
		},
		OfWhich: []price.Line{{Kind: price.KindStock, What: "edge trim", Quantity: dec("2"), Unit: "m²", Rate: dec("0.5"), Amount: dec("1")}},
	})
	gap := quotefile.Fraction(0.0123)
	g.Gap = &gap
	quote := price.Quote{Cost: dec("18"), Price: dec("27"), PerThousand: dec("13.5"), Basis: "50 % markup"}
	g.Share(price.Shares{Rule: game.Fair, Total: dec("30"), Core: &game.Core{Violation: 1.5}, Notes: []string{"the core is empty"}, Orders: []price.OrderShare{
		{Order: "o1", Customer: "Mill", Labels: 2000, Alone: dec("20"), Added: dec("12"), Share: dec("18"), Saving: dec("2"), StdErr: dec("0.4"), Quote: &quote},
		{Order: "=o2", Labels: 500, Alone: dec("15"), Added: dec("10"), Share: dec("12"), Saving: dec("3"), StdErr: dec("0.4"), Quote: &quote},
	}}, 2)
	g.Add(price.Addition{Orders: []string{"o3"}, Labels: 100, Together: true,
		Before: price.Costed{Cost: dec("30")}, After: price.Costed{Cost: dec("33")}, Alone: price.Costed{Failed: "no lane"},
		Added: dec("3"), Floor: dec("3"), Ceiling: dec("9"), Quote: &quote,
		Rush: []price.Shift{{Order: "o1", Version: "a", Before: 10, After: 12.34}}, Notes: []string{"look"}}, 2)
	g.Ladder(price.Ladder{Order: "o1", Version: "a", Rungs: []price.Rung{{Quantity: 250, Alone: quote, Added: price.Quote{Cost: dec("1")}}}}, 2)
	v, err := price.ParseVariation("stock_price=-10%,+10%")
	require.NoError(t, err)
	g.Vary([]price.Curve{{Gang: g.ID, Variation: v, AsItIs: price.Point{Cost: dec("30"), Rows: 100, Sections: 1},
		Points: []price.Point{{Value: v.Values[0], Cost: dec("27"), Rows: 100, Sections: 1, Gap: 0.02}, {Value: v.Values[1], Failed: "no lane"}}}}, 2)
	g.Warnings = []string{"the margin is thin"}
	return quotefile.Document{Currency: "EUR", Gangs: []quotefile.Gang{g}}
}

func TestTheJSONKeepsItsSchema(t *testing.T) {
	compile := func(data []byte) *jsonschema.Schema {
		schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
		require.NoError(t, err)
		c := jsonschema.NewCompiler()
		require.NoError(t, c.AddResource("price.json", schema))
		compiled, err := c.Compile("price.json")
		require.NoError(t, err)
		return compiled
	}
	// Closed, the schema has to know every field that is written.
	closed := bytes.ReplaceAll(quotefile.Schema, []byte(`"properties":`), []byte(`"additionalProperties": false, "properties":`))
	var out bytes.Buffer
	require.NoError(t, quotefile.Write(&out, everything(t)))
	instance, err := jsonschema.UnmarshalJSON(bytes.NewReader(out.Bytes()))
	require.NoError(t, err)
	assert.NoError(t, compile(quotefile.Schema).Validate(instance))
	assert.NoError(t, compile(closed).Validate(instance))
	bad, err := jsonschema.UnmarshalJSON(strings.NewReader(strings.Replace(out.String(), `"share": "18.00"`, `"share": 18.00`, 1)))
	require.NoError(t, err)
	assert.Error(t, compile(quotefile.Schema).Validate(bad), "money is text")
}

func TestTextSaysWhatMatters(t *testing.T) {
	var out bytes.Buffer
	require.NoError(t, report.Quotes(&out, everything(t), true, report.Style{}))
	text := out.String()
	for _, want := range []string{
		"Gang mill & sons: cost 30.00 EUR",
		"o1     Mill        2000  20.00  12.00  18.00          0.40    2.00  27.00      13.50",
		"Price from share, tax left out. 50 % markup.",
		"Rush version a of order o1 is finished later: after 12.3 minutes, before 10.0.",
		"alone                                    -",
		"250        18.00  27.00      13.50                     1.00      -          -",
		"+10%: no lane.",
		"-10%  27.00  -10.0 %",
		"of stock, edge trim  (1.00)",
		"stock, section 1, rows: 40 m² × 0.5 = 20.00 (100 rows; stock paper)",
		"The margin is thin.",
		"Not set by the shop and counted as nothing: rates.core_price.",
		"within 1.2 % of the cheapest possible",
	} {
		assert.Contains(t, text, want)
	}
}

func TestCSVIsTheTableThatWasAskedFor(t *testing.T) {
	d := everything(t)
	read := func() [][]string {
		var out bytes.Buffer
		require.NoError(t, quotefile.WriteCSV(&out, d))
		rows, err := csv.NewReader(&out).ReadAll()
		require.NoError(t, err)
		return rows
	}
	rows := read()
	require.Len(t, rows, 3)
	assert.Equal(t, []string{"mill & sons", "o1", "Mill", "2000", "20.00", "12.00", "18.00", "0.40", "2.00", "27.00", "13.50", "50 % markup"}, rows[1])
	assert.Equal(t, "'=o2", rows[2][1], "no spreadsheet runs it")
	d.Gangs[0].Orders = nil
	assert.Equal(t, []string{"mill & sons", "o3", "100", "true", "30.00", "33.00", "", "3.00", "3.00", "9.00"}, read()[1])
	d.Gangs[0].Additions = nil
	assert.Equal(t, []string{"mill & sons", "o1", "a", "250", "18.00", "27.00", "13.50", "1.00", "", ""}, read()[1])
	d.Gangs[0].Ladders = nil
	assert.Equal(t, []string{"mill & sons", "stock_price", "% more or less", "-10", "27.00", "-0.1", "0.00", "100", "1", "0.02"}, read()[2])
	d.Gangs[0].Curves = nil
	assert.Equal(t, []string{"mill & sons", "stock", "1", "", "rows", "40", "m²", "0.5", "20.00"}, read()[1])
	d.Gangs[0].Lines = nil
	assert.Len(t, read(), 1, "a heading alone")
}

func TestPDFHoldsTheSameAndIsTheSameEachTime(t *testing.T) {
	d := everything(t)
	// More orders than fit one page.
	for len(d.Gangs[0].Orders) < 90 {
		d.Gangs[0].Orders = append(d.Gangs[0].Orders, d.Gangs[0].Orders[0])
	}
	var out, again bytes.Buffer
	page := quotefile.Page{Shop: "The mill", Papers: jobs.Papers{Letter: true}, Trace: true}
	require.NoError(t, quotefile.WritePDF(&out, d, page))
	require.NoError(t, quotefile.WritePDF(&again, d, page))
	assert.Equal(t, out.Bytes(), again.Bytes())
	require.True(t, bytes.HasPrefix(out.Bytes(), []byte("%PDF-")))

	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("pdftotext is not installed: the words of the PDF are not read back")
	}
	path := filepath.Join(t.TempDir(), "quote.pdf")
	require.NoError(t, os.WriteFile(path, out.Bytes(), 0o600))
	text, err := exec.Command("pdftotext", "-layout", path, "-").Output()
	require.NoError(t, err)
	for _, want := range []string{"Estimate", "The mill", "Gang mill & sons", "27.00", "page 1 of 4", "page 4 of 4", "Tax is left out of every amount.", "The margin is thin.", "40 m² × 0.5 = 20.00"} {
		assert.Contains(t, string(text), want)
	}
	assert.Len(t, regexp.MustCompile(`(?m)^ *o1 +Mill`).FindAll(text, -1), 89, "every order but the one")
}
