package page

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/batch/summary"
	"laneplan/jobs/bookfile"
	"laneplan/jobs/internal/browser"
	"laneplan/jobs/planfile"
)

// nightOfFive has a gang in every state, and one with nothing to look at.
func nightOfFive() (summary.Night, map[string]planfile.Gang) {
	files := []string{"plan.json", "report.html", "run-sheet.pdf", "rewind-sheet.pdf", "roll-tags.pdf"}
	gang := func(id string, state summary.State, due string, cost, saving, gap string, warnings ...string) summary.Gang {
		g := summary.Gang{
			Gang: bookfile.Gang{ID: id, Die: "jar", Stock: "paper-80", Press: "digital-1", Versions: 2, Labels: 7000,
				Orders: []bookfile.Order{{Order: "order of " + id, Customer: "Hill " + id, Due: due, Versions: []string{"A", "B"}, Labels: 7000}, {Order: "2", Customer: "Dale", Due: due, Filler: true}}},
			State: state, Due: due, Warnings: warnings,
		}
		if cost != "" {
			g.Cost, g.CostAlone, g.Saving, g.Gap, g.Open = json.Number(cost), "500.00", json.Number(saving), json.Number(gap), "10.00"
			g.Folder, g.Files, g.Sections, g.Lanes, g.Web, g.Minutes, g.Overs = "folder-"+id, files, 2, 3, "1234.5", "83.2", 120
			g.Turn, g.Begins, g.Ends = 2, "2026-11-30 06:00", "2026-11-30 07:23"
			g.Proven = gap == "0.0"
		}
		return g
	}
	n := summary.Night{
		State: summary.Partly, Program: "test", Date: "2026-11-30", Until: "2026-12-03", Currency: "EUR",
		Totals:   summary.Totals{Gangs: 5, Planned: 3, CutShort: 1, Failed: 1, Waiting: 1, Orders: 10, Versions: 10, Labels: 35000, Cost: "12345.60", CostAlone: "20000.00", Saving: "7654.40", Open: "30.00", Web: "3703.5", Minutes: "250"},
		Warnings: []string{"Order 9 of Moor is due and cannot run: no press can run it."},
		Gangs: []summary.Gang{
			gang("calm", summary.Planned, "2026-12-02", "99.00", "100.00", "0.0"),
			gang("failed", summary.Failed, "2026-12-01", "", "", ""),
			gang("cut", summary.CutShort, "2026-12-03", "1000.00", "5.00", "0.25", "cut short: run the batch again for the whole plan"),
			gang("waits", summary.Waiting, "", "", "", ""),
			gang("late", summary.Planned, "2026-11-20", "200.00", "-3.00", "0.01", "order 2 was due 2026-11-20, before the press starts"),
		},
		Out: []bookfile.Out{{Order: "9", Customer: "Moor", Must: true, Reason: "no press can run it"}, {Order: "8", Customer: "Fen", Due: "2026-12-20", Reason: "due later", Rows: []string{"orders.csv:9"}}},
	}
	n.Gangs[1].Failure = &summary.Failure{Kind: "infeasible", Reason: "no plan can meet the demands", Do: "loosen what the reason names"}
	n.Gangs[4].Press, n.Gangs[4].Flags = "digital-2", []string{"food"}
	n.Gangs[4].Die, n.Gangs[4].Finishes, n.Gangs[4].Begins, n.Gangs[4].Ends = "jar-70x100-narrow", []string{"matt-varnish"}, "2026-11-30 20:00", "2026-12-01 07:23"
	a, b := "A", "B"
	plans := map[string]planfile.Gang{}
	for _, g := range n.Gangs {
		if g.Folder != "" {
			plans[g.ID] = planfile.Gang{ID: g.ID, Lanes: 3, Versions: []planfile.Version{{ID: "A"}, {ID: "B"}},
				Sections: []planfile.Section{{Number: 1, Rows: 3000, Lanes: []*string{&a, &b, nil}}, {Number: 2, Rows: 1000, Lanes: []*string{&a, &a, &b}}}}
		}
	}
	return n, plans
}

func written(t testing.TB, n summary.Night, plans map[string]planfile.Gang) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, Write(&b, n, plans))
	return b.Bytes()
}

func opened(t *testing.T, n summary.Night, plans map[string]planfile.Gang) *browser.Tab {
	t.Helper()
	path := filepath.Join(t.TempDir(), "index.html")
	require.NoError(t, os.WriteFile(path, written(t, n, plans), 0o600))
	return browser.Open(t, path)
}

// shown are the gangs that are seen, from the top.
const shown = `[...document.querySelectorAll('tbody.gang')].filter(e => e.getClientRects().length).map(e => e.dataset.id)`

func TestThePageInABrowser(t *testing.T) {
	n, plans := nightOfFive()
	b := opened(t, n, plans)
	click := func(selector string) {
		browser.Eval[bool](t, b, `document.querySelector(`+"`"+selector+"`"+`).click(), true`)
	}
	set := func(id, value string) {
		browser.Eval[bool](t, b, `(e => { e.value = '`+value+`'; e.dispatchEvent(new Event('input')); e.dispatchEvent(new Event('change')); return true; })(document.getElementById('`+id+`'))`)
	}

	t.Run("it fetches nothing and complains of nothing", func(t *testing.T) {
		assert.Len(t, b.Requests(), 1)
		assert.Empty(t, b.Faults())
	})
	t.Run("what needs a look stands first", func(t *testing.T) {
		assert.Equal(t, []string{"failed", "cut", "waits", "late", "calm"}, browser.Eval[[]string](t, b, shown))
		assert.Equal(t, []string{"Book", "Failed", "Cut short", "Look"}, browser.Eval[[]string](t, b, `[...document.querySelectorAll('.notes .mark')].map(e => e.textContent)`))
	})
	for column, want := range map[string][]string{
		"cost": {"cut", "late", "calm", "failed", "waits"}, "saving": {"calm", "cut", "late", "failed", "waits"}, "gap": {"cut", "late", "calm", "failed", "waits"},
		"id": {"calm", "cut", "failed", "late", "waits"}, "due": {"late", "failed", "calm", "cut", "waits"}, "press": {"failed", "cut", "waits", "calm", "late"},
	} {
		t.Run("a click sorts by "+column+", another turns it round", func(t *testing.T) {
			click(`button[data-by=` + column + `]`)
			assert.Equal(t, want, browser.Eval[[]string](t, b, shown))
			order := browser.Eval[string](t, b, `document.querySelector('[data-by=`+column+`]').parentElement.getAttribute('aria-sort')`)
			assert.Equal(t, 1, browser.Eval[int](t, b, `document.querySelectorAll('[aria-sort=ascending], [aria-sort=descending]').length`))
			assert.Equal(t, column, strings.Fields(browser.Eval[string](t, b, `document.getElementById('order').value`))[0], "the list of ways says the same")
			click(`button[data-by=` + column + `]`)
			turned := browser.Eval[[]string](t, b, shown)
			switch column {
			case "cost", "saving", "gap":
				assert.Equal(t, []string{"failed", "waits"}, turned[3:], "those without a figure stay last")
				assert.Equal(t, want[0], turned[2])
			case "due":
				assert.Equal(t, []string{"late", "waits"}, turned[3:])
			}
			assert.NotEqual(t, order, browser.Eval[string](t, b, `document.querySelector('[data-by=`+column+`]').parentElement.getAttribute('aria-sort')`))
		})
	}
	t.Run("the list of ways sorts", func(t *testing.T) {
		set("order", "rank")
		assert.Equal(t, []string{"failed", "cut", "waits", "late", "calm"}, browser.Eval[[]string](t, b, shown))
		set("order", "cost falls")
		assert.Equal(t, "cut", browser.Eval[[]string](t, b, shown)[0])
		set("order", "rank")
	})
	t.Run("it filters", func(t *testing.T) {
		set("find", "hill CALM")
		assert.Equal(t, []string{"calm"}, browser.Eval[[]string](t, b, shown))
		assert.Equal(t, "1 of 5 gangs are shown.", browser.Eval[string](t, b, `document.getElementById('shown').textContent`))
		set("find", "no such gang")
		assert.Empty(t, browser.Eval[[]string](t, b, shown))
		assert.True(t, browser.Eval[bool](t, b, `document.getElementById('nothing').getClientRects().length > 0`))
		click("#all")
		set("press", "digital-2")
		assert.Equal(t, []string{"late"}, browser.Eval[[]string](t, b, shown))
		click("#all")
		set("due", "2026-12-01")
		assert.Equal(t, []string{"failed", "late"}, browser.Eval[[]string](t, b, shown))
		click("#all")
		click("#look")
		assert.Equal(t, []string{"failed", "cut", "waits", "late"}, browser.Eval[[]string](t, b, shown))
		click("#all")
		assert.Len(t, browser.Eval[[]string](t, b, shown), 5)
	})
	t.Run("a note leads to its gang though it is filtered away", func(t *testing.T) {
		set("find", "calm")
		click(`.notes a`)
		assert.Contains(t, browser.Eval[[]string](t, b, shown), "failed")
		click("#all")
	})
	t.Run("the keyboard", func(t *testing.T) {
		browser.Eval[bool](t, b, `document.activeElement.blur(), window.scrollTo(0, 0), history.replaceState(null, '', '#'), true`)
		b.Press(t, "/")
		assert.Equal(t, "find", browser.Eval[string](t, b, `document.activeElement.id`))
		var stops []string
		for range 16 {
			b.Press(t, "\t")
			stops = append(stops, browser.Eval[string](t, b, `document.activeElement.id || document.activeElement.getAttribute('aria-label') || document.activeElement.textContent`))
		}
		for _, want := range []string{"press", "due", "order", "look", "all", "print", "Table of gangs", "Gang"} {
			assert.Contains(t, stops, want)
		}
	})
	t.Run("contrast", func(t *testing.T) {
		b.Contrast(t, 60)
	})
	t.Run("names and roles", func(t *testing.T) {
		assert.Zero(t, browser.Eval[int](t, b, `[...document.querySelectorAll('th')].filter(e => !e.scope).length`), "every heading of a table says of what")
		assert.Zero(t, browser.Eval[int](t, b, `[...document.querySelectorAll('input, select')].filter(e => !e.labels.length).length`))
		assert.Equal(t, []string{"Drawing of 3 lanes and 2 sections, in proportion"}, browser.Eval[[]string](t, b, `[...new Set([...document.querySelectorAll('.lanes')].map(e => e.getAttribute('aria-label')))]`))
		assert.Equal(t, []string{"folder-cut/report.html", "folder-cut/run-sheet.pdf", "folder-cut/rewind-sheet.pdf", "folder-cut/roll-tags.pdf", "folder-cut/plan.json"},
			browser.Eval[[]string](t, b, `[...document.querySelectorAll('[data-id=cut] .links a')].map(e => e.getAttribute('href'))`))
	})
	t.Run("drawn in proportion", func(t *testing.T) {
		// Lane 2: B for 3,000 of 4,000 rows, then A.
		assert.Equal(t, []string{"0.00% 100.00%", "0.00% 75.00%", "75.00% 25.00%", "75.00% 25.00%"},
			browser.Eval[[]string](t, b, `[...document.querySelectorAll('[data-id=calm] .lanes > rect')].map(e => e.getAttribute('x') + ' ' + e.getAttribute('width'))`))
	})
	click("#all") // a key that is pressed by a program is typed, too
	for name, width := range map[string]int64{"a small phone": 320, "a phone": 390, "a tablet": 768, "half a desk": 1100, "a desk": 1280} {
		t.Run("it fits "+name, func(t *testing.T) {
			b.Wide(t, width)
			assert.LessOrEqual(t, browser.Eval[int64](t, b, browser.PageWidth), width)
			assert.Zero(t, browser.Eval[int64](t, b, `(e => e.scrollWidth - e.clientWidth)(document.getElementById('gangs').parentElement)`), "the table has no part that is hidden")
		})
	}
	t.Run("it fits paper, without what only a screen needs", func(t *testing.T) {
		const landscape = 1047 // 297 mm less margins of 10 mm, at 96 dots to the inch
		b.Wide(t, landscape)
		b.Media(t, "print")
		assert.LessOrEqual(t, browser.Eval[int64](t, b, `Math.max(...[...document.querySelectorAll('table, .lanes')].map(e => Math.round(e.getBoundingClientRect().right)))`), int64(landscape))
		assert.Zero(t, browser.Eval[int](t, b, `document.getElementById('controls').getClientRects().length`))
		b.Media(t, "")
	})
	b.Wide(t, 1280)
	picture := b.Picture(t)
	assert.Greater(t, len(picture), 50_000)
	if folder := os.Getenv("LANEPLAN_PICTURES"); folder != "" {
		require.NoError(t, os.WriteFile(filepath.Join(folder, "morning-page.png"), picture, 0o600))
	}
}

// Names out of an order book are text, whatever they look like.
func TestHostileNamesOnThePage(t *testing.T) {
	const evil = `</script><script>document.title='run'</script><img src="http://198.51.100.1/x" onerror="document.title='run'">"'` + "`" + `{{.}}`
	n, plans := nightOfFive()
	for i := range n.Gangs {
		g := &n.Gangs[i]
		g.Orders[0].Order, g.Orders[0].Customer, g.Die, g.Stock, g.Press = evil, evil, evil, evil, evil
		g.Warnings = []string{evil}
	}
	n.Gangs[1].Failure.Reason, n.Warnings, n.Out[1].Customer = evil, []string{evil}, strings.Repeat("long", 100)
	plan := plans["calm"]
	plan.Versions[0].ID = evil
	b := opened(t, n, plans)
	assert.Equal(t, "Night plan for Monday 30 November 2026", browser.Eval[string](t, b, `document.title`))
	assert.Equal(t, 1, browser.Eval[int](t, b, `document.scripts.length`))
	assert.Zero(t, browser.Eval[int](t, b, `document.images.length`))
	assert.Len(t, b.Requests(), 1)
	assert.Empty(t, b.Faults())
	b.Wide(t, 390)
	assert.LessOrEqual(t, browser.Eval[int64](t, b, browser.PageWidth), int64(390))
	browser.Eval[bool](t, b, `(e => { e.value = 'script'; e.dispatchEvent(new Event('input')); return true; })(document.getElementById('find'))`)
	assert.Len(t, browser.Eval[[]string](t, b, shown), 5, "found as text")
}

func TestAnEmptyNight(t *testing.T) {
	text := string(written(t, summary.Night{State: summary.Done, Date: "2026-11-30", Until: "2026-12-03"}, nil))
	assert.Contains(t, text, "All 0 gangs planned")
	assert.Contains(t, text, "Nothing: every gang is planned")
}

func TestWhenAGangRuns(t *testing.T) {
	assert.Equal(t, "30 Nov 06:00 to 07:23", runs("2026-11-30 06:00", "2026-11-30 07:23"))
	assert.Equal(t, "30 Nov 20:00 to 1 Dec 07:23", runs("2026-11-30 20:00", "2026-12-01 07:23"))
	assert.Equal(t, "", moment(""))
}
