package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/planfile"
	"laneplan/jobs/starter"
)

const smallShop = `laneplan: 1
gang: small
currency: EUR
die: {id: d, across: 70mm, around: 100mm, lanes: 2, gap_across: 3mm, gap_around: 3mm, web: 160mm}
stock: {id: paper, price_per_m2: 0.5, caliper: 0.145mm}
press: {id: p, speed: 30m/min, hourly_rate: 80, setup_minutes: 10, setup_web: 10m, changeover_minutes: 5, changeover_web: 5m}
`

func TestExitCodesOfDocuments(t *testing.T) {
	tests := []struct {
		name, rest string
		want       int
	}{
		{"a core that the rewinder does not take", "rewinder: {id: w, cores: [25mm]}\norders: [{id: o, versions: [{id: A, quantity: 800, labels_per_roll: 400, core: 76mm}]}]\n", exitInput},
		{"a roll that the rewinder cannot hold", "rewinder: {id: w, cores: [76mm], max_diameter: 90mm}\norders: [{id: o, versions: [{id: A, quantity: 800, labels_per_roll: 400, core: 76mm}]}]\n", exitInfeasible},
		{"nothing wrong", "rewinder: {id: w, cores: [76mm]}\norders: [{id: o, versions: [{id: A, quantity: 800, labels_per_roll: 400, core: 76mm}]}]\n", exitDone},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "out")
			got := laneplan(t, "plan", file(t, "shop.yaml", smallShop+tt.rest), "--out", out)
			assert.Equal(t, tt.want, got.code, got.stderr)
			_, err := os.Stat(out)
			assert.Equal(t, tt.want == exitDone, err == nil, "all or nothing")
			assert.Equal(t, tt.want == exitDone, got.stdout != "", "refused before the search")
		})
	}
}

func TestOutNamesAFolderOrAFile(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, os.Mkdir("dir.d", 0o700))
	for name, want := range map[string]bool{"": false, "plan.json": false, "plan.txt": false, "out": true, "out/today": true, "plan.json/": true, "dir.d": true} {
		assert.Equal(t, want, namesFolder(name), name)
	}
}

func TestDocumentsOfAnOrderBook(t *testing.T) {
	folder := t.TempDir()
	require.Equal(t, exitDone, laneplan(t, "init", folder).code)
	book, err := os.ReadFile(filepath.Join(folder, "orders.csv"))
	require.NoError(t, err)
	lines := strings.SplitAfter(string(book), "\n")
	some := lines[0] // every fourth line: the whole would take longer and show no more
	for i := 1; i < len(lines); i += 4 {
		some += lines[i]
	}
	part := filepath.Join(folder, "part.csv")
	require.NoError(t, os.WriteFile(part, []byte(some), 0o600))
	out := filepath.Join(folder, "out")
	args := []string{"plan", "--shop", filepath.Join(folder, starter.ShopFile), "--date", "2026-11-30", "--work", "0.1", part, "--out", out}
	got := laneplan(t, args...)
	require.Equal(t, exitDone, got.code, got.stderr)
	assert.Contains(t, got.stdout, "All gangs cost ", "the plans are shown too")
	gangs, err := os.ReadDir(out)
	require.NoError(t, err)
	require.Greater(t, len(gangs), 1)
	for _, g := range gangs {
		document, err := planfile.ReadFile(filepath.Join(out, g.Name(), "plan.json"))
		require.NoError(t, err)
		assert.Equal(t, g.Name(), document.Gangs[0].ID)
		assert.FileExists(t, filepath.Join(out, g.Name(), "run-sheet.pdf"))
		report, err := os.ReadFile(filepath.Join(out, g.Name(), "report.html"))
		require.NoError(t, err)
		stored, err := document.Stored(document.Gangs[0])
		require.NoError(t, err)
		assert.Equal(t, len(stored.Orders) > 1, strings.Contains(string(report), "What every order saves"), g.Name())
	}
	assert.Equal(t, exitInput, laneplan(t, args...).code, "nothing is overwritten")
}

// Ctrl-C ends the search; the documents of the best plan are written all the
// same.
func TestInterruptedPlanHasItsDocuments(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out")
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	stderr := &cancelAt{word: "cost", cancel: cancel}
	code := run(ctx, []string{"plan", demo, "--time", "0", "--progress", "--out", out}, io.Discard, stderr)
	assert.Equal(t, exitInterrupted, code, stderr.String())
	assert.FileExists(t, filepath.Join(out, "spice-mill", "run-sheet.pdf"))
}
