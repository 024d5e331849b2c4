package donefile_test

import (
	"encoding/json"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/jobs/intake/donefile"
	"laneplan/jobs/intake/fault"
	"laneplan/jobs/intake/internal/badfiles"
	"laneplan/jobs/intake/internal/schematest"
	"laneplan/jobs/rest"
	"laneplan/nest"
)

var update = flag.Bool("update", false, "write the golden files")

const demo = "../../../testdata/demo/spice-mill.yaml"

// printed is the demo's gang and a plan of two sections of it.
func printed(t *testing.T) (jobs.Gang, nest.Plan) {
	t.Helper()
	g, err := intake.ReadFile(demo)
	require.NoError(t, err)
	return g, nest.Plan{Sections: []nest.Section{{Rows: 1600, Lanes: []int{0, 1, 2, 3}}, {Rows: 2400, Lanes: []int{0, 4, 5, 6}}}}
}

func TestEveryFieldIsRead(t *testing.T) {
	data, err := os.ReadFile("testdata/full.yaml")
	require.NoError(t, err)
	require.NoError(t, schematest.Check(t, donefile.Schema, string(data)))
	f, err := donefile.ReadFile("testdata/full.yaml")
	require.NoError(t, err)
	left := 812 * jobs.Metre
	d := f.Done
	assert.Equal(t, "12.5", d.RestartMinutes.String())
	d.RestartMinutes = rest.Done{}.RestartMinutes
	assert.Equal(t, rest.Done{
		Gang: "spice-mill", Stopped: time.Date(2026, 11, 30, 6, 50, 0, 0, time.UTC),
		Sections: []rest.Printed{{Section: 1, Printed: rest.Mark{Rows: 1260}}, {Section: 2, Printed: rest.Mark{Web: 82400 * jobs.Millimetre}}},
		Spoiled: []rest.Stretch{
			{Section: 1, Lanes: []int{2, 3}, From: rest.Mark{Rows: 400}, To: rest.Mark{Rows: 520}, Reason: "varnish scuffed"},
			{Section: 2, From: rest.Mark{Web: 61500 * jobs.Millimetre}, To: rest.Mark{Web: 64 * jobs.Metre}},
		},
		Lanes: []rest.Lane{
			{Lane: 4, Section: 2, From: rest.Mark{Rows: 700}, Mended: true, Reason: "a knife was blunt"},
			{Lane: 1, Section: 2},
		},
		OffPress: true, RollLeft: &left, RestartWeb: 5 * jobs.Metre,
	}, d)
	g, plan := printed(t)
	require.NoError(t, f.Fits(g, plan))
	c, err := rest.Tally(g, plan, f.Done)
	require.NoError(t, err)
	assert.Equal(t, 800, c.Sections[1].Printed, "82.4 m of rows of 103 mm")
}

// TestBadFiles reads every file of testdata/bad, against the plan where it can
// be read, and compares what is said of it with the text file of the name.
func TestBadFiles(t *testing.T) {
	g, plan := printed(t)
	badfiles.Compare(t, "testdata/bad", *update, func(_ *testing.T, file string) error {
		f, err := donefile.ReadFile(file)
		if err == nil {
			err = f.Fits(g, plan)
		}
		return err
	})
}

// The forms that are wrong, the schema refuses too.
func TestTheSchemaRefusesBadForms(t *testing.T) {
	for _, name := range []string{"no-sections", "no-format", "rows-and-web", "numbers", "lanes", "unknown-fields", "moments", "marks"} {
		data, err := os.ReadFile(filepath.Join("testdata/bad", name+".yaml"))
		require.NoError(t, err)
		assert.Error(t, schematest.Check(t, donefile.Schema, string(data)), name)
	}
}

// Schema and reader know the same fields: the reader is asked by what it says
// is known beside a field that is not.
func TestSchemaAndReaderKnowTheSameFields(t *testing.T) {
	var schema struct {
		Properties map[string]struct {
			Items struct {
				Properties map[string]any `json:"properties"`
			} `json:"items"`
		} `json:"properties"`
	}
	require.NoError(t, json.Unmarshal(donefile.Schema, &schema))
	known := func(text string) []string {
		_, err := donefile.Parse("x.yaml", []byte(text))
		require.Error(t, err)
		_, list, found := strings.Cut(err.Error(), "zzzzzzzz: there is no such field here\nhint: known here: ")
		require.True(t, found, err)
		list, _, _ = strings.Cut(list, "\n")
		return strings.Split(strings.Replace(list, " or ", ", ", 1), ", ")
	}
	var want []string
	for name := range schema.Properties {
		want = append(want, name)
	}
	assert.ElementsMatch(t, want, known("laneplan: 1\nzzzzzzzz: 1\n"))
	for _, list := range []string{"sections", "spoiled", "spoiled_lanes"} {
		var want []string
		for name := range schema.Properties[list].Items.Properties {
			want = append(want, name)
		}
		assert.ElementsMatch(t, want, known("laneplan: 1\n"+list+": [{zzzzzzzz: 1}]\n"), list)
	}
}

func FuzzParse(f *testing.F) {
	files, err := filepath.Glob("testdata/*/*.yaml")
	if err != nil || len(files) == 0 {
		f.Fatal("no seeds")
	}
	for _, path := range append(files, "testdata/full.yaml") {
		data, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	g, err := intake.ReadFile(demo)
	if err != nil {
		f.Fatal(err)
	}
	plan := nest.Plan{Sections: []nest.Section{{Rows: 1600, Lanes: []int{0, 1, 2, 3}}, {Rows: 2400, Lanes: []int{0, 4, 5, 6}}}}
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := donefile.Parse("fuzz.yaml", data)
		var faults fault.List
		if err != nil && !errors.As(err, &faults) {
			t.Fatalf("not a list of faults: %v", err)
		}
		if err != nil || file.Fits(g, plan) != nil {
			return
		}
		c, err := rest.Tally(g, plan, file.Done)
		if err != nil {
			t.Fatalf("what fits cannot be counted: %v", err)
		}
		for _, v := range c.Versions {
			if v.Good < 0 || v.Spoiled < 0 {
				t.Fatalf("version %s: %d good, %d spoiled", v.ID, v.Good, v.Spoiled)
			}
		}
	})
}
