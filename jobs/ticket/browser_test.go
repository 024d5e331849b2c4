package ticket

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// browser opens a report in a real Chromium that cannot reach any network, and
// tells what it asked for and complained of.
type browser struct {
	context.Context
	mutex    sync.Mutex
	requests []string
	faults   []string
}

func open(t *testing.T, report []byte) *browser {
	t.Helper()
	program := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			program = path
			break
		}
	}
	if program == "" {
		t.Skip("chromium is not installed (Debian package chromium): the report is not opened in a browser here")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(t.TempDir()), chromedp.WindowSize(1200, 900),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND"), chromedp.Flag("disable-background-networking", true))
	allocated, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	tab, closeTab := chromedp.NewContext(allocated)
	t.Cleanup(closeTab)
	limited, cancel := context.WithTimeout(tab, time.Minute)
	t.Cleanup(cancel)
	b := &browser{Context: limited}
	require.NoError(t, chromedp.Listen(limited, func(event any) {
		b.mutex.Lock()
		defer b.mutex.Unlock()
		switch e := event.(type) {
		case *network.EventRequestWillBeSent:
			b.requests = append(b.requests, e.Request.URL)
		case *runtime.EventExceptionThrown:
			b.faults = append(b.faults, e.ExceptionDetails.Text)
		case *runtime.EventConsoleAPICalled:
			b.faults = append(b.faults, "console "+string(e.Type))
		}
	}))
	path := filepath.Join(t.TempDir(), "report.html")
	require.NoError(t, os.WriteFile(path, report, 0o600))
	_, err := chromedp.Call(limited, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	require.NoError(t, chromedp.Do(limited, chromedp.Navigate("file://"+path)))
	return b
}

// eval runs a script in the page.
func eval[T any](t *testing.T, b *browser, script string) T {
	t.Helper()
	got, err := chromedp.Run(b, chromedp.Evaluate[T](script))
	require.NoError(t, err)
	return got
}

func (b *browser) wide(t *testing.T, width int64) {
	t.Helper()
	var options []chromedp.EmulateViewportOption
	if width < 700 {
		options = append(options, chromedp.EmulateMobile)
	}
	require.NoError(t, chromedp.Do(b, chromedp.EmulateViewport(width, 900, options...)))
}

func (b *browser) media(t *testing.T, media string) {
	t.Helper()
	_, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media})
	require.NoError(t, err)
}

// lowContrast lists visible texts whose contrast with what is behind them is
// below what WCAG 2.1 asks for at level AA (4.5, or 3 for large text).
const lowContrast = `(() => {
  const light = c => { const f = v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
    return 0.2126 * f(c[0]) + 0.7152 * f(c[1]) + 0.0722 * f(c[2]); };
  const parts = s => s.match(/[\d.]+/g).map(Number);
  const behind = e => { for (; e; e = e.parentElement) { const c = parts(getComputedStyle(e).backgroundColor); if (c.length < 4 || c[3] > 0) return c; } return [255, 255, 255]; };
  const bad = [];
  let seen = 0;
  for (const e of document.querySelectorAll('body *')) {
    if (![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()) || e.closest('svg') || !e.getClientRects().length) continue;
    seen++;
    const style = getComputedStyle(e), size = parseFloat(style.fontSize);
    const [a, b] = [light(parts(style.color)), light(behind(e))].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    const large = size >= 24 || size >= 18.66 && parseInt(style.fontWeight) >= 700;
    if (ratio < (large ? 3 : 4.5)) bad.push(e.tagName + ' ' + ratio.toFixed(2) + ' ' + e.textContent.trim().slice(0, 40));
  }
  return {seen, bad};
})()`

func TestReportInABrowser(t *testing.T) {
	b := open(t, made(t, Report, spiceJob(t)))

	t.Run("it fetches nothing and complains of nothing", func(t *testing.T) {
		b.mutex.Lock()
		defer b.mutex.Unlock()
		require.Len(t, b.requests, 1)
		assert.True(t, strings.HasPrefix(b.requests[0], "file://"), b.requests[0])
		assert.Empty(t, b.faults)
	})
	t.Run("contrast", func(t *testing.T) {
		type texts struct {
			Seen int      `json:"seen"`
			Bad  []string `json:"bad"`
		}
		found := eval[texts](t, b, lowContrast)
		assert.Greater(t, found.Seen, 300)
		assert.Empty(t, found.Bad)
		// The check can fail: a pale grey is found.
		found = eval[texts](t, b, `document.querySelector('h1').style.color = '#aaa'; `+lowContrast)
		assert.Len(t, found.Bad, 1)
		eval[string](t, b, `document.querySelector('h1').style.color = ''`)
	})
	t.Run("text in the drawing is black on a light ground", func(t *testing.T) {
		assert.Equal(t, []string{"rgb(0, 0, 0)"}, eval[[]string](t, b, `[...new Set([...document.querySelectorAll('svg text')].map(e => getComputedStyle(e).fill))]`))
	})
	t.Run("the keyboard reaches every part that scrolls", func(t *testing.T) {
		scrolling := eval[int](t, b, `[...document.querySelectorAll('body *')].filter(e => ['auto', 'scroll'].includes(getComputedStyle(e).overflowX)).length`)
		reachable := eval[int](t, b, `document.querySelectorAll('.wide[tabindex="0"][role="region"][aria-label]').length`)
		assert.Equal(t, scrolling, reachable)
		assert.Positive(t, reachable)
		var stops []string
		for range reachable + 2 {
			_, err := chromedp.Run(b, chromedp.KeyEvent("\t"))
			require.NoError(t, err)
			stops = append(stops, eval[string](t, b, `document.activeElement.getAttribute('aria-label') || document.activeElement.textContent`))
		}
		assert.Equal(t, []string{"Skip to the plan", "Drawing of the lanes along the web", "Table of sections", "Table of versions", "Table of costs",
			"Table of savings", "Table of parent rolls", "Table of winding", "Every roll", "Table of rolls"}, stops)
	})
	t.Run("names and roles for those who do not see", func(t *testing.T) {
		assert.Equal(t, []string{"At a glance", "Lanes along the web", "Versions and overs", "Costs by kind", "What every order saves",
			"Web, stock and cores to pull", "Customer rolls", "Notes and cautions"},
			eval[[]string](t, b, `[...document.querySelectorAll('main h2')].map(e => e.textContent)`))
		assert.Zero(t, eval[int](t, b, `[...document.querySelectorAll('section')].filter(e => !document.getElementById(e.getAttribute('aria-labelledby'))).length`))
	})
	for name, width := range map[string]int64{"a small phone": 320, "a phone": 390, "a tablet": 768, "a desk": 1200} {
		t.Run("it fits "+name, func(t *testing.T) {
			b.wide(t, width)
			assert.LessOrEqual(t, eval[int64](t, b, pageWidth), width, "the page itself never scrolls sideways")
		})
	}
	t.Run("it fits paper", func(t *testing.T) {
		b.wide(t, paperWidth)
		b.media(t, "print")
		right := eval[int64](t, b, `Math.max(...[...document.querySelectorAll('table, svg')].map(e => Math.round(e.getBoundingClientRect().right)))`)
		assert.LessOrEqual(t, right, int64(paperWidth))
		b.media(t, "")
	})
	t.Run("its picture is no blank page", func(t *testing.T) {
		b.wide(t, 1200)
		picture, err := chromedp.Run(b, chromedp.FullScreenshot(100))
		require.NoError(t, err)
		assert.Greater(t, len(picture), 50_000)
		if folder := os.Getenv("LANEPLAN_PICTURES"); folder != "" {
			require.NoError(t, os.WriteFile(filepath.Join(folder, "report.png"), picture, 0o600))
		}
	})
}

const pageWidth = `document.documentElement.scrollWidth`

// paperWidth is A4 less margins of 12 mm, at 96 dots to the inch.
const paperWidth = 703

func TestHostileNamesDoNotRunInABrowser(t *testing.T) {
	j := hostileJob(t)
	b := open(t, made(t, Report, j))
	assert.Equal(t, "Lane plan "+j.Gang.ID, eval[string](t, b, `document.title`))
	assert.Zero(t, eval[int](t, b, `document.querySelectorAll('script, img, iframe').length`))
	b.mutex.Lock()
	assert.Len(t, b.requests, 1)
	b.mutex.Unlock()
	b.wide(t, 390)
	assert.LessOrEqual(t, eval[int64](t, b, pageWidth), int64(390), "a name of 300 letters does not push the page apart")
	assert.Zero(t, eval[int](t, b, `[...document.querySelectorAll('td:not([colspan]), th:not([colspan])')].filter(e => e.getBoundingClientRect().width > 450).length`))
}
