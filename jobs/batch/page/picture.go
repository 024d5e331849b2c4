package page

import (
	"fmt"
	"strconv"

	"laneplan/jobs/planfile"
)

// picture is a gang's lanes along the web: across in percent of its rows, so
// that it fits any width, and down in pixels.
type picture struct {
	Words  string // for those who do not see it
	Height int
	Boxes  []box
	Marks  []string // where sections begin, in percent
}

// box is one version in one lane, over all sections in which the lane keeps it.
type box struct {
	X, Width string // percent
	Y        int
	Pattern  string
	Label    string // empty where it has no room
	Words    string
}

// Sizes in pixels, and the share of the width from which a box has a label.
const (
	laneHigh, laneGap = 17, 2
	labelFrom         = 0.07
)

func pictureOf(g planfile.Gang) *picture {
	rows, index := 0, map[string]int{}
	for i, v := range g.Versions {
		index[v.ID] = i
	}
	starts := make([]int, 0, len(g.Sections)+1)
	for _, s := range g.Sections {
		starts = append(starts, rows)
		rows += s.Rows
	}
	starts = append(starts, rows)
	if rows == 0 {
		return nil
	}
	percent := func(n int) string { return strconv.FormatFloat(float64(n)/float64(rows)*100, 'f', 2, 64) + "%" }
	p := &picture{Height: g.Lanes*(laneHigh+laneGap) - laneGap, Words: fmt.Sprintf("Drawing of %s and %s, in proportion", plural(g.Lanes, "lane"), plural(len(g.Sections), "section"))}
	for lane := range g.Lanes {
		for from := 0; from < len(g.Sections); {
			id := laneOf(g.Sections[from], lane)
			to := from + 1
			for to < len(g.Sections) && laneOf(g.Sections[to], lane) == id {
				to++
			}
			if n := starts[to] - starts[from]; id != "" {
				b := box{X: percent(starts[from]), Width: percent(n), Y: lane * (laneHigh + laneGap), Pattern: "v" + strconv.Itoa(index[id]%patternKinds),
					Words: fmt.Sprintf("lane %d: %s, %s labels", lane+1, id, count(n))}
				if float64(n) >= labelFrom*float64(rows) {
					b.Label = id
				}
				p.Boxes = append(p.Boxes, b)
			}
			from = to
		}
	}
	for _, start := range starts[1 : len(starts)-1] {
		p.Marks = append(p.Marks, percent(start))
	}
	return p
}

// laneOf is what a lane prints in a section; "" is nothing.
func laneOf(s planfile.Section, lane int) string {
	if lane >= len(s.Lanes) || s.Lanes[lane] == nil {
		return ""
	}
	return *s.Lanes[lane]
}
