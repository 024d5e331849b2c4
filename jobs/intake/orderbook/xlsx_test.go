package orderbook

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"laneplan/jobs"
)

// bookWith writes a workbook of one sheet, cell by cell.
func bookWith(t *testing.T, change func(*excelize.File), rows ...[]any) string {
	t.Helper()
	book := excelize.NewFile()
	defer book.Close()
	for i, row := range rows {
		require.NoError(t, book.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &row))
	}
	if change != nil {
		change(book)
	}
	path := filepath.Join(t.TempDir(), "orders.xlsx")
	require.NoError(t, book.SaveAs(path))
	return path
}

func headCells() []any {
	var cells []any
	for name := range strings.SplitSeq(head+",overs,unit_price,core", ",") {
		cells = append(cells, name)
	}
	return cells
}

func TestCellsOfAWorkbook(t *testing.T) {
	due := day("2026-12-04")
	good := []any{1001, "Hill", "cumin", "D-75x50", "PP-white", 2500, due, 0.05, 0.1, "76.2mm"}
	for _, tt := range []struct {
		name   string
		shop   *jobs.Shop
		change func(row []any)
		want   string // of the fault; empty for a good row
	}{
		{"numbers, a date and a percentage", testShop(), func([]any) {}, ""},
		{"a date and a time", testShop(), func(row []any) { row[6] = 46360.75 }, ""},
		{"a date as text", testShop(), func(row []any) { row[6] = "2026-12-04" }, ""},
		{"a date as text in the office's way", officeDates(), func(row []any) { row[6] = "4.12.2026" }, ""},
		{"percent as text", testShop(), func(row []any) { row[7] = "5%" }, ""},
		{"a quantity in powers", testShop(), func(row []any) { row[5] = 2.5e3 }, ""},
		{"a price with the office's comma, as text", officeDates(), func(row []any) { row[8], row[9] = "0,1", "76,2mm" }, ""},
		{"a date of long ago", testShop(), func(row []any) { row[6] = 12 }, "2:7: due: want a year from 2000 to 2099, got 1900-01-12"},
		{"a number that is no date", testShop(), func(row []any) { row[6] = 1e9 }, "2:7: due: want a date, got the number 1000000000"},
		{"five hundred percent, or five", testShop(), func(row []any) { row[7] = 5 }, "2:8: overs: want a percentage such as 5% or 2.5%, got 5"},
		{"a quantity with decimals", testShop(), func(row []any) { row[5] = 10.5 }, "2:6: quantity: want a whole number, got 10.5"},
		{"1.250 as text where a comma is the mark", officeDates(), func(row []any) { row[8], row[9] = "1.250", "76,2mm" }, "2:9: unit_price: want a number with a decimal comma and no other separators, as the shop file says, got 1.250"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			row := append([]any{}, good...)
			if tt.shop.Book.DecimalMark == ',' {
				row[9] = "76,2mm"
			}
			tt.change(row)
			path := bookWith(t, nil, headCells(), row)
			book, err := Read([]string{path}, tt.shop, Options{})
			if tt.want != "" {
				require.EqualError(t, err, path+":Sheet1:"+tt.want)
				return
			}
			require.NoError(t, err)
			require.Len(t, book.Lines, 1)
			assert.Equal(t, jobs.OrderLine{
				Order: "1001", Customer: "Hill", Version: "cumin", Die: "D-75x50", Stock: "PP-white", Quantity: 2500, Due: due,
				Overs: fraction("0.05"), UnitPrice: *fraction("0.1"), Core: 3 * jobs.Inch,
				Source: jobs.Source{File: path, Sheet: "Sheet1", Row: 2},
			}, book.Lines[0])
		})
	}
}

// officeDates is a shop with our own headings, decimal commas and dates with
// points.
func officeDates() *jobs.Shop {
	shop := testShop()
	shop.Book = jobs.BookFormat{DecimalMark: ',', DateLayout: "02.01.2006"}
	return shop
}

func TestDaysCountFrom1904WhereTheWorkbookSaysSo(t *testing.T) {
	path := bookWith(t, func(book *excelize.File) {
		yes := true
		require.NoError(t, book.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}))
	}, headCells(), []any{1, "Hill", "cumin", "D-75x50", "PP-white", 1, 46360 - 1462})
	book, err := Read([]string{path}, testShop(), Options{})
	require.NoError(t, err)
	assert.Equal(t, day("2026-12-04"), book.Lines[0].Due)
}

func TestAFormulaIsNeverComputed(t *testing.T) {
	path := bookWith(t, func(book *excelize.File) {
		require.NoError(t, book.SetCellFormula("Sheet1", "F2", "=1+1"))
	}, headCells(), []any{1, "Hill", "cumin", "D-75x50", "PP-white", 1, day("2026-12-04")})
	book, err := Read([]string{path}, testShop(), Options{})
	require.NoError(t, err)
	// What the cells show in the file, whatever their formulas would give.
	assert.Equal(t, 1, book.Lines[0].Quantity)
}

func TestTheSheetWithTheOrders(t *testing.T) {
	row := []any{1, "Hill", "cumin", "D-75x50", "PP-white", 1, day("2026-12-04")}
	add := func(name string) func(*excelize.File) {
		return func(book *excelize.File) {
			_, err := book.NewSheet(name)
			require.NoError(t, err)
			h := headCells()
			require.NoError(t, book.SetSheetRow(name, "A1", &h))
			require.NoError(t, book.SetSheetRow(name, "A3", &row))
		}
	}
	book, err := Read([]string{bookWith(t, add("Orders"), []any{"notes"})}, testShop(), Options{})
	require.NoError(t, err)
	assert.Equal(t, 3, book.Lines[0].Source.Row)

	path := bookWith(t, add("Aufträge"), []any{"notes"})
	_, err = Read([]string{path}, testShop(), Options{})
	assert.EqualError(t, err, path+`: want a sheet named "orders", got "Sheet1, Aufträge"; name the sheet in the shop file's order_book`)
	shop := testShop()
	shop.Book.Sheet = "aufträge"
	_, err = Read([]string{path}, shop, Options{})
	assert.NoError(t, err)
}

// repacked copies a workbook and changes the content of its parts.
func repacked(t *testing.T, path string, change func(name string, data []byte) []byte) string {
	t.Helper()
	from, err := zip.OpenReader(path)
	require.NoError(t, err)
	defer from.Close()
	var packed bytes.Buffer
	to := zip.NewWriter(&packed)
	for _, part := range from.File {
		r, err := part.Open()
		require.NoError(t, err)
		data, err := io.ReadAll(r)
		require.NoError(t, err)
		w, err := to.Create(part.Name)
		require.NoError(t, err)
		_, err = w.Write(change(part.Name, data))
		require.NoError(t, err)
	}
	require.NoError(t, to.Close())
	out := filepath.Join(t.TempDir(), "orders.xlsx")
	require.NoError(t, os.WriteFile(out, packed.Bytes(), 0o644))
	return out
}

func manyRowsBook(t *testing.T) string {
	t.Helper()
	rows := [][]any{headCells()}
	for i := range 50 {
		rows = append(rows, []any{1, "Hill", fmt.Sprintf("v%d", i), "D-75x50", "PP-white", 1, day("2026-12-04")})
	}
	return bookWith(t, nil, rows...)
}

func TestADamagedWorkbookLosesNoOrderWithoutAWord(t *testing.T) {
	whole := manyRowsBook(t)
	book, err := Read([]string{whole}, testShop(), Options{})
	require.NoError(t, err)
	require.Len(t, book.Lines, 50)

	t.Run("a cell in the middle is not XML", func(t *testing.T) {
		path := repacked(t, whole, func(name string, data []byte) []byte {
			if name != "xl/worksheets/sheet1.xml" {
				return data
			}
			return bytes.Replace(data, []byte(`<c r="A20"`), []byte(`<c r=A20"`), 1)
		})
		_, err := Read([]string{path}, testShop(), Options{})
		assert.ErrorContains(t, err, ":Sheet1:20: the workbook is damaged: XML syntax error")
	})
	t.Run("a part is cut short", func(t *testing.T) {
		data, err := os.ReadFile(whole)
		require.NoError(t, err)
		// Spoil a byte of the first part's packed data: its checksum fails.
		at := 30 + int(binary.LittleEndian.Uint16(data[26:])) + int(binary.LittleEndian.Uint16(data[28:])) + 20
		data[at] ^= 0xFF
		path := filepath.Join(t.TempDir(), "orders.xlsx")
		require.NoError(t, os.WriteFile(path, data, 0o644))
		_, err = Read([]string{path}, testShop(), Options{})
		assert.Error(t, err)
		assert.ErrorContains(t, err, path)
	})
	t.Run("the archive ends too soon", func(t *testing.T) {
		data, err := os.ReadFile(whole)
		require.NoError(t, err)
		path := filepath.Join(t.TempDir(), "orders.xlsx")
		require.NoError(t, os.WriteFile(path, data[:len(data)/2], 0o644))
		_, err = Read([]string{path}, testShop(), Options{})
		assert.ErrorContains(t, err, "want a workbook (.xlsx)")
	})
	t.Run("a zip that is no workbook", func(t *testing.T) {
		path := repacked(t, whole, func(string, []byte) []byte { return []byte("x") })
		_, err := Read([]string{path}, testShop(), Options{})
		assert.Error(t, err)
	})
	t.Run("two million columns", func(t *testing.T) {
		path := repacked(t, whole, func(name string, data []byte) []byte {
			if name != "xl/worksheets/sheet1.xml" {
				return data
			}
			return []byte(`<worksheet><sheetData><row r="1">` + strings.Repeat(`<c t="str"><v>a</v></c>`, 2_000_000) + `</row></sheetData></worksheet>`)
		})
		_, err := Read([]string{path}, testShop(), Options{})
		assert.ErrorContains(t, err, "columns")
	})
	t.Run("a cell in the last column of every row", func(t *testing.T) {
		path := repacked(t, whole, func(name string, data []byte) []byte {
			if name != "xl/worksheets/sheet1.xml" {
				return data
			}
			var rows strings.Builder
			for i := range 200_000 {
				fmt.Fprintf(&rows, `<row r="%d"><c r="XFD%d"><v>1</v></c></row>`, i+1, i+1)
			}
			return []byte(`<worksheet><sheetData>` + rows.String() + `</sheetData></worksheet>`)
		})
		_, err := Read([]string{path}, testShop(), Options{})
		assert.ErrorContains(t, err, "want at most 1000 columns, got 16384")
	})
}

// zeros gives so many zero bytes.
type zeros struct{ left int64 }

func (z *zeros) Read(into []byte) (int, error) {
	if z.left == 0 {
		return 0, io.EOF
	}
	n := min(int64(len(into)), z.left)
	clear(into[:n])
	z.left -= n
	return int(n), nil
}

func TestAZipBombIsNotUnpacked(t *testing.T) {
	// A part that states a size in the directory of the archive, and unpacks to
	// another.
	bomb := func(stated uint32, size int64) string {
		path := filepath.Join(t.TempDir(), "bomb.xlsx")
		var packed bytes.Buffer
		w := zip.NewWriter(&packed)
		part, err := w.Create("xl/worksheets/sheet1.xml")
		require.NoError(t, err)
		_, err = io.Copy(part, &zeros{size})
		require.NoError(t, err)
		require.NoError(t, w.Close())
		data := packed.Bytes()
		binary.LittleEndian.PutUint32(data[bytes.LastIndex(data, []byte("PK\x01\x02"))+24:], stated)
		require.NoError(t, os.WriteFile(path, data, 0o644))
		return path
	}
	_, err := Read([]string{bomb(MostFileBytes+1, 1)}, testShop(), Options{})
	assert.ErrorContains(t, err, "want at most 256 MB when the workbook is unpacked, got more")
	_, err = Read([]string{bomb(1000, 40<<20)}, testShop(), Options{})
	assert.Error(t, err, "it is read no further than it states")

	// Many small parts, and one large part that is no sheet.
	crowd := func(parts int, size int64) string {
		path := filepath.Join(t.TempDir(), "crowd.xlsx")
		file, err := os.Create(path)
		require.NoError(t, err)
		defer file.Close()
		w := zip.NewWriter(file)
		for i := range parts {
			part, err := w.Create(fmt.Sprintf("xl/media/%d", i))
			require.NoError(t, err)
			_, err = io.Copy(part, &zeros{size})
			require.NoError(t, err)
		}
		require.NoError(t, w.Close())
		return path
	}
	_, err = Read([]string{crowd(2001, 1)}, testShop(), Options{})
	assert.ErrorContains(t, err, "want at most 2000 parts in a workbook, got 2001")
	_, err = Read([]string{crowd(1, 33<<20)}, testShop(), Options{})
	assert.ErrorContains(t, err, "want a workbook (.xlsx), got an archive without its part _rels/.rels")

	whole := manyRowsBook(t)
	longest := func(part string, size int64) string {
		return repacked(t, whole, func(name string, data []byte) []byte {
			if name == part {
				return append(data[:len(data):len(data)], make([]byte, size)...)
			}
			return data
		})
	}
	_, err = Read([]string{longest("xl/sharedStrings.xml", 64<<20)}, testShop(), Options{})
	assert.ErrorContains(t, err, "want at most 64 MB in part xl/sharedStrings.xml of the workbook, got 64")
	_, err = Read([]string{longest("xl/workbook.xml", 32<<20)}, testShop(), Options{})
	assert.ErrorContains(t, err, "want at most 32 MB in part xl/workbook.xml of the workbook, got 32")

	large := filepath.Join(t.TempDir(), "large.xlsx")
	require.NoError(t, os.WriteFile(large, []byte("PK"), 0o644))
	require.NoError(t, os.Truncate(large, mostPackedBytes+(1<<20)))
	_, err = Read([]string{large}, testShop(), Options{})
	assert.ErrorContains(t, err, "want a workbook of at most 48 MB, got 49")
}

func TestAnOldOrEncryptedWorkbookIsNamedAsSuch(t *testing.T) {
	path := filepath.Join(t.TempDir(), "orders.xlsx")
	require.NoError(t, os.WriteFile(path, append(compound, make([]byte, 512)...), 0o644))
	_, err := Read([]string{path}, testShop(), Options{})
	assert.ErrorContains(t, err, "want a workbook (.xlsx)")
	assert.ErrorContains(t, err, "hint: it is protected by a password, or an old workbook (.xls)")
}

// sheetOf is a workbook whose parts are written out here, as other programs
// write them: names with a prefix, absolute targets, a hidden sheet.
func sheetOf(t *testing.T, rows, shared string) string {
	t.Helper()
	const kind = "http://purl.oclc.org/ooxml/officeDocument/relationships"
	path := filepath.Join(t.TempDir(), "orders.xlsx")
	file, err := os.Create(path)
	require.NoError(t, err)
	defer file.Close()
	w := zip.NewWriter(file)
	for _, part := range [][2]string{
		{"_rels/.rels", `<Relationships><Relationship Id="r1" Type="` + kind + `/officeDocument" Target="/book/main.xml"/></Relationships>`},
		{"book/main.xml", `<x:workbook xmlns:x="x" xmlns:r="` + kind + `"><x:sheets><x:sheet name="secret" sheetId="1" state="veryHidden" r:id="a"/><x:sheet name="orders" sheetId="2" r:id="b"/></x:sheets></x:workbook>`},
		{"book/_rels/main.xml.rels", `<Relationships><Relationship Id="a" Type="` + kind + `/worksheet" Target="s1.xml"/><Relationship Id="b" Type="` + kind + `/worksheet" Target="sheets/s2.xml"/>` +
			`<Relationship Id="c" Type="` + kind + `/sharedStrings" Target="/book/texts.xml"/></Relationships>`},
		{"book/sheets/s2.xml", `<?xml version="1.0" encoding="UTF-8"?><x:worksheet xmlns:x="x"><x:cols><x:col min="1" max="1"/></x:cols><x:sheetData>` + rows + `</x:sheetData><x:legend/></x:worksheet>`},
		{"book/texts.xml", `<x:sst xmlns:x="x">` + shared + `</x:sst>`},
	} {
		to, err := w.Create(part[0])
		require.NoError(t, err)
		_, err = io.WriteString(to, part[1])
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return path
}

func TestSheetsOfOtherPrograms(t *testing.T) {
	const headings = `<x:row><x:c t="inlineStr"><x:is><x:t>order</x:t></x:is></x:c><x:c t="s"><x:v>0</x:v></x:c><x:c t="s"><x:v>1</x:v></x:c><x:c t="str"><x:f>"die"</x:f><x:v>die</x:v></x:c>` +
		`<x:c t="inlineStr"><x:is><x:r><x:t>st</x:t></x:r><x:r><x:t>ock</x:t></x:r></x:is></x:c><x:c t="s"><x:v>2</x:v></x:c><x:c t="s"><x:v>3</x:v></x:c></x:row>`
	const shared = `<x:si><x:t>customer</x:t></x:si><x:si><x:r><x:t>ver</x:t></x:r><x:r><x:rPr><x:b/></x:rPr><x:t>sion</x:t></x:r><x:rPh sb="0" eb="1"><x:t>reading</x:t></x:rPh></x:si>` +
		`<x:si><x:t xml:space="preserve"> quantity </x:t></x:si><x:si><x:t>due</x:t></x:si><x:si><x:t>H&amp;M_x005F_x000D_</x:t></x:si><x:si/>`
	row := func(cells string) string { return headings + `<x:row r="7" spans="1:9">` + cells + `</x:row>` }
	const good = `<x:c r="A7"><x:v>12</x:v></x:c><x:c r="B7" s="3" t="s"><x:v>4</x:v></x:c><x:c t="inlineStr"><x:is><x:t><![CDATA[<v>]]></x:t></x:is></x:c>` +
		`<x:c r="D7" t="str"><x:f>A1</x:f><x:v>D-75x50</x:v></x:c><x:c r="E7" t="str"><x:v>PP-white</x:v></x:c><x:c r="F7"><x:v>2.5E3</x:v></x:c><x:c r="G7"><x:v>46360</x:v></x:c><x:c r="H7" t="s"><x:v>5</x:v></x:c>`

	path := sheetOf(t, row(good), shared)
	book, err := Read([]string{path}, testShop(), Options{})
	require.NoError(t, err)
	require.Len(t, book.Lines, 1)
	assert.Equal(t, jobs.OrderLine{Order: "12", Customer: "H&M_x000D_", Version: "<v>", Die: "D-75x50", Stock: "PP-white", Quantity: 2500,
		Due: day("2026-12-04"), Source: jobs.Source{File: path, Sheet: "orders", Row: 7}}, book.Lines[0])

	for _, tt := range []struct{ name, rows, want string }{
		{"rows that go back", row(good) + `<x:row r="7"/>`, ":orders:7: the workbook is damaged: want a row number above 7, got 7"},
		{"a row beyond the format", `<x:row r="1048577"/>`, ":orders: the workbook is damaged: want at most 1048576 rows in a sheet, got row 1048577"},
		{"cells that go back", row(`<x:c r="C7"/><x:c r="B7"/>`), `:orders:7: the workbook is damaged: want cells from left to right, up to column XFD, got cell "B7"`},
		{"a cell beyond the format", row(`<x:c r="XFE7"/>`), ":orders:7: the workbook is damaged: want at most 16384 columns in a sheet, got more"},
		{"a cell of six letters", row(`<x:c r="AAAAAA7"/>`), `:orders:7: the workbook is damaged: want cells from left to right, up to column XFD, got cell "AAAAAA7"`},
		{"a shared text that is not there", row(`<x:c t="s"><x:v>6</x:v></x:c>`), `:orders:7: the workbook is damaged: want one of 6 shared texts, got "6"`},
		{"a sheet that ends in the middle", row(good) + `<x:row><!-- `, ":orders:8: the workbook is damaged: XML syntax error"},
		{"a row without an end", row(`<x:c t="str"><x:v>` + strings.Repeat("a", 9<<20)), ":orders:7: want rows of at most 8 MB, got a longer one"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := sheetOf(t, tt.rows, shared)
			_, err := Read([]string{path}, testShop(), Options{})
			assert.ErrorContains(t, err, path+tt.want)
		})
	}
	t.Run("shared texts that end in the middle", func(t *testing.T) {
		path := sheetOf(t, row(good), shared+"</x:sst><!--")
		_, err := Read([]string{path}, testShop(), Options{})
		assert.NoError(t, err, "what comes after their end is not looked at")
		path = sheetOf(t, row(good), shared+"<!--")
		_, err = Read([]string{path}, testShop(), Options{})
		assert.ErrorContains(t, err, path+": the workbook is damaged: XML syntax error")
	})
}
