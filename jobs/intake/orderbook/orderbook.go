// Package orderbook reads an order book, one order line a row, from YAML, CSV
// and XLSX files into jobs.OrderLine, and writes the same three formats. It
// guesses nothing: separator, decimal mark, form of dates and the office's own
// headings stand in the shop file. It plans and pools nothing.
//
//	book, err := orderbook.Read([]string{"orders.csv"}, shop, orderbook.Options{})
//	// err lists every bad row; book.Lines are the good ones
package orderbook

import (
	_ "embed"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/intake/fault"
)

// Limits of one order book, which keep its memory bounded.
const (
	MostFileBytes = 256 << 20 // of a CSV file, and of a workbook when unpacked; of YAML less
	MostRows      = 200_000   // order lines, good and bad, of all files
	MostColumns   = 1000
	mostFiles     = 10_000 // in a folder
	mostFaults    = 10_000 // kept in words; the rest is counted
)

// Schema is the JSON Schema of an order book in YAML, by which editors
// complete and check it. That orders name what the shop file has, only Read
// checks.
//
//go:embed orders.schema.json
var Schema []byte

// Options of a reading. The zero value reports every bad row as an error.
type Options struct {
	// SkipBad keeps the good rows and returns the bad ones in Book.Bad instead
	// of as an error. A file that cannot be read as a table at all is an error
	// all the same.
	SkipBad bool
	// NotABook is the path of a file to leave out where a folder is read,
	// usually the shop file.
	NotABook string
}

// Book is what a reading gave.
type Book struct {
	Lines []jobs.OrderLine // in the order of the files and rows
	Files []string         // that were read, in this order
	Bad   []BadFile        // with Options.SkipBad, files with bad rows
}

// BadFile is the bad rows of one file.
type BadFile struct {
	File    string
	Heading []string // cells of the heading row; nil for YAML
	Rows    []BadRow

	notation notation // of the file
}

// BadRow is one row that was left out.
type BadRow struct {
	Row    int
	Cells  []string // as they stood in the file; of YAML one cell, the text of the item
	Faults fault.List
}

// Read reads order books from files and folders. A folder stands for the CSV,
// XLSX and YAML files in it, by name. The error is a fault.List that holds
// every fault of all files; then Lines are the good rows.
func Read(paths []string, shop *jobs.Shop, o Options) (Book, error) {
	b, err := newBuilder(shop, o)
	if err != nil {
		return Book{}, err
	}
	files, faults := expand(paths, o.NotABook)
	b.faults.Add(faults...)
	for _, file := range files {
		b.book.Files = append(b.book.Files, file)
		b.file(file)
	}
	if len(files) > 0 && len(b.book.Lines) == 0 && len(b.faults) == 0 && len(b.book.Bad) == 0 {
		b.fail(fault.Fault{File: strings.Join(files, ", "), Message: "no order lines in the order book"})
	}
	return b.book, b.err()
}

// Parse reads an order book in CSV from memory or any other stream; name
// stands for it in messages.
func Parse(name string, from io.Reader, shop *jobs.Shop) (Book, error) {
	b, err := newBuilder(shop, Options{})
	if err != nil {
		return Book{}, err
	}
	b.book.Files = []string{name}
	if err := b.csvTable(name, from); err != nil {
		b.fail(faultsOf(name, err)...)
	}
	return b.book, b.err()
}

// formats by the ending of a file's name.
var formats = map[string]func(*builder, string) error{
	".csv": (*builder).readCSV, ".xlsx": (*builder).readXLSX, ".yaml": (*builder).readYAML, ".yml": (*builder).readYAML,
}

const formatNames = ".csv, .xlsx, .yaml or .yml"

// expand turns folders into their files.
func expand(paths []string, notABook string) ([]string, fault.List) {
	var files []string
	var faults fault.List
	for _, path := range paths {
		info, err := os.Stat(path)
		if err != nil || !info.IsDir() {
			files = append(files, path)
			continue
		}
		inside, err := inFolder(path, notABook)
		if err != nil {
			faults.Add(fault.Of(path, "%v", err)...)
		}
		files = append(files, inside...)
	}
	for i, file := range files {
		if at := slices.Index(files[:i], file); at >= 0 {
			faults.Add(fault.Of(file, "the file is named twice")...)
		}
	}
	return files, faults
}

func inFolder(folder, notABook string) ([]string, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, fmt.Errorf("the folder cannot be read: %w", err)
	}
	shopFile, _ := os.Stat(notABook) // a path that is not there is like none
	var files []string
	for _, entry := range entries {
		path := filepath.Join(folder, entry.Name())
		// Spreadsheet programs leave lock files whose names start so.
		if strings.HasPrefix(entry.Name(), ".") || strings.HasPrefix(entry.Name(), "~$") ||
			formats[strings.ToLower(filepath.Ext(path))] == nil {
			continue
		}
		info, err := os.Stat(path)
		if err != nil || info.IsDir() || shopFile != nil && os.SameFile(info, shopFile) {
			continue
		}
		files = append(files, path)
	}
	switch {
	case len(files) == 0:
		return nil, fmt.Errorf("no order book in the folder, want a file that ends in %s", formatNames)
	case len(files) > mostFiles:
		return nil, fmt.Errorf("want at most %d files in a folder, got %d", mostFiles, len(files))
	}
	return files, nil
}

// file reads one file and sets down what is wrong with it as a whole.
func (b *builder) file(path string) {
	read := formats[strings.ToLower(filepath.Ext(path))]
	if read == nil {
		hint := ""
		if strings.EqualFold(filepath.Ext(path), ".xls") {
			hint = "save the workbook as .xlsx"
		}
		b.fail(fault.Fault{File: path, Message: "want an order book that ends in " + formatNames, Hint: hint})
		return
	}
	info, err := os.Stat(path)
	switch {
	case os.IsNotExist(err):
		b.fail(fault.Of(path, "there is no such file")...)
	case err != nil:
		b.fail(fault.Of(path, "cannot be read: %v", inner(err))...)
	case !info.Mode().IsRegular():
		b.fail(fault.Of(path, "want a regular file, got a device, a pipe or a folder")...)
	case info.Size() == 0:
		b.fail(fault.Of(path, "the file is empty")...)
	case info.Size() > MostFileBytes:
		b.fail(fault.Of(path, "want at most %d MB, got %d", MostFileBytes>>20, info.Size()>>20)...)
	default:
		if err := read(b, path); err != nil {
			b.fail(faultsOf(path, err)...)
		}
	}
}

// faultsOf is err as faults: its own where it has some, else one of the file.
func faultsOf(path string, err error) fault.List {
	switch is := err.(type) {
	case fault.Fault:
		return fault.List{is}
	case fault.List:
		return is
	}
	text := inner(err).Error()
	if !strings.HasPrefix(text, "want ") { // ours, which say what would be right
		text = "cannot be read: " + text
	}
	return fault.List{{File: path, Message: text}}
}

// inner drops the path that a path error repeats.
func inner(err error) error {
	if is, ok := err.(*fs.PathError); ok {
		return is.Err
	}
	return err
}
