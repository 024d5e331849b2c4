package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/ledger"
)

// aLedger is one in a folder, of two plans of two dies and customers.
func aLedger(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), ledger.FileName)
	l, err := ledger.Open(path)
	require.NoError(t, err)
	defer l.Close()
	for i, day := range []string{"2026-11-02", "2026-12-01"} {
		name := []string{"one", "two"}[i]
		var d dateFlag
		require.NoError(t, d.Set(day))
		_, err := l.Append(t.Context(), ledger.Entry{
			At: d.day(), Kind: ledger.KindPlanned, Gang: "gang " + name, Die: "die " + name,
			Orders: []ledger.Order{{ID: name, Customer: "customer " + name, Versions: []ledger.Version{{ID: "v", Ordered: 100, Planned: 110, Overs: 10}}}},
		})
		require.NoError(t, err)
	}
	return path
}

func TestHistoryOfALedgerAndOfItsFolder(t *testing.T) {
	path := aLedger(t)
	got := laneplan(t, "history", path)
	require.Equal(t, exitDone, got.code, got.stderr)
	assert.Contains(t, got.stdout, "History: 2 entries")
	assert.Equal(t, got, laneplan(t, "history", filepath.Dir(path)))
	got = laneplan(t, "history", path, "--order", "three")
	assert.Equal(t, ran{stdout: path + " holds no entry of order three\n"}, got)
}

func TestHistoryRefusesWhatIsNoLedger(t *testing.T) {
	text := file(t, "notes.txt", strings.Repeat("this is a text ", 50))
	for _, tt := range []struct {
		name string
		args []string
		says string
	}{
		{"nothing there", []string{"none.sqlite"}, "laneplan: none.sqlite: there is no ledger\n"},
		{"a folder without one", []string{filepath.Dir(text)}, "there is no ledger"},
		{"a text", []string{text}, "notes.txt: this is not a ledger of laneplan"},
		{"a time the wrong way round", []string{text, "--since", "2026-12-02", "--until", "2026-12-01"}, "--until: want a day from --since 2026-12-02 on, got 2026-12-01"},
		{"no date", []string{text, "--since", "yesterday"}, "want a date such as 2026-12-04"},
		{"a folder to write to", []string{text, "--out", filepath.Dir(text)}, "is a folder, want a file"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := laneplan(t, append([]string{"history"}, tt.args...)...)
			assert.Equal(t, exitInput, got.code)
			assert.Contains(t, got.stderr, tt.says)
			assert.Empty(t, got.stdout)
		})
	}
}

func init() {
	// only gives the gangs that a history names.
	only := func(t *testing.T, args ...string) (gangs []string) {
		t.Helper()
		got := laneplan(t, append([]string{"history", aLedger(t)}, args...)...)
		require.Equal(t, exitDone, got.code, got.stderr)
		for _, gang := range []string{"gang one", "gang two"} {
			if strings.Contains(got.stdout, gang) {
				gangs = append(gangs, gang)
			}
		}
		return gangs
	}
	for flag, args := range map[string][]string{
		"--order": {"--order", "two"}, "--customer": {"--customer", "customer two"}, "--die": {"--die", "die two"},
		"--gang": {"--gang", "gang two"}, "--since": {"--since", "2026-12-01"},
	} {
		flagTests["history "+flag] = func(t *testing.T) { assert.Equal(t, []string{"gang two"}, only(t, args...)) }
	}
	flagTests["history --until"] = func(t *testing.T) {
		assert.Equal(t, []string{"gang one", "gang two"}, only(t))
		assert.Equal(t, []string{"gang one"}, only(t, "--until", "2026-11-30"))
	}
	flagTests["history --by"] = func(t *testing.T) {
		path := aLedger(t)
		assert.Contains(t, laneplan(t, "history", path).stdout, "By month:")
		assert.Contains(t, laneplan(t, "history", path, "--by", "week").stdout, "2026-W45")
		assert.Equal(t, exitInput, laneplan(t, "history", path, "--by", "moon").code)
	}
	flagTests["history --format"] = func(t *testing.T) {
		path := aLedger(t)
		assert.Contains(t, laneplan(t, "history", path, "-f", "json").stdout, `"periods"`)
		assert.Contains(t, laneplan(t, "history", path, "-f", "csv").stdout, "entry,at,kind")
		assert.Contains(t, laneplan(t, "history", path, "-f", "html").stdout, "<!doctype html>")
	}
	flagTests["history --out"] = func(t *testing.T) {
		path := aLedger(t)
		for _, name := range []string{"h.json", "h.csv", "h.html", "h.txt"} {
			out := filepath.Join(t.TempDir(), name)
			require.Equal(t, ran{}, laneplan(t, "history", path, "--out", out))
			text, err := os.ReadFile(out)
			require.NoError(t, err)
			shown := laneplan(t, "history", path, "-f", map[string]string{"h.json": "json", "h.csv": "csv", "h.html": "html", "h.txt": "text"}[name])
			assert.Equal(t, shown.stdout, string(text))
		}
	}
}
