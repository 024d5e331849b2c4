package orderbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"laneplan/jobs/intake/fault"
	"laneplan/jobs/intake/scalar"
)

// readXLSX reads one sheet of a workbook.
func (b *builder) readXLSX(path string) error {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	if info.Size() > mostPackedBytes {
		return fmt.Errorf("want a workbook of at most %d MB, got %d", mostPackedBytes>>20, info.Size()>>20)
	}
	archive, err := zip.OpenReader(path)
	if err != nil {
		return notAWorkbook(path, err)
	}
	defer archive.Close()
	book, err := openWorkbook(archive.File)
	if err != nil {
		return err
	}
	sheet, err := b.sheet(book)
	if err != nil {
		return err
	}
	shared := &texts{}
	if book.shared != "" {
		from, err := book.open(book.shared, mostSharedBytes)
		if err != nil {
			return err
		}
		defer from.Close()
		if shared, err = readTexts(from); err != nil {
			return damaged(path, "", 0, err)
		}
	}
	from, err := book.open(sheet.part, MostFileBytes)
	if err != nil {
		return err
	}
	defer from.Close()
	n := notationOf(b.shop.Book)
	n.workbook, n.date1904 = true, book.date1904
	return b.sheetTable(path, sheet.name, from, shared, n)
}

// notAWorkbook tells a file that is no archive from what it may be instead.
func notAWorkbook(path string, err error) error {
	f := fault.Fault{File: path, Message: "want a workbook (.xlsx): " + err.Error()}
	start := make([]byte, len(compound))
	if file, err := os.Open(path); err == nil {
		_, _ = io.ReadFull(file, start) // a shorter file is none of these
		file.Close()
	}
	if bytes.Equal(start, compound) {
		f.Hint = "it is protected by a password, or an old workbook (.xls): save it as .xlsx without a password"
	}
	return f
}

// compound begins the files in which old and encrypted workbooks are kept.
var compound = []byte{0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1}

func damaged(path, sheet string, row int, err error) fault.Fault {
	f := fault.Fault{File: path, Sheet: sheet, Line: row, Message: "the workbook is damaged: " + err.Error(),
		Hint: "open it in a spreadsheet program and save it anew"}
	if errors.Is(err, errRecord) {
		f.Message, f.Hint = fmt.Sprintf("want rows of at most %d MB, got a longer one", mostRowBytes>>20), ""
	}
	return f
}

// sheetTable reads the rows of one sheet. Unpacking a sheet takes most of the
// time, so a goroutine of its own does that, some rows ahead.
func (b *builder) sheetTable(path, sheet string, from io.Reader, shared *texts, n notation) error {
	ahead, stop := make(chan sheetRows, 4), make(chan struct{})
	go unpack(from, shared, ahead, stop)
	// The archive is closed after this: wait until nobody reads it.
	defer func() {
		for range ahead {
		}
	}()
	defer close(stop)
	var table *rowReader
	for rows := range ahead {
		for i, cells := range rows.cells {
			if len(cells) == 0 {
				continue
			}
			var err error
			if table != nil {
				err = table.row(rows.numbers[i], cells)
			} else {
				table, err = b.table(path, sheet, rows.numbers[i], cells, n)
			}
			if err != nil {
				return err
			}
		}
		if rows.err != nil {
			return damaged(path, sheet, rows.last, rows.err)
		}
	}
	if table == nil {
		return fault.Fault{File: path, Sheet: sheet, Message: "want a row of headings, got an empty sheet"}
	}
	return nil
}

// sheetRows are some rows of a sheet, and what keeps the rest from being read
// in or after row last.
type sheetRows struct {
	numbers []int
	cells   [][]string
	last    int
	err     error
}

// unpack sends the rows of a sheet until it ends or stop is closed.
func unpack(from io.Reader, shared *texts, to chan<- sheetRows, stop <-chan struct{}) {
	const some = 256
	defer close(to)
	rows := newSheetReader(from, shared)
	for ended := false; !ended; {
		next := sheetRows{numbers: make([]int, 0, some), cells: make([][]string, 0, some)}
		for len(next.cells) < some && !ended {
			number, cells, err := rows.next()
			switch {
			case err == io.EOF:
				// The checksum stands after the last byte.
				_, next.err = io.Copy(io.Discard, from)
				ended = true
			case err != nil:
				next.err, ended = err, true
			default:
				next.numbers, next.cells = append(next.numbers, number), append(next.cells, cells)
			}
		}
		next.last = rows.row
		select {
		case to <- next:
		case <-stop:
			return
		}
	}
}

// sheet picks the sheet with the orders, by the shop file or because there is
// no choice.
func (b *builder) sheet(book workbook) (worksheet, error) {
	want := b.shop.Book.Sheet
	if want == "" && len(book.sheets) == 1 {
		return book.sheets[0], nil
	}
	if want == "" {
		want = "orders"
	}
	var names []string
	for _, sheet := range book.sheets {
		if strings.EqualFold(sheet.name, want) {
			return sheet, nil
		}
		names = append(names, sheet.name)
	}
	return worksheet{}, fmt.Errorf("want a sheet named %q, got %s; name the sheet in the shop file's order_book", want, scalar.Quote(strings.Join(names, ", ")))
}
