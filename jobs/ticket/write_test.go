package ticket

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
)

func names(t *testing.T, folder string) []string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	all := []string{}
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

func TestWriteAll(t *testing.T) {
	j := spiceJob(t)
	top := t.TempDir()
	dir := filepath.Join(top, "out", "G7")
	require.NoError(t, WriteAll(t.Context(), dir, j, Options{}))
	assert.ElementsMatch(t, []string{"plan.json", "report.html", "run-sheet.pdf", "rewind-sheet.pdf", "roll-tags.pdf",
		"sections.csv", "versions.csv", "rolls.csv", "rolls.json"}, names(t, dir))
	assert.Equal(t, []string{"G7"}, names(t, filepath.Join(top, "out")), "nothing is left beside the folder")

	require.ErrorIs(t, WriteAll(t.Context(), dir, j, Options{}), ErrThere)
	require.ErrorIs(t, Options{}.Ready(dir), ErrThere)
	require.NoError(t, Options{Replace: true}.Ready(dir))
	require.NoError(t, Options{}.Ready(filepath.Join(top, "new", "G8")))
	assert.Equal(t, []string{"out"}, names(t, top), "asking changes nothing")

	report := filepath.Join(dir, "report.html")
	require.NoError(t, os.WriteFile(report, []byte("old"), 0o600))
	require.NoError(t, WriteAll(t.Context(), dir, j, Options{Replace: true}))
	text, err := os.ReadFile(report)
	require.NoError(t, err)
	assert.Contains(t, string(text), "Lane plan G7")
	assert.Equal(t, []string{"G7"}, names(t, filepath.Join(top, "out")))
}

func TestWriteAllIsAllOrNothing(t *testing.T) {
	j := spiceJob(t)
	narrow := j
	narrow.Winding.Rolls[0].Key = strings.Repeat("LONG", 15)

	t.Run("a document that cannot be made", func(t *testing.T) {
		top := t.TempDir()
		err := WriteAll(t.Context(), filepath.Join(top, "a", "b"), narrow, Options{})
		require.ErrorContains(t, err, "too narrow for the bar code of roll LONG")
		assert.Empty(t, names(t, top), "not even the folders above")
	})
	t.Run("the old documents stay", func(t *testing.T) {
		dir := filepath.Join(t.TempDir(), "G7")
		require.NoError(t, os.Mkdir(dir, 0o700))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "rolls.csv"), []byte("old"), 0o600))
		require.Error(t, WriteAll(t.Context(), dir, narrow, Options{Replace: true}))
		assert.Equal(t, []string{"rolls.csv"}, names(t, dir))
		assert.Equal(t, []string{"G7"}, names(t, filepath.Dir(dir)))
	})
	t.Run("a folder with something else in it", func(t *testing.T) {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, "notes.txt"), []byte("mine"), 0o600))
		err := WriteAll(t.Context(), dir, spiceJob(t), Options{Replace: true})
		require.ErrorContains(t, err, "holds notes.txt, which is none of our documents")
		assert.Equal(t, []string{"notes.txt"}, names(t, dir))
	})
	t.Run("a file where a folder has to be", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "file")
		require.NoError(t, os.WriteFile(path, nil, 0o600))
		require.ErrorContains(t, WriteAll(t.Context(), path, spiceJob(t), Options{}), "not a directory")
		require.ErrorContains(t, WriteAll(t.Context(), filepath.Join(path, "G7"), spiceJob(t), Options{}), "not a directory")
	})
	t.Run("interrupted", func(t *testing.T) {
		top := t.TempDir()
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		require.ErrorIs(t, WriteAll(ctx, filepath.Join(top, "G7"), spiceJob(t), Options{}), context.Canceled)
		assert.Empty(t, names(t, top))
	})
}

// The same job gives the same bytes, twice and from the plan file alone.
func TestDocumentsAreMadeAgainFromThePlanFileAlone(t *testing.T) {
	j := spiceJob(t)
	j.Money, j.MoneyRule = nil, "" // prices are not in the plan file
	first, second := filepath.Join(t.TempDir(), "G7"), filepath.Join(t.TempDir(), "G7")
	require.NoError(t, WriteAll(t.Context(), first, j, Options{}))

	document, err := planfile.ReadFile(filepath.Join(first, "plan.json"))
	require.NoError(t, err)
	plan := document.Gangs[0]
	gang, err := document.Stored(plan)
	require.NoError(t, err)
	again, err := New(gang, problemOf(t, gang), plan)
	require.NoError(t, err)
	again.Printed = j.Printed
	require.NoError(t, WriteAll(t.Context(), second, again, Options{}))
	for _, name := range FileNames() {
		a, err := os.ReadFile(filepath.Join(first, name))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(second, name))
		require.NoError(t, err)
		assert.True(t, string(a) == string(b), "%s differs", name)
	}
}

func TestFolderNameIsSafeAndUnique(t *testing.T) {
	assert.Equal(t, "G7", FolderName("G7"))
	assert.Equal(t, "Mühle_1", FolderName("Mühle_1"))
	seen := map[string]bool{}
	for _, id := range []string{"", ".", "..", "../../etc", "a/b", `a\b`, "a:b", "a b", "con", "CON", "-x", "x\x00", strings.Repeat("a", 300), strings.Repeat("a", 299) + "b"} {
		name := FolderName(id)
		assert.Regexp(t, `^[\pL\pN_][\pL\pN_-]*$`, name, "%q", id)
		assert.LessOrEqual(t, len([]rune(name)), longestFolder+9)
		assert.False(t, seen[name], "%q twice", name)
		seen[name] = true
	}
}

func TestPapersThatCannotBePrinted(t *testing.T) {
	tests := []struct {
		name   string
		papers jobs.Papers
		want   string
	}{
		{"a template larger than the page", jobs.Papers{Tags: jobs.TagSheet{Width: 100 * mm, Height: 60 * mm, Columns: 3, Rows: 4}},
			"gang G7: roll tags: 3 × 4 tags of 100mm × 60mm take 300mm × 240mm, and a page of A4 has 210 mm × 297 mm"},
		{"a template that fits A4 and not Letter", jobs.Papers{Letter: true, Tags: jobs.TagSheet{Width: 100 * mm, Height: 95 * mm, Columns: 2, Rows: 3}},
			"gang G7: roll tags: 2 × 3 tags of 100mm × 95mm take 200mm × 285mm, and a page of Letter has 215.9 mm × 279.4 mm"},
		{"a tag too small", jobs.Papers{Tags: jobs.TagSheet{Width: 40 * mm, Height: 20 * mm}},
			"gang G7: roll tags of 40mm × 20mm: too small for what a tag says, want at least 60mm × 38mm"},
		{"columns without rows", jobs.Papers{Tags: jobs.TagSheet{Width: 100 * mm, Height: 60 * mm, Columns: 2}},
			"gang G7: roll tags: 2 columns and 0 rows, want both, or neither for one tag to a page"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			g := spiceGang()
			g.Papers = tt.papers
			_, err := New(g, problemOf(t, g), describe(t, g, spicePlan()))
			assert.EqualError(t, err, tt.want)
		})
	}
}
