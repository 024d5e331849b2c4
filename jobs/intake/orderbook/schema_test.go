package orderbook

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"laneplan/jobs"
	"laneplan/jobs/intake/internal/schematest"
)

func TestWhatWeWriteIsValidByTheSchema(t *testing.T) {
	var text strings.Builder
	require.NoError(t, WriteYAML(&text, []jobs.OrderLine{fullLine(), plainLine()}, jobs.BookFormat{}))
	assert.NoError(t, schematest.Check(t, Schema, text.String()))
	for name, bad := range map[string]string{
		"a field of nobody": strings.Replace(text.String(), "  customer:", "  client:", 1),
		"a quantity of 0":   strings.Replace(text.String(), "quantity: 2500", "quantity: 0", 1),
		"a flag of nobody":  strings.Replace(text.String(), "[food, toy]", "[kosher]", 1),
		"no unit":           strings.Replace(text.String(), "300mm", "300", 1),
	} {
		t.Run(name, func(t *testing.T) {
			require.NotEqual(t, text.String(), bad)
			assert.Error(t, schematest.Check(t, Schema, bad))
			_, err := Read([]string{write(t, "a.yaml", bad)}, testShop(), Options{})
			assert.Error(t, err)
		})
	}
}

func TestTheSchemaHasOurColumns(t *testing.T) {
	var schema struct {
		Properties struct {
			Lines struct {
				Items struct {
					Properties map[string]any
					Required   []string
				}
			} `yaml:"order_lines"`
		}
	}
	require.NoError(t, yaml.Unmarshal(Schema, &schema))
	line := schema.Properties.Lines.Items
	want := append(slices.Clone(jobs.OrderColumns), jobs.ToleranceColumn)
	assert.ElementsMatch(t, want, slices.Collect(maps.Keys(line.Properties)))
	assert.ElementsMatch(t, jobs.RequiredColumns, line.Required)
	var names []string
	for _, column := range columns {
		names = append(names, column.name)
	}
	assert.Equal(t, want, names)
}
