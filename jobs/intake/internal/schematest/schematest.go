// Package schematest checks YAML against a JSON Schema in tests, as an editor
// does.
package schematest

import (
	"bytes"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
)

// Check is what the schema says of a YAML document; nil where it is valid.
func Check(t *testing.T, schema []byte, text string) error {
	t.Helper()
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(schema))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("schema.json", document))
	compiled, err := c.Compile("schema.json")
	require.NoError(t, err)
	var tree yaml.Node
	require.NoError(t, yaml.Unmarshal([]byte(text), &tree))
	asJSON(&tree)
	var value any
	require.NoError(t, tree.Decode(&value))
	return compiled.Validate(value)
}

// asJSON turns what JSON does not have into text: dates, and keys that are
// numbers.
func asJSON(node *yaml.Node) {
	if node.Tag == "!!timestamp" {
		node.Tag = "!!str"
	}
	for i, child := range node.Content {
		if node.Kind == yaml.MappingNode && i%2 == 0 {
			child.Tag = "!!str"
		}
		asJSON(child)
	}
}
