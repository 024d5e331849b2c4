package planfile

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake/fault"
)

const handMade = `{"laneplan": 1,
 "gangs": [{
  "id": "by hand", "lanes": 2,
  "sections": [
   {"number": 1, "rows": 10, "lanes": ["A", null]},
   {"number": 2, "rows": 20, "lanes": ["A", "B"]}
  ],
  "a field of tomorrow": true
 }]
}`

func TestReadTakesTheSectionsAlone(t *testing.T) {
	d, err := Read([]byte(handMade), "hand.json")
	require.NoError(t, err)
	require.Len(t, d.Gangs[0].Sections, 2)
	assert.Nil(t, d.Gangs[0].Sections[0].Lanes[1])
	assert.Equal(t, "B", *d.Gangs[0].Sections[1].Lanes[1])
	assert.Nil(t, d.Gangs[0].Totals)
}

func TestReadNamesFileLineAndFieldOfEveryFault(t *testing.T) {
	for _, tt := range []struct {
		name, old, new string
		want           []string
	}{
		{"not JSON", `"rows": 10,`, `"rows": 10`, []string{"hand.json:5: want JSON: invalid character '\"' after object key:value pair"}},
		{"a float for a whole number", `"rows": 10,`, `"rows": 10.5,`, []string{"hand.json:5: gangs.sections.rows: want a whole number, got number 10.5"}},
		{"a string for a list", `["A", null]`, `"A"`, []string{"hand.json:5: gangs.sections.lanes: want a list, got string"}},
		{"another format", `"laneplan": 1`, `"laneplan": 2`, []string{"hand.json:1: laneplan: want 1, the number of this format, got 2"}},
		{"no rows", `"rows": 20,`, ``, []string{"hand.json:6: gangs[0].sections[1].rows: want a whole number from 1, got 0"}},
		{"a key twice", `"rows": 20,`, `"rows": 20, "rows": 21,`, []string{"hand.json:6: gangs[0].sections[1].rows: is there twice"}},
		{"a lane too many", `["A", "B"]`, `["A", "B", "B"]`, []string{"hand.json:6: gangs[0].sections[1].lanes: want 2 entries, one a lane (null for an empty one), got 3"}},
		{"an empty id", `["A", "B"]`, `["A", ""]`, []string{"hand.json:6: gangs[0].sections[1].lanes[1]: want a version's id or null"}},
		{"no lanes", `"lanes": 2,`, ``, []string{"hand.json:2: gangs[0].lanes: want a whole number from 1, got 0"}},
		{"sections out of order and without rows", `"number": 2, "rows": 20`, `"number": 3, "rows": -1`, []string{
			"hand.json:6: gangs[0].sections[1].number: want 2 (sections stand in the order in which they run), got 3",
			"hand.json:6: gangs[0].sections[1].rows: want a whole number from 1, got -1",
		}},
		{"a splice beyond the section", `"rows": 20,`, `"rows": 20, "splices_after_rows": [5, 20],`, []string{"hand.json:6: gangs[0].sections[1].splices_after_rows[1]: want rows in rising order from 1 to 19, got 20"}},
		{"a number that would take hours to compare", `"a field of tomorrow": true`, `"x": 1e999999999`, []string{"hand.json:8: gangs[0].x: want a number with at most 30 digits and no large exponent, got 1e999999999"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			text := strings.Replace(handMade, tt.old, tt.new, 1)
			require.NotEqual(t, handMade, text)
			d, err := Read([]byte(text), "hand.json")
			var faults fault.List
			require.ErrorAs(t, err, &faults)
			assert.Equal(t, strings.Join(tt.want, "\n"), err.Error())
			assert.Empty(t, d)
		})
	}
}

func TestReadFileRefusesWhatIsNoPlanFile(t *testing.T) {
	folder := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	for _, tt := range []struct{ name, path, want string }{
		{"a folder", folder, "want a file, got a folder"},
		{"nothing there", filepath.Join(folder, "nothing"), "there is no such file"},
		{"an empty file", write("empty.json", ""), "the file is empty"},
		{"a blank file", write("blank.json", " \n"), "the file is empty"},
		{"a binary file", write("binary.json", "\x00\x01"), "control byte"},
		{"no gangs", write("none.json", `{"laneplan": 1, "gangs": []}`), "want at least one gang"},
		{"two gangs of one id", write("twice.json", `{"laneplan": 1, "gangs": [{"id": "x"}, {"id": "x"}]}`), `gangs[1].id: "x" is there twice`},
		{"nesting without end", write("deep.json", strings.Repeat("[", 1_000_000)), "exceeded max depth"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ReadFile(tt.path)
			var faults fault.List
			require.ErrorAs(t, err, &faults)
			assert.Contains(t, err.Error(), tt.want)
			assert.Contains(t, err.Error(), tt.path)
		})
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(handMade))
	for _, name := range []string{"bare.json", "crowded.json"} {
		data, err := os.ReadFile(filepath.Join(goldens, name))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Read(data, "fuzz.json")
		if err != nil {
			if len(d.Gangs) > 0 {
				t.Fatal("an error comes with a document")
			}
			return
		}
		again, err := Read(written(t, d.Gangs[0]), "again.json")
		if err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
		if string(written(t, d.Gangs[0])) != string(written(t, again.Gangs[0])) {
			t.Fatal("writing and reading is not stable")
		}
	})
}
