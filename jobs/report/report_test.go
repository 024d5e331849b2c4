package report

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/bookfile"
	"laneplan/jobs/planfile"
)

var update = flag.Bool("update", false, "rewrite the golden files")

const goldens = "../../testdata/report"

func plan(t *testing.T, name string) planfile.Gang {
	t.Helper()
	d, err := planfile.ReadFile(filepath.Join("../../testdata/planfile", name+".json"))
	require.NoError(t, err)
	return d.Gangs[0]
}

func written(t *testing.T, g planfile.Gang, style Style) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, Text(&b, g, style))
	return b.String()
}

func TestReportsAreAsTheGoldensSay(t *testing.T) {
	wanted := map[string]bool{}
	check := func(name string, got []byte) {
		wanted[name] = true
		path := filepath.Join(goldens, name)
		if *update {
			require.NoError(t, os.MkdirAll(goldens, 0o755))
			require.NoError(t, os.WriteFile(path, got, 0o644))
		}
		want, err := os.ReadFile(path)
		require.NoError(t, err, "run the test with -update")
		assert.Equal(t, string(want), string(got))
	}
	for _, name := range []string{"bare", "crowded"} {
		t.Run(name, func(t *testing.T) {
			g := plan(t, name)
			check(name+".txt", []byte(written(t, g, Style{})))
			var b bytes.Buffer
			require.NoError(t, SectionsCSV(&b, []planfile.Gang{g}))
			check(name+"-sections.csv", b.Bytes())
			b.Reset()
			require.NoError(t, VersionsCSV(&b, []planfile.Gang{g}))
			check(name+"-versions.csv", b.Bytes())
		})
	}
	t.Run("book", func(t *testing.T) {
		for name, b := range map[string]bookfile.Book{"book-pooled": pooledBook(t), "book-planned": plannedBook(t)} {
			var text, table bytes.Buffer
			require.NoError(t, Book(&text, b, Style{}))
			check(name+".txt", text.Bytes())
			require.NoError(t, BookCSV(&table, b))
			check(name+".csv", table.Bytes())
		}
	})
	t.Run("bench", func(t *testing.T) {
		for name, lines := range map[string][]Benchmark{"bench": benchmark(), "bench-rivals": rivalled()} {
			var text, table bytes.Buffer
			require.NoError(t, BenchText(&text, lines, Style{}))
			check(name+".txt", text.Bytes())
			require.NoError(t, BenchCSV(&table, lines))
			check(name+".csv", table.Bytes())
		}
	})
	t.Run("growth", func(t *testing.T) {
		var text, table bytes.Buffer
		require.NoError(t, GrowthText(&text, grown(), Style{}))
		check("growth.txt", text.Bytes())
		require.NoError(t, GrowthCSV(&table, grown()))
		check("growth.csv", table.Bytes())
	})
	entries, err := os.ReadDir(goldens)
	require.NoError(t, err)
	for _, e := range entries {
		assert.True(t, wanted[e.Name()], "no case writes %s", e.Name())
	}
}

func TestEveryCountOfThePlanIsInTheText(t *testing.T) {
	g := plan(t, "crowded")
	got := written(t, g, Style{})
	for _, want := range []string{"mace", "cumin", "anise", "1009", "1150", "890", "1540", g.Cost.Total.String(), "EUR", "(closed)", "(empty)", "left out"} {
		assert.Contains(t, got, want)
	}
}

func TestManyLanesAreNamedTogether(t *testing.T) {
	a, b := "A", "B"
	g := planfile.Gang{ID: "wide", Lanes: 12, Closed: []int{12}, Sections: []planfile.Section{{
		Number: 1, Rows: 5, Lanes: []*string{&a, &a, &a, &b, &a, &a, nil, &b, &b, &b, &b, nil}, Carried: []int{5},
	}}}
	assert.Contains(t, written(t, g, Style{}), "1-3 A, 4 B, 5 = A, 6 A, 7 (empty), 8-11 B, 12 (closed)\n")
}

func TestStyleDressesAndAddsNothing(t *testing.T) {
	mark := func(text string) string { return "\x1b[1m" + text + "\x1b[0m" }
	for _, name := range []string{"bare", "crowded"} {
		g := plan(t, name)
		dressed := written(t, g, Style{Heading: mark, Good: mark, Care: mark})
		assert.Greater(t, strings.Count(dressed, "\x1b[1m"), 3)
		assert.Equal(t, written(t, g, Style{}), strings.NewReplacer("\x1b[1m", "", "\x1b[0m", "").Replace(dressed))
	}
}

func TestNamesCannotCommandTheTerminal(t *testing.T) {
	g := plan(t, "bare")
	g.Versions[0].ID = "\x1b[31mA\u202e\nB"
	got := written(t, g, Style{})
	assert.NotContains(t, got, "\x1b")
	assert.NotContains(t, got, "\u202e")
	assert.Contains(t, got, "\ufffd[31mA\ufffd\ufffdB")
}

func TestVerdict(t *testing.T) {
	cost := &planfile.Cost{Total: "120.95", Currency: "EUR"}
	limits := &planfile.Limits{Seconds: "60", Work: "20", Gap: "0.01"}
	open := &planfile.Bound{Cost: "120.00", Gap: "0.007855"}
	for _, tt := range []struct {
		name string
		g    planfile.Gang
		want string
	}{
		{"proven", planfile.Gang{Cost: cost, Bound: &planfile.Bound{Cost: "120.95", Gap: "0", Proven: true}, Solve: &planfile.Solve{Seed: 1, Stop: "proven"}},
			"Proven: no plan costs less.\nThe search ended with the proof (seed 1)."},
		{"time", planfile.Gang{Cost: cost, Bound: open, Solve: &planfile.Solve{Seed: 1, Stop: "time limit", Limits: limits}},
			"No plan can cost less than 120.00 EUR; this one is within 0.79 %.\nThe search ended at its time limit, 60 s (seed 1); more time may find a cheaper plan."},
		{"work", planfile.Gang{Solve: &planfile.Solve{Seed: 2, Stop: "work limit", Limits: limits}},
			"The search ended at its work limit, 20 (seed 2)."},
		{"gap", planfile.Gang{Solve: &planfile.Solve{Stop: "gap", Limits: limits}},
			"The search ended at the gap it was to reach, 1 % (seed 0)."},
		{"interrupted", planfile.Gang{Solve: &planfile.Solve{Stop: "interrupted"}},
			"The search was interrupted (seed 0); this is the best plan it had."},
		{"nothing known", planfile.Gang{}, ""},
	} {
		t.Run(tt.name, func(t *testing.T) { assert.Equal(t, tt.want, Verdict(tt.g, Style{})) })
	}
}

func TestPercentIsRoundedUpToTwoDigits(t *testing.T) {
	for fraction, want := range map[json.Number]string{
		"0": "0 %", "0.01": "1 %", "0.0079": "0.79 %", "0.00791": "0.8 %", "0.000421": "0.043 %",
		"0.0123": "1.3 %", "0.1234": "13 %", "0.9999": "100 %", "0.000001": "0.0001 %",
	} {
		assert.Equal(t, want, Percent(fraction), fraction)
	}
}
