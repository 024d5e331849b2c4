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

// Each of these is one sentence with its place in the file, nothing is written
// and nothing is searched for.
func TestRefusedDocuments(t *testing.T) {
	const order = `orders: [{id: "7", versions: [{id: A, quantity: 800, labels_per_roll: 400, core: 76mm, wind: out/top}, {id: B, quantity: 800, labels_per_roll: 400, core: 76mm, wind: out/bottom}]}]
`
	const good = smallShop + "rewinder: {id: w, cores: [25mm, 76mm], max_diameter: 300mm}\n" + order
	tests := []struct {
		name, old, new string
		code           int
		want           string
	}{
		{name: "nothing wrong: edges that differ by 180° share a web", code: exitDone},
		{"a core that the rewinder does not take", "core: 76mm, wind: out/top", "core: 50mm, wind: out/top", exitInput,
			"8:82: core: order 7, version A: core 50mm: rewinder w takes 25mm, 76mm"},
		{"a diameter that holds no label", "labels_per_roll: 400, core: 76mm, wind: out/top", "max_diameter: 76.1mm, core: 76mm, wind: out/top", exitInput,
			"8:68: max_diameter: order 7, version A: max diameter 76.1mm: holds not even one label of 100mm on a core of 76mm, want a larger one"},
		{"a roll that the rewinder cannot hold", "labels_per_roll: 400, core: 76mm, wind: out/top", "labels_per_roll: 40000, core: 76mm, wind: out/top", exitInfeasible,
			"8:71: labels_per_roll: order 7, version A: labels per roll 40000: make a roll of 875.4mm, above the largest diameter of 300mm, which holds 4429: cannot be wound by rewinder w"},
		{"a copy position without a chart", "wind: out/top", "wind: 4", exitInput,
			"8:94: wind: want a copy position in words such as out/top, got the number 4: charts of numbers contradict each other"},
		{"a die with no gap around", "gap_around: 3mm", "gap_around: 0mm", exitInput,
			"4:82: gap_around: die d: has no gap around, want the gap between two labels along the web, such as 3mm"},
		{"a die with no gap across", "gap_across: 3mm", "gap_across: 0mm", exitInput,
			"4:65: gap_across: die d: has no gap across, want the gap between two lanes, such as 3mm: the slitting knives stand in it"},
		{"a stock with no caliper", ", caliper: 0.145mm", "", exitInput,
			"5:8: caliper: order 7, version A: stock paper: has no caliper, want its whole thickness with the liner, such as 0.145mm: a largest diameter is stated"},
		{"a template larger than the page", "orders:", "papers: {tags: {width: 100mm, height: 60mm, columns: 3, rows: 2}}\norders:", exitInput,
			"8:16: tags: roll tags: 3 × 2 tags of 100mm × 60mm take 300mm × 120mm, and a page of A4 has 210 mm × 297 mm"},
		{"edges that differ by 90°", "wind: out/bottom", "wind: out/left", exitInfeasible,
			"8:167: wind: versions A (top first) and B (left first) on one web cannot be wound: one copy would have to turn by 90° on a label of 70mm × 100mm, and only leading edges that differ by 180° can be ganged"},
		{"a liner heavier than the stock", "caliper: 0.145mm", "grams_per_m2: 60, liner_grams_per_m2: 62", exitInput,
			"5:77: liner_grams_per_m2: want less than grams_per_m2, which is that of the whole stock, liner and all"},
		{"a weight of cores without their wall", "cores: [", "core_kg_per_m3: 700, cores: [", exitInput,
			"7:11: core_wall: this field is missing: want the wall of the cores, such as 5mm: their weight follows from it and core_kg_per_m3"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			require.Contains(t, good, tt.old)
			shop, out := file(t, "shop.yaml", strings.Replace(good, tt.old, tt.new, 1)), filepath.Join(t.TempDir(), "out")
			got := laneplan(t, "plan", shop, "--quiet", "--out", out)
			assert.Equal(t, tt.code, got.code, got.stderr)
			if tt.want != "" {
				assert.Equal(t, shop+":"+tt.want+"\n", got.stderr)
			}
			_, err := os.Stat(out)
			assert.Equal(t, tt.code == exitDone, err == nil, "all or nothing")
			assert.Equal(t, tt.code == exitDone, got.stdout != "", "refused before the search")
		})
	}
	t.Run("check tells beforehand", func(t *testing.T) {
		shop := file(t, "shop.yaml", strings.Replace(good, "core: 76mm", "core: 50mm", 1))
		got := laneplan(t, "check", shop)
		assert.Equal(t, exitDone, got.code, "a plan can be made")
		assert.True(t, strings.HasPrefix(got.stdout, shop+": nothing wrong for a plan, but no documents can be made of it:\n"+
			shop+":8:82: core: order 7, version A: core 50mm: rewinder w takes 25mm, 76mm\n  gang "), got.stdout)
	})
	t.Run("edges that differ by 90° are refused without documents, too", func(t *testing.T) {
		shop := file(t, "shop.yaml", strings.Replace(good, "out/bottom", "in/right", 1))
		for _, args := range [][]string{{"plan", shop, "--quiet"}, {"check", shop}} {
			got := laneplan(t, args...)
			assert.Equal(t, exitInfeasible, got.code)
			assert.Empty(t, got.stdout)
		}
	})
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
