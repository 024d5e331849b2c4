package ticket

import (
	"fmt"

	"laneplan/jobs"
	"laneplan/nest"
)

// chart is the drawing of the lanes along the web, in proportion: the web runs
// from left to right, the operator's left lane is at the top.
type chart struct {
	Width, Height string
	Words         string // what the drawing shows, for those who do not see it
	Unit          string
	Lanes         []chartText
	Boxes         []chartBox
	Lost          []chartBox  // set-up and changeovers
	Marks         []chartMark // where sections begin and end, and splices
}

type chartBox struct {
	X, Y, Width, Height string
	Swatch              *svgPattern
	Label               string // inside the box, on a plate; empty where it has no room
	LabelX, LabelY      string
	PlateX, PlateY      string
	PlateWidth          string
	Words               string
}

type chartText struct{ X, Y, Text string }

type chartMark struct {
	X, Bottom, TextX, TextY string
	Text                    string
	Splice                  bool
	Anchor                  string
}

// Sizes of the drawing in its own pixels.
const (
	chartLeft   = 62.0
	chartRight  = 16.0
	chartTop    = 26.0
	chartLane   = 34.0
	chartGap    = 4.0
	chartWide   = 1000.0
	chartLetter = 7.6 // a wide letter of the labels
)

func (j Job) chart() chart {
	web := j.Winding.Web
	at := func(l jobs.Length) float64 {
		return chartLeft + float64(l)/float64(max(web.Total, 1))*(chartWide-chartLeft-chartRight)
	}
	start := func(row int, _ jobs.Length) float64 {
		return chartLeft + float64(row)/float64(max(web.Rows, 1))*(chartWide-chartLeft-chartRight)
	}
	if !j.bare() {
		start = func(_ int, l jobs.Length) float64 { return at(l) }
	}
	lanesHigh := float64(j.Plan.Lanes)*(chartLane+chartGap) - chartGap
	bottom := chartTop + lanesHigh
	c := chart{Width: px(chartWide), Height: px(bottom + 40), Unit: "rows"}
	if !j.bare() {
		c.Unit = j.units().webUnit() + " of web"
	}
	c.Words = fmt.Sprintf("%s and %s drawn in proportion; the table below says the same in words.", plural(j.Plan.Lanes, "lane"), plural(len(j.Lanes), "section"))
	for lane := range j.Plan.Lanes {
		c.Lanes = append(c.Lanes, chartText{px(chartLeft - 8), px(chartTop + float64(lane)*(chartLane+chartGap) + chartLane/2 + 5), fmt.Sprintf("lane %d", lane+1)})
	}
	lastText := -1000.0
	mark := func(x float64, text string, splice bool) {
		m := chartMark{X: px(x), Bottom: px(bottom + 6), TextX: px(x), TextY: px(bottom + 20), Text: text, Splice: splice, Anchor: "middle"}
		if x > chartWide-60 {
			m.Anchor, m.TextX = "end", px(x+chartRight-2)
		}
		if splice {
			m.TextY = px(bottom + 35)
		} else if x-lastText < 58 {
			m.Text = "" // no room: the table has it
		} else {
			lastText = x
		}
		c.Marks = append(c.Marks, m)
	}
	for k, s := range web.Sections {
		from, to := start(s.From, s.WebFrom), start(s.To, s.WebTo)
		if lost := start(s.From, s.ChangeoverFrom); lost < from {
			what := "set-up"
			if k > 0 {
				what = "changeover"
			}
			c.Lost = append(c.Lost, chartBox{X: px(lost), Y: px(chartTop), Width: px(from - lost), Height: px(lanesHigh), Words: what})
		}
		for lane, version := range j.Lanes[k] {
			if version == nest.Empty {
				continue
			}
			v := j.Winding.Versions[version]
			y := chartTop + float64(lane)*(chartLane+chartGap)
			box := chartBox{X: px(from), Y: px(y), Width: px(to - from), Height: px(chartLane), Swatch: svgPatternOf(version),
				Words: fmt.Sprintf("section %d, lane %d: %s, %s labels", k+1, lane+1, v.ID, count(s.To-s.From))}
			letters := []rune(v.ID)
			if room := int((to - from - 16) / chartLetter); len(letters) <= room {
				box.Label = v.ID
			} else if room >= 4 {
				end := (room - 1) / 2 // ids that begin alike differ at the end
				box.Label = string(letters[:room-1-end]) + "…" + string(letters[len(letters)-end:])
			}
			middle, plate := (from+to)/2, float64(len([]rune(box.Label)))*chartLetter+10
			box.LabelX, box.LabelY = px(middle), px(y+chartLane/2+5)
			box.PlateX, box.PlateY, box.PlateWidth = px(middle-plate/2), px(y+chartLane/2-10), px(plate)
			c.Boxes = append(c.Boxes, box)
		}
		mark(from, j.chartFigure(s.From, s.WebFrom), false)
		for _, splice := range s.Splices {
			mark(start(splice.Row, splice.WebFrom), "splice "+j.chartFigure(splice.Row, splice.WebFrom), true)
		}
		if k == len(web.Sections)-1 {
			mark(to, j.chartFigure(s.To, s.WebTo), false)
		}
	}
	return c
}

func (j Job) chartFigure(row int, l jobs.Length) string {
	if j.bare() {
		return count(row)
	}
	return j.units().webNumber(l)
}

func px(v float64) string { return fmt.Sprintf("%.1f", v) }
