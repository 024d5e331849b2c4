package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/batch/summary"
	"laneplan/jobs/starter"
)

const orderHead = "order,customer,version,die,stock,quantity,due\n"

// threeGangs is an order book that is quickly planned.
const threeGangs = orderHead +
	"1,Hill,cumin,pouch-100x150,paper-80,900,2026-12-01\n1,Hill,mace,pouch-100x150,paper-80,500,2026-12-01\n" +
	"2,Dale,sage,pouch-100x150,paper-80,700,2026-12-02\n3,Hill,mint,lid-48,pp-60,800,2026-12-02\n4,Brook,basil,lid-48,paper-80,650,2026-12-01\n"

// nightOf runs a batch over orders into a folder.
type nightOf struct {
	shop, orders, out string
}

func newNight(t *testing.T, orders string) nightOf {
	t.Helper()
	return nightOf{filepath.Join(mill(t), starter.ShopFile), file(t, "orders.csv", orders), filepath.Join(quick(t), "night")}
}

// quick is a folder in memory where there is one: syncing hundreds of files to
// a disk takes its time.
func quick(t *testing.T) string {
	t.Helper()
	folder, err := os.MkdirTemp("/dev/shm", "laneplan-*")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	return folder
}

func (n nightOf) args(more ...string) []string {
	args := append([]string{"batch", "--shop", n.shop, "--orders", n.orders, "--out", n.out, "--no-split"}, more...)
	for _, is := range []struct{ flag, value string }{{"--date", "2026-11-30"}, {"--work", "0.05"}} {
		if !strings.Contains(strings.Join(more, " "), is.flag) && !(is.flag == "--work" && strings.Contains(strings.Join(more, " "), "--budget")) {
			args = append(args, is.flag, is.value)
		}
	}
	return args
}

func (n nightOf) run(t testing.TB, more ...string) ran {
	t.Helper()
	return laneplan(t, n.args(more...)...)
}

func (n nightOf) summary(t testing.TB) summary.Night {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(n.out, "summary.json"))
	require.NoError(t, err)
	var night summary.Night
	require.NoError(t, json.Unmarshal(data, &night))
	return night
}

// filesOf a folder and what is in them, without what only the program reads
// and what tells the time.
func filesOf(t testing.TB, folder string) map[string]string {
	t.Helper()
	files := map[string]string{}
	require.NoError(t, filepath.WalkDir(folder, func(path string, entry os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, err := filepath.Rel(folder, path)
		if err != nil {
			return err
		}
		if name == ".laneplan" {
			return filepath.SkipDir
		}
		if entry.IsDir() || name == "ledger.sqlite" {
			return nil
		}
		data, err := os.ReadFile(path)
		files[filepath.ToSlash(name)] = string(data)
		return err
	}))
	return files
}

func TestANight(t *testing.T) {
	n := newNight(t, threeGangs)
	first := n.run(t, "--no-times")
	require.Equal(t, exitDone, first.code, first.stderr)
	assert.Contains(t, first.stdout, "3 of 3 gangs are planned: cost ")
	told := n.summary(t)
	data, err := os.ReadFile(filepath.Join(n.out, "summary.json"))
	require.NoError(t, err)
	valid(t, summary.Schema, decoded(t, string(data)))
	assert.Equal(t, summary.Done, told.State)
	assert.Equal(t, 3, told.Totals.Planned)
	made := filesOf(t, n.out)
	for _, g := range told.Gangs {
		for _, name := range g.Files {
			assert.Contains(t, made, g.Folder+"/"+name)
		}
	}
	assert.Contains(t, made["summary.csv"], "pouch-100x150-paper-80,planned")

	again := n.run(t, "--no-times")
	require.Equal(t, exitDone, again.code)
	assert.Contains(t, again.stderr, "gangs=3 unchanged=3")
	assert.NotContains(t, again.stderr, "gang planned")
	assert.Equal(t, made, filesOf(t, n.out), "nothing was to be done")
}

func TestOnlyWhatChangedIsPlannedAgain(t *testing.T) {
	n := newNight(t, threeGangs)
	require.Equal(t, exitDone, n.run(t, "--no-times").code)
	before := filesOf(t, n.out)
	require.NoError(t, os.WriteFile(n.orders, []byte(strings.Replace(threeGangs, "mint,lid-48,pp-60,800", "mint,lid-48,pp-60,900", 1)), 0o600))
	got := n.run(t, "--no-times")
	require.Equal(t, exitDone, got.code)
	assert.Contains(t, got.stderr, "gangs=3 unchanged=2")
	after := filesOf(t, n.out)
	assert.Equal(t, before["pouch-100x150-paper-80/batch.json"], after["pouch-100x150-paper-80/batch.json"])
	assert.NotEqual(t, before["lid-48-pp-60/plan.json"], after["lid-48-pp-60/plan.json"])
	assert.Equal(t, before["lid-48-pp-60/plan.json"], after["earlier/2026-11-30/lid-48-pp-60/plan.json"], "the old one is kept")

	// An order that is gone takes its gang along.
	require.NoError(t, os.WriteFile(n.orders, []byte(orderHead+"1,Hill,cumin,pouch-100x150,paper-80,900,2026-12-01\n"), 0o600))
	require.Equal(t, exitDone, n.run(t, "--no-times").code)
	gone := filesOf(t, n.out)
	assert.NotContains(t, gone, "lid-48-paper-80/plan.json")
	assert.Equal(t, before["lid-48-paper-80/plan.json"], gone["earlier/2026-11-30/lid-48-paper-80/plan.json"])
}

func TestExitCodesOfABatch(t *testing.T) {
	n := newNight(t, threeGangs)
	wall := file(t, "wall", "")
	for name, tt := range map[string]struct {
		want    int
		args    []string
		message string
	}{
		"no shop":                     {exitInput, []string{"batch", "--orders", n.orders, "--out", n.out}, "--shop: want the shop file"},
		"no orders":                   {exitInput, []string{"batch", "--shop", n.shop, "--out", n.out}, "--orders: want the order book"},
		"no folder":                   {exitInput, []string{"batch", "--shop", n.shop, "--orders", n.orders}, "--out: want the folder"},
		"a folder that cannot be":     {exitInput, []string{"batch", "--shop", n.shop, "--orders", n.orders, "--out", wall}, "--out: make the output folder"},
		"two budgets":                 {exitInput, n.args("--budget", "1h", "--work", "1"), "--budget and --work: give one of them"},
		"no limit":                    {exitInput, n.args("--work", "0"), "want a limit"},
		"orders that are not there":   {exitInput, []string{"batch", "--shop", n.shop, "--orders", n.orders + ".not", "--out", n.out}, "no such file"},
		"an engine that is not there": {exitInput, n.args("--engine", wall+".not"), "wall.not"},
		"a ledger that is a folder":   {exitInput, n.args("--ledger", t.TempDir()), "want a file, got a folder"},
	} {
		got := laneplan(t, tt.args...)
		assert.Equal(t, tt.want, got.code, "%s: %s", name, got.stderr)
		assert.Contains(t, got.stderr, tt.message, name)
	}
}

// A gang that cannot be written, and a due order that cannot run, do not stop
// the others.
func TestSomeGangsFail(t *testing.T) {
	n := newNight(t, threeGangs+"9,Hill,cumin,pouch-100x150,paper-80,200000000,2026-11-30\n")
	require.NoError(t, os.MkdirAll(n.out, 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(n.out, "lid-48-paper-80"), nil, 0o600))
	got := n.run(t)
	require.Equal(t, exitPartly, got.code, got.stderr)
	assert.Contains(t, got.stderr, "gangs that failed: 1, orders that are due and cannot run: 1; the rest is written")
	told := n.summary(t)
	assert.Equal(t, summary.Partly, told.State)
	assert.Equal(t, 1, told.Totals.Failed)
	assert.Equal(t, "not written", told.Gangs[0].Failure.Kind)
	assert.NotEmpty(t, told.Gangs[0].Failure.Do)
	assert.Contains(t, told.Warnings[0], "Order 9 of Hill is due and cannot run: ")
	assert.FileExists(t, filepath.Join(n.out, "lid-48-pp-60", "run-sheet.pdf"))
	page, err := os.ReadFile(filepath.Join(n.out, "index.html"))
	require.NoError(t, err)
	assert.Contains(t, string(page), "2 of 3 gangs planned, 1 failed")
}

// Where no plan keeps a date, the late one is made and told, round after round.
func TestALateGangIsPlannedAllTheSame(t *testing.T) {
	// 3,000,000 labels, 1,000,000 rows of 153 mm at 18 m a minute, by tonight.
	n := newNight(t, orderHead+"1,Hill,cumin,pouch-100x150,paper-80,3000000,2026-11-30\n2,Dale,mace,pouch-100x150,paper-80,4000,2026-11-30\n")
	require.Equal(t, exitDone, n.run(t, "--work", "0.4").code)
	told := n.summary(t)
	require.Len(t, told.Gangs, 1)
	assert.Contains(t, told.Gangs[0].Warnings[0], "Late: order 1 is due 2026-11-30 and is ready 2026-12-")
}

func TestAClockBefore2020(t *testing.T) {
	n := newNight(t, threeGangs)
	now = func() time.Time { return time.Unix(0, 0).UTC() }
	t.Cleanup(func() { now = time.Now })
	args := []string{"batch", "--shop", n.shop, "--orders", n.orders, "--out", n.out}
	got := laneplan(t, args...)
	assert.Equal(t, ran{exitInput, "", "laneplan: the clock says 1970-01-01: set it, or name the day with --date\n"}, got)
	assert.NoDirExists(t, n.out)
	assert.Equal(t, exitDone, n.run(t).code)
}

func init() {
	batchFlagTests := map[string]func(*testing.T){
		"--shop": func(t *testing.T) {
			n := newNight(t, threeGangs)
			n.shop += ".not"
			assert.Equal(t, exitInput, n.run(t).code)
		},
		"--orders": func(t *testing.T) {
			n := newNight(t, threeGangs)
			more := file(t, "more.csv", orderHead+"9,Hill,dill,jar-70x100,paper-80,600,2026-12-01\n")
			require.Equal(t, exitDone, n.run(t, "--orders", more).code)
			assert.Equal(t, 4, n.summary(t).Totals.Gangs)
		},
		"--out": func(t *testing.T) {
			n := newNight(t, threeGangs)
			n.out = filepath.Join(t.TempDir(), "deep", "er")
			require.Equal(t, exitDone, n.run(t).code)
			assert.DirExists(t, filepath.Join(n.out, "lid-48-pp-60"))
		},
		"--budget": func(t *testing.T) {
			n := newNight(t, threeGangs)
			require.Equal(t, exitDone, n.run(t, "--budget", "1ms").code)
			g, err := planIn(filepath.Join(n.out, "lid-48-pp-60", "plan.json"))
			require.NoError(t, err)
			assert.Empty(t, g.Solve.Limits.Work)
			assert.NotEmpty(t, g.Solve.Limits.Seconds)
		},
		"--work": func(t *testing.T) {
			n := newNight(t, threeGangs)
			require.Equal(t, exitDone, n.run(t, "--work", "0.4").code)
			g, err := planIn(filepath.Join(n.out, "lid-48-pp-60", "plan.json"))
			require.NoError(t, err)
			assert.Equal(t, "0.1", g.Solve.Limits.Work.String(), "a quarter for the first plan")
		},
		"--gap": func(t *testing.T) {
			n := newNight(t, threeGangs)
			require.Equal(t, exitDone, n.run(t, "--gap", "99%").code)
			g, err := planIn(filepath.Join(n.out, "pouch-100x150-paper-80", "plan.json"))
			require.NoError(t, err)
			assert.Equal(t, "0.99", g.Solve.Limits.Gap.String())
		},
		"--jobs": func(t *testing.T) {
			n, m := newNight(t, threeGangs), newNight(t, threeGangs)
			require.Equal(t, exitDone, n.run(t, "--no-times", "--jobs", "1").code)
			require.Equal(t, exitDone, m.run(t, "--no-times", "--jobs", "3").code)
			assert.Equal(t, filesOf(t, n.out), filesOf(t, m.out), "it changes the time alone")
			assert.Equal(t, exitInput, n.run(t, "--jobs", "0").code)
		},
		"--seed": func(t *testing.T) {
			n := newNight(t, threeGangs)
			require.Equal(t, exitDone, n.run(t, "--seed", "7").code)
			g, err := planIn(filepath.Join(n.out, "pouch-100x150-paper-80", "plan.json"))
			require.NoError(t, err)
			assert.GreaterOrEqual(t, g.Solve.Seed, int64(7))
		},
		"--give-up": func(t *testing.T) {
			n := newNight(t, threeGangs)
			got := n.run(t, "--give-up", "1ns")
			assert.Equal(t, exitPartly, got.code)
			assert.Contains(t, n.summary(t).Gangs[0].Failure.Reason, "given up after 1ns")
		},
		"--engine": func(t *testing.T) {
			n := newNight(t, threeGangs)
			assert.Equal(t, exitInput, n.run(t, "--engine", filepath.Join(n.out, "highs")).code)
		},
		"--memory": func(t *testing.T) {
			n := newNight(t, threeGangs)
			got := n.run(t, "--memory", "1")
			assert.Equal(t, exitInput, got.code)
			assert.Contains(t, got.stderr, "want 32 to 2048")
		},
		"--date": func(t *testing.T) {
			n := newNight(t, threeGangs)
			require.Equal(t, exitDone, n.run(t, "--date", "2026-11-29").code)
			assert.Equal(t, "2026-11-29", n.summary(t).Date)
		},
		"--skip-bad": func(t *testing.T) {
			n := newNight(t, threeGangs+"5,Hill,,lid-48,pp-60,10,2026-12-01\n")
			assert.Equal(t, exitInput, n.run(t).code)
			require.Equal(t, exitDone, n.run(t, "--skip-bad").code)
			assert.DirExists(t, filepath.Join(n.out, "bad-rows"))
		},
		"--bad-rows": func(t *testing.T) {
			n := newNight(t, threeGangs+"5,Hill,,lid-48,pp-60,10,2026-12-01\n")
			bad := filepath.Join(t.TempDir(), "bad")
			require.Equal(t, exitDone, n.run(t, "--skip-bad", "--bad-rows", bad).code)
			assert.DirExists(t, bad)
		},
		"--no-split": func(t *testing.T) {
			folder := mill(t)
			pooled := func(more ...string) string {
				out := filepath.Join(t.TempDir(), "night")
				got := laneplan(t, append([]string{"batch", "--shop", filepath.Join(folder, starter.ShopFile), "--orders", filepath.Join(folder, starter.CSVFile),
					"--date", "2026-11-30", "--budget", "1ms", "--give-up", "1ns", "--out", out}, more...)...)
				require.Equal(t, exitPartly, got.code)
				return got.stderr
			}
			assert.Contains(t, pooled(), "gangs=8")
			assert.Contains(t, pooled("--no-split"), "gangs=7")
		},
		"--ledger": func(t *testing.T) {
			n := newNight(t, threeGangs)
			book := filepath.Join(t.TempDir(), "book.sqlite")
			require.Equal(t, exitDone, n.run(t, "--ledger", book).code)
			assert.FileExists(t, book)
			assert.NoFileExists(t, filepath.Join(n.out, "ledger.sqlite"))
		},
		"--no-times": func(t *testing.T) {
			n := newNight(t, threeGangs)
			require.Equal(t, exitDone, n.run(t).code)
			assert.NotNil(t, n.summary(t).Begun)
			require.Equal(t, exitDone, n.run(t, "--no-times").code)
			assert.Nil(t, n.summary(t).Begun)
		},
		"--log": func(t *testing.T) {
			n := newNight(t, threeGangs)
			assert.Contains(t, n.run(t).stderr, `level=INFO msg="batch begun"`)
			for line := range strings.Lines(n.run(t, "--log", "json").stderr) {
				var event map[string]any
				require.NoError(t, json.Unmarshal([]byte(line), &event), line)
				assert.NotEmpty(t, event["msg"])
			}
		},
	}
	for name, test := range batchFlagTests {
		flagTests["batch "+name] = test
	}
}
