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
// reached.
func (b *builder) sheetTable(path, sheet string, book *excelize.File, n notation) (int, error) {
	rows, err := book.Rows(sheet)
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	var table *rowReader
	number := 0
	for rows.Next() {
		number++
		cells, err := rows.Columns()
		if err != nil {
			return 0, fault.Fault{File: path, Sheet: sheet, Line: number, Message: "cannot be read: " + err.Error()}
		}
		if len(cells) == 0 {
			continue
		}
		if table != nil {
			err = table.row(number, cells)
		} else {
			table, err = b.table(path, sheet, number, cells, n)
		}
		if err != nil {
			return 0, err
		}
	}
	if err := rows.Error(); err != nil {
		return 0, err
	}
	if table == nil {
		return 0, fault.Fault{File: path, Sheet: sheet, Message: "want a row of headings, got an empty sheet"}
	}
	return number, nil
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
