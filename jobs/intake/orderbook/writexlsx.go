package orderbook

import (
	"io"
	"math"
	"strconv"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"

	"laneplan/jobs"
	"laneplan/jobs/intake/scalar"
)

// WriteXLSX writes a workbook of one sheet. Text cells are text, whatever they
// begin with; numbers, percentages and dates are cells of their kind.
func WriteXLSX(w io.Writer, lines []jobs.OrderLine, format jobs.BookFormat) error {
	n := notationOf(format)
	columns := used(lines, n)
	n.workbook = true
	return writeWorkbook(w, headingsOf(columns, format), columns, n, format.Sheet, func(yield func([]string) bool) {
		for i := range lines {
			if !yield(cellsOf(columns, &lines[i], n)) {
				return
			}
		}
	})
}

// writeWorkbook writes cells that stand in the notation n.
func writeWorkbook(w io.Writer, headings []string, columns []*column, n notation, sheet string, rows func(func([]string) bool)) error {
	book := excelize.NewFile()
	defer book.Close()
	if sheet == "" {
		sheet = "orders"
	}
	if err := book.SetSheetName(book.GetSheetName(0), sheet); err != nil {
		return err
	}
	out := workbookWriter{notation: n, columns: columns}
	if err := out.style(book); err != nil {
		return err
	}
	var err error
	if out.stream, err = book.NewStreamWriter(sheet); err != nil {
		return err
	}
	if err := out.stream.SetColWidth(1, max(1, len(headings)), 16); err != nil {
		return err
	}
	if err := out.stream.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	cells := make([]any, len(headings))
	for i, heading := range headings {
		cells[i] = excelize.Cell{StyleID: out.bold, Value: heading}
	}
	if err := out.row(cells); err != nil {
		return err
	}
	for row := range rows {
		cells = make([]any, len(row))
		for i, cell := range row {
			cells[i] = out.cell(i, cell)
		}
		if err := out.row(cells); err != nil {
			return err
		}
	}
	if err := out.stream.Flush(); err != nil {
		return err
	}
	return book.Write(w)
}

type workbookWriter struct {
	notation
	stream  *excelize.StreamWriter
	columns []*column
	rows    int

	bold, text, percents, dates int // styles
}

func (o *workbookWriter) style(book *excelize.File) error {
	pattern := func(p string) *excelize.Style { return &excelize.Style{CustomNumFmt: &p} }
	for _, s := range []struct {
		id    *int
		style *excelize.Style
	}{
		{&o.bold, &excelize.Style{Font: &excelize.Font{Bold: true}}},
		{&o.text, pattern("@")}, {&o.percents, pattern("0.######%")}, {&o.dates, pattern("yyyy-mm-dd")},
	} {
		id, err := book.NewStyle(s.style)
		if err != nil {
			return err
		}
		*s.id = id
	}
	return nil
}

func (o *workbookWriter) row(cells []any) error {
	o.rows++
	return o.stream.SetRow("A"+strconv.Itoa(o.rows), cells)
}

// cell is a value for the stream writer: of the column's kind where the text
// reads as that, else text.
func (o *workbookWriter) cell(at int, value string) any {
	if value == "" {
		return nil
	}
	k := textKind
	if at < len(o.columns) && o.columns[at] != nil {
		k = o.columns[at].kind
	}
	switch k {
	case wholeKind:
		if number, err := o.whole(value, 0, scalar.MostQuantity); err == nil {
			return number
		}
	case numberKind:
		if number, err := o.number(value); err == nil {
			if f, same := asFloat(number); same {
				return f
			}
		}
	case percentKind:
		if fraction, err := o.percent(value); err == nil && fraction.LessThan(decimal.NewFromInt(1)) {
			if f, same := asFloat(fraction); same {
				return excelize.Cell{StyleID: o.percents, Value: f}
			}
		}
	case dateKind:
		if day, err := o.date(value); err == nil {
			return excelize.Cell{StyleID: o.dates, Value: day}
		}
	}
	return excelize.Cell{StyleID: o.text, Value: value}
}

// asFloat is a number as a number cell holds it, if that loses nothing.
func asFloat(d decimal.Decimal) (float64, bool) {
	f, _ := d.Float64()
	return f, !math.IsInf(f, 0) && strconv.FormatFloat(f, 'f', -1, 64) == d.String() && len(d.String()) < 16
}
