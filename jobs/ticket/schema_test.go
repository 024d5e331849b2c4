package ticket

import (
	"bytes"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func compiled(t *testing.T, schema []byte) *jsonschema.Schema {
	t.Helper()
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(schema))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("schema.json", document))
	schemaOf, err := c.Compile("schema.json")
	require.NoError(t, err)
	return schemaOf
}

func validate(t *testing.T, schema, data []byte) {
	t.Helper()
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	require.NoError(t, err)
	require.NoError(t, compiled(t, schema).Validate(value))
}

func TestRollsSchemaRefuses(t *testing.T) {
	for _, bad := range []string{`{}`, `{"laneplan": 2}`,
		`{"laneplan": 1, "gang": "G", "web": {"rows": -1}, "cores": [], "versions": [], "rolls": [], "left_off": [], "notes": []}`,
		`{"laneplan": 1, "gang": "G", "web": {"rows": 1}, "cores": [], "versions": [], "rolls": [{"roll": "g 1"}], "left_off": [], "notes": []}`} {
		value, err := jsonschema.UnmarshalJSON(bytes.NewReader([]byte(bad)))
		require.NoError(t, err)
		assert.Error(t, compiled(t, RollsSchema).Validate(value), bad)
	}
}
