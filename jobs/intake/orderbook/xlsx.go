package orderbook

import (
	"archive/zip"
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"

	"laneplan/jobs/intake/fault"
	"laneplan/jobs/intake/scalar"
)

// inMemoryBytes is the size from which a sheet is unpacked into a temporary
// file instead of memory.
const inMemoryBytes = 4 << 20

func (b *builder) readXLSX(path string) (err error) {
	archive, err := zip.OpenReader(path)
	if err != nil {
		return fmt.Errorf("want a workbook (.xlsx): %w", err)
	}
	defer archive.Close()
	if err := checkSizes(archive.File); err != nil {
		return err
	}
	// The library stops without a word where a sheet is damaged, so another
	// look at the sheets, at the same time, finds how far they should go.
	ends := make(chan sheetEnds, 1)
	go func() { ends <- findEnds(archive.File) }()
	defer func() {
		// The archive stays open until that look is over. Reading may have
		// ended early, in a panic too: the library was not written for hostile
		// files.
		end := <-ends
		if broken := recover(); broken != nil {
			err = fmt.Errorf("the workbook is damaged: %v", broken)
		}
		if err == nil {
			err = end.err
		}
	}()
	book, err := excelize.OpenFile(path, excelize.Options{
		RawCellValue: true, UnzipSizeLimit: MostFileBytes, UnzipXMLSizeLimit: inMemoryBytes,
	})
	if err != nil {
		return fmt.Errorf("want a workbook (.xlsx): %w", err)
	}
	defer book.Close()
	sheet, err := b.sheet(book)
	if err != nil {
		return err
	}
	n := notationOf(b.shop.Book)
	n.workbook = true
	if props, err := book.GetWorkbookProps(); err == nil && props.Date1904 != nil {
		n.date1904 = *props.Date1904
	}
	reached, err := b.sheetTable(path, sheet, book, n)
	if err != nil {
		return err
	}
	end := <-ends
	ends <- end
	if last := end.rows[partOf(book, sheet, end)]; last > reached {
		return fault.Fault{File: path, Sheet: sheet, Line: reached, Message: fmt.Sprintf("the sheet is damaged after this row, want %d rows", last),
			Hint: "open it in a spreadsheet program and save it anew"}
	}
	return nil
}

// sheetTable reads the rows of one sheet and tells the last one that it
// reached. Unpacking a sheet takes most of the time, so a goroutine of its own
// does that, some rows ahead.
func (b *builder) sheetTable(path, sheet string, book *excelize.File, n notation) (int, error) {
	ahead, stop := make(chan sheetRows, 4), make(chan struct{})
	go unpack(book, sheet, ahead, stop)
	// The workbook is closed after this: wait until nobody reads it.
	defer func() {
		for range ahead {
		}
	}()
	defer close(stop)
	var table *rowReader
	reached := 0
	for rows := range ahead {
		for i, cells := range rows.cells {
			if len(cells) == 0 {
				continue
			}
			var err error
			if table != nil {
				err = table.row(rows.first+i, cells)
			} else {
				table, err = b.table(path, sheet, rows.first+i, cells, n)
			}
			if err != nil {
				return 0, err
			}
		}
		reached = rows.first + len(rows.cells) - 1
		if rows.err != nil {
			return 0, fault.Fault{File: path, Sheet: sheet, Line: reached + 1, Message: "cannot be read: " + rows.err.Error()}
		}
	}
	if table == nil {
		return 0, fault.Fault{File: path, Sheet: sheet, Message: "want a row of headings, got an empty sheet"}
	}
	return reached, nil
}

// sheetRows are some rows of a sheet that follow each other, and what keeps
// the next one from being read.
type sheetRows struct {
	first int
	cells [][]string
	err   error
}

// unpack sends the rows of a sheet until it ends or stop is closed.
func unpack(book *excelize.File, sheet string, to chan<- sheetRows, stop <-chan struct{}) {
	const some = 256
	next := sheetRows{first: 1}
	send := func() bool {
		select {
		case to <- next:
			next = sheetRows{first: next.first + len(next.cells)}
			return true
		case <-stop:
			return false
		}
	}
	defer close(to)
	defer func() { // the library was not written for hostile files
		if broken := recover(); broken != nil {
			next.err = fmt.Errorf("the workbook is damaged: %v", broken)
			send()
		}
	}()
	rows, err := book.Rows(sheet)
	if err != nil {
		next.err = err
		send()
		return
	}
	defer rows.Close()
	for rows.Next() {
		cells, err := rows.Columns()
		if err != nil {
			next.err = err
			send()
			return
		}
		next.cells = append(next.cells, cells)
		if len(next.cells) == some && !send() {
			return
		}
	}
	next.err = rows.Error()
	send()
}

// sheet picks the sheet with the orders, by the shop file or because there is
// no choice.
func (b *builder) sheet(book *excelize.File) (string, error) {
	var names []string
	for _, name := range book.GetSheetList() {
		if visible, err := book.GetSheetVisible(name); err == nil && visible {
			names = append(names, name)
		}
	}
	want := b.shop.Book.Sheet
	if want == "" && len(names) == 1 {
		return names[0], nil
	}
	if want == "" {
		want = "orders"
	}
	for _, name := range names {
		if strings.EqualFold(name, want) {
			return name, nil
		}
	}
	return "", fmt.Errorf("want a sheet named %q, got %s; name the sheet in the shop file's order_book", want, scalar.Quote(strings.Join(names, ", ")))
}
