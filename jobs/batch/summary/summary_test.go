package summary

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/bookfile"
)

func night() Night {
	return Night{
		State: Partly, Program: "test", Date: "2026-11-30", Until: "2026-12-03", Currency: "EUR",
		Totals: Totals{Gangs: 2, Planned: 1, Failed: 1, Web: "12.5", Minutes: "30", Cost: "20.00", CostAlone: "30.00", Saving: "10.00", Open: "1.00"},
		Gangs: []Gang{
			{
				Gang:  bookfile.Gang{ID: "=1+1", Die: "jar", Press: "digital-1", Stock: "paper", Finishes: []string{"matt", "foil"}, Minutes: "30.0", Turn: 1, Begins: "2026-11-30 06:00", Ends: "2026-11-30 06:30", Estimate: "20.00", Cost: "20.00", CostAlone: "30.00", Orders: []bookfile.Order{{Order: "1", Customer: "Hill", Versions: []string{"A"}}, {Order: "2", Customer: "Dale", Versions: []string{"B"}}}, Versions: 2, Labels: 100},
				State: Planned, Warnings: []string{"a", "b"}, Folder: "gang", Files: []string{"plan.json"}, Due: "2026-12-01", Lanes: 3, Sections: 2, Web: "12.5", Saving: "10.00", Open: "1.00", Gap: "0.05",
			},
			{
				Gang:  bookfile.Gang{ID: "failed", Die: "jar", Press: "digital-1", Stock: "paper", Minutes: "9.0", Estimate: "9.00", Orders: []bookfile.Order{{Order: "3", Customer: "Moor", Versions: []string{"C"}}}},
				State: Failed, Warnings: []string{}, Failure: &Failure{"infeasible", "no plan can meet the demands", "loosen it"},
			},
		},
		Out: []bookfile.Out{{Order: "4", Customer: "Fen", Versions: []string{"D"}, Rows: []string{"orders.csv:3"}, Reason: "due later"}},
	}
}

func TestTheSummaryKeepsToItsSchema(t *testing.T) {
	c := jsonschema.NewCompiler()
	schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema))
	require.NoError(t, err)
	require.NoError(t, c.AddResource("summary.json", schema))
	compiled, err := c.Compile("summary.json")
	require.NoError(t, err)
	check := func(n Night) error {
		var b bytes.Buffer
		require.NoError(t, Write(&b, n))
		document, err := jsonschema.UnmarshalJSON(&b)
		require.NoError(t, err)
		return compiled.Validate(document)
	}
	require.NoError(t, check(night()))
	bad := night()
	bad.State = "over"
	assert.Error(t, check(bad))
	bad = night()
	bad.Gangs[0].Folder = "../elsewhere"
	assert.Error(t, check(bad))
}

func TestTheSummaryCanBeRead(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Write(&b, night()))
	var back Night
	require.NoError(t, json.Unmarshal(b.Bytes(), &back))
	want := night()
	want.Format, want.Warnings = Format, []string{}
	assert.Equal(t, want, back)
}

func TestTheTable(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteCSV(&b, night()))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 3)
	cell := func(row int, name string) string {
		for i, heading := range rows[0] {
			if heading == name {
				return rows[row][i]
			}
		}
		require.Fail(t, "no column", name)
		return ""
	}
	assert.Equal(t, "'=1+1", cell(1, "gang"), "no formula")
	assert.Equal(t, "1; 2", cell(1, "orders"))
	assert.Equal(t, "matt; foil", cell(1, "finishes"))
	assert.Equal(t, "no", cell(1, "proven"))
	assert.Equal(t, "no plan can meet the demands", cell(2, "failure"))
	assert.Empty(t, cell(2, "overs"), "no plan, no figure")
}
