package ticket

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/internal/browser"
)

// open opens a report.
func open(t *testing.T, report []byte) *browser.Tab {
	t.Helper()
	path := filepath.Join(t.TempDir(), "report.html")
	require.NoError(t, os.WriteFile(path, report, 0o600))
	return browser.Open(t, path)
}

func TestReportInABrowser(t *testing.T) {
	b := open(t, made(t, Report, spiceJob(t)))

	t.Run("it fetches nothing and complains of nothing", func(t *testing.T) {
		requests := b.Requests()
		require.Len(t, requests, 1)
		assert.True(t, strings.HasPrefix(requests[0], "file://"), requests[0])
		assert.Empty(t, b.Faults())
	})
	t.Run("contrast", func(t *testing.T) {
		b.Contrast(t, 300)
	})
	t.Run("text in the drawing is black on a light ground", func(t *testing.T) {
		assert.Equal(t, []string{"rgb(0, 0, 0)"}, browser.Eval[[]string](t, b, `[...new Set([...document.querySelectorAll('svg text')].map(e => getComputedStyle(e).fill))]`))
	})
	t.Run("the keyboard reaches every part that scrolls", func(t *testing.T) {
		scrolling := browser.Eval[int](t, b, `[...document.querySelectorAll('body *')].filter(e => ['auto', 'scroll'].includes(getComputedStyle(e).overflowX)).length`)
		reachable := browser.Eval[int](t, b, `document.querySelectorAll('.wide[tabindex="0"][role="region"][aria-label]').length`)
		assert.Equal(t, scrolling, reachable)
		assert.Positive(t, reachable)
		var stops []string
		for range reachable + 2 {
			b.Press(t, "\t")
			stops = append(stops, browser.Eval[string](t, b, `document.activeElement.getAttribute('aria-label') || document.activeElement.textContent`))
		}
		assert.Equal(t, []string{"Skip to the plan", "Drawing of the lanes along the web", "Table of sections", "Table of versions", "Table of costs",
			"Table of savings", "Table of parent rolls", "Table of winding", "Every roll", "Table of rolls"}, stops)
	})
	t.Run("names and roles for those who do not see", func(t *testing.T) {
		assert.Equal(t, []string{"At a glance", "Lanes along the web", "Versions and overs", "Costs by kind", "What every order saves",
			"Web, stock and cores to pull", "Customer rolls", "Notes and cautions"},
			browser.Eval[[]string](t, b, `[...document.querySelectorAll('main h2')].map(e => e.textContent)`))
		assert.Zero(t, browser.Eval[int](t, b, `[...document.querySelectorAll('section')].filter(e => !document.getElementById(e.getAttribute('aria-labelledby'))).length`))
	})
	for name, width := range map[string]int64{"a small phone": 320, "a phone": 390, "a tablet": 768, "a desk": 1200} {
		t.Run("it fits "+name, func(t *testing.T) {
			b.Wide(t, width)
			assert.LessOrEqual(t, browser.Eval[int64](t, b, browser.PageWidth), width, "the page itself never scrolls sideways")
		})
	}
	t.Run("it fits paper", func(t *testing.T) {
		b.Wide(t, browser.PaperWidth)
		b.Media(t, "print")
		right := browser.Eval[int64](t, b, `Math.max(...[...document.querySelectorAll('table, svg')].map(e => Math.round(e.getBoundingClientRect().right)))`)
		assert.LessOrEqual(t, right, int64(browser.PaperWidth))
		b.Media(t, "")
	})
	t.Run("its picture is no blank page", func(t *testing.T) {
		b.Wide(t, 1200)
		picture := b.Picture(t)
		assert.Greater(t, len(picture), 50_000)
		if folder := os.Getenv("LANEPLAN_PICTURES"); folder != "" {
			require.NoError(t, os.WriteFile(filepath.Join(folder, "report.png"), picture, 0o600))
		}
	})
}

func TestHostileNamesDoNotRunInABrowser(t *testing.T) {
	j := hostileJob(t)
	b := open(t, made(t, Report, j))
	assert.Equal(t, "Lane plan "+j.Gang.ID, browser.Eval[string](t, b, `document.title`))
	assert.Zero(t, browser.Eval[int](t, b, `document.querySelectorAll('script, img, iframe').length`))
	assert.Len(t, b.Requests(), 1)
	b.Wide(t, 390)
	assert.LessOrEqual(t, browser.Eval[int64](t, b, browser.PageWidth), int64(390), "a name of 300 letters does not push the page apart")
	assert.Zero(t, browser.Eval[int](t, b, `[...document.querySelectorAll('td:not([colspan]), th:not([colspan])')].filter(e => e.getBoundingClientRect().width > 450).length`))
}
