// Package browser opens pages in a real Chromium, for tests.
package browser

import (
	"context"
	"os/exec"
	"slices"
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

// Tab is a page in a real Chromium that cannot reach any network; it tells what
// it asked for and complained of.
type Tab struct {
	context.Context
	mutex    sync.Mutex
	requests []string
	faults   []string
}

// Open opens a file. The test is skipped where there is no Chromium.
func Open(t *testing.T, path string) *Tab {
	t.Helper()
	program := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			program = path
			break
		}
	}
	if program == "" {
		t.Skip("chromium is not installed (Debian package chromium): the page is not opened in a browser here")
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
	b := &Tab{Context: limited}
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
	_, err := chromedp.Call(limited, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	require.NoError(t, chromedp.Do(limited, chromedp.Navigate("file://"+path)))
	return b
}

// Eval runs a script in the page.
func Eval[T any](t *testing.T, b *Tab, script string) T {
	t.Helper()
	got, err := chromedp.Run(b, chromedp.Evaluate[T](script))
	require.NoError(t, err)
	return got
}

// Wide makes the window so many pixels wide; below 700 it is a phone.
func (b *Tab) Wide(t *testing.T, width int64) {
	t.Helper()
	var options []chromedp.EmulateViewportOption
	if width < 700 {
		options = append(options, chromedp.EmulateMobile)
	}
	require.NoError(t, chromedp.Do(b, chromedp.EmulateViewport(width, 900, options...)))
}

// Media is screen or print; "" is the usual one.
func (b *Tab) Media(t *testing.T, media string) {
	t.Helper()
	_, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media})
	require.NoError(t, err)
}

// lowContrast is a script that gives the number of texts seen, and lists visible texts whose contrast with what is behind them is
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

// PageWidth is a script that gives the width to which the page scrolls.
const PageWidth = `document.documentElement.scrollWidth`

// PaperWidth is A4 less margins of 12 mm, at 96 dots to the inch.
const PaperWidth = 703

// Press presses a key.
func (b *Tab) Press(t *testing.T, key string) {
	t.Helper()
	_, err := chromedp.Run(b, chromedp.KeyEvent(key))
	require.NoError(t, err)
}

// Picture is the whole page as PNG.
func (b *Tab) Picture(t *testing.T) []byte {
	t.Helper()
	picture, err := chromedp.Run(b, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	return picture
}

// Requests are the addresses that the page asked for.
func (b *Tab) Requests() []string {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	// The icons of a browser's own controls are data.
	return slices.DeleteFunc(slices.Clone(b.requests), func(address string) bool { return strings.HasPrefix(address, "data:") })
}

// Faults are the exceptions and what was written to the console.
func (b *Tab) Faults() []string {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	return append([]string{}, b.faults...)
}

// Contrast holds the page against WCAG 2.1, level AA; at least so many texts
// are looked at.
func (b *Tab) Contrast(t *testing.T, least int) {
	t.Helper()
	type texts struct {
		Seen int      `json:"seen"`
		Bad  []string `json:"bad"`
	}
	found := Eval[texts](t, b, lowContrast)
	assert.Greater(t, found.Seen, least)
	assert.Empty(t, found.Bad)
	// The check can fail: a pale grey is found.
	found = Eval[texts](t, b, `document.querySelector('h2').style.color = '#bbb'; `+lowContrast)
	assert.Len(t, found.Bad, 1)
	Eval[string](t, b, `document.querySelector('h2').style.color = ''`)
}
