package sheet

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"
)

func text(runs []run) string {
	var b strings.Builder
	for _, r := range runs {
		b.WriteString(r.text)
	}
	return b.String()
}

func TestShape(t *testing.T) {
	tests := []struct {
		name, text string
		want       string // as it stands on the line, from left to right
		faces      []string
		missing    bool
	}{
		{name: "Latin", text: "Mühle Süd", want: "Mühle Süd", faces: []string{regular}},
		{name: "an accent of its own is composed", text: "Mu\u0308hle", want: "Mühle", faces: []string{regular}},
		{name: "Polish", text: "słoik", want: "słoik", faces: []string{regular}},
		{name: "Chinese beside Latin", text: "Tee 茶", want: "Tee 茶", faces: []string{regular, fallback}},
		{name: "Hebrew runs to the left", text: "אב", want: "בא", faces: []string{regular}},
		{name: "Hebrew inside Latin", text: "a אב b", want: "a בא b", faces: []string{regular}},
		{name: "a number inside Hebrew keeps its order", text: "אב 12 גד", want: "דג 12 בא", faces: []string{regular}},
		{name: "a letter that no font has", text: "salt 🧂", want: "salt [U+1F9C2]", faces: []string{regular}, missing: true},
		{name: "controls are dropped, breaks are spaces", text: "a\x00\x1b\u202eb\nc\td", want: "ab c d", faces: []string{regular}},
		{name: "not UTF-8", text: "a\xffb", want: "a\uFFFDb", faces: []string{regular}},
		{name: "nothing", text: "", want: "", faces: []string{regular}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			runs, missing := shape(tt.text, false)
			assert.Equal(t, tt.want, text(runs))
			assert.Equal(t, tt.missing, missing)
			var faces []string
			for _, r := range runs {
				faces = append(faces, r.face)
			}
			assert.Equal(t, tt.faces, faces)
		})
	}
}

// Arabic letters take the form that joins them to their neighbours. The forms
// of 'salt', ملح: initial meem FEE3, medial lam FEE0, final hah FEA2 (Unicode
// chart Arabic Presentation Forms-B), drawn from left to right.
func TestArabicLettersJoin(t *testing.T) {
	for _, heavy := range []bool{false, true} {
		runs, missing := shape("ملح", heavy)
		assert.Equal(t, "\uFEA2\uFEE0\uFEE3", text(runs))
		assert.False(t, missing)
	}
	runs, _ := shape("ملح", false)
	letters := []rune(norm.NFKC.String(text(runs)))
	assert.Equal(t, "ملح", string([]rune{letters[2], letters[1], letters[0]}), "and are still the same letters")
}

func newSheet(t *testing.T) *Sheet {
	t.Helper()
	s := New(A4, "test", time.Time{})
	s.AddPage()
	return s
}

func TestTextIsCutToItsWidth(t *testing.T) {
	s := newSheet(t)
	for _, long := range []string{strings.Repeat("wide ", 60), strings.Repeat("茶", 300), strings.Repeat("ملح ", 100)} {
		runs := s.fit(long, 40, 9, Style{})
		assert.LessOrEqual(t, s.measure(runs, 9), 40.0)
		assert.Greater(t, s.measure(runs, 9), 30.0, "no more is cut than has to be")
		assert.Contains(t, text(runs), "…")
	}
	assert.Equal(t, "short", text(s.fit("short", 40, 9, Style{})))
	assert.Equal(t, "…", text(s.fit("no room", 3, 9, Style{})))
	assert.Equal(t, "…", text(s.fit("no room", 3, 9, Style{Ends: true})))
}

// Ids that begin alike stay apart: what is cut is their middle.
func TestIdsKeepBothEnds(t *testing.T) {
	s := newSheet(t)
	cut := map[string]bool{}
	for _, id := range []string{"ceylon-cinnamon-ground-40-g-batch-a", "ceylon-cinnamon-ground-40-g-batch-b"} {
		runs := s.fit(id, 30, 9, Style{Ends: true})
		assert.LessOrEqual(t, s.measure(runs, 9), 30.0)
		assert.Regexp(t, `^ceylon.*….*batch-[ab]$`, text(runs))
		cut[text(runs)] = true
	}
	assert.Len(t, cut, 2)
}

func TestLinesBreakBetweenWords(t *testing.T) {
	s := newSheet(t)
	lines := s.Lines(30, Style{}, "one two three four five six seven eight nine ten")
	assert.Greater(t, len(lines), 2)
	assert.Equal(t, "one two three four five six seven eight nine ten", strings.Join(lines, " "))
	for _, l := range lines {
		assert.LessOrEqual(t, s.Width(Style{}, l), 30.0)
	}
}

func TestTableRunsOverPagesWithItsHead(t *testing.T) {
	s := newSheet(t)
	breaks := 0
	table := Table{Columns: []Column{{Title: "Roll", Width: 30}, {Title: "Labels", Width: 20, Align: Right}}, Bottom: 280,
		NewPage: func() float64 { breaks++; s.AddPage(); return 20 }}
	var rows [][]Cell
	for i := range 120 {
		rows = append(rows, []Cell{{Text: fmt.Sprint(i)}, {Text: "1"}})
	}
	y := table.Draw(s, 10, 20, rows)
	assert.Equal(t, 2, breaks)
	assert.Less(t, y, 280.0)
	assert.InDelta(t, table.HeadHeight(s)+120*table.rowHeight(1), table.Height(s, rows), 1e-9)
}

func TestTheSameSheetIsTheSameBytes(t *testing.T) {
	var made [2]bytes.Buffer
	for i := range made {
		s := newSheet(t)
		s.Text(10, 10, 100, Style{}, "Mühle 茶 ملح")
		s.Fill(10, 30, 20, 20, PatternOf(5))
		require.NoError(t, s.Write(&made[i]))
	}
	assert.True(t, bytes.Equal(made[0].Bytes(), made[1].Bytes()))
	assert.True(t, bytes.HasPrefix(made[0].Bytes(), []byte("%PDF-")))
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

func TestWriteReportsAFullDisk(t *testing.T) {
	s := newSheet(t)
	assert.ErrorIs(t, s.Write(full{}), io.ErrShortWrite)
}

func TestPatternsDifferInBlackAndWhite(t *testing.T) {
	seen, lines := map[string]int{}, map[string]int{}
	for n := range 128 {
		p := PatternOf(n)
		key := fmt.Sprint(p)
		first, twice := seen[key]
		assert.False(t, twice, "%d and %d", first, n)
		seen[key] = n
		p.Tint = Colour{}
		lines[fmt.Sprint(p)]++
		if n < 16 {
			assert.Len(t, lines, n+1, "the first 16 differ without colour")
		}
	}
}

// Black text on every tint has a contrast of 10:1 or more, by the formula of
// WCAG 2.1.
func TestTintsAreLight(t *testing.T) {
	part := func(v int) float64 {
		c := float64(v) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	for _, c := range tints {
		light := 0.2126*part(c.R) + 0.7152*part(c.G) + 0.0722*part(c.B)
		assert.Greater(t, (light+0.05)/0.05, 10.0, "%v", c)
	}
}

// A batch sets documents of several gangs at a time.
func TestSheetsAreSetAtTheSameTime(t *testing.T) {
	want, _ := shape("Mühle 茶 ملح 🧂", false)
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			for range 50 {
				got, _ := shape("Mühle 茶 ملح 🧂", false)
				assert.Equal(t, want, got)
			}
		})
	}
	group.Wait()
}
