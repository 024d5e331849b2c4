package ticket

import (
	"fmt"
	"io"
	"runtime"

	"github.com/sourcegraph/conc"

	"laneplan/jobs/rewind"
	"laneplan/jobs/ticket/sheet"
)

// RollTags writes a tag for every customer roll as PDF: on sheets of labels as
// the papers state them, or each on a page of its own size. It fails where a
// tag is too narrow for the bar code of a roll's key.
func RollTags(w io.Writer, j Job) error {
	size := tagsOf(j.Gang.Papers)
	t := tags{job: j, wide: inMM(size.Width), high: inMM(size.Height)}
	paper := sheet.Paper{Width: t.wide, Height: t.high}
	if size.Columns > 0 {
		paper = paperOf(j.Gang.Papers)
	}
	codes, err := t.encodeAll()
	if err != nil {
		return err
	}
	t.Sheet = sheet.New(paper, "Roll tags "+j.Gang.ID, j.Printed)
	perPage := max(size.Columns*size.Rows, 1)
	for i, r := range j.Winding.Rolls {
		if i%perPage == 0 {
			t.AddPage()
		}
		x, y := 0.0, 0.0
		if size.Columns > 0 {
			column, row := i%perPage%size.Columns, i%perPage/size.Columns
			x = inMM(size.Left) + float64(column)*(t.wide+inMM(size.GapAcross))
			y = inMM(size.Top) + float64(row)*(t.high+inMM(size.Gap))
		}
		t.tag(x, y, r, codes[i])
	}
	if len(j.Winding.Rolls) == 0 {
		t.AddPage()
		t.Text(tagMargin, tagMargin, t.wide-2*tagMargin, sheet.Style{}, "This gang has no customer rolls.")
	}
	return t.Write(w)
}

// tagMargin inside a tag, millimetres.
const tagMargin = 2.5

type tags struct {
	*sheet.Sheet
	job        Job
	wide, high float64 // of one tag
}

// encodeAll makes the bar codes of all rolls, on all cores: it is most of the
// work of ten thousand tags. Each code has its own slot, so the result does
// not depend on the cores.
func (t tags) encodeAll() ([]symbols, error) {
	rolls := t.job.Winding.Rolls
	codes, errs := make([]symbols, len(rolls)), make([]error, len(rolls))
	workers := min(runtime.GOMAXPROCS(0), max(len(rolls), 1))
	var group conc.WaitGroup // a panic comes out at Wait, where a caller can catch it
	for first := range workers {
		group.Go(func() {
			for i := first; i < len(rolls); i += workers {
				codes[i], errs[i] = encode(rolls[i].Key)
			}
		})
	}
	group.Wait()
	for i, err := range errs {
		if err != nil {
			return nil, err
		}
		if room := t.wide - 2*tagMargin; leastBar*float64(codes[i].width+2*quietBars) > room {
			return nil, fmt.Errorf("roll tags of %s wide: too narrow for the bar code of roll %s, want at least %.0fmm",
				tagsOf(t.job.Gang.Papers).Width, rolls[i].Key, leastBar*float64(codes[i].width+2*quietBars)+2*tagMargin)
		}
	}
	return codes, nil
}

// tag draws one tag: what the roll is at the left, the QR code at the right,
// the bar code along the bottom.
func (t tags) tag(x, y float64, r rewind.Roll, code symbols) {
	v := t.job.Winding.Versions[r.Version]
	u := t.job.units()
	unit := t.high / 60 // text grows and shrinks with the tag
	if byWidth := t.wide / 100; byWidth < unit {
		unit = byWidth
	}
	size := func(points float64) float64 { return points * unit }
	line := func(points float64) float64 { return sheet.Style{Size: size(points)}.LineHeight() }
	left, top := x+tagMargin, y+tagMargin
	barHigh := max(8*unit, 5.0)
	keyHigh := line(8)
	square := min(24*unit, t.wide*0.3)
	width := t.wide - 2*tagMargin - square - 2

	t.Text(left, top, width, sheet.Style{Size: size(15), Least: size(9), Bold: true, Ends: true}, v.ID)
	at := top + line(15)
	t.Text(left, at, width, sheet.Style{Size: size(9), Least: size(7)}, v.Name)
	at += line(9) + 0.5*unit
	t.Text(left, at, width, sheet.Style{Size: size(9), Least: size(7)}, "Order "+orUnknown(v.Order)+"  "+v.Customer)
	at += line(9) + 1.2*unit
	t.Text(left, at, width, sheet.Style{Size: size(17), Bold: true, Least: size(11)},
		fmt.Sprintf("%s labels", count(r.Labels)))
	at += line(17)
	t.Text(left, at, width, sheet.Style{Size: size(12), Bold: true}, fmt.Sprintf("roll %d of %d", r.Number, r.Of))
	at += line(12) + 0.5*unit
	t.Text(left, at, width, sheet.Style{Size: size(8), Least: size(6)}, fmt.Sprintf("Splices %d   Core %s   %s", r.Splices, u.size(r.Core), t.job.windWords(v.Wind)))
	at += line(8)
	printed := date(t.job.Printed)
	if printed == "" {
		printed = "______________"
	}
	t.Text(left, at, width, sheet.Style{Size: size(8), Least: size(6)}, fmt.Sprintf("Date %s   Due %s", printed, orUnknown(date(v.Due))))

	if r.Heavy { // under the QR code, where there is room
		under := func(down, points float64, text string) {
			t.Text(x+t.wide-tagMargin-square, top+square+down, square, sheet.Style{Size: size(points), Least: size(points / 2), Bold: true, Align: sheet.Centre}, text)
		}
		under(0, 11, "HEAVY "+u.weight(r.Kilograms))
		under(line(11), 7, "two people or a hoist")
	}

	t.square(x+t.wide-tagMargin-square, top, square, code)
	t.bars(x, y+t.high-tagMargin-keyHigh-barHigh, barHigh, code)
	t.Text(left, y+t.high-tagMargin-keyHigh+0.3, t.wide-2*tagMargin, sheet.Style{Size: size(8), Align: sheet.Centre}, r.Key)
}

// square draws the QR code with its quiet zone into a box.
func (t tags) square(x, y, side float64, code symbols) {
	module := side / float64(len(code.points)+2*quietPoints)
	var boxes [][4]float64
	for row, of := range code.points {
		for _, s := range of {
			boxes = append(boxes, [4]float64{x + float64(s.from+quietPoints)*module, y + float64(row+quietPoints)*module, float64(s.width) * module, module})
		}
	}
	t.Bars(boxes)
}

// bars draws the bar code in the middle of the tag.
func (t tags) bars(x, y, high float64, code symbols) {
	module := min((t.wide-2*tagMargin)/float64(code.width+2*quietBars), widestBar)
	left := x + (t.wide-float64(code.width)*module)/2
	boxes := make([][4]float64, len(code.bars))
	for i, s := range code.bars {
		boxes[i] = [4]float64{left + float64(s.from)*module, y, float64(s.width) * module, high}
	}
	t.Bars(boxes)
}
