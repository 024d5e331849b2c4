// Package yamltree reads YAML without guessing: it walks the nodes of one
// document, checks every scalar itself and collects all faults of the file,
// each with line, column and field. Decoding into structs would not do:
// yaml.v3 reads 10.5 as 10, 010 as 8 and an empty value as 0 where a whole
// number belongs, ignores a second document and switches off its check of
// unknown keys in types of our own.
//
//	tree := yamltree.Parse("jobs.yaml", data)
//	die := tree.Root().Map("die")
//	die.Need("lanes", "the number of lanes, such as 4")
//	lanes := die.Whole("lanes", 1, 500)
//	across := yamltree.Value(die, "across", jobs.ParseLength)
//	return tree.Err() // unknown fields are found here
//
// What a file does not say is read as zero; a nil Map reads as empty, so that
// a caller need not stop at the first fault.
package yamltree

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"laneplan/jobs/intake/fault"
	"laneplan/jobs/intake/scalar"
)

// Format is the number that every file states under the key laneplan. A new
// meaning of a file gets a new number.
const Format = 1

// Tree is one YAML document and the faults found in it so far.
type Tree struct {
	file    string
	root    *Map
	maps    []*Map // all that were read, for the check of unknown fields
	faults  fault.List
	seen    map[fault.Fault]bool // in faults: a value may be read twice
	faulted map[string]bool      // paths that have a fault
}

// ReadFile reads the file, of at most so many bytes, and parses it. Its error
// is what kept the file from being read at all.
//
// Memory: a document of nothing but tiny values takes about 100 times its
// size.
func ReadFile(path string, most int64) (*Tree, error) {
	data, err := fault.ReadFile(path, most)
	if err != nil {
		return nil, err
	}
	return Parse(path, data), nil
}

// Parse parses a document that states format 1. A file of another format, or
// one that is not one document of YAML without anchors, has an empty Root.
func Parse(file string, data []byte) *Tree {
	t := &Tree{file: file, seen: map[fault.Fault]bool{}, faulted: map[string]bool{}}
	if t.faults = fault.CheckText(file, data); len(t.faults) > 0 {
		return t
	}
	document := t.document(data)
	if document == nil {
		return t
	}
	if document.Kind != yaml.MappingNode {
		t.add("", document, "", fmt.Sprintf("want fields such as laneplan: %d, got %s", Format, kindOf(document)), "")
		return t
	}
	if !t.plain(document) {
		return t
	}
	root := t.newMap(document, "")
	before := len(t.faults)
	root.Need("laneplan", fmt.Sprintf("laneplan: %d, the format of the file", Format))
	format := root.Whole("laneplan", 1, 1_000_000)
	if len(t.faults) == before && format != Format {
		root.Fault("laneplan", fmt.Sprintf("want format %d, got %d", Format, format), "a newer release may read it")
	}
	if len(t.faults) == before {
		t.root = root
	} else {
		t.maps = nil // other fields may mean something else
	}
	return t
}

// document parses the text and takes the one document out of it.
func (t *Tree) document(data []byte) *yaml.Node {
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	var first, second yaml.Node
	if err := decoder.Decode(&first); err != nil {
		if errors.Is(err, io.EOF) {
			t.faults.Add(fault.Fault{File: t.file, Message: "the file is empty"})
		} else {
			t.syntax(err)
		}
		return nil
	}
	switch err := decoder.Decode(&second); {
	case err == nil:
		t.add("", &second, "", "want one document, got a second one", "leave out everything from the line --- on, or move it to a file of its own")
	case !errors.Is(err, io.EOF):
		t.syntax(err)
	}
	if len(first.Content) != 1 {
		t.faults.Add(fault.Fault{File: t.file, Message: "the file is empty"})
		return nil
	}
	return first.Content[0]
}

var yamlLine = regexp.MustCompile(`^(?:yaml: )?(?:line ([0-9]+): )?(.*)$`)

// syntax reports what the parser says about text that is not YAML.
func (t *Tree) syntax(err error) {
	text, _, _ := strings.Cut(err.Error(), "\n")
	f := fault.Fault{File: t.file, Message: "this is not YAML: " + text}
	if parts := yamlLine.FindStringSubmatch(text); parts != nil {
		f.Line, _ = strconv.Atoi(parts[1])
		f.Message = "this is not YAML: " + parts[2]
	}
	t.faults.Add(f)
}

// plain refuses anchors, aliases and tags: nothing that we read needs them,
// and aliases of aliases can blow up a small file. It reports the first.
func (t *Tree) plain(document *yaml.Node) bool {
	for rest := []*yaml.Node{document}; len(rest) > 0; {
		node := rest[len(rest)-1]
		rest = rest[:len(rest)-1]
		for _, inner := range slices.Backward(node.Content) {
			rest = append(rest, inner)
		}
		const cure = "write the value out; anchors and aliases are not read"
		switch {
		case node.Kind == yaml.AliasNode:
			t.add("", node, "", "want a value, got the alias *"+scalar.Quote(node.Value), cure)
		case node.Anchor != "":
			t.add("", node, "", "want a value, got the anchor &"+scalar.Quote(node.Anchor), cure)
		case node.Style&yaml.TaggedStyle != 0:
			t.add("", node, "", "want a plain value, got the tag "+scalar.Quote(node.Tag), "leave the tag out")
		default:
			continue
		}
		return false
	}
	return true
}

// Root is the outermost map; nil where the file could not be parsed.
func (t *Tree) Root() *Map { return t.root }

// Err is all faults so far, unknown fields among them, as a fault.List; nil
// where there are none.
func (t *Tree) Err() error {
	for _, m := range t.maps {
		m.unknown()
	}
	t.maps = nil
	return t.faults.Err()
}

// At reports a fault of the value at a path such as orders[0].versions[2].id,
// or of what holds it where there is no such value.
func (t *Tree) At(path, message, hint string) {
	node, field := t.find(path)
	t.add(path, node, field, message, hint)
}

// Line of the value at a path, or of what holds it.
func (t *Tree) Line(path string) int {
	node, _ := t.find(path)
	if node == nil {
		return 1
	}
	return node.Line
}

// Has tells whether there is a value at a path.
func (t *Tree) Has(path string) bool {
	node := t.rootNode()
	for step := range steps(path) {
		if node = t.child(node, step); node == nil {
			return false
		}
	}
	return node != nil
}

// Faulted tells whether the value at the path, or one that holds it, already
// has a fault.
func (t *Tree) Faulted(path string) bool {
	for at := range len(path) {
		if (path[at] == '.' || path[at] == '[') && t.faulted[path[:at]] {
			return true
		}
	}
	return t.faulted[path]
}

func (t *Tree) rootNode() *yaml.Node {
	if t.root == nil {
		return nil
	}
	return t.root.node
}

// find goes down a path as far as the file has it; field is the last key of
// the whole path.
func (t *Tree) find(path string) (node *yaml.Node, field string) {
	node = t.rootNode()
	deepest := false
	for step := range steps(path) {
		if !strings.HasPrefix(step, "[") {
			field = step
		}
		if deepest {
			continue
		}
		if next := t.child(node, step); next != nil {
			node = next
		} else {
			deepest = true
		}
	}
	return node, field
}

// steps splits a path into keys and indices in square brackets.
func steps(path string) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		for len(path) > 0 {
			path = strings.TrimPrefix(path, ".")
			end := strings.IndexAny(path[min(1, len(path)):], ".[") + 1
			if end == 0 {
				end = len(path)
			}
			if !yield(path[:end]) {
				return
			}
			path = path[end:]
		}
	}
}

// child is what a node holds under a key, or under an index as [0].
func (t *Tree) child(node *yaml.Node, step string) *yaml.Node {
	if node == nil {
		return nil
	}
	if node == t.rootNode() {
		return t.root.values[step]
	}
	if index, isIndex := strings.CutPrefix(step, "["); isIndex {
		at, err := strconv.Atoi(strings.TrimSuffix(index, "]"))
		if err != nil || node.Kind != yaml.SequenceNode || at < 0 || at >= len(node.Content) {
			return nil
		}
		return node.Content[at]
	}
	if node.Kind != yaml.MappingNode {
		return nil
	}
	for i := 0; i+1 < len(node.Content); i += 2 {
		if node.Content[i].Value == step {
			return node.Content[i+1]
		}
	}
	return nil
}

func (t *Tree) add(path string, node *yaml.Node, field, message, hint string) {
	f := fault.Fault{File: t.file, Field: field, Message: message, Hint: hint}
	if node != nil {
		f.Line, f.Column = node.Line, node.Column
	}
	if t.Full() || t.seen[f] {
		return
	}
	t.seen[f] = true
	t.faults.Add(f)
	if path != "" {
		t.faulted[path] = true
	}
}

// mostFaults of one file are collected: a file of another kind altogether has
// a fault in every line.
const mostFaults = 1000

// Full tells that no more faults are collected, so that reading on is idle.
func (t *Tree) Full() bool { return len(t.faults) >= mostFaults }

func kindOf(node *yaml.Node) string {
	switch node.Kind {
	case yaml.MappingNode:
		return "fields"
	case yaml.SequenceNode:
		return "a list"
	}
	if isEmpty(node) {
		return "nothing"
	}
	return "the single value " + scalar.Quote(node.Value)
}

// isEmpty is true of a scalar that says nothing: key: or key: ~ or key: null.
func isEmpty(node *yaml.Node) bool {
	return node.Kind == yaml.ScalarNode && node.Tag == "!!null"
}
