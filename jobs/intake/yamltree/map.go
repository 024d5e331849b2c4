package yamltree

import (
	"fmt"
	"iter"
	"regexp"
	"slices"
	"time"

	"github.com/agnivade/levenshtein"
	"github.com/shopspring/decimal"
	"go.yaml.in/yaml/v3"

	"laneplan/jobs/intake/scalar"
)

// Map is a mapping of fields to values. Every key that is asked for is known
// from then on; the others are reported by Tree.Err.
type Map struct {
	tree   *Tree
	node   *yaml.Node
	path   string
	values map[string]*yaml.Node
	known  []string
}

func (t *Tree) newMap(node *yaml.Node, path string) *Map {
	m := &Map{tree: t, node: node, path: path, values: make(map[string]*yaml.Node, len(node.Content)/2)}
	for i := 0; i+1 < len(node.Content) && !t.Full(); i += 2 {
		key := node.Content[i]
		if key.Kind != yaml.ScalarNode {
			t.add("", key, "", "want the name of a field, got "+kindOf(key), "")
			continue
		}
		if _, twice := m.values[key.Value]; twice {
			first := 0
			for node.Content[first].Value != key.Value {
				first += 2
			}
			t.add("", key, key.Value, fmt.Sprintf("this field stands here twice, first in line %d; want it once", node.Content[first].Line), "")
			continue
		}
		m.values[key.Value] = node.Content[i+1]
	}
	t.maps = append(t.maps, m)
	return m
}

// Path of a field of this map from the root.
func (m *Map) Path(key string) string {
	if m == nil || m.path == "" {
		return key
	}
	return m.path + "." + key
}

// Has tells whether the field is given, be it empty.
func (m *Map) Has(key string) bool {
	if m == nil {
		return false
	}
	m.know(key)
	return m.values[key] != nil
}

// First is the first of the keys that is given; empty where none is.
func (m *Map) First(keys ...string) string {
	first := ""
	for _, key := range keys { // ask for all, so that all are known
		if m.Has(key) && first == "" {
			first = key
		}
	}
	return first
}

// Keys lists the fields that are given, in the order of the file, where the
// names are the writer's own. All of them are known from then on.
func (m *Map) Keys() []string {
	if m == nil {
		return nil
	}
	var keys []string
	for i := 0; i+1 < len(m.node.Content); i += 2 {
		if key := m.node.Content[i]; key.Kind == yaml.ScalarNode && !slices.Contains(keys, key.Value) {
			keys = append(keys, key.Value)
			m.know(key.Value)
		}
	}
	return keys
}

func (m *Map) know(key string) {
	if !slices.Contains(m.known, key) {
		m.known = append(m.known, key)
	}
}

// Need reports the field as missing where it is not given; what says what
// would be right.
func (m *Map) Need(key, what string) {
	if m != nil && !m.Has(key) {
		m.tree.add(m.Path(key), m.node, key, "this field is missing: want "+what, "")
	}
}

// Fault reports a fault of one field.
func (m *Map) Fault(key, message, hint string) {
	if m == nil {
		return
	}
	node := m.values[key]
	if node == nil {
		node = m.node
	}
	m.tree.add(m.Path(key), node, key, message, hint)
}

// value is the node of a field that is given and not empty.
func (m *Map) value(key string) *yaml.Node {
	if !m.Has(key) {
		return nil
	}
	node := m.values[key]
	if isEmpty(node) {
		m.Fault(key, "want a value, got nothing", "")
		return nil
	}
	return node
}

// Value reads the field by parse; the zero value where it is not given or at
// fault.
func Value[T any](m *Map, key string, parse func(string) (T, error)) T {
	var none T
	node := m.value(key)
	if node == nil {
		return none
	}
	return parsed(m, m.Path(key), key, node, parse)
}

// Values reads the field as a list of one or more values.
func Values[T any](m *Map, key string, parse func(string) (T, error)) []T {
	var all []T
	for i, node := range m.list(key) {
		if m.tree.Full() {
			break
		}
		all = append(all, parsed(m, fmt.Sprintf("%s[%d]", m.Path(key), i), key, node, parse))
	}
	return all
}

// Lists reads the field as a list of lists of values.
func Lists[T any](m *Map, key string, parse func(string) (T, error)) [][]T {
	var all [][]T
	for i, inner := range m.list(key) {
		if m.tree.Full() {
			break
		}
		path := fmt.Sprintf("%s[%d]", m.Path(key), i)
		if inner.Kind != yaml.SequenceNode {
			m.tree.add(path, inner, key, "want a list of lists such as [[A, B], [C, D]], got "+kindOf(inner), "")
			continue
		}
		var one []T
		for j, node := range inner.Content {
			one = append(one, parsed(m, fmt.Sprintf("%s[%d]", path, j), key, node, parse))
		}
		all = append(all, one)
	}
	return all
}

// mostBytes of one value: none that we read is nearly as long, and some take
// long to parse.
const mostBytes = 10_000

func parsed[T any](m *Map, path, key string, node *yaml.Node, parse func(string) (T, error)) T {
	var none T
	if node.Kind != yaml.ScalarNode || isEmpty(node) {
		m.tree.add(path, node, key, "want a single value, got "+kindOf(node), "")
		return none
	}
	if len(node.Value) > mostBytes {
		m.tree.add(path, node, key, fmt.Sprintf("want a short value, got %d bytes", len(node.Value)), "")
		return none
	}
	got, err := parse(node.Value)
	if err != nil {
		m.tree.add(path, node, key, err.Error(), "")
		return none
	}
	return got
}

// number is Value for numbers, which stand without quotes.
func number[T any](m *Map, key string, parse func(string) (T, error)) T {
	node := m.value(key)
	if node != nil && node.Kind == yaml.ScalarNode && node.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0 {
		var none T
		m.Fault(key, fmt.Sprintf("want a number, got the text %q", node.Value), "leave out the quotes")
		return none
	}
	return Value(m, key, parse)
}

// Whole reads a whole number from least to most.
func (m *Map) Whole(key string, least, most int) int {
	return number(m, key, func(text string) (int, error) { return scalar.Whole(text, least, most) })
}

// Wholes reads a list of whole numbers from least to most.
func (m *Map) Wholes(key string, least, most int) []int {
	return Values(m, key, func(text string) (int, error) { return scalar.Whole(text, least, most) })
}

// Decimal reads a number from least to most.
func (m *Map) Decimal(key string, least, most int64) decimal.Decimal {
	return number(m, key, func(text string) (decimal.Decimal, error) { return scalar.Decimal(text, least, most) })
}

// Percent reads a percentage from 0 to most as a fraction.
func (m *Map) Percent(key string, most int64) decimal.Decimal {
	return Value(m, key, func(text string) (decimal.Decimal, error) { return scalar.Percent(text, most) })
}

// Flag reads true or false.
func (m *Map) Flag(key string) bool { return Value(m, key, scalar.Flag) }

// Date reads a day.
func (m *Map) Date(key string) time.Time { return Value(m, key, scalar.Date) }

// Moment reads a day with a time.
func (m *Map) Moment(key string) time.Time { return Value(m, key, scalar.Moment) }

// Text reads one line of text. A number without quotes is read as it is
// written: 010 stays 010.
func (m *Map) Text(key string) string { return Value(m, key, scalar.Text) }

// Texts reads a list of texts.
func (m *Map) Texts(key string) []string { return Values(m, key, scalar.Text) }

// Choice reads one of a few words.
func (m *Map) Choice(key string, words ...string) string {
	return Value(m, key, func(text string) (string, error) { return scalar.Choice(text, words...) })
}

// Choices reads a list of words out of a few.
func (m *Map) Choices(key string, words ...string) []string {
	return Values(m, key, func(text string) (string, error) { return scalar.Choice(text, words...) })
}

// Map reads the field as a map; nil where it is not given or at fault.
func (m *Map) Map(key string) *Map {
	node := m.value(key)
	if node == nil {
		return nil
	}
	return m.tree.asMap(node, m.Path(key), key)
}

// Maps reads the field as a list of one or more maps, one after another. One
// at fault is nil, so that indices stay those of the file; where the tree is
// full the list ends early.
func (m *Map) Maps(key string) iter.Seq2[int, *Map] {
	return func(yield func(int, *Map) bool) {
		for i, node := range m.list(key) {
			if m.tree.Full() || !yield(i, m.tree.asMap(node, fmt.Sprintf("%s[%d]", m.Path(key), i), key)) {
				return
			}
		}
	}
}

func (t *Tree) asMap(node *yaml.Node, path, key string) *Map {
	if node.Kind != yaml.MappingNode {
		t.add(path, node, key, "want fields (name: value), got "+kindOf(node), "")
		return nil
	}
	return t.newMap(node, path)
}

func (m *Map) list(key string) []*yaml.Node {
	node := m.value(key)
	switch {
	case node == nil:
		return nil
	case node.Kind != yaml.SequenceNode:
		m.Fault(key, "want a list, got "+kindOf(node), "")
		return nil
	case len(node.Content) == 0:
		m.Fault(key, "want a list of one or more, got an empty list", "")
	}
	return node.Content
}

var digits = regexp.MustCompile(`^[0-9]+$`)

// unknown reports the fields that nobody asked for.
func (m *Map) unknown() {
	for i := 0; i+1 < len(m.node.Content); i += 2 {
		key, value := m.node.Content[i], m.node.Content[i+1]
		if m.tree.Full() {
			return
		}
		if key.Kind != yaml.ScalarNode || slices.Contains(m.known, key.Value) {
			continue
		}
		hint := ""
		switch near := nearest(key.Value, m.known); {
		case digits.MatchString(key.Value) && isEmpty(value):
			hint = "between braces a comma ends a value; write numbers without a decimal comma or thousands separators"
		case near != "":
			hint = fmt.Sprintf("did you mean %s?", near)
		default:
			known := slices.Sorted(slices.Values(m.known))
			hint = "known here: " + scalar.Alternatives(known)
		}
		m.tree.add("", key, scalar.Quote(key.Value), "there is no such field here", hint)
	}
}

// nearest is the known name that takes the fewest edits to reach, if that is
// about a third of its letters at most.
func nearest(name string, known []string) string {
	best, edits := "", 1<<30
	if len(name) > 100 {
		return ""
	}
	for _, candidate := range slices.Sorted(slices.Values(known)) {
		if d := levenshtein.ComputeDistance(name, candidate); d < edits && d <= (len(candidate)+1)/3 {
			best, edits = candidate, d
		}
	}
	return best
}
