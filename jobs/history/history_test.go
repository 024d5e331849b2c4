package history_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"laneplan/jobs/history"
	"laneplan/jobs/ledger"
	"laneplan/jobs/report"
)

var update = flag.Bool("update", false, "write the golden files")

func dec(text string) *decimal.Decimal {
	d := decimal.RequireFromString(text)
	return &d
}

func on(day string) time.Time {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		panic(err)
	}
	return t.Add(9 * time.Hour)
}

// order of one version; good and spoiled are of a print run.
func order(id, customer string, ordered, planned, good, spoiled int, share, saving *decimal.Decimal) ledger.Order {
	got := planned
	if good+spoiled > 0 {
		got = good
	}
	return ledger.Order{ID: id, Customer: customer, Due: on("2026-12-24").Truncate(24 * time.Hour), Share: share, Saving: saving, Versions: []ledger.Version{{
		ID: "v" + id, Ordered: ordered, Planned: planned, Good: good, Spoiled: spoiled,
		Overs: min(50, max(0, got-ordered)), Unders: max(0, ordered-got), Scrap: max(0, got-ordered-50),
	}}}
}

// year is a ledger in which two gangs are planned, one of them twice, and one
// is printed, recorded wrongly, corrected, and has a rest.
func year() []ledger.Entry {
	entries := []ledger.Entry{
		{At: on("2026-11-02"), Kind: ledger.KindPlanned, Plan: "p1", Gang: "jar-1", Die: "jar", Cost: dec("120.00"), Saving: dec("30.00"), Alone: dec("150.00"), Bound: dec("119.00"), Gap: dec("0.0083"), Stop: "time limit", Rows: 500, Sections: 2,
			Orders: []ledger.Order{order("1", "Hof", 1000, 1100, 0, 0, dec("70.00"), dec("20.00")), order("2", "Mill", 500, 540, 0, 0, dec("50.00"), dec("10.00"))}},
		{At: on("2026-11-03"), Kind: ledger.KindPlanned, Plan: "p2", Gang: "jar-1", Die: "jar", Cost: dec("110.50"), Saving: dec("39.50"), Alone: dec("150.00"), Proven: true, Stop: "proven", Rows: 480, Sections: 2, Web: dec("51.5"), Minutes: dec("30"),
			Orders: []ledger.Order{order("1", "Hof", 1000, 1020, 0, 0, dec("65.50"), dec("24.50")), order("2", "Mill", 500, 520, 0, 0, dec("45.00"), dec("15.00"))}},
		{At: on("2026-11-04"), Kind: ledger.KindPrinted, Plan: "p2", Gang: "jar-1", Die: "jar", Cost: dec("80.00"), Rows: 300, Sections: 1,
			Orders:  []ledger.Order{order("1", "Hof", 1000, 1020, 500, 100, nil, nil), order("2", "Mill", 500, 520, 300, 0, nil, nil)},
			Printed: []ledger.Section{{Number: 1, Planned: 400, Printed: 300}}, Spoiled: []ledger.Spoil{{Section: 1, Lane: 2, FromRow: 1, ThruRow: 100, Reason: "scuffed"}}},
		{At: on("2026-11-04"), Kind: ledger.KindPlanned, Plan: "p3", RestOf: "p2", Gang: "jar-1-rest", Die: "jar", Cost: dec("40.00"),
			Orders: []ledger.Order{order("1", "Hof", 500, 520, 0, 0, nil, nil)}},
		{At: on("2026-11-05"), Kind: ledger.KindPrinted, Corrects: 3, Plan: "p2", Gang: "jar-1", Die: "jar", Cost: dec("80.00"), Rows: 300, Sections: 1,
			Orders: []ledger.Order{order("1", "Hof", 1000, 1020, 550, 50, nil, nil), order("2", "Mill", 500, 520, 300, 0, nil, nil)}},
		{At: on("2027-01-02"), Kind: ledger.KindPlanned, Plan: "p4", Gang: "lid-1", Die: "lid", Cost: dec("10.00"), Rows: 100, Sections: 1,
			Orders: []ledger.Order{order("3", "Hof", 400, 400, 0, 0, nil, nil)}},
	}
	for i := range entries {
		entries[i].ID, entries[i].Currency = int64(i+1), "EUR"
		entries[i].Program, entries[i].Inputs = "1.0", "abc"
	}
	return entries
}

// chosen is what a ledger would choose of the year, by way of one.
func chosen(t *testing.T, asked history.Asked) []ledger.Entry {
	t.Helper()
	l, err := ledger.Open(t.TempDir() + "/l.sqlite")
	require.NoError(t, err)
	defer l.Close()
	for _, e := range year() {
		_, err := l.Append(t.Context(), e)
		require.NoError(t, err)
	}
	entries, err := l.Entries(t.Context(), asked.Filter())
	require.NoError(t, err)
	return entries
}

func TestWhatCountsCountsOnce(t *testing.T) {
	d := history.Describe(chosen(t, history.Asked{}), history.Asked{}, history.Month)
	var why []string
	for _, e := range d.Entries {
		assert.Equal(t, e.Why == "", e.Counts)
		why = append(why, e.Why)
	}
	assert.Equal(t, []string{"planned again by entry 2", "", "corrected by entry 5", "the rest of a plan", "", ""}, why)
	require.Len(t, d.Periods, 2)
	november := d.Periods[0]
	assert.Equal(t, "2026-11", november.Period)
	assert.Equal(t, []any{1, 1540, 40, "2.6", "110.50", "39.50"},
		[]any{november.Planned.Entries, november.Planned.Planned, november.Planned.Overs, november.Planned.OversShare.String(), november.Planned.Cost.String(), november.Planned.Saving.String()})
	assert.Equal(t, []any{1, 850, 50, 50, "5.6"}, []any{november.Printed.Entries, november.Printed.Good, november.Printed.Spoiled, november.Printed.Waste, november.Printed.WasteShare.String()})
	january := d.Periods[1]
	assert.Equal(t, []any{"10.00", "", 0}, []any{january.Planned.Cost.String(), january.Planned.Saving.String(), january.Planned.SavingOf}, "no saving is known")
	require.Len(t, d.Totals, 1)
	assert.Equal(t, []any{"120.50", "39.50", 1940}, []any{d.Totals[0].Planned.Cost.String(), d.Totals[0].Planned.Saving.String(), d.Totals[0].Planned.Planned})
}

func TestOfACustomerOnlyItsOrdersCount(t *testing.T) {
	asked := history.Asked{Customer: "Mill"}
	d := history.Describe(chosen(t, asked), asked, history.Day)
	require.Len(t, d.Entries, 4, "the rest holds none of its orders")
	require.Len(t, d.Entries[1].Orders, 1)
	assert.Equal(t, 520, d.Entries[1].Labels.Planned)
	assert.Equal(t, "110.50", d.Entries[1].Cost.String(), "of the gang")
	require.Equal(t, []string{"2026-11-03", "2026-11-05"}, []string{d.Periods[0].Period, d.Periods[1].Period})
	assert.Equal(t, []string{"45.00", "15.00"}, []string{d.Periods[0].Planned.Cost.String(), d.Periods[0].Planned.Saving.String()})
	assert.Empty(t, d.Periods[1].Printed.Cost, "what it has of a print run is not known")
}

func TestAllOrdersOfAGangBearAllOfItsCost(t *testing.T) {
	asked := history.Asked{Customer: "Hof"}
	d := history.Describe(chosen(t, asked), asked, history.Month)
	january := d.Periods[len(d.Periods)-1]
	assert.Equal(t, "10.00", january.Planned.Cost.String(), "its only order is Hof's, and no share was reckoned")
	assert.Equal(t, "65.50", d.Periods[0].Planned.Cost.String())
}

func TestPeriodsAreThoseOfISO8601(t *testing.T) {
	entries := year()[5:]
	for step, want := range map[history.Step]string{history.Day: "2027-01-02", history.Week: "2026-W53", history.Month: "2027-01"} {
		assert.Equal(t, want, history.Describe(entries, history.Asked{}, step).Periods[0].Period)
	}
}

func TestCurrenciesAreNotAddedUp(t *testing.T) {
	entries := year()
	entries[5].Currency, entries[5].At = "CHF", entries[4].At
	d := history.Describe(entries, history.Asked{}, history.Month)
	require.Len(t, d.Periods, 2)
	require.Len(t, d.Totals, 2)
	assert.Equal(t, []string{"CHF", "EUR"}, []string{d.Totals[0].Currency, d.Totals[1].Currency})
	assert.Equal(t, "10.00", d.Totals[0].Planned.Cost.String())
	var page bytes.Buffer
	require.NoError(t, d.HTML(&page))
	assert.Equal(t, 2, strings.Count(page.String(), "<svg "))
}

func TestEveryFormOfAHistory(t *testing.T) {
	d := history.Describe(chosen(t, history.Asked{}), history.Asked{}, history.Month)
	for name, write := range map[string]func(*bytes.Buffer) error{
		"history.txt":  func(b *bytes.Buffer) error { return report.History(b, d, report.Style{}) },
		"history.csv":  func(b *bytes.Buffer) error { return report.HistoryCSV(b, d) },
		"history.json": func(b *bytes.Buffer) error { return d.JSON(b) },
		"history.html": func(b *bytes.Buffer) error { return d.HTML(b) },
	} {
		t.Run(name, func(t *testing.T) {
			var got bytes.Buffer
			require.NoError(t, write(&got))
			path := "testdata/" + name
			if *update {
				require.NoError(t, os.WriteFile(path, got.Bytes(), 0o644))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Equal(t, string(want), got.String())
		})
	}
}

func TestTheJSONKeepsToItsSchema(t *testing.T) {
	schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(history.Schema))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("history.json", closed(schema)))
	compiled, err := c.Compile("history.json")
	require.NoError(t, err)
	check := func(d history.Document) error {
		var b bytes.Buffer
		require.NoError(t, d.JSON(&b))
		value, err := jsonschema.UnmarshalJSON(&b)
		require.NoError(t, err)
		return compiled.Validate(value)
	}
	asked := history.Asked{Gang: "g", Order: "1", Customer: "Hof", Die: "jar", Since: on("2026-11-01"), Until: on("2026-12-01")}
	assert.NoError(t, check(history.Describe(year(), history.Asked{}, history.Month)))
	assert.NoError(t, check(history.Describe(year(), asked, history.Day)))
	assert.NoError(t, check(history.Describe(nil, asked, history.Week)))
	broken := history.Describe(year(), history.Asked{}, history.Month)
	broken.Entries[0].Kind = "dreamt"
	assert.Error(t, check(broken))
}

// closed refuses fields that the schema does not name, so that none is
// forgotten in it.
func closed(schema any) any {
	switch s := schema.(type) {
	case map[string]any:
		for _, inner := range s {
			closed(inner)
		}
		if _, is := s["properties"].(map[string]any); is {
			s["unevaluatedProperties"] = false
			if s["type"] == "object" && s["required"] != nil && isLabels(s) {
				delete(s, "unevaluatedProperties") // others build on it
			}
		}
	case []any:
		for _, inner := range s {
			closed(inner)
		}
	}
	return schema
}

func isLabels(s map[string]any) bool {
	p := s["properties"].(map[string]any)
	_, ordered := p["ordered"]
	return ordered && len(p) == 7
}

// Names in a ledger come from orders: none of them becomes markup, a formula
// or a line of its own.
func TestUntrustedNamesStayText(t *testing.T) {
	const evil = "<script>alert(1)</script>\" onload=x '=cmd()"
	entries := year()
	for i := range entries {
		e := &entries[i]
		e.Gang, e.Die, e.Stock, e.Press, e.Program, e.Inputs, e.Currency = evil, evil, evil, evil, evil, evil, "<b>"
		for j := range e.Orders {
			e.Orders[j].Customer = "=1+2" + evil
			e.Orders[j].Versions[0].Name = "\n" + evil
		}
	}
	d := history.Describe(entries, history.Asked{Customer: "=1+2" + evil}, history.Month)
	var page bytes.Buffer
	require.NoError(t, d.HTML(&page))
	root, err := html.Parse(&page)
	require.NoError(t, err)
	elements := 0
	for n := range root.Descendants() {
		elements++
		assert.NotContains(t, []string{"script", "b"}, n.Data, "as an element")
		for _, a := range n.Attr {
			assert.NotEqual(t, "onload", a.Key)
			assert.NotContains(t, []string{"src", "href"}, a.Key)
		}
	}
	assert.Greater(t, elements, 50)
	var table bytes.Buffer
	require.NoError(t, report.HistoryCSV(&table, d))
	assert.NotContains(t, table.String(), ",=1")
	assert.Contains(t, table.String(), "'=1+2")
	var text bytes.Buffer
	require.NoError(t, report.History(&text, d, report.Style{}))
	assert.Len(t, strings.Split(text.String(), "\n"), strings.Count(text.String(), "\n")+1)
}

func TestWhereThereIsNoEntryAPageSaysSo(t *testing.T) {
	d := history.Describe(nil, history.Asked{Order: "7", Since: on("2026-11-01"), Until: on("2026-11-30")}, history.Month)
	assert.Equal(t, "l.sqlite holds no entry of order 7 since 2026-11-01 until 2026-11-30", d.None("l.sqlite"))
	var page bytes.Buffer
	require.NoError(t, d.HTML(&page))
	assert.Contains(t, page.String(), "<p>the ledger holds no entry of order 7 since 2026-11-01 until 2026-11-30.</p>")
	assert.NotContains(t, page.String(), "<svg")
	assert.Empty(t, history.Describe(year(), history.Asked{}, history.Month).None("x"))
}

func TestPeriodsWithoutAnEntryAreDrawnToo(t *testing.T) {
	var page bytes.Buffer
	require.NoError(t, history.Describe(year(), history.Asked{}, history.Month).HTML(&page))
	assert.Equal(t, 3, strings.Count(page.String(), ">2026-12<"), "once a plot; in no table")
}

// A clock that once was wrong must not draw twenty thousand days.
func TestEmptyPeriodsWithoutEndAreNotDrawn(t *testing.T) {
	entries := year()
	entries[1].At = on("1970-01-01")
	var page bytes.Buffer
	require.NoError(t, history.Describe(entries, history.Asked{}, history.Day).HTML(&page))
	assert.Less(t, page.Len(), 100_000)
}

func TestManyPeriodsAreDrawn(t *testing.T) {
	var entries []ledger.Entry
	for i := range 60 {
		e := year()[5]
		e.ID, e.At, e.Gang, e.Saving = int64(i+1), on("2026-01-05").AddDate(0, 0, i), fmt.Sprint(i), dec(fmt.Sprint(i%7*10-20))
		e.Orders[0].ID = fmt.Sprint(i)
		entries = append(entries, e)
	}
	d := history.Describe(entries, history.Asked{}, history.Day)
	require.Len(t, d.Periods, 60)
	var page bytes.Buffer
	require.NoError(t, d.HTML(&page))
	assert.LessOrEqual(t, strings.Count(page.String(), ">2026-01-05<"), 4, "named once a plot, and in the table")
	var again history.Document
	var b bytes.Buffer
	require.NoError(t, d.JSON(&b))
	require.NoError(t, json.Unmarshal(b.Bytes(), &again))
	assert.Len(t, again.Entries, 60)
}
