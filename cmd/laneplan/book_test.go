package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/bookfile"
	"laneplan/jobs/planfile"
	"laneplan/jobs/starter"
)

// mill writes the starter's files and gives their folder.
func mill(t testing.TB) string {
	t.Helper()
	folder := filepath.Join(t.TempDir(), "mill")
	require.Equal(t, exitDone, laneplan(t, "init", folder).code)
	return folder
}

func TestExitCodesOfAnOrderBook(t *testing.T) {
	folder := mill(t)
	shop, orders := filepath.Join(folder, starter.ShopFile), filepath.Join(folder, starter.CSVFile)
	const head = "order,customer,version,die,stock,quantity,due\n"
	bad := file(t, "bad.csv", head+"1,Hill,cumin,jar-70x100,paper-80,0,2026-12-01\n")
	// 3,000,000 labels, 1,000,000 rows of 153 mm at 18 m a minute, by tonight.
	hasty := file(t, "hasty.csv", head+"1,Hill,cumin,pouch-100x150,paper-80,3000000,2026-11-30\n")
	wall := file(t, "wall", "")
	wide := file(t, "wide.csv", head+"1,Hill,cumin,pouch-100x150,paper-80,200000000,2026-11-30\n2,Hill,cumin,lid-48,pp-60,100,2026-11-30\n")
	for _, tt := range []struct {
		name string
		want int
		args []string
	}{
		{"pool", exitDone, []string{"pool", "--shop", shop, "--date", "2026-11-30", "--no-split", orders}},
		{"no shop", exitInput, []string{"pool", orders}},
		{"a shop that is not there", exitInput, []string{"pool", "--shop", shop + ".not", orders}},
		{"a shop that is an order book", exitInput, []string{"pool", "--shop", orders, orders}},
		{"no order book", exitInput, []string{"pool", "--shop", shop}},
		{"an order book that is not there", exitInput, []string{"plan", "--shop", shop, orders + ".not"}},
		{"a bad row", exitInput, []string{"plan", "--shop", shop, bad}},
		{"bad rows that cannot be written", exitInput, []string{"plan", "--shop", shop, "--skip-bad", "--bad-rows", filepath.Join(wall, "x"), bad, orders}},
		{"nothing but bad rows", exitInput, []string{"plan", "--shop", shop, "--skip-bad", "--bad-rows", t.TempDir(), bad}},
		{"a due date that no plan meets is told, and the late plan made", exitDone, []string{"plan", "--shop", shop, "--date", "2026-11-30", "--no-split", "--work", "0.1", hasty}},
		{"an order that is due and cannot run", exitInfeasible, []string{"plan", "--shop", shop, "--date", "2026-11-30", "--work", "0.1", wide}},
		{"pooling it says so and is done", exitDone, []string{"pool", "--shop", shop, "--date", "2026-11-30", wide}},
		{"a folder for init that cannot be made", exitInput, []string{"init", filepath.Join(wall, "x")}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := laneplan(t, tt.args...)
			assert.Equal(t, tt.want, got.code, got.stderr)
		})
	}
}

// amount is a figure of a JSON document, by its path.
func figure(t *testing.T, document any, path string) decimal.Decimal {
	t.Helper()
	for _, step := range strings.Split(path, ".") {
		inside, is := document.(map[string]any)
		require.True(t, is, path)
		document = inside[step]
	}
	number, is := document.(json.Number)
	require.True(t, is, "%s is %v", path, document)
	d, err := decimal.NewFromString(number.String())
	require.NoError(t, err)
	return d
}

func decoded(t *testing.T, text string) map[string]any {
	t.Helper()
	decoder := json.NewDecoder(strings.NewReader(text))
	decoder.UseNumber()
	var document map[string]any
	require.NoError(t, decoder.Decode(&document))
	return document
}

func valid(t *testing.T, schema []byte, document any) {
	t.Helper()
	parsed, err := jsonschema.UnmarshalJSON(bytes.NewReader(schema))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("schema.json", parsed))
	compiled, err := c.Compile("schema.json")
	require.NoError(t, err)
	assert.NoError(t, compiled.Validate(document))
}

func TestAPlannedBookAddsUp(t *testing.T) {
	folder := mill(t)
	// The lids and pouches of the example.
	text, err := os.ReadFile(filepath.Join(folder, starter.CSVFile))
	require.NoError(t, err)
	var some []string
	for _, row := range strings.SplitAfter(string(text), "\n") {
		if !strings.Contains(row, ",jar-70x100,paper-80,") {
			some = append(some, row)
		}
	}
	args := []string{"plan", "--shop", filepath.Join(folder, starter.ShopFile), "--date", starter.PlanningDate, "--work", "0.5",
		"--no-times", "--format", "json", file(t, "some.csv", strings.Join(some, ""))}
	got := laneplan(t, args...)
	require.Equal(t, exitDone, got.code, got.stderr)
	document := decoded(t, got.stdout)
	valid(t, planfile.Schema, document)
	valid(t, bookfile.Schema, map[string]any{"laneplan": document["laneplan"], "book": document["book"]})

	gangs, book := document["gangs"].([]any), document["book"].(map[string]any)
	pooled := book["gangs"].([]any)
	require.Len(t, gangs, len(pooled))
	var cost, alone decimal.Decimal
	labels := 0
	for i := range gangs {
		plan, gang := gangs[i].(map[string]any), pooled[i].(map[string]any)
		assert.Equal(t, plan["id"], gang["id"])
		assert.Len(t, plan["versions"], int(figure(t, gang, "versions").IntPart()))
		elsewhere := decimal.Zero
		for _, kind := range plan["cost"].(map[string]any)["kinds"].([]any) {
			if kind.(map[string]any)["kind"] == "fillers printed another day" {
				elsewhere = figure(t, kind, "cost")
			}
		}
		ran := figure(t, plan, "cost.total").Sub(elsewhere)
		// Each of the two figures is rounded to a cent.
		assert.True(t, ran.Sub(figure(t, gang, "cost")).Abs().LessThanOrEqual(decimal.New(1, -2)), "%v", gang["id"])
		assert.True(t, figure(t, gang, "cost").LessThanOrEqual(figure(t, gang, "cost_alone")), "%v", gang["id"])
		cost, alone = cost.Add(figure(t, gang, "cost")), alone.Add(figure(t, gang, "cost_alone"))
		labels += int(figure(t, plan, "totals.labels_ordered").IntPart())
	}
	assert.Equal(t, cost.String(), figure(t, book, "totals.cost").String())
	assert.Equal(t, alone.String(), figure(t, book, "totals.cost_alone").String())
	assert.Equal(t, alone.Sub(cost).String(), figure(t, book, "totals.saving").String())
	assert.Equal(t, int64(labels), figure(t, book, "totals.labels").IntPart())

	again := laneplan(t, args...)
	assert.Equal(t, got.stdout, again.stdout, "the same book gives the same bytes")
}

func TestTheGoodGangsOfABookAreWritten(t *testing.T) {
	folder := mill(t)
	orders := file(t, "orders.csv", "order,customer,version,die,stock,quantity,due\n"+
		"1,Hill,cumin,pouch-100x150,paper-80,200000000,2026-11-30\n2,Dale,mace,lid-48,pp-60,500,2026-12-01\n")
	out := filepath.Join(t.TempDir(), "plans.json")
	got := laneplan(t, "plan", "--shop", filepath.Join(folder, starter.ShopFile), "--date", "2026-11-30", "--work", "0.1", orders, "--out", out)
	assert.Equal(t, exitInfeasible, got.code)
	assert.Contains(t, got.stderr, "order 1 is due and cannot run: ")
	data, err := os.ReadFile(out)
	require.NoError(t, err)
	document := decoded(t, string(data))
	require.Len(t, document["gangs"], 1)
	assert.Equal(t, "lid-48-pp-60", document["gangs"].([]any)[0].(map[string]any)["id"])
}

func init() {
	flagTests["check --shop"] = func(t *testing.T) {
		folder := mill(t)
		shop, orders := filepath.Join(folder, starter.ShopFile), filepath.Join(folder, starter.CSVFile)
		assert.Equal(t, exitInput, laneplan(t, "check", shop).code, "it is no job file")
		got := laneplan(t, "check", "--shop", shop, orders)
		require.Equal(t, exitDone, got.code, got.stderr)
		assert.Contains(t, got.stdout, "44 versions in 20 orders of 4 customers")
	}
	// verified runs verify on the plans of smallBook, made on 2026-11-30
	// without a comparison of set-ups.
	verified := func(t *testing.T, bad bool, args ...string) ran {
		book := append(smallBook(t, bad), "--date", "2026-11-30", "--no-split")
		out := filepath.Join(t.TempDir(), "plans.json")
		made := laneplan(t, append(append([]string{"plan", "--work", "0.1", "--skip-bad", "--bad-rows", t.TempDir(), "--out", out}, book...), "--format", "json")...)
		require.Equal(t, exitDone, made.code, made.stderr)
		return laneplan(t, append(append([]string{"verify", out}, book...), args...)...)
	}
	flagTests["verify --shop"] = func(t *testing.T) {
		got := verified(t, false)
		require.Equal(t, exitDone, got.code, got.stderr)
		assert.Contains(t, got.stdout, "all plans of the order book hold")
	}
	flagTests["verify --date"] = func(t *testing.T) {
		got := verified(t, false, "--date", "2026-11-10")
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "holds a plan of gang lid-48-pp-60, which the order book does not make on 2026-11-10")
	}
	flagTests["verify --no-split"] = func(t *testing.T) {
		got := verified(t, false, "--no-split=false")
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "holds no plan of gang jar-70x100-paper-80-a")
	}
	flagTests["verify --skip-bad"] = func(t *testing.T) {
		assert.Equal(t, exitInput, verified(t, true).code)
		assert.Equal(t, exitDone, verified(t, true, "--skip-bad", "--bad-rows", t.TempDir()).code)
	}
	flagTests["verify --bad-rows"] = func(t *testing.T) {
		folder := filepath.Join(t.TempDir(), "set-aside")
		require.Equal(t, exitDone, verified(t, true, "--skip-bad", "--bad-rows", folder).code)
		assert.DirExists(t, folder)
	}
}

func TestLateOrdersOfABook(t *testing.T) {
	folder := mill(t)
	shop := filepath.Join(folder, starter.ShopFile)
	data, err := os.ReadFile(shop)
	require.NoError(t, err)
	// An hour a day: 18 and 43.5 minutes do not fit into the first.
	require.NoError(t, os.WriteFile(shop, []byte(strings.ReplaceAll(string(data), "hours_a_day: 15", "hours_a_day: 1")), 0o644))
	orders := file(t, "orders.csv", "order,customer,version,die,stock,quantity,due\n"+
		"1,Hill,cumin,pouch-100x150,paper-80,9000,2026-11-30\n2,Dale,mace,lid-48,pp-60,500,2026-11-30\n3,Dale,mint,pouch-100x150,pp-60,300,2026-12-01\n")
	args := []string{"plan", "--shop", shop, "--date", "2026-11-30", "--work", "0.1", "--no-times", orders}
	got := laneplan(t, args...)
	require.Equal(t, exitDone, got.code, got.stderr)
	words := strings.Join(strings.Fields(got.stdout), " ")
	for _, want := range []string{
		"digital-1 1 lid-48-pp-60 2026-11-30 06:00 2026-11-30 06:19 18.3 2026-11-30",
		"digital-1 2 pouch-100x150-paper-80 2026-11-30 06:19 2026-12-01 06:02 43.5 2026-11-30",
		"digital-1 3 pouch-100x150-pp-60 2026-12-01 06:02 2026-12-01 06:21 18.9 2026-12-01",
		"Late: order 1 is due 2026-11-30 and is ready 2026-12-01 06:02 (gang pouch-100x150-paper-80)",
	} {
		assert.True(t, strings.Contains(words, want), want)
	}
	assert.Equal(t, 1, strings.Count(got.stdout, "Late: "))
	quiet := laneplan(t, append(args, "--format", "json")...)
	require.Equal(t, exitDone, quiet.code, quiet.stderr)
	assert.Contains(t, quiet.stderr, "Late: order 1 is due 2026-11-30")
	valid(t, planfile.Schema, decoded(t, quiet.stdout))
}

// smallBook is a shop and an order book of a few lines, one of them bad where
// bad is true.
func smallBook(t *testing.T, bad bool) []string {
	t.Helper()
	rows := "order,customer,version,die,stock,quantity,due\n" +
		"1,Hill,red,lid-48,pp-60,900,2026-12-01\n2,Dale,blue,lid-48,pp-60,700,2026-12-09\n" +
		"3,Dale,long,jar-70x100,paper-80,60000,2026-12-01\n4,Hill,a,jar-70x100,paper-80,300,2026-12-01\n" +
		"4,Hill,b,jar-70x100,paper-80,250,2026-12-01\n4,Hill,c,jar-70x100,paper-80,150,2026-12-01\n4,Hill,d,jar-70x100,paper-80,100,2026-12-01\n"
	if bad {
		rows += "5,Hill,x,lid-48,pp-60,0,2026-12-01\n"
	}
	return []string{"--shop", filepath.Join(mill(t), starter.ShopFile), file(t, "small.csv", rows)}
}

// onBook runs a command on a book.
func onBook(t *testing.T, command string, book []string, args ...string) ran {
	t.Helper()
	if command == "plan" {
		args = append(args, "--work", "0.1", "--no-times")
	}
	return laneplan(t, append(append([]string{command}, book...), args...)...)
}

func init() {
	for _, command := range []string{"pool", "plan"} {
		flagTests[command+" --shop"] = func(t *testing.T) {
			book := smallBook(t, false)
			assert.Equal(t, exitInput, laneplan(t, command, book[2]).code)
			assert.Equal(t, exitDone, onBook(t, command, book, "--date", "2026-11-30").code)
		}
		flagTests[command+" --date"] = func(t *testing.T) {
			book := smallBook(t, false)
			early, late := onBook(t, command, book, "--date", "2026-11-30"), onBook(t, command, book, "--date", "2026-12-08")
			assert.Contains(t, early.stdout, "filler")
			assert.NotContains(t, late.stdout, "filler")
			assert.Contains(t, late.stdout, "gang window until 2026-12-11")
		}
		flagTests[command+" --skip-bad"] = func(t *testing.T) {
			book := smallBook(t, true)
			assert.Equal(t, exitInput, onBook(t, command, book).code)
			assert.Equal(t, exitDone, onBook(t, command, book, "--skip-bad", "--bad-rows", t.TempDir()).code)
		}
		flagTests[command+" --bad-rows"] = func(t *testing.T) {
			folder := filepath.Join(t.TempDir(), "bad")
			got := onBook(t, command, smallBook(t, true), "--skip-bad", "--bad-rows", folder)
			require.Equal(t, exitDone, got.code, got.stderr)
			data, err := os.ReadFile(filepath.Join(folder, "small-bad.csv"))
			require.NoError(t, err)
			assert.Contains(t, string(data), "5,Hill,x")
		}
		flagTests[command+" --no-split"] = func(t *testing.T) {
			book := smallBook(t, false)
			assert.Contains(t, onBook(t, command, book, "--date", "2026-11-30").stdout, "One set-up or several:")
			assert.NotContains(t, onBook(t, command, book, "--date", "2026-11-30", "--no-split").stdout, "One set-up or several:")
		}
	}
	// explained explains the plans of a book.
	explained := func(t *testing.T, bad bool, args ...string) ran {
		t.Helper()
		plans := filepath.Join(t.TempDir(), "plans.json")
		args = append(args, "--date", "2026-11-30")
		made := laneplan(t, append(append([]string{"plan"}, smallBook(t, false)...), append(args, "--work", "0.1", "-o", plans)...)...)
		require.Equal(t, exitDone, made.code, made.stderr)
		return laneplan(t, append(append([]string{"explain", plans, "--work", "0.02"}, smallBook(t, bad)...), args...)...)
	}
	flagTests["explain --shop"] = func(t *testing.T) {
		got := explained(t, false, "--no-split")
		require.Equal(t, exitDone, got.code, got.stderr)
		assert.Contains(t, got.stdout, "Why the plan of lid-48-pp-60 costs")
		assert.Contains(t, got.stdout, "Why the plan of jar-70x100-paper-80 costs")
	}
	flagTests["explain --date"] = func(t *testing.T) {
		got := laneplan(t, "explain", byHand, covers, "--date", "2026-11-30")
		assert.Equal(t, exitInput, got.code)
		assert.Equal(t, exitDone, explained(t, false, "--no-split").code)
	}
	flagTests["explain --skip-bad"] = func(t *testing.T) {
		assert.Equal(t, exitInput, explained(t, true, "--no-split").code)
		got := explained(t, true, "--no-split", "--skip-bad", "--bad-rows", t.TempDir())
		assert.Equal(t, exitDone, got.code, got.stderr)
	}
	flagTests["explain --bad-rows"] = func(t *testing.T) {
		folder := filepath.Join(t.TempDir(), "bad")
		require.Equal(t, exitDone, explained(t, true, "--no-split", "--skip-bad", "--bad-rows", folder).code)
		assert.FileExists(t, filepath.Join(folder, "small-bad.csv"))
	}
	flagTests["explain --no-split"] = func(t *testing.T) {
		// Without it the order book is divided by plans, into other gangs.
		assert.NotEqual(t, explained(t, false).stdout, explained(t, false, "--no-split").stdout)
	}
	flagTests["pool --format"] = func(t *testing.T) {
		book := smallBook(t, false)
		assert.Contains(t, onBook(t, "pool", book).stdout, "Order book on")
		assert.Contains(t, onBook(t, "pool", book, "-f", "json").stdout, `"book": {`)
		assert.Contains(t, onBook(t, "pool", book, "-f", "csv").stdout, "gang,press,die")
	}
	flagTests["init --replace"] = func(t *testing.T) {
		folder := mill(t)
		assert.Equal(t, exitInput, laneplan(t, "init", folder).code)
		assert.Equal(t, exitDone, laneplan(t, "init", folder, "--replace").code)
	}
}

// afterFirst ends a context as soon as something was written to it.
type afterFirst struct {
	bytes.Buffer
	cancel context.CancelFunc
}

func (w *afterFirst) Write(data []byte) (int, error) {
	w.cancel()
	return w.Buffer.Write(data)
}

func TestAnInterruptedBookWritesWhatItHas(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var stdout bytes.Buffer
	// The first line of progress is the first plan of the first gang.
	stderr := &afterFirst{cancel: cancel}
	args := append([]string{"plan", "--progress", "--no-split", "--date", "2026-11-30", "-f", "json"}, smallBook(t, false)...)
	assert.Equal(t, exitInterrupted, run(ctx, args, &stdout, stderr))
	assert.Contains(t, stderr.String(), "interrupted after 1 of 2 gangs; their best plans so far are written")
	document := decoded(t, stdout.String())
	require.Len(t, document["gangs"], 1)
	book := document["book"].(map[string]any)
	assert.Len(t, book["gangs"], 2)
	assert.NotContains(t, book["totals"], "cost")

	stdout.Reset()
	assert.Equal(t, exitInterrupted, run(ctx, append([]string{"pool", "--date", "2026-11-30"}, smallBook(t, false)...), &stdout, &bytes.Buffer{}))
	assert.Empty(t, stdout.String())
}
