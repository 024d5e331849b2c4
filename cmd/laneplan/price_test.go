package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/price/quotefile"
)

// jar is a small job of two orders; %s are its further fields and orders.
const jar = `laneplan: 1
gang: jar
currency: EUR
die: {id: d1, across: 60mm, around: 97mm, lanes: 4, gap_across: 3mm, gap_around: 3mm, web: 260mm}
stock: {id: paper, price_per_m2: 0.5}
press: {id: p1, speed: 20m/min, hourly_rate: 90, setup_minutes: 20, setup_web: 30m, changeover_minutes: 2, changeover_web: 5m}
labels_per_roll: 500
%s
orders:
%s`

const (
	jarOrders = `  - {id: o1, customer: Mill, rush: true, versions: [{id: cumin, quantity: 4000}, {id: thyme, quantity: 2000}]}
  - {id: o2, customer: Shop, versions: [{id: mace, quantity: 1000}]}
`
	jarNew     = "  - {id: o3, customer: Inn, versions: [{id: dill, quantity: 800}]}\n"
	jarPricing = "pricing: {markup: 50%, minimum_price: 20}\n"
)

func jarFile(t *testing.T) string {
	return file(t, "jar.yaml", fmt.Sprintf(jar, jarPricing, jarOrders))
}

// pricedJar runs price on the small job and gives its document.
func pricedJar(t *testing.T, args ...string) quotefile.Document {
	t.Helper()
	return document(t, append([]string{jarFile(t), "--work", "0.5"}, args...)...)
}

func document(t *testing.T, args ...string) quotefile.Document {
	t.Helper()
	got := laneplan(t, append([]string{"price", "-f", "json"}, args...)...)
	require.Equal(t, exitDone, got.code, got.stderr)
	schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(quotefile.Schema))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("schema.json", schema))
	compiled, err := c.Compile("schema.json")
	require.NoError(t, err)
	instance, err := jsonschema.UnmarshalJSON(strings.NewReader(got.stdout))
	require.NoError(t, err)
	require.NoError(t, compiled.Validate(instance))
	var d quotefile.Document
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &d))
	return d
}

func TestPriceAddsUp(t *testing.T) {
	for _, rule := range []string{"fair", "proportional", "equal-savings", "separable", "shapley", "nucleolus"} {
		d := pricedJar(t, "--rule", rule)
		require.Len(t, d.Gangs, 1)
		g := d.Gangs[0]
		assert.Equal(t, "EUR", d.Currency)
		assert.Equal(t, "left out", d.Tax)
		assert.Equal(t, rule, g.Rule)
		sum := decimal.Zero
		for _, o := range g.Orders {
			share := decimal.RequireFromString(o.Share)
			sum = sum.Add(share)
			assert.Equal(t, o.Saving, decimal.RequireFromString(o.Alone).Sub(share).StringFixed(2))
			require.NotNil(t, o.Price)
			assert.Equal(t, decimal.Max(decimal.NewFromInt(20), share.Mul(decimal.RequireFromString("1.5")).Round(2)).StringFixed(2), *o.Price)
		}
		assert.Equal(t, g.Cost, sum.StringFixed(2), rule)
		lines := decimal.Zero
		for _, l := range g.Lines {
			lines = lines.Add(decimal.RequireFromString(l.Amount))
		}
		assert.Equal(t, g.Cost, lines.StringFixed(2))
	}
}

func TestPriceIsTheSameEachTime(t *testing.T) {
	path := jarFile(t)
	one := laneplan(t, "price", path, "-f", "json", "--work", "0.5", "--workers", "1")
	for range 2 {
		assert.Equal(t, one, laneplan(t, "price", path, "-f", "json", "--work", "0.5", "--workers", "3"))
	}
	for _, format := range []string{"pdf", "csv", "text"} {
		assert.Equal(t, laneplan(t, "price", path, "-f", format, "--work", "0.5"), laneplan(t, "price", path, "-f", format, "--work", "0.5"), format)
	}
}

func TestPriceOfTheMillsOrderBook(t *testing.T) {
	book := smallBook(t, false)
	d := document(t, append([]string{"--date", "2026-11-30", "--no-split", "--work", "0.2"}, book...)...)
	require.NotEmpty(t, d.Gangs)
	for _, g := range d.Gangs {
		sum := decimal.Zero
		for _, o := range g.Orders {
			sum = sum.Add(decimal.RequireFromString(o.Share))
			require.NotNil(t, o.Price, "the starter's shop file sets a markup")
		}
		assert.Equal(t, g.Cost, sum.StringFixed(2), g.ID)
	}

	// One order more, in its own file.
	lines, err := os.ReadFile(book[2])
	require.NoError(t, err)
	rows := strings.SplitAfter(string(lines), "\n")
	added := strings.Replace(rows[len(rows)-2], strings.Split(rows[len(rows)-2], ",")[0]+",", "new,", 1)
	further := file(t, "new.csv", rows[0]+added)
	d = document(t, append([]string{"--date", "2026-11-30", "--no-split", "--work", "0.2", "--add", further}, book...)...)
	require.Len(t, d.Gangs, 1)
	require.Len(t, d.Gangs[0].Additions, 1)
	assert.Equal(t, []string{"new"}, d.Gangs[0].Additions[0].Orders)
	got := laneplan(t, append([]string{"price", "--add", book[2]}, book...)...)
	assert.Equal(t, exitInput, got.code)
	assert.Contains(t, got.stderr, "is in the order book already")
}

func TestPriceRefuses(t *testing.T) {
	job := func(further, orders string) string { return file(t, "job.yaml", fmt.Sprintf(jar, further, orders)) }
	good := job("", jarOrders)
	dollars := file(t, "dollars.yaml", strings.Replace(fmt.Sprintf(jar, "", jarNew), "EUR", "USD", 1))
	narrow := file(t, "narrow.yaml", strings.Replace(fmt.Sprintf(jar, "", jarNew), "lanes: 4", "lanes: 3", 1))
	unpriced := file(t, "unpriced.yaml", strings.Replace(fmt.Sprintf(jar, "", jarOrders), "price_per_m2: 0.5", "name: Paper", 1))
	idle := file(t, "idle.yaml", strings.Replace(fmt.Sprintf(jar, "", jarOrders), "hourly_rate: 90", "hourly_rate: 0", 1))
	tests := []struct {
		name string
		args []string
		want string
	}{
		{"a missing price of the stock", []string{unpriced}, "unpriced.yaml:5:8: price_per_m2: this field is missing"},
		{"a missing hourly rate", []string{idle}, "idle.yaml:6:46: hourly_rate: press p1 has no hourly rate, so no cost can be told: want an amount above 0"},
		{"a negative price", []string{job("rates: {core_price: -1}", jarOrders)}, "job.yaml:8:21: core_price: want a number from 0 up, got -1"},
		{"a margin of 100 %", []string{job("pricing: {margin: 100%}", jarOrders)}, "job.yaml:8:19: margin: want a margin from 0% to less than 100%, got 100%"},
		{"an unknown rule in the file", []string{job("pricing: {rule: fairest}", jarOrders)}, "job.yaml:8:17: rule: want one of fair, proportional, equal-savings, separable, shapley, nucleolus, got \"fairest\""},
		{"an unknown rule", []string{good, "--rule", "fairest"}, `--rule: unknown rule "fairest", want one of fair, `},
		{"two currencies", []string{good, dollars}, `dollars.yaml:3:11: currency: want that of `},
		{"two currencies, one added", []string{good, "--add", dollars}, `dollars.yaml:3:11: currency: want that of the gang to add to, "EUR", got "USD"`},
		{"another die", []string{good, "--add", narrow}, `lanes: want that of the gang to add to, "4", got "3"`},
		{"an order that is there", []string{good, "--add", good}, "has one of that id already"},
		{"a ladder with a zero", []string{good, "--ladder", "mace=250,0"}, `--ladder: mace: want quantities from 1 to 1000000000, got "0"`},
		{"a ladder without quantities", []string{good, "--ladder", "mace"}, "--ladder: want a version and its quantities, such as saffron=250,500,1000, got \"mace\""},
		{"a ladder of no version", []string{good, "--ladder", "basil=250"}, "--ladder: no gang has a version basil"},
		{"an unknown variation", []string{good, "--vary", "weather=1"}, `--vary: unknown "weather"`},
		{"what a job file has not", []string{good, "--vary", "row_cost=1,2"}, "row_cost: cannot be varied here: only a bare problem has one"},
		{"a plot of nothing", []string{good, "--plot", "x.svg"}, "--plot: draws what --vary shows"},
		{"a rule for a ladder", []string{good, "--ladder", "mace=1", "--rule", "fair"}, "--rule: is for shares"},
		{"a time limit for a comparison", []string{good, "--add", good, "--time", "1s"}, "--time: --add, --ladder and --vary compare plans of equal work"},
		{"a trace of a ladder", []string{good, "--ladder", "mace=1", "--trace"}, "--trace: is for the cost"},
		{"a plan for a ladder", []string{good, "--ladder", "mace=1", "--plan", "p.json"}, "--plan: is for shares"},
		{"too many exact orders", []string{good, "--exact-orders", "40"}, "--exact-orders: want at most 16, got 40"},
		{"a book's flag without a book", []string{good, "--no-split"}, "--no-split: is for an order book, with --shop"},
		{"a folder that is not there", []string{good, "--out", filepath.Join(good, "quote.pdf")}, "--out: "},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := laneplan(t, append([]string{"price", "--work", "0.1"}, tt.args...)...)
			assert.Equal(t, exitInput, got.code, got.stderr)
			assert.Contains(t, got.stderr, tt.want)
			assert.Empty(t, got.stdout)
		})
	}
}

func TestNoPriceIsMadeUp(t *testing.T) {
	path := file(t, "jar.yaml", fmt.Sprintf(jar, "", jarOrders))
	d := document(t, path, "--work", "0.3")
	for _, o := range d.Gangs[0].Orders {
		assert.Nil(t, o.Price)
		assert.Nil(t, o.PerThousand)
	}
	assert.Contains(t, d.Gangs[0].NotSet, "rates.core_price")
	text := laneplan(t, "price", path, "--work", "0.3").stdout
	assert.Contains(t, text, "No prices: the shop has set neither markup nor margin.")
	assert.Contains(t, text, "Not set by the shop and counted as nothing: ")
	d = document(t, path, "--work", "0.3", "--ladder", "mace=250,500")
	assert.Nil(t, d.Gangs[0].Ladders[0].Rungs[0].Alone.Price)
}

func TestAGangWithoutAPlanHasNoPrice(t *testing.T) {
	// Three versions cannot run in one section of two versions.
	path := file(t, "tight.yaml", fmt.Sprintf(jar, "rules: {most_sections: 1, versions_per_section: 2}", jarOrders))
	for _, args := range [][]string{nil, {"--ladder", "mace=250"}, {"--add", file(t, "new.yaml", fmt.Sprintf(jar, "", jarNew))}} {
		got := laneplan(t, append([]string{"price", path, "--work", "0.2"}, args...)...)
		assert.Equal(t, exitInfeasible, got.code, "%v: %s", args, got.stderr)
		assert.Empty(t, got.stdout)
	}
}

func TestAnInterruptedPriceWritesNothing(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	out := filepath.Join(t.TempDir(), "quote.json")
	for _, args := range [][]string{{"-o", out}, {"-o", out, "--ladder", "mace=5"}} {
		var stdout, stderr bytes.Buffer
		code := run(ctx, append([]string{"price", jarFile(t)}, args...), &stdout, &stderr)
		assert.Equal(t, exitInterrupted, code, stderr.String())
		assert.Empty(t, stdout.String())
		assert.NoFileExists(t, out)
	}
}

// The mill's markup is cut to 0.1 %; the plan's gap after little work is wider.
func TestAPriceOnAWideGapIsWarnedOf(t *testing.T) {
	text, err := os.ReadFile(demo)
	require.NoError(t, err)
	path := file(t, "mill.yaml", regexp.MustCompile(`markup: [0-9]+%`).ReplaceAllString(string(text), "markup: 0.1%"))
	args := []string{path, "--work", "0.5", "--rule", "separable", "--exact-orders", "1"}
	g := document(t, args...).Gangs[0]
	require.NotNil(t, g.Gap)
	gap, err := g.Gap.Float64()
	require.NoError(t, err)
	require.Greater(t, gap, 0.001)
	require.Len(t, g.Warnings, 1)
	assert.Contains(t, g.Warnings[0], "all orders together: the plan may cost up to ")
	assert.Contains(t, laneplan(t, append([]string{"price"}, args...)...).stdout, "\nLook out:\nAll orders together")
}

func init() {
	flagTests["price --format"] = func(t *testing.T) {
		path := jarFile(t)
		for format, want := range map[string]string{"text": "Gang jar: cost ", "json": `"laneplan": 1`, "csv": "gang,order,customer,labels,alone", "pdf": "%PDF-", "html": "<!DOCTYPE html>"} {
			assert.Contains(t, laneplan(t, "price", path, "--work", "0.3", "-f", format).stdout, want)
		}
	}
	flagTests["price --out"] = func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "quote.pdf")
		assert.Equal(t, ran{}, laneplan(t, "price", jarFile(t), "--work", "0.3", "-o", path))
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.True(t, bytes.HasPrefix(data, []byte("%PDF-")), "the ending chooses the format")
	}
	flagTests["price --rule"] = func(t *testing.T) {
		fair, proportional := pricedJar(t), pricedJar(t, "--rule", "proportional")
		assert.Equal(t, "fair", fair.Gangs[0].Rule)
		assert.NotEqual(t, fair.Gangs[0].Orders[0].Share, proportional.Gangs[0].Orders[0].Share)
	}
	flagTests["price --trace"] = func(t *testing.T) {
		path := jarFile(t)
		const line = "press time, job, set-up: 0.333333333 h × 90 = 30.00 (20 min; press p1: hourly_rate)"
		assert.NotContains(t, laneplan(t, "price", path, "--work", "0.3").stdout, line)
		assert.Contains(t, laneplan(t, "price", path, "--work", "0.3", "--trace").stdout, line)
	}
	flagTests["price --plan"] = func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "plan.json")
		// Three sections of one version each: dearer than what a search finds.
		require.NoError(t, os.WriteFile(path, []byte(`{"laneplan": 1, "gangs": [{"id": "jar", "lanes": 4, "sections": [
			{"number": 1, "rows": 1000, "lanes": ["cumin", "cumin", "cumin", "cumin"]},
			{"number": 2, "rows": 500, "lanes": ["thyme", "thyme", "thyme", "thyme"]},
			{"number": 3, "rows": 250, "lanes": ["mace", "mace", "mace", "mace"]}]}]}`), 0o600))
		d := pricedJar(t, "--plan", path)
		assert.Len(t, d.Gangs[0].Sections, 4, "the job as a whole and three sections")
		assert.Nil(t, d.Gangs[0].Gap, "the file states none")
		assert.NotEqual(t, pricedJar(t).Gangs[0].Cost, d.Gangs[0].Cost)
	}
	flagTests["price --add"] = func(t *testing.T) {
		d := pricedJar(t, "--add", file(t, "new.yaml", fmt.Sprintf(jar, "", jarNew)))
		a := d.Gangs[0].Additions[0]
		assert.Equal(t, []string{"o3"}, a.Orders)
		assert.Equal(t, a.Added, a.Floor)
		floor, ceiling := decimal.RequireFromString(a.Floor), decimal.RequireFromString(a.Ceiling)
		assert.True(t, floor.LessThan(ceiling), "%s, %s", floor, ceiling)
		assert.Len(t, a.Rush, 2)
		assert.Empty(t, d.Gangs[0].Orders)
	}
	flagTests["price --ladder"] = func(t *testing.T) {
		d := pricedJar(t, "--ladder", "mace=250,1000", "--ladder", "cumin=500")
		require.Len(t, d.Gangs[0].Ladders, 2)
		l := d.Gangs[0].Ladders[0]
		assert.Equal(t, "mace", l.Version)
		require.Len(t, l.Rungs, 2)
		assert.Equal(t, 1000, l.Rungs[1].Quantity)
		assert.NotNil(t, l.Rungs[1].Alone.PerThousand)
		assert.Contains(t, laneplan(t, "price", jarFile(t), "--work", "0.2", "-f", "csv", "--ladder", "mace=250").stdout, "gang,order,version,labels,alone_cost")
	}
	flagTests["price --vary"] = func(t *testing.T) {
		d := pricedJar(t, "--vary", "hourly_rate=45,180", "--vary", "stock_price=+10%,-10%")
		require.Len(t, d.Gangs[0].Curves, 2)
		points := d.Gangs[0].Curves[0].Points
		assert.True(t, decimal.RequireFromString(*points[0].Cost).LessThan(decimal.RequireFromString(*points[1].Cost)))
	}
	flagTests["price --plot"] = func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "vary.svg")
		pricedJar(t, "--vary", "hourly_rate=45,180", "--plot", path)
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Contains(t, string(data), "<svg")
		assert.Contains(t, string(data), "hourly_rate")
		page := laneplan(t, "price", jarFile(t), "--work", "0.3", "--vary", "hourly_rate=45,180", "--vary", "stock_price=-10%,+10%", "--vary", "speed=+10%", "-f", "html").stdout
		assert.Equal(t, 2, strings.Count(page, "<svg"), "a drawing for each but the one of a single value")
		assert.NotContains(t, page, "<?xml")
		assert.Equal(t, 2, strings.Count(page, "</figure>"))
	}
	flagTests["price --time"] = func(t *testing.T) {
		limit, _ := parsed(t, priceTime).limits()
		assert.Equal(t, priceTime, limit, "the default")
	}
	flagTests["price --work"] = func(t *testing.T) {
		gap := func(work string) string {
			d := document(t, demo, "--rule", "separable", "--exact-orders", "1", "--work", work)
			return d.Gangs[0].Gap.String()
		}
		assert.NotEqual(t, gap("0.2"), gap("4"))
	}
	flagTests["price --gap"] = func(t *testing.T) {
		assert.Zero(t, parsed(t, priceTime).options().Gap)
		assert.InDelta(t, 0.3, parsed(t, priceTime, "--gap", "30%").options().Gap, 1e-9)
	}
	flagTests["price --seed"] = func(t *testing.T) {
		// Two random orders of arrival out of two: another seed may draw
		// another pair.
		shares := map[string]bool{}
		for _, seed := range []string{"1", "2", "3", "4"} {
			d := pricedJar(t, "--rule", "shapley", "--exact-orders", "1", "--samples", "1", "--seed", seed)
			shares[d.Gangs[0].Orders[0].Share] = true
		}
		assert.Greater(t, len(shares), 1)
	}
	flagTests["price --workers"] = func(t *testing.T) {
		assert.Equal(t, pricedJar(t, "--workers", "1"), pricedJar(t, "--workers", "3"), "it changes no price")
		assert.Equal(t, 3, parsed(t, priceTime, "--workers", "3").options().Workers, "only how many plan")
	}
	flagTests["price --engine"] = func(t *testing.T) {
		got := laneplan(t, "price", jarFile(t), "--engine", filepath.Join(t.TempDir(), "no-such-engine"))
		assert.Equal(t, exitInput, got.code)
	}
	flagTests["price --exact-orders"] = func(t *testing.T) {
		d := pricedJar(t, "--exact-orders", "1")
		assert.Nil(t, d.Gangs[0].Core)
		assert.NotNil(t, pricedJar(t).Gangs[0].Core)
	}
	flagTests["price --share-work"] = func(t *testing.T) {
		notes := func(args ...string) string {
			return strings.Join(document(t, append([]string{demo, "--work", "0.5"}, args...)...).Gangs[0].Notes, "\n")
		}
		assert.Contains(t, notes("--share-work", "0.002"), "0.002 a version")
		assert.NotContains(t, notes(), "0.002 a version")
	}
	flagTests["price --samples"] = func(t *testing.T) {
		d := pricedJar(t, "--rule", "shapley", "--exact-orders", "1", "--samples", "7")
		assert.Contains(t, strings.Join(d.Gangs[0].Notes, "\n"), "7 random orders")
	}
	flagTests["price --quiet"] = func(t *testing.T) {
		path := jarFile(t)
		assert.Contains(t, onTerminal(t, "price", path, "--work", "0.3"), "sub-gangs planned")
		assert.Empty(t, onTerminal(t, "price", path, "--work", "0.3", "--quiet"))
	}
	flagTests["price --shop"] = func(t *testing.T) {
		book := smallBook(t, false)
		assert.Equal(t, exitInput, laneplan(t, "price", book[2]).code)
	}
	pricedBook := func(t *testing.T, book []string, args ...string) ran {
		return laneplan(t, append(append([]string{"price", "--work", "0.1", "--rule", "separable", "-f", "csv"}, book...), args...)...)
	}
	flagTests["price --date"] = func(t *testing.T) {
		book := smallBook(t, false)
		assert.NotEqual(t, pricedBook(t, book, "--date", "2026-11-30", "--no-split").stdout, pricedBook(t, book, "--date", "2026-11-16", "--no-split").stdout)
	}
	flagTests["price --skip-bad"] = func(t *testing.T) {
		book := smallBook(t, true)
		assert.Equal(t, exitInput, pricedBook(t, book, "--date", "2026-11-30").code)
		assert.Equal(t, exitDone, pricedBook(t, book, "--date", "2026-11-30", "--no-split", "--skip-bad", "--bad-rows", t.TempDir()).code)
	}
	flagTests["price --bad-rows"] = func(t *testing.T) {
		folder := filepath.Join(t.TempDir(), "bad")
		require.Equal(t, exitDone, pricedBook(t, smallBook(t, true), "--date", "2026-11-30", "--no-split", "--skip-bad", "--bad-rows", folder).code)
		assert.FileExists(t, filepath.Join(folder, "small-bad.csv"))
	}
	flagTests["price --no-split"] = func(t *testing.T) {
		book := smallBook(t, false)
		assert.NotEqual(t, pricedBook(t, book, "--date", "2026-11-30").stdout, pricedBook(t, book, "--date", "2026-11-30", "--no-split").stdout)
	}
}
