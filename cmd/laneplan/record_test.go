package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/ledger"
	"laneplan/jobs/planfile"
)

// aPrintRun is a folder with the plan of covers and what ran of it: a part of
// the first section, C in all four lanes, ten rows of it spoiled.
func aPrintRun(t *testing.T) (plan, done string) {
	t.Helper()
	return stored(t), file(t, "done.yaml", "laneplan: 1\nsections: [{section: 1, rows: 1010}]\nspoiled: [{section: 1, from: 11, to: 20}]\n")
}

func rested(t *testing.T, got ran) planfile.Gang {
	t.Helper()
	require.Equal(t, exitDone, got.code, got.stderr)
	d, err := planfile.Read([]byte(got.stdout), "standard output")
	require.NoError(t, err)
	return d.Gangs[0]
}

func inLedger(t *testing.T, path string) []ledger.Entry {
	t.Helper()
	l, err := ledger.OpenThere(path)
	require.NoError(t, err)
	defer l.Close()
	entries, err := l.Entries(t.Context(), ledger.Filter{})
	require.NoError(t, err)
	return entries
}

func TestRecordWritesTheLedgerAndPlansTheRest(t *testing.T) {
	plan, done := aPrintRun(t)
	path := filepath.Join(filepath.Dir(filepath.Dir(plan)), ledger.FileName)
	got := laneplan(t, "record", plan, done, "--ledger", path, "--out", filepath.Join(t.TempDir(), "rest"))
	require.Equal(t, exitDone, got.code, got.stderr)
	assert.Contains(t, got.stdout, "Section 1, lane 4: rows 11 to 20 are spoiled")
	assert.Contains(t, got.stdout, "Lane plan covers-rest")
	assert.Contains(t, got.stderr, "recorded as entry 1 of")
	entries := inLedger(t, path)
	require.Len(t, entries, 2)
	printed, rest := entries[0], entries[1]
	assert.Equal(t, ledger.KindPrinted, printed.Kind)
	assert.Equal(t, []ledger.Section{{Number: 1, Planned: 2875, Printed: 1010}}, printed.Printed)
	c := printed.Orders[0].Versions[2]
	assert.Equal(t, []int{16000, 4000, 40, 12000}, []int{c.Ordered, c.Good, c.Spoiled, c.Unders})
	assert.Equal(t, ledger.KindPlanned, rest.Kind)
	assert.Equal(t, "covers-rest", rest.Gang)
	assert.Equal(t, 12000, rest.Orders[0].Versions[2].Ordered)

	t.Run("twice is one entry, and the ledger above is found", func(t *testing.T) {
		again := laneplan(t, "record", plan, done)
		require.Equal(t, exitDone, again.code, again.stderr)
		assert.Contains(t, again.stderr, "this is recorded already, as entry 1 of")
		assert.Len(t, inLedger(t, path), 2)
	})
	t.Run("the rest of a rest", func(t *testing.T) {
		g := rested(t, laneplan(t, "record", plan, done, "-f", "json"))
		require.NotNil(t, g.Rest)
		assert.Equal(t, "covers", g.Rest.Gang)
		assert.Equal(t, printed.Plan, g.Rest.Plan)
		next := file(t, "rest.json", laneplan(t, "record", plan, done, "-f", "json").stdout)
		g = rested(t, laneplan(t, "record", next, file(t, "done2.yaml", "laneplan: 1\ngang: covers-rest\nsections: [{section: 1, rows: 100}]\n"), "-f", "json"))
		assert.Equal(t, "covers-rest-2", g.ID)
	})
}

// The README shows the demo's record as it is.
func TestTheRecordOfTheREADMEIsTheDemos(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	done, err := os.ReadFile("../../testdata/printed/spice-mill.yaml")
	require.NoError(t, err)
	_, shown, found := strings.Cut(string(done), "\n") // without the comment
	require.True(t, found)
	assert.Contains(t, string(readme), "```yaml\n"+shown+"```")
}

func TestRecordWithoutALedgerSaysNothingOfOne(t *testing.T) {
	plan, done := aPrintRun(t)
	got := laneplan(t, "record", plan, done)
	require.Equal(t, exitDone, got.code)
	assert.Empty(t, got.stderr)
	assert.Contains(t, got.stdout, "Lane plan covers-rest")
}

func TestRecordWhereNothingIsLeft(t *testing.T) {
	plan, _ := aPrintRun(t)
	done := file(t, "done.yaml", "laneplan: 1\nsections: [{section: 1, rows: 2875}, {section: 2, rows: 4500}]\n")
	got := laneplan(t, "record", plan, done)
	assert.Equal(t, exitDone, got.code)
	assert.Equal(t, "nothing is left to print: no rest is planned\n", got.stderr)
	assert.NotContains(t, got.stdout, "Lane plan")
}

func TestRecordRefusesWhatDoesNotFit(t *testing.T) {
	plan, done := aPrintRun(t)
	text, err := os.ReadFile(plan)
	require.NoError(t, err)
	elsewhere := func(old, new string) string {
		changed := bytes.Replace(text, []byte(old), []byte(new), 1)
		require.NotEqual(t, text, changed)
		return file(t, "plan.json", string(changed))
	}
	noJob := file(t, "plan.json", laneplan(t, "plan", covers, "-f", "json").stdout)
	for _, tt := range []struct {
		name string
		args []string
		code int
		says string
	}{
		{"no plan", []string{"none.json", done}, exitInput, "none.json: there is no such file"},
		{"no record", []string{plan, "none.yaml"}, exitInput, "none.yaml: there is no such file"},
		{"a plan without its job", []string{noJob, done}, exitInput, "does not hold its job"},
		{"a plan that was changed", []string{elsewhere(`"rows": 2875`, `"rows": 2876`), done}, exitInput, "states"},
		{"another gang", []string{plan, file(t, "other.yaml", "laneplan: 1\ngang: other\nsections: [{section: 1, rows: 1}]\n")}, exitInput, `is about gang "other", which`},
		{"another gang than the file's", []string{noJob, file(t, "other.yaml", "laneplan: 1\ngang: other\nsections: [{section: 1, rows: 1}]\n"), covers}, exitInput, `is about gang "other", but`},
		{"a section that is not planned", []string{plan, file(t, "done.yaml", "laneplan: 1\nsections: [{section: 3, rows: 1}]\n")}, exitInput, "done.yaml:2:22: section: the plan has 2 sections, got 3"},
		{"no lane left", []string{plan, file(t, "done.yaml", "laneplan: 1\nsections: [{section: 1, rows: 1}]\nspoiled_lanes: [{lane: 1, section: 1}, {lane: 2, section: 1}, {lane: 3, section: 1}, {lane: 4, section: 1}]\n")}, exitInfeasible, "the rest of gang covers"},
		{"a ledger that is none", []string{plan, done, "--ledger", plan}, exitInput, "this is not a ledger"},
		{"one argument", []string{plan}, exitInput, "requires at least 2 arg"},
		{"four files", []string{plan, done, covers, covers}, exitInput, "at most one job file, got 4 files; an order book takes --shop"},
		{"a shop without a book", []string{plan, done, "--shop", "shop.yaml"}, exitInput, "--shop: want the order book behind the plan and the record"},
		{"a date without a shop", []string{plan, done, "--date", "2026-11-30"}, exitInput, "--date: is for an order book, with --shop"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := laneplan(t, append([]string{"record"}, tt.args...)...)
			assert.Equal(t, tt.code, got.code)
			assert.Contains(t, got.stderr, tt.says)
		})
	}
	assert.Equal(t, exitDone, laneplan(t, "record", noJob, done, covers).code, "the job file takes the place of a job in the plan")
}

// A gang of an order book that no plan prints in time is recorded as it was
// planned, and a plan that a batch wrote holds its job.
func TestRecordOfAnOrderBook(t *testing.T) {
	n := newNight(t, orderHead+"1,Hill,cumin,pouch-100x150,paper-80,3000000,2026-11-30\n2,Dale,mace,pouch-100x150,paper-80,4000,2026-11-30\n")
	plans := filepath.Join(t.TempDir(), "plans.json")
	book := []string{"--shop", n.shop, "--no-split", "--date", "2026-11-30", n.orders}
	require.Equal(t, exitDone, laneplan(t, append([]string{"plan", "--work", "0.05", "-o", plans}, book...)...).code)
	done := file(t, "done.yaml", "laneplan: 1\nsections: [{section: 1, rows: 10}]\n")
	g := rested(t, laneplan(t, append([]string{"record", plans, done, "--work", "0.02", "-f", "json"}, book...)...))
	assert.Equal(t, "pouch-100x150-paper-80-rest", g.ID)

	require.Equal(t, exitDone, n.run(t).code)
	got := laneplan(t, "record", filepath.Join(n.out, "pouch-100x150-paper-80", "plan.json"), done, "--work", "0.02")
	require.Equal(t, exitDone, got.code, got.stderr)
	assert.Contains(t, got.stderr, "recorded as entry 2 of")
	assert.Contains(t, got.stdout, "Lane plan pouch-100x150-paper-80-rest")
}

// What was printed is a fact: it is in the ledger also where the search for
// the rest is cut off.
func TestAnInterruptedRecordIsWritten(t *testing.T) {
	plan, done := aPrintRun(t)
	path := filepath.Join(t.TempDir(), ledger.FileName)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var stdout, stderr bytes.Buffer
	assert.Equal(t, exitInterrupted, run(ctx, []string{"record", plan, done, "--ledger", path}, &stdout, &stderr), stderr.String())
	entries := inLedger(t, path)
	require.NotEmpty(t, entries)
	assert.Equal(t, ledger.KindPrinted, entries[0].Kind)
}

func init() {
	recorded := func(t *testing.T, args ...string) ran {
		t.Helper()
		plan, done := aPrintRun(t)
		return laneplan(t, append([]string{"record", plan, done}, args...)...)
	}
	const large = "../../testdata/demo/spice-mill.yaml"
	// ofDemo is a rest that is not proven at once; the plan is made once.
	var demoOnce sync.Once
	var demoPlan ran
	ofDemo := func(t *testing.T, args ...string) planfile.Gang {
		t.Helper()
		demoOnce.Do(func() { demoPlan = laneplan(t, "plan", large, "--work", "0.1", "-f", "json") })
		require.Equal(t, exitDone, demoPlan.code, demoPlan.stderr)
		out := file(t, "plan.json", demoPlan.stdout)
		done := file(t, "done.yaml", "laneplan: 1\nsections: [{section: 1, rows: 300}]\n")
		return rested(t, laneplan(t, append([]string{"record", out, done, large, "-f", "json"}, args...)...))
	}
	flagTests["record --format"] = func(t *testing.T) {
		assert.Contains(t, recorded(t).stdout, "Printed of gang covers")
		assert.True(t, strings.HasPrefix(recorded(t, "-f", "json").stdout, "{"))
		assert.True(t, strings.HasPrefix(recorded(t, "-f", "csv").stdout, "gang,section"))
	}
	flagTests["record --ledger"] = func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "folder", "l.sqlite")
		require.Equal(t, exitDone, recorded(t, "--ledger", path).code)
		assert.Len(t, inLedger(t, path), 2)
	}
	flagTests["record --correct"] = func(t *testing.T) {
		plan, done := aPrintRun(t)
		path := filepath.Join(t.TempDir(), ledger.FileName)
		require.Equal(t, exitDone, laneplan(t, "record", plan, done, "--ledger", path).code)
		other := file(t, "done.yaml", "laneplan: 1\nsections: [{section: 1, rows: 1009}]\n")
		got := laneplan(t, "record", plan, other, "--ledger", path)
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "give --correct")
		assert.Empty(t, got.stdout)
		require.Equal(t, exitDone, laneplan(t, "record", plan, other, "--ledger", path, "--correct").code)
		entries := inLedger(t, path)
		assert.Equal(t, []int64{0, 0, 1, 0}, []int64{entries[0].Corrects, entries[1].Corrects, entries[2].Corrects, entries[3].Corrects})
	}
	flagTests["record --no-due"] = func(t *testing.T) {
		out := filepath.Join(t.TempDir(), "plan.json")
		require.Equal(t, exitDone, laneplan(t, "plan", large, "--work", "0.1", "--out", out).code)
		late := file(t, "done.yaml", "laneplan: 1\nstopped: 2026-12-02 20:58\nsections: [{section: 1, rows: 300}]\n")
		got := laneplan(t, "record", out, late, large, "--work", "0.1")
		assert.Equal(t, exitInfeasible, got.code, "two minutes are left for the order that is due today")
		got = laneplan(t, "record", out, late, large, "--work", "0.1", "--no-due")
		assert.Equal(t, exitDone, got.code, got.stderr)
	}
	flagTests["record --out"] = func(t *testing.T) {
		out := filepath.Join(t.TempDir(), "out")
		require.Equal(t, exitDone, recorded(t, "--out", out).code)
		assert.FileExists(t, filepath.Join(out, "covers-rest", "run-sheet.pdf"))
		path := filepath.Join(t.TempDir(), "rest.json")
		got := recorded(t, "--out", path)
		assert.NotContains(t, got.stdout, "Lane plan")
		g, err := planIn(path)
		require.NoError(t, err)
		assert.Equal(t, "covers-rest", g.ID)
		again := laneplan(t, "tickets", path, "--out", out+"-2")
		assert.Equal(t, exitDone, again.code, again.stderr)
	}
	flagTests["record --replace"] = func(t *testing.T) {
		out := filepath.Join(t.TempDir(), "out")
		require.Equal(t, exitDone, recorded(t, "--out", out).code)
		assert.Equal(t, exitInput, recorded(t, "--out", out).code)
		assert.Equal(t, exitDone, recorded(t, "--out", out, "--replace").code)
	}
	flagTests["record --printed"] = func(t *testing.T) {
		out := filepath.Join(t.TempDir(), "out")
		require.Equal(t, exitDone, recorded(t, "--out", out, "--printed", "2026-12-04").code)
		report, err := os.ReadFile(filepath.Join(out, "covers-rest", "report.html"))
		require.NoError(t, err)
		assert.Contains(t, string(report), "2026-12-04")
	}
	flagTests["record --time"] = func(t *testing.T) {
		assert.Equal(t, "90", rested(t, recorded(t, "-f", "json", "--time", "90s")).Solve.Limits.Seconds.String())
	}
	flagTests["record --work"] = func(t *testing.T) {
		g := ofDemo(t, "--work", "0.1")
		assert.Equal(t, "work limit", g.Solve.Stop)
		assert.Equal(t, "0.1", g.Solve.Limits.Work.String())
	}
	flagTests["record --gap"] = func(t *testing.T) {
		assert.Equal(t, "gap", ofDemo(t, "--gap", "60%").Solve.Stop)
	}
	flagTests["record --seed"] = func(t *testing.T) {
		assert.Equal(t, int64(4), ofDemo(t, "--work", "0.1", "--seed", "4").Solve.Seed)
	}
	flagTests["record --workers"] = func(t *testing.T) {
		one := ofDemo(t, "--work", "0.1", "--workers", "1", "--no-times")
		assert.Equal(t, one, ofDemo(t, "--work", "0.1", "--workers", "3", "--no-times"), "it changes no plan")
	}
	flagTests["record --engine"] = func(t *testing.T) {
		got := recorded(t, "--engine", filepath.Join(t.TempDir(), "no-such-engine"))
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "--engine")
	}
	// ofBook records 100 rows of a gang of an order book.
	ofBook := func(t *testing.T, gang string, bad bool, args ...string) ran {
		t.Helper()
		plans := filepath.Join(t.TempDir(), "plans.json")
		made := laneplan(t, append([]string{"plan", "--no-split", "--date", "2026-11-30", "--work", "0.05", "-o", plans}, smallBook(t, false)...)...)
		require.Equal(t, exitDone, made.code, made.stderr)
		done := file(t, "done.yaml", "laneplan: 1\ngang: "+gang+"\nsections: [{section: 1, rows: 100}]\n")
		book := append([]string{"record", plans, done, "--no-split", "--date", "2026-11-30", "--work", "0.02", "-f", "json"}, smallBook(t, bad)...)
		return laneplan(t, append(book, args...)...)
	}
	flagTests["record --shop"] = func(t *testing.T) {
		g := rested(t, ofBook(t, "lid-48-pp-60", false))
		assert.Equal(t, "lid-48-pp-60-rest", g.ID)
		got := ofBook(t, "no-such-gang", false)
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, `is about gang "no-such-gang", which`)
	}
	flagTests["record --date"] = func(t *testing.T) {
		got := ofBook(t, "lid-48-pp-60", false, "--date", "2026-11-10")
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "holds a plan of gang lid-48-pp-60, which the order book does not make on 2026-11-10")
	}
	flagTests["record --no-split"] = func(t *testing.T) {
		got := ofBook(t, "jar-70x100-paper-80", false, "--no-split=false")
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "holds a plan of gang jar-70x100-paper-80, which the order book does not make")
	}
	flagTests["record --skip-bad"] = func(t *testing.T) {
		assert.Equal(t, exitInput, ofBook(t, "lid-48-pp-60", true).code)
		assert.Equal(t, exitDone, ofBook(t, "lid-48-pp-60", true, "--skip-bad", "--bad-rows", t.TempDir()).code)
	}
	flagTests["record --bad-rows"] = func(t *testing.T) {
		folder := filepath.Join(t.TempDir(), "bad")
		require.Equal(t, exitDone, ofBook(t, "lid-48-pp-60", true, "--skip-bad", "--bad-rows", folder).code)
		assert.FileExists(t, filepath.Join(folder, "small-bad.csv"))
	}
	flagTests["record --no-times"] = func(t *testing.T) {
		assert.NotEmpty(t, rested(t, recorded(t, "-f", "json")).Solve.Seconds)
		assert.Empty(t, rested(t, recorded(t, "-f", "json", "--no-times")).Solve.Seconds)
	}
	flagTests["record --quiet"] = func(t *testing.T) {
		plan, done := aPrintRun(t)
		assert.Contains(t, onTerminal(t, "record", plan, done), "cost")
		assert.NotContains(t, onTerminal(t, "record", plan, done, "--quiet"), "cost")
	}
}
