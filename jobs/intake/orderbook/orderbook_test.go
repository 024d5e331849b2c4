package orderbook

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"laneplan/jobs"
	"laneplan/jobs/intake/fault"
)

func testShop() *jobs.Shop {
	return &jobs.Shop{
		Currency: "EUR",
		Dies:     []jobs.Die{{ID: "D-75x50", Lanes: 4}, {ID: "D-60x60", Lanes: 5}},
		Stocks:   []jobs.Stock{{ID: "PP-white"}, {ID: "paper-gloss"}},
		Finishes: []jobs.Finish{{ID: "varnish"}, {ID: "laminate"}},
		Rates:    jobs.Rates{Coverage: []jobs.CoverageClass{{ID: "heavy"}}},
	}
}

// officeShop is that of an office with its own headings and decimal commas.
func officeShop() *jobs.Shop {
	shop := testShop()
	shop.Book = jobs.BookFormat{
		Separator: ';', DecimalMark: ',', DateLayout: "02.01.2006",
		Columns: map[string]string{
			"Auftrag": "order", "Kunde": "customer", "Sorte": "version", "Stanze": "die", "Material": "stock",
			"Menge": "quantity", "Termin": "due", "Preis": "unit_price", "Toleranz": "tolerance", "Kern": "core", "Bemerkung": "ignore",
		},
	}
	return shop
}

func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

func day(text string) time.Time {
	d, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic(err)
	}
	return d
}

func fraction(text string) *decimal.Decimal {
	d := decimal.RequireFromString(text)
	d = oneZero(d)
	return &d
}

const head = "order,customer,version,die,stock,quantity,due"

// fullLine states every field.
func fullLine() jobs.OrderLine {
	splices, bill := 0, true
	return jobs.OrderLine{
		Order: "010", Customer: "=Müller & Söhne", Version: "-paprika, \"sweet\"", Name: "Paprika 茶 50 g", Die: "D-75x50", Stock: "PP-white",
		Finishes: []string{"laminate", "varnish"}, InkSet: "+white", Quantity: 2500, Due: day("2026-12-04"), Rush: true,
		Unders: fraction("0"), Overs: fraction("0.125"), BillOvers: &bill, UnitPrice: decimal.RequireFromString("0.0455"),
		LabelsPerRoll: 1000, MaxDiameter: 300 * jobs.Millimetre, Core: 3 * jobs.Inch, MostSplices: &splices,
		Wind: jobs.Wind{Face: jobs.FaceOut, Edge: jobs.EdgeTop}, LeaveOvers: true, Coverage: "heavy", Artwork: "@paprika.pdf", Flags: []string{"food", "toy"},
	}
}

// plainLine states only what it must.
func plainLine() jobs.OrderLine {
	return jobs.OrderLine{Order: "1002", Customer: "'=Hill", Version: "2026-12-04", Die: "D-60x60", Stock: "paper-gloss", Quantity: 1, Due: day("2027-02-28"), AllOvers: true}
}

func withoutSource(lines []jobs.OrderLine) []jobs.OrderLine {
	lines = slices.Clone(lines)
	for i := range lines {
		lines[i].Source = jobs.Source{}
	}
	return lines
}

func TestEveryFormatGivesBackWhatWasWritten(t *testing.T) {
	lines := []jobs.OrderLine{fullLine(), plainLine()}
	for name, shop := range map[string]*jobs.Shop{"our own names": testShop(), "an office's names": officeShop()} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			for i, from := range []string{"a.csv", "a.xlsx", "a.yaml"} {
				first := filepath.Join(dir, fmt.Sprint(i)+from)
				require.NoError(t, Write(first, lines, shop.Book))
				book, err := Read([]string{first}, shop, Options{})
				require.NoError(t, err)
				require.Equal(t, lines, withoutSource(book.Lines), from)
				for _, to := range []string{"b.csv", "b.xlsx", "b.yml"} {
					second := filepath.Join(dir, fmt.Sprint(i)+to)
					require.NoError(t, Write(second, book.Lines, shop.Book))
					again, err := Read([]string{second}, shop, Options{})
					require.NoError(t, err)
					assert.Equal(t, lines, withoutSource(again.Lines), "%s to %s", from, to)
				}
			}
		})
	}
}

func TestNothingWrittenIsAFormula(t *testing.T) {
	var table bytes.Buffer
	require.NoError(t, WriteCSV(&table, []jobs.OrderLine{fullLine()}, jobs.BookFormat{}))
	assert.Contains(t, table.String(), "'=Müller")
	assert.Contains(t, table.String(), "'@paprika.pdf")

	var workbook bytes.Buffer
	require.NoError(t, WriteXLSX(&workbook, []jobs.OrderLine{fullLine()}, jobs.BookFormat{}))
	book, err := excelize.OpenReader(&workbook)
	require.NoError(t, err)
	defer book.Close()
	rows, err := book.GetRows("orders")
	require.NoError(t, err)
	assert.Contains(t, rows[1], "=Müller & Söhne")
	for column := range rows[1] {
		cell, err := excelize.CoordinatesToCellName(column+1, 2)
		require.NoError(t, err)
		formula, err := book.GetCellFormula("orders", cell)
		require.NoError(t, err)
		assert.Empty(t, formula, cell)
	}
}

func TestCSVInTheOfficesWay(t *testing.T) {
	text := "Auftrag;Kunde;Sorte;Stanze;Material;Menge;Termin;Preis;Toleranz;Kern;Bemerkung\r\n" +
		"1001;\"Mill; Hill\";cumin;D-75x50;PP-white;2500;4.12.2026;0,045;2,5%;76,2mm;=SUM(A1)\r\n" +
		";;;;;;;;;;\r\n" +
		"1001;\"Mill; Hill\";\"mace\"\"s\";D-75x50;PP-white;250;31.12.2026;;;;\r\n"
	for name, prefix := range map[string]string{"with a byte-order mark": "\xEF\xBB\xBF", "without": ""} {
		t.Run(name, func(t *testing.T) {
			path := write(t, "orders.CSV", prefix+text)
			book, err := Read([]string{path}, officeShop(), Options{})
			require.NoError(t, err)
			require.Len(t, book.Lines, 2)
			assert.Equal(t, jobs.OrderLine{
				Order: "1001", Customer: "Mill; Hill", Version: "cumin", Die: "D-75x50", Stock: "PP-white", Quantity: 2500,
				Due: day("2026-12-04"), UnitPrice: decimal.RequireFromString("0.045"), Unders: fraction("0.025"), Overs: fraction("0.025"),
				Core: 3 * jobs.Inch, Source: jobs.Source{File: path, Row: 2},
			}, book.Lines[0])
			assert.Equal(t, `mace"s`, book.Lines[1].Version)
			assert.Equal(t, 4, book.Lines[1].Source.Row)
		})
	}
}

func TestACSVCellIsReadOrRefusedInOneSentence(t *testing.T) {
	row := func(change string) string {
		cells := map[string]string{"order": "1001", "customer": "Hill", "version": "cumin", "die": "D-75x50", "stock": "PP-white", "quantity": "2500", "due": "2026-12-04"}
		names := strings.Split(head, ",")
		column, value, _ := strings.Cut(change, "=")
		if cells[column] == "" {
			names = append(names, column)
		}
		cells[column] = value
		var values []string
		for _, name := range names {
			values = append(values, cells[name])
		}
		return strings.Join(names, ",") + "\n" + strings.Join(values, ",") + "\n"
	}
	for _, tt := range []struct{ name, change, want string }{
		{"quantity zero", "quantity=0", "2:6: quantity: want 1 or more, got 0"},
		{"quantity below zero", "quantity=-5", "2:6: quantity: want a whole number from 1 up, got -5"},
		{"quantity with decimals", "quantity=10.5", "2:6: quantity: want a whole number, got 10.5"},
		{"quantity with a leading zero", "quantity=010", "2:6: quantity: want a whole number without leading zeros, got 010"},
		{"quantity with separators", "quantity=12.500", "2:6: quantity: want a whole number without thousands separators, got 12.500"},
		{"quantity past the highest", "quantity=1000000000000", "2:6: quantity: want 1000000000 or less, got 1000000000000"},
		{"quantity past any integer", "quantity=99999999999999999999999", "2:6: quantity: want 1000000000 or less, got 99999999999999999999999"},
		{"quantity in words", "quantity=many", "2:6: quantity: want a whole number, got many"},
		{"quantity not given", "quantity=", "2:6: quantity: want a value, got an empty cell"},
		{"customer of blanks", "customer=  ", "2:2: customer: want a value, got an empty cell"},
		{"due in an impossible year", "due=9999-12-04", "2:7: due: want a year from 2000 to 2099, got 9999-12-04"},
		{"due in the year 0", "due=0000-12-04", "2:7: due: want a year from 2000 to 2099, got 0000-12-04"},
		{"due on a day that is not", "due=2026-02-30", "2:7: due: want a date such as 2026-12-04, got 2026-02-30"},
		{"due as a serial day in text", "due=46360", "2:7: due: want a date such as 2026-12-04, got 46360"},
		{"due in another form", "due=04.12.2026", "2:7: due: want a date such as 2026-12-04, got 04.12.2026"},
		{"a die that is not there", "die=D-1", "2:4: die: no die D-1 in the shop file; it has D-75x50, D-60x60"},
		{"a stock that is not there", "stock=x", "2:5: stock: no stock x in the shop file; it has PP-white, paper-gloss"},
		{"a finish that is not there", "finish=varnish+foil", "2:8: finish: no finish foil in the shop file; it has varnish, laminate"},
		{"a finish twice", "finish=varnish+varnish", "2:8: finish: want every word once, got varnish twice in varnish+varnish"},
		{"a flag that is not ours", "flags=food+kosher", "2:8: flags: want flags of food, pharma, toy, joined by +, got kosher"},
		{"a percentage without its sign", "overs=5", "2:8: overs: want a percentage such as 5% or 2.5%, got 5"},
		{"a percentage past 100", "tolerance=101%", "2:8: tolerance: want a percentage from 0% to 100% such as 2.5%, got 101%"},
		{"a price below zero", "unit_price=-1", "2:8: unit_price: want a number from 0 up, got -1"},
		{"a price in powers", "unit_price=1e9", "2:8: unit_price: want a number, got 1e9"},
		{"a core without a unit", "core=76", "2:8: core: want a length with a unit such as 105mm or 4.125in (units: um, mm, cm, m, mil, in, ft), got \"76\""},
		{"a core of nothing", "core=0mm", "2:8: core: want a length above zero, got 0mm"},
		{"a copy position without a chart", "wind=3", "2:8: wind: copy position 3 has no chart: want it in words such as out/top, or a chart in the shop file"},
		{"a copy position in other words", "wind=outside", "2:8: wind: want face/edge such as out/top (faces: out, in; edges: top, bottom, left, right), got \"outside\""},
		{"rush neither yes nor no", "rush=maybe", "2:8: rush: want yes or no, got maybe"},
		{"text that is not UTF-8", "customer=M\xFCller", "2:2: customer: want text in UTF-8; save the file as UTF-8"},
		{"text with a control character", "version=a\x07b", `2:3: version: want one line of text without control characters, got "a\ab"`},
		{"text of two lines", "version=\"a\nb\"", `2:3: version: want one line of text without control characters, got "a\nb"`},
		{"text that is too long", "version=" + strings.Repeat("x", 1001), "2:3: version: want at most 1000 characters, got 1001"},
		{"overs billed without a price", "bill_overs=yes", "2:8: bill_overs: want a limit to the overs such as 10% where they are billed, got none\nPATH:2:8: bill_overs: want the unit_price where overs are billed, got none"},
		{"a coverage class that is not there", "coverage=light", "2:8: coverage: no coverage class light in the shop file; it has heavy"},
		{"splices without end", "most_splices=9999", "2:8: most_splices: want 1000 or less, got 9999"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := write(t, "orders.csv", row(tt.change))
			book, err := Read([]string{path}, testShop(), Options{})
			assert.EqualError(t, err, path+":"+strings.ReplaceAll(tt.want, "PATH", path))
			assert.Empty(t, book.Lines)
		})
	}
	_, err := Read([]string{write(t, "orders.csv", row("quantity=2500"))}, testShop(), Options{})
	assert.NoError(t, err, "the row is good without the change")
}

func TestAWholeFileIsRefusedInOneSentence(t *testing.T) {
	good := head + "\n1001,Hill,cumin,D-75x50,PP-white,2500,2026-12-04\n"
	for _, tt := range []struct{ name, file, text, want string }{
		{"empty", "a.csv", "", "the file is empty"},
		{"no rows", "a.csv", head + "\n", "no order lines in the order book"},
		{"only a byte-order mark", "a.csv", "\xEF\xBB\xBF", "want a row of headings, got an empty file"},
		{"UTF-16", "a.csv", "\xFF\xFEo\x00", "want UTF-8, got UTF-16"},
		{"another separator", "a.csv", strings.ReplaceAll(good, ",", ";"), `want cells separated by ',', as the shop file says, got a heading row with ";" and no ','`},
		{"a heading twice", "a.csv", head + ",order\n", "1:8: order: column 1 (order) is the order already"},
		{"a heading of nobody", "a.csv", head + ",colour\n", "1:8: colour: no column of an order book has this heading"},
		{"a heading missing", "a.csv", "order,customer,version,die,stock\n", "1: missing column: quantity, due"},
		{"both ways of a tolerance", "a.csv", head + ",tolerance,overs\n", "1:9: overs: want either tolerance or unders and overs, got both"},
		{"two million columns", "a.csv", strings.Repeat("a,", 2_000_000) + "\n", "want rows of at most 1024 KB, got a longer one after this line"},
		{"a thousand and one columns", "a.csv", strings.Repeat("a,", 1000) + "a\n", "want at most 1000 columns, got 1001"},
		{"a million unclosed quotes", "a.csv", good + strings.Repeat("\"x\n", 1_000_000), ":3: want every quoted cell to end with a quote before the separator"},
		{"one quote without an end", "a.csv", good + "\"x" + strings.Repeat("\ny", 1_000_000), "want rows of at most 1024 KB, got a longer one after this line"},
		{"a quote in a cell", "a.csv", good + "8\" label,a\n", ":3:2: want a cell with a quote in it to be quoted as a whole"},
		{"too many cells", "a.csv", good + "1002,Hill,cumin,D-75x50,PP-white,2500,2026-12-04,more\n", "3:8: want no cell without a heading, got more"},
		{"an order line twice", "a.csv", good + "1001,Hill,cumin,D-60x60,PP-white,1,2026-12-05\n", "3:3: version: order 1001 has version cumin already, in "},
		{"an order of two customers", "a.csv", good + "1001,Dale,mace,D-60x60,PP-white,1,2026-12-05\n", "3:2: customer: order 1001 is of customer Hill in "},
		{"sums that overflow", "a.csv", head + "\n" + manyRows(1001, "1000000000"), "quantity: the quantities of the order book add up to more than 1000000000000 labels"},
		{"a CSV that calls itself a workbook", "a.xlsx", good, "want a workbook (.xlsx): zip: not a valid zip file"},
		{"an old workbook", "a.xls", good, "want an order book that ends in .csv, .xlsx, .yaml or .yml\nhint: save the workbook as .xlsx"},
		{"YAML without a list", "a.yaml", "laneplan: 1\n", "order_lines: this field is missing"},
		{"YAML of another format", "a.yaml", "laneplan: 2\norder_lines: []\n", "want format 1, got 2"},
		{"YAML with a field of nobody", "a.yaml", "laneplan: 1\nlines: 3\norder_lines:\n- {order: a}\n", "2:1: lines: there is no such field here"},
		{"YAML with an alias", "a.yaml", "laneplan: 1\norder_lines:\n- &a {order: 1}\n- *a\n", "want a value, got the"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := write(t, tt.file, tt.text)
			for _, skip := range []bool{false, true} {
				if skip && slices.Contains([]string{"too many cells", "an order line twice", "an order of two customers", "sums that overflow"}, tt.name) {
					continue
				}
				_, err := Read([]string{path}, testShop(), Options{SkipBad: skip})
				require.Error(t, err)
				assert.Contains(t, err.Error(), path)
				assert.Contains(t, err.Error(), tt.want)
				assert.IsType(t, fault.List{}, err)
			}
		})
	}
}

func manyRows(count int, quantity string) string {
	var rows strings.Builder
	for i := range count {
		fmt.Fprintf(&rows, "%d,Hill,v%d,D-75x50,PP-white,%s,2026-12-04\n", 1001+i/4, i, quantity)
	}
	return rows.String()
}

func TestEveryBadRowIsReportedAtOnce(t *testing.T) {
	first := write(t, "a.csv", head+"\n1001,Hill,cumin,D-75x50,PP-white,0,2026-02-30\n1001,Hill,mace,D-75x50,PP-white,5,2026-12-04\n,Hill,mace,D-75x50,PP-white,5,2026-12-04\n")
	second := write(t, "b.yaml", "laneplan: 1\norder_lines:\n- order: 1002\n  customer: Dale\n  version: x\n  die: D-1\n  stock: PP-white\n  quantity: 1.5\n  due: 2026-12-04\n")
	book, err := Read([]string{first, second, "none.csv"}, testShop(), Options{})
	require.Error(t, err)
	assert.Equal(t, strings.Join([]string{
		first + ":2:6: quantity: want 1 or more, got 0",
		first + ":2:7: due: want a date such as 2026-12-04, got 2026-02-30",
		first + ":4:1: order: want a value, got an empty cell",
		second + ":6:8: die: no die D-1 in the shop file; it has D-75x50, D-60x60",
		second + ":8:13: quantity: want a whole number, got 1.5",
		"none.csv: there is no such file",
	}, "\n"), err.Error())
	assert.Len(t, book.Lines, 1)
}

func TestAFolderStandsForItsOrderBooks(t *testing.T) {
	dir := t.TempDir()
	row := func(order string) string {
		return head + "\n" + order + ",Hill,cumin,D-75x50,PP-white,2500,2026-12-04\n"
	}
	for name, text := range map[string]string{
		"b.csv": row("2"), "a.csv": row("1"), "notes.txt": "x", ".hidden.csv": "x", "~$a.xlsx": "x", "shop.yaml": "x",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	require.NoError(t, Write(filepath.Join(dir, "c.xlsx"), []jobs.OrderLine{plainLine()}, jobs.BookFormat{}))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "d.csv"), 0o755))
	book, err := Read([]string{dir}, testShop(), Options{NotABook: filepath.Join(dir, "shop.yaml")})
	require.NoError(t, err)
	var orders []string
	for _, line := range book.Lines {
		orders = append(orders, line.Order)
	}
	assert.Equal(t, []string{"1", "2", "1002"}, orders)
	assert.Equal(t, jobs.Source{File: filepath.Join(dir, "c.xlsx"), Sheet: "orders", Row: 2}, book.Lines[2].Source)

	_, err = Read([]string{t.TempDir()}, testShop(), Options{})
	assert.ErrorContains(t, err, "no order book in the folder")
	_, err = Read([]string{dir + "/a.csv", dir + "/a.csv"}, testShop(), Options{})
	assert.ErrorContains(t, err, "the file is named twice")
	_, err = Read([]string{dir + "/a.csv", dir + "/a.csv", dir + "/nothing"}, testShop(), Options{})
	assert.ErrorContains(t, err, "want an order book that ends in")
}

func TestBadRowsAreSetAsideMendedAndReadAgain(t *testing.T) {
	bad := []string{"0", "x", "10.5"}
	for _, ext := range []string{".csv", ".xlsx", ".yaml"} {
		t.Run(ext, func(t *testing.T) {
			shop, dir := testShop(), t.TempDir()
			var lines []jobs.OrderLine
			for i := range 6 {
				line := fullLine()
				line.Version, line.Quantity, line.Artwork = fmt.Sprintf("=v%d", i), 7000+i, "@art.pdf"
				lines = append(lines, line)
			}
			path := filepath.Join(dir, "orders"+ext)
			require.NoError(t, Write(path, lines, shop.Book))
			spoil(t, path, map[string]string{"7001": bad[0], "7003": bad[1], "7005": bad[2]})

			_, err := Read([]string{path}, shop, Options{})
			require.Len(t, err, 3)
			book, err := Read([]string{path}, shop, Options{SkipBad: true})
			require.NoError(t, err)
			assert.Equal(t, []jobs.OrderLine{lines[0], lines[2], lines[4]}, withoutSource(book.Lines))
			require.Len(t, book.Bad, 1)
			require.Len(t, book.Bad[0].Rows, 3)

			paths, err := WriteBad(filepath.Join(dir, "bad"), book.Bad, shop.Book)
			require.NoError(t, err)
			require.Equal(t, []string{filepath.Join(dir, "bad", "orders-bad"+ext)}, paths)
			again, err := Read(paths, shop, Options{SkipBad: true})
			require.NoError(t, err)
			assert.Empty(t, again.Lines)
			require.Len(t, again.Bad[0].Rows, 3, "written back they are as bad as before")
			_, err = WriteBad(filepath.Join(dir, "bad2"), again.Bad, shop.Book)
			require.NoError(t, err)

			spoil(t, paths[0], map[string]string{bad[0]: "7001", bad[1]: "7003", bad[2]: "7005"})
			mended, err := Read(paths, shop, Options{})
			require.NoError(t, err)
			assert.Equal(t, []jobs.OrderLine{lines[1], lines[3], lines[5]}, withoutSource(mended.Lines))
		})
	}
}

// spoil changes quantities in a file as a person would.
func spoil(t *testing.T, path string, quantities map[string]string) {
	t.Helper()
	if filepath.Ext(path) != ".xlsx" {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		text := string(data)
		for from, to := range quantities {
			switch {
			case filepath.Ext(path) == ".yaml":
				text = strings.Replace(text, "quantity: "+from+"\n", "quantity: "+to+"\n", 1)
			default:
				text = strings.Replace(text, ","+from+",2026", ","+to+",2026", 1)
			}
		}
		require.NotEqual(t, string(data), text)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return
	}
	book, err := excelize.OpenFile(path)
	require.NoError(t, err)
	rows, err := book.GetRows("orders", excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	column := slices.Index(rows[0], "quantity")
	for i, row := range rows {
		if to, is := quantities[row[column]]; is {
			cell, err := excelize.CoordinatesToCellName(column+1, i+1)
			require.NoError(t, err)
			require.NoError(t, book.SetCellStr("orders", cell, to))
		}
	}
	require.NoError(t, book.Save())
}
