package orderbook

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"laneplan/jobs/intake/fault"
	"laneplan/jobs/safecsv"
)

// mostRecord bytes of one CSV row bound the memory that a quote without an end
// may take.
const mostRecord = 1 << 20

var (
	bom        = []byte("\xEF\xBB\xBF")
	errRecord  = errors.New("row too long")
	utf16Marks = [][]byte{{0xFE, 0xFF}, {0xFF, 0xFE}}
)

func (b *builder) readCSV(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	return b.csvTable(path, file)
}

// csvTable reads RFC 4180: quoted cells, doubled quotes, line breaks of either
// kind; the separator is the shop file's.
func (b *builder) csvTable(path string, from io.Reader) error {
	bounded := &boundedReader{from: from}
	rest, err := skipBOM(bounded)
	if err != nil {
		return err
	}
	records := csv.NewReader(rest)
	records.Comma = b.shop.Book.SeparatorOrDefault()
	records.FieldsPerRecord = -1 // rows report the cells that they lack themselves
	records.ReuseRecord = true
	var table *rowReader
	for {
		bounded.allow = records.InputOffset() + mostRecord
		cells, err := records.Read()
		switch {
		case err == io.EOF && table == nil:
			return errors.New("want a row of headings, got an empty file")
		case err == io.EOF:
			return nil
		case err != nil:
			return csvFault(path, records, err)
		}
		line, _ := records.FieldPos(0)
		for i := range cells {
			cells[i] = safecsv.Text(cells[i])
		}
		if table == nil {
			if f, wrong := b.otherSeparator(path, cells); wrong {
				return f
			}
			if table, err = b.table(path, "", line, cells, notationOf(b.shop.Book)); err != nil {
				return err
			}
			continue
		}
		if err := table.row(line, cells); err != nil {
			return err
		}
	}
}

// otherSeparator recognises a heading row that is one cell because the file
// is separated in the other way. It says so, it does not switch.
func (b *builder) otherSeparator(path string, cells []string) (fault.Fault, bool) {
	is, other := b.shop.Book.SeparatorOrDefault(), ";"
	if is == ';' {
		other = ","
	}
	if len(cells) != 1 || !strings.Contains(cells[0], other) {
		return fault.Fault{}, false
	}
	return fault.Fault{
		File: path, Line: 1,
		Message: fmt.Sprintf("want cells separated by %q, as the shop file says, got a heading row with %q and no %q", is, other, is),
		Hint:    fmt.Sprintf("set order_book separator to %q in the shop file", other),
	}, true
}

// csvFault turns an error of the csv package into a fault with its place.
func csvFault(path string, records *csv.Reader, err error) error {
	var parse *csv.ParseError
	switch {
	case errors.Is(err, errRecord):
		line, _ := records.FieldPos(0)
		return fault.Fault{File: path, Line: line, Message: fmt.Sprintf("want rows of at most %d KB, got a longer one after this line", mostRecord>>10),
			Hint: "a quote may lack its end"}
	case !errors.As(err, &parse):
		return err
	case errors.Is(parse.Err, csv.ErrQuote):
		return fault.Fault{File: path, Line: parse.StartLine, Message: "want every quoted cell to end with a quote before the separator, got one in this row that does not",
			Hint: `a quote inside a quoted cell is written twice: ""`}
	case errors.Is(parse.Err, csv.ErrBareQuote):
		return fault.Fault{File: path, Line: parse.Line, Column: parse.Column, Message: "want a cell with a quote in it to be quoted as a whole",
			Hint: `write it as "8"" label"`}
	default:
		return fault.Fault{File: path, Line: parse.Line, Message: parse.Err.Error()}
	}
}

// boundedReader fails once more than allow bytes were read.
type boundedReader struct {
	from        io.Reader
	read, allow int64
}

func (r *boundedReader) Read(into []byte) (int, error) {
	// What buffers read ahead is not yet part of a row.
	const ahead = 64 << 10
	if r.allow > 0 && r.read > r.allow+ahead {
		return 0, errRecord
	}
	n, err := r.from.Read(into)
	r.read += int64(n)
	return n, err
}

func skipBOM(from io.Reader) (io.Reader, error) {
	start := make([]byte, len(bom))
	n, err := io.ReadFull(from, start)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, err
	}
	start = start[:n]
	for _, mark := range utf16Marks {
		if bytes.HasPrefix(start, mark) {
			return nil, errors.New("want UTF-8, got UTF-16; save the file as UTF-8")
		}
	}
	return io.MultiReader(bytes.NewReader(bytes.TrimPrefix(start, bom)), from), nil
}
