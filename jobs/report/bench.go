package report

import (
	"fmt"
	"io"
	"strconv"

	"laneplan/jobs/internal/plainjson"
	"laneplan/jobs/safecsv"
)

// Benchmark is one line of a benchmark. Costs are floats: nobody pays them.
type Benchmark struct {
	Name     string  `json:"instance"`
	Versions int     `json:"versions"`
	Lanes    int     `json:"lanes"`
	Sections int     `json:"sections"`
	Cost     float64 `json:"cost"`
	Bound    float64 `json:"bound"`
	Gap      float64 `json:"gap"` // a fraction
	Proven   bool    `json:"proven"`
	Seed     int64   `json:"seed"`
	Stop     string  `json:"stop"`
	Seconds  float64 `json:"seconds"`
	// SecondsToOnePercent is when the search was within 1 % of its own final
	// cost.
	SecondsToOnePercent float64 `json:"seconds_to_1_percent"`
	// Alone is the cost of every version in a section of its own, Blocks that
	// of blocks sorted by quantity, Best the best cost known; nil where there
	// is none.
	Alone  *float64 `json:"alone"`
	Blocks *float64 `json:"sorted_blocks"`
	Best   *float64 `json:"best_known"`
	// Failure says why there is no plan.
	Failure string `json:"failure,omitempty"`

	Places int32 `json:"-"` // decimals of its money
}

// beside is another way's cost against ours: +12.3 %.
func (b Benchmark) beside(other *float64) string {
	if other == nil || b.Cost == 0 || b.Failure != "" {
		return "-"
	}
	return signed(100 * (*other - b.Cost) / b.Cost)
}

// signed percent, without a sign where nothing is left of the number.
func signed(percent float64) string {
	text := fmt.Sprintf("%+.2f %%", percent)
	if text == "+0.00 %" || text == "-0.00 %" {
		return text[1:]
	}
	return text
}

// BenchText writes a benchmark as a table with the means below it.
func BenchText(w io.Writer, lines []Benchmark, style Style) error {
	t := newTable()
	t.left("instance")
	for _, heading := range []string{"versions", "lanes", "sections", "cost", "bound", "gap", "to 1 %", "alone", "blocks", "best known"} {
		t.right(heading)
	}
	var gap, seconds, alone, blocks, best mean
	for _, b := range lines {
		if b.Failure != "" {
			for _, cell := range []string{b.Name, strconv.Itoa(b.Versions), strconv.Itoa(b.Lanes), "-", "-", "-", "-", "-", "-", "-", "-"} {
				t.cell(clean(cell))
			}
			t.end()
			continue
		}
		gap.add(100 * b.Gap)
		seconds.add(b.SecondsToOnePercent)
		alone.against(b.Alone, b.Cost)
		blocks.against(b.Blocks, b.Cost)
		best.against(b.Best, b.Cost)
		for _, cell := range []string{
			b.Name, strconv.Itoa(b.Versions), strconv.Itoa(b.Lanes), strconv.Itoa(b.Sections),
			b.money(b.Cost), b.money(b.Bound), benchGap(b), inSeconds(b.SecondsToOnePercent),
			b.beside(b.Alone), b.beside(b.Blocks), b.beside(b.Best),
		} {
			t.cell(clean(cell))
		}
		t.end()
	}
	t.footer = true
	for _, cell := range []string{
		"mean", "", "", "", "", "", gap.text(percent), seconds.text(inSeconds), alone.text(signed), blocks.text(signed), best.text(signed),
	} {
		t.cell(cell)
	}
	t.end()
	if _, err := fmt.Fprintf(w, "%s\n\n", t); err != nil {
		return err
	}
	for _, b := range lines {
		if b.Failure != "" {
			if _, err := fmt.Fprintln(w, dress(style.Care, clean(b.Name+": "+b.Failure))); err != nil {
				return err
			}
		}
	}
	_, err := io.WriteString(w, `to 1 %: when the search was within 1 % of its own final cost
alone, blocks, best known: their cost against ours; + is dearer than ours
`)
	return err
}

func (b Benchmark) money(x float64) string { return strconv.FormatFloat(x, 'f', int(b.Places), 64) }

func benchGap(b Benchmark) string {
	if b.Proven {
		return "proven"
	}
	return percent(100 * b.Gap)
}

// mean of what was added.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(x float64) { m.sum, m.n = m.sum+x, m.n+1 }

func (m *mean) against(other *float64, cost float64) {
	if other != nil && cost != 0 {
		m.add(100 * (*other - cost) / cost)
	}
}

func (m *mean) text(format func(float64) string) string {
	if m.n == 0 {
		return "-"
	}
	return format(m.sum / float64(m.n))
}

func percent(x float64) string   { return fmt.Sprintf("%.2f %%", x) }
func inSeconds(x float64) string { return fmt.Sprintf("%.1f s", x) }

// BenchCSV writes a benchmark for a spreadsheet.
func BenchCSV(w io.Writer, lines []Benchmark) error {
	var rows [][]string
	number := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
	maybe := func(x *float64) string {
		if x == nil {
			return ""
		}
		return number(*x)
	}
	for _, b := range lines {
		rows = append(rows, []string{
			b.Name, strconv.Itoa(b.Versions), strconv.Itoa(b.Lanes), strconv.Itoa(b.Sections),
			number(b.Cost), number(b.Bound), number(b.Gap), yes(b.Proven), strconv.FormatInt(b.Seed, 10), b.Stop,
			number(b.Seconds), number(b.SecondsToOnePercent), maybe(b.Alone), maybe(b.Blocks), maybe(b.Best), b.Failure,
		})
	}
	return safecsv.Write(w, []string{
		"instance", "versions", "lanes", "sections", "cost", "bound", "gap", "proven", "seed", "stop",
		"seconds", "seconds_to_1_percent", "alone", "sorted_blocks", "best_known", "failure",
	}, rows)
}

// BenchJSON writes a benchmark for other programs.
func BenchJSON(w io.Writer, lines []Benchmark) error {
	if lines == nil {
		lines = []Benchmark{}
	}
	return plainjson.Write(w, map[string]any{"laneplan": 1, "bench": lines})
}
