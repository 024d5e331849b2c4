package report

import (
	"fmt"
	"io"
	"slices"
	"strconv"

	"laneplan/jobs/internal/plainjson"
	"laneplan/jobs/safecsv"
)

// Growth is how long one instance took to a gap.
type Growth struct {
	Instance string  `json:"instance"`
	Versions int     `json:"versions"`
	Lanes    int     `json:"lanes"`
	Sections int     `json:"sections"`
	Cost     float64 `json:"cost"`
	Bound    float64 `json:"bound"`
	Target   float64 `json:"target_gap"` // a fraction, as Gap
	Gap      float64 `json:"gap"`        // at the end
	Reached  bool    `json:"reached"`
	Seconds  float64 `json:"seconds"` // to the end
	Seed     int64   `json:"seed"`
	Stop     string  `json:"stop"`
	Failure  string  `json:"failure,omitempty"` // why there is no plan
}

// GrowthOf is what a benchmark's line says of a search for a gap.
func GrowthOf(b Benchmark, target float64) Growth {
	return Growth{
		Instance: b.Name, Versions: b.Versions, Lanes: b.Lanes, Sections: b.Sections, Cost: b.Cost, Bound: b.Bound,
		Target: target, Gap: b.Gap, Reached: b.Failure == "" && b.Gap <= target,
		Seconds: b.Seconds, Seed: b.Seed, Stop: b.Stop, Failure: b.Failure,
	}
}

// GrowthText writes one row for each number of versions and one column for
// each number of lanes.
func GrowthText(w io.Writer, lines []Growth, style Style) error {
	versions, lanes := growthAxes(lines)
	t := newTable()
	t.right("versions")
	for _, n := range lanes {
		t.right(fmt.Sprintf("%d lanes", n))
	}
	for _, v := range versions {
		cells := []string{strconv.Itoa(v)}
		for _, n := range lanes {
			cells = append(cells, growthCell(lines, v, n))
		}
		t.cells(cells, true)
	}
	if _, err := fmt.Fprintf(w, "%s\n\n", t); err != nil {
		return err
	}
	for _, g := range lines {
		if g.Failure != "" {
			if _, err := fmt.Fprintln(w, dress(style.Care, clean(g.Instance+": "+g.Failure))); err != nil {
				return err
			}
		}
	}
	target := "proven to be the cheapest"
	if len(lines) > 0 && lines[0].Target > 0 {
		target = "proven to be within " + PercentOf(lines[0].Target) + " of the cheapest"
	}
	_, err := fmt.Fprintf(w, "The time until the plan was %s.\nMore than: not reached in that time; behind it the gap at its end.\n", target)
	return err
}

// growthAxes are the numbers of versions and of lanes, ascending.
func growthAxes(lines []Growth) (versions, lanes []int) {
	for _, g := range lines {
		versions, lanes = append(versions, g.Versions), append(lanes, g.Lanes)
	}
	slices.Sort(versions)
	slices.Sort(lanes)
	return slices.Compact(versions), slices.Compact(lanes)
}

func growthCell(lines []Growth, versions, lanes int) string {
	for _, g := range lines {
		switch {
		case g.Versions != versions || g.Lanes != lanes:
		case g.Failure != "":
			return "no plan"
		case g.Reached:
			return inHundredths(g.Seconds)
		default:
			return fmt.Sprintf("more than %s (%s)", inSeconds(g.Seconds), PercentOf(g.Gap))
		}
	}
	return "-"
}

// GrowthCSV writes one row for each instance.
func GrowthCSV(w io.Writer, lines []Growth) error {
	var rows [][]string
	for _, g := range lines {
		rows = append(rows, []string{
			g.Instance, strconv.Itoa(g.Versions), strconv.Itoa(g.Lanes), strconv.Itoa(g.Sections), number(g.Cost), number(g.Bound),
			number(g.Target), number(g.Gap), yes(g.Reached), number(g.Seconds), strconv.FormatInt(g.Seed, 10), g.Stop, g.Failure,
		})
	}
	return safecsv.Write(w, []string{
		"instance", "versions", "lanes", "sections", "cost", "bound", "target_gap", "gap", "reached", "seconds", "seed", "stop", "failure",
	}, rows)
}

// GrowthJSON writes the instances for other programs.
func GrowthJSON(w io.Writer, lines []Growth) error {
	if lines == nil {
		lines = []Growth{}
	}
	return plainjson.Write(w, map[string]any{"laneplan": 1, "growth": lines})
}
