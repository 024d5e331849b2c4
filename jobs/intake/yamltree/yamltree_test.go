package yamltree_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake/fault"
	"laneplan/jobs/intake/scalar"
	"laneplan/jobs/intake/yamltree"
)

// read walks a little document of our own: a box with a size and parts.
func read(text string) (size int, names []string, err error) {
	tree := yamltree.Parse("box.yaml", []byte(text))
	root := tree.Root()
	root.Need("size", "the size, such as 3")
	size = root.Whole("size", 1, 10)
	for _, part := range root.Maps("parts") {
		part.Need("name", "a name")
		names = append(names, part.Text("name"))
		part.Flag("big")
	}
	yamltree.Lists(root, "pairs", scalar.Text)
	root.Wholes("lanes", 1, 4)
	return size, names, tree.Err()
}

func TestReadsWhatIsRight(t *testing.T) {
	size, names, err := read("laneplan: 1\nsize: 3\nparts:\n  - {name: 010, big: true}\n  - name: \"b: c\"\n")
	require.NoError(t, err)
	assert.Equal(t, 3, size)
	assert.Equal(t, []string{"010", "b: c"}, names)
}

func TestSaysWhatIsWrong(t *testing.T) {
	tests := []struct {
		name, text string
		want       []string
	}{
		{"a missing format", "size: 3\nwidth: 3\n", []string{"box.yaml:1:1: laneplan: this field is missing: want laneplan: 1, the format of the file"}},
		{"another format is not read on", "laneplan: 2\nwidth: 3\n", []string{"box.yaml:1:11: laneplan: want format 1, got 2", "hint: a newer release may read it"}},
		{"a missing field", "laneplan: 1\n", []string{"box.yaml:1:1: size: this field is missing: want the size, such as 3"}},
		{"an empty value", "laneplan: 1\nsize:\n", []string{"box.yaml:2:6: size: want a value, got nothing"}},
		{"a null", "laneplan: 1\nsize: ~\n", []string{"box.yaml:2:7: size: want a value, got nothing"}},
		{"quotes around a number", "laneplan: 1\nsize: \"3\"\n", []string{"box.yaml:2:7: size: want a number, got the text \"3\"", "hint: leave out the quotes"}},
		{"a list for a number", "laneplan: 1\nsize: [3]\n", []string{"box.yaml:2:7: size: want a single value, got a list"}},
		{"a number for a list", "laneplan: 1\nsize: 3\nparts: 4\n", []string{"box.yaml:3:8: parts: want a list, got the single value 4"}},
		{"an empty list", "laneplan: 1\nsize: 3\nparts: []\n", []string{"box.yaml:3:8: parts: want a list of one or more, got an empty list"}},
		{"a word for a part", "laneplan: 1\nsize: 3\nparts: [x]\n", []string{"box.yaml:3:9: parts: want fields (name: value), got the single value x"}},
		{"a flat list of pairs", "laneplan: 1\nsize: 3\npairs: [A, B]\n", []string{
			"box.yaml:3:9: pairs: want a list of lists such as [[A, B], [C, D]], got the single value A",
			"box.yaml:3:12: pairs: want a list of lists such as [[A, B], [C, D]], got the single value B"}},
		{"a fault in a list is placed there", "laneplan: 1\nsize: 3\nlanes: [1, 2.5, 9]\n", []string{
			"box.yaml:3:12: lanes: want a whole number, got 2.5",
			"box.yaml:3:17: lanes: want 4 or less, got 9"}},
		{"an unknown field with a near name", "laneplan: 1\nsize: 3\nprats: 1\n", []string{"box.yaml:3:1: prats: there is no such field here", "hint: did you mean parts?"}},
		{"an unknown field with none", "laneplan: 1\nsize: 3\ncolour: red\n", []string{"box.yaml:3:1: colour: there is no such field here", "hint: known here: laneplan, lanes, pairs, parts or size"}},
		{"a duplicate field", "laneplan: 1\nsize: 3\nsize: 4\n", []string{"box.yaml:3:1: size: this field stands here twice, first in line 2; want it once"}},
		{"a decimal comma between braces", "laneplan: 1\nsize: 3\nparts: [{name: a, 5}]\n", []string{"box.yaml:3:19: 5: there is no such field here", "hint: between braces a comma ends a value; write numbers without a decimal comma or thousands separators"}},
		{"a second document", "laneplan: 1\nsize: 3\n---\nsize: 4\n", []string{"box.yaml:3:1: want one document, got a second one", "hint: leave out everything from the line --- on, or move it to a file of its own"}},
		{"the first anchor or alias", "laneplan: 1\nsize: &s 3\nother: *s\n", []string{
			"box.yaml:2:7: want a value, got the anchor &s", "hint: write the value out; anchors and aliases are not read"}},
		{"a value without end", "laneplan: 1\nsize: " + strings.Repeat("9", 10_001) + "\n", []string{"box.yaml:2:7: size: want a short value, got 10001 bytes"}},
		{"a tag", "laneplan: 1\nsize: !!int \"3\"\n", []string{"box.yaml:2:7: want a plain value, got the tag !!int", "hint: leave the tag out"}},
		{"a list as a key", "laneplan: 1\nsize: 3\n? [a, b]\n: 1\n", []string{"box.yaml:3:3: want the name of a field, got a list"}},
		{"broken YAML", "laneplan: 1\nsize: [3\n", []string{"box.yaml:1: this is not YAML: did not find expected ',' or ']'"}},
		{"nothing but a comment", "# laneplan\n", []string{"box.yaml: the file is empty"}},
		{"a list as a document", "- 1\n", []string{"box.yaml:1:1: want fields such as laneplan: 1, got a list"}},
		{"a NUL byte", "laneplan: 1\nsi\x00ze: 3\n", []string{"box.yaml:2:3: want text, got the control byte 0x00", "hint: this may not be a text file"}},
		{"another encoding", "laneplan: 1\nname: M\xfchle\n", []string{"box.yaml:2:8: want text in UTF-8, got the byte 0xFC", "hint: save the file as UTF-8"}},
		{"all faults at once, in order", "laneplan: 1\nparts:\n  - {name: a, big: yes}\n  - {nam: b}\nsize: 11\n", []string{
			"box.yaml:3:20: big: want true or false, got yes",
			"box.yaml:4:5: name: this field is missing: want a name",
			"box.yaml:4:6: nam: there is no such field here", "hint: did you mean name?",
			"box.yaml:5:7: size: want 10 or less, got 11"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, _, err := read(tt.text)
			var faults fault.List
			require.ErrorAs(t, err, &faults)
			assert.Equal(t, tt.want, strings.Split(faults.Error(), "\n"))
		})
	}
}

func TestFindsPlacesByPath(t *testing.T) {
	tree := yamltree.Parse("box.yaml", []byte("laneplan: 1\nparts:\n  - {name: a}\n  - {name: b, size: 3}\n"))
	for path, line := range map[string]int{"parts": 3, "parts[1]": 4, "parts[1].size": 4, "parts[1].colour": 4, "parts[7].name": 3, "none": 1} {
		assert.Equal(t, line, tree.Line(path), path)
	}
	assert.True(t, tree.Has("parts[1].size"))
	assert.False(t, tree.Has("parts[0].size"))
	assert.False(t, tree.Has("parts[2]"))
	tree.At("parts[1].size", "too big", "")
	assert.True(t, tree.Faulted("parts[1].size"))
	assert.True(t, tree.Faulted("parts[1].size[0]"))
	assert.False(t, tree.Faulted("parts[1]"))
	assert.EqualError(t, tree.Err(), "box.yaml:2:1: parts: there is no such field here\nhint: known here: laneplan\nbox.yaml:4:21: size: too big")
}

func TestCollectsNoEndOfFaults(t *testing.T) {
	_, _, err := read("laneplan: 1\nsize: 3\n" + strings.Repeat("a: 1\n", 5000))
	var faults fault.List
	require.ErrorAs(t, err, &faults)
	assert.Len(t, faults, 1000)
	assert.Contains(t, err.Error(), "\nand 800 more")
}
