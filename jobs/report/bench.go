package report

import (
	"fmt"
	"io"
	"slices"
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
	// of blocks sorted by quantity, Best the best cost known, Published that
	// of the plan that the instance's source printed or stored; nil where
	// there is none.
	Alone     *float64 `json:"alone"`
	Blocks    *float64 `json:"sorted_blocks"`
	Best      *float64 `json:"best_known"`
	Published *float64 `json:"published"`
	// Rivals are other ways of planning that were run beside ours; nil where
	// they were not.
	Rivals []Rival `json:"rivals,omitempty"`
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

// beatsPublished tells whether our plan costs less than the one that the
// instance's source printed or stored, by more than what floats lose.
func (b Benchmark) beatsPublished() bool {
	return b.Published != nil && b.Failure == "" && b.Cost < *b.Published*(1-1e-9)
}

// signed percent, without a sign where nothing is left of the number.
func signed(percent float64) string {
	text := fmt.Sprintf("%+.2f %%", percent)
	if text == "+0.00 %" || text == "-0.00 %" {
		return text[1:]
	}
	return text
}

// BenchText writes a benchmark as a table with the means below it, and a
// second table of the rivals where they were run.
func BenchText(w io.Writer, lines []Benchmark, style Style) error {
	published := slices.ContainsFunc(lines, func(b Benchmark) bool { return b.Published != nil })
	t := newTable()
	t.left("instance")
	for _, heading := range []string{"versions", "lanes", "sections", "cost", "bound", "gap", "to 1 %", "alone", "blocks", "best known"} {
		t.right(heading)
	}
	if published {
		t.right("published")
	}
	var gap, seconds, alone, blocks, best, source mean
	for _, b := range lines {
		cells := []string{b.Name, strconv.Itoa(b.Versions), strconv.Itoa(b.Lanes), "-", "-", "-", "-", "-", "-", "-", "-", "-"}
		if b.Failure == "" {
			gap.add(100 * b.Gap)
			seconds.add(b.SecondsToOnePercent)
			alone.against(b.Alone, b.Cost)
			blocks.against(b.Blocks, b.Cost)
			best.against(b.Best, b.Cost)
			source.against(b.Published, b.Cost)
			cells = append(cells[:3], strconv.Itoa(b.Sections),
				b.money(b.Cost), b.money(b.Bound), benchGap(b), inSeconds(b.SecondsToOnePercent),
				b.beside(b.Alone), b.beside(b.Blocks), b.beside(b.Best), b.beside(b.Published))
			if b.beatsPublished() {
				cells[len(cells)-1] = "better, " + cells[len(cells)-1]
			}
		}
		t.cells(cells, published)
	}
	t.footer = true
	t.cells([]string{
		"mean", "", "", "", "", "", gap.text(percent), seconds.text(inSeconds),
		alone.text(signed), blocks.text(signed), best.text(signed), source.text(signed),
	}, published)
	if _, err := fmt.Fprintf(w, "%s\n\n", t); err != nil {
		return err
	}
	for _, b := range lines {
		remark := ""
		switch {
		case b.Failure != "":
			remark = dress(style.Care, clean(b.Name+": "+b.Failure))
		case b.beatsPublished():
			remark = clean(fmt.Sprintf("%s: better than published, %s against %s", b.Name, b.money(b.Cost), b.money(*b.Published)))
		default:
			continue
		}
		if _, err := fmt.Fprintln(w, remark); err != nil {
			return err
		}
	}
	legend := `to 1 %: when the search was within 1 % of its own final cost
alone, blocks, best known: their cost against ours; + is dearer than ours
`
	if published {
		legend = `to 1 %: when the search was within 1 % of its own final cost
alone, blocks, best known, published: their cost against ours; + is dearer than ours
published: the plan that the instance's source printed or stored
`
	}
	if _, err := io.WriteString(w, legend); err != nil {
		return err
	}
	return rivalsText(w, lines, style)
}

// cells is a row; the last cell is left out where its column is.
func (c *columns) cells(texts []string, last bool) {
	if !last {
		texts = texts[:len(texts)-1]
	}
	for _, text := range texts {
		c.cell(clean(text))
	}
	c.end()
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

// BenchCSV writes a benchmark for a spreadsheet; rivals have their columns
// where they were run.
func BenchCSV(w io.Writer, lines []Benchmark) error {
	heading := []string{
		"instance", "versions", "lanes", "sections", "cost", "bound", "gap", "proven", "seed", "stop",
		"seconds", "seconds_to_1_percent", "alone", "sorted_blocks", "best_known", "published", "better_than_published", "failure",
	}
	methods := rivalMethods(lines)
	for _, method := range methods {
		heading = append(heading, method+"_cost", method+"_seconds", method+"_equal_seconds", method+"_failure")
	}
	var rows [][]string
	for _, b := range lines {
		row := []string{
			b.Name, strconv.Itoa(b.Versions), strconv.Itoa(b.Lanes), strconv.Itoa(b.Sections),
			number(b.Cost), number(b.Bound), number(b.Gap), yes(b.Proven), strconv.FormatInt(b.Seed, 10), b.Stop,
			number(b.Seconds), number(b.SecondsToOnePercent), maybe(b.Alone), maybe(b.Blocks), maybe(b.Best),
			maybe(b.Published), yes(b.beatsPublished()), b.Failure,
		}
		for _, method := range methods {
			r, _ := b.rival(method)
			row = append(row, maybe(r.Cost), maybe(r.Seconds), maybe(r.EqualSeconds), r.Failure)
		}
		rows = append(rows, row)
	}
	return safecsv.Write(w, heading, rows)
}

// number is a float as a machine reads it; maybe is empty where there is none.
func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func maybe(x *float64) string {
	if x == nil {
		return ""
	}
	return number(*x)
}

// BenchJSON writes a benchmark for other programs.
func BenchJSON(w io.Writer, lines []Benchmark) error {
	if lines == nil {
		lines = []Benchmark{}
	}
	return plainjson.Write(w, map[string]any{"laneplan": 1, "bench": lines})
}
