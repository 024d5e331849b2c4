package intake_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"laneplan/jobs/intake"
	"laneplan/jobs/intake/internal/schematest"
	"laneplan/jobs/intake/shopfile"
)

func TestTheSchemaTakesEveryGoodFile(t *testing.T) {
	for _, path := range files(t, "demo", "bare", "rules", "jobfile") {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.NoError(t, schematest.Check(t, intake.Schema, string(text)), path)
		g, _ := read(t, path)
		written, err := intake.Format(g)
		require.NoError(t, err)
		assert.NoError(t, schematest.Check(t, intake.Schema, string(written)), path)
	}
}

// TestTheSchemaRefusesBadForms takes the bad files whose fault is one of form;
// the others only the reader can find.
func TestTheSchemaRefusesBadForms(t *testing.T) {
	for _, name := range []string{
		"both-kinds", "currency-sign", "due-in-words", "due-reversed", "empty-versions", "flag-yes", "half-setup-frames",
		"length-comma", "length-unknown-unit", "length-without-unit", "missing-field", "money-with-currency", "negative-cost",
		"neither-kind", "no-cost", "no-currency", "no-die", "no-format", "no-press-rate", "no-price", "no-versions",
		"order-without-id", "other-format", "percent-without-sign", "quantity-decimal", "quantity-empty", "quantity-list",
		"quantity-quoted", "quantity-trillion", "quantity-words", "quantity-zero", "speed-without-minute", "two-prices",
		"two-setups", "unknown-field", "unknown-flag", "versions-and-orders", "whole-rolls-word", "wind-number",
	} {
		text, err := os.ReadFile(filepath.Join(testdata, "bad", name+".yaml"))
		require.NoError(t, err)
		assert.Error(t, schematest.Check(t, intake.Schema, string(text)), name)
	}
}

// TestSchemaAndReaderKnowTheSameFields asks the reader by what it says is
// known beside a field that is not.
func TestSchemaAndReaderKnowTheSameFields(t *testing.T) {
	var schema struct {
		Defs map[string]struct {
			Properties map[string]any `json:"properties"`
		} `json:"$defs"`
		Properties map[string]struct {
			Properties map[string]any `json:"properties"`
			Items      struct {
				Properties map[string]any `json:"properties"`
			} `json:"items"`
		} `json:"properties"`
	}
	require.NoError(t, json.Unmarshal(intake.Schema, &schema))
	const bare, shop = "lanes: 2\ncosts: {row: 1, section: 1}\n", "currency: EUR\n"
	tests := []struct {
		name, text string
		want       map[string]any
	}{
		{"version", bare + "versions: [{zzzzzzzz: 1}]\n", schema.Defs["version"].Properties},
		{"order", bare + "orders: [{zzzzzzzz: 1}]\n", schema.Defs["order"].Properties},
		{"costs", "lanes: 2\ncosts: {zzzzzzzz: 1}\n", schema.Properties["costs"].Properties},
		{"rules", bare + "rules: {zzzzzzzz: 1}\n", schema.Properties["rules"].Properties},
		{"die", shop + "die: {zzzzzzzz: 1}\n", schema.Properties["die"].Properties},
		{"stock", shop + "stock: {zzzzzzzz: 1}\n", schema.Properties["stock"].Properties},
		{"press", shop + "press: {zzzzzzzz: 1}\n", schema.Properties["press"].Properties},
		{"rewinder", shop + "rewinder: {zzzzzzzz: 1}\n", schema.Properties["rewinder"].Properties},
		{"finishes", shop + "finishes: [{zzzzzzzz: 1}]\n", schema.Properties["finishes"].Items.Properties},
		{"rates", shop + "rates: {zzzzzzzz: 1}\n", schema.Properties["rates"].Properties},
		{"pricing", shop + "pricing: {zzzzzzzz: 1}\n", schema.Properties["pricing"].Properties},
		{"papers", shop + "papers: {zzzzzzzz: 1}\n", schema.Properties["papers"].Properties},
		{"begun", shop + "begun: {zzzzzzzz: 1}\n", schema.Properties["begun"].Properties},
		{"wind_chart", shop + "wind_chart: {zzzzzzzz: 1}\n", schema.Properties["wind_chart"].Properties},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			require.NotEmpty(t, tt.want)
			_, err := intake.Parse("x.yaml", []byte("laneplan: 1\n"+tt.text))
			require.Error(t, err)
			_, after, found := strings.Cut(err.Error(), "zzzzzzzz: there is no such field here\nhint: known here: ")
			require.True(t, found, err.Error())
			list, _, _ := strings.Cut(after, "\n")
			known := strings.Split(strings.Replace(list, " or ", ", ", 1), ", ")
			var want []string
			for name := range tt.want {
				want = append(want, name)
			}
			assert.ElementsMatch(t, want, known)
		})
	}
}

// TestWhatBothSchemasHoldIsTheSame compares the parts that a job file shares
// with the shop file.
func TestWhatBothSchemasHoldIsTheSame(t *testing.T) {
	parse := func(text []byte) map[string]any {
		var schema struct {
			Properties map[string]any `yaml:"properties"`
		}
		require.NoError(t, yaml.Unmarshal(text, &schema))
		return schema.Properties
	}
	job, shop := parse(intake.Schema), parse(shopfile.Schema)
	for _, name := range []string{"currency", "rates", "pricing", "wind_chart", "papers"} {
		assert.Equal(t, shop[name], job[name], name)
	}
	items := func(schema any) map[string]any {
		return schema.(map[string]any)["items"].(map[string]any)["properties"].(map[string]any)
	}
	fields := func(schema any) map[string]any { return schema.(map[string]any)["properties"].(map[string]any) }
	for one, many := range map[string]string{"die": "dies", "stock": "stocks", "press": "presses", "rewinder": "rewinders"} {
		want, got := items(shop[many]), fields(job[one])
		delete(want, "id") // by which a shop file's parts are named
		delete(want, "shape")
		delete(got, "id")
		assert.Equal(t, want, got, one)
	}
}
