// Package plainjson writes the program's indented JSON: one form for every
// document that people may also read.
package plainjson

import (
	"encoding/json"
	"io"
)

// Write writes a value as JSON, indented by two spaces, with <, > and & as
// they are. The same value gives the same bytes.
func Write(w io.Writer, value any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(value)
}
