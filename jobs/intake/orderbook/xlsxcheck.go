package orderbook

import (
	"archive/zip"
	"bufio"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"path"
	"regexp"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"laneplan/jobs/intake/scalar"
)

// Bounds of a workbook, which is a zip archive. The size that a part states
// can be relied on, since archive/zip reads no more than that.
const (
	mostParts     = 2000
	mostPartBytes = 32 << 20 // of a part that is not a sheet: it is held in memory
)

// checkSizes refuses a zip bomb before anything is unpacked.
func checkSizes(parts []*zip.File) error {
	if len(parts) > mostParts {
		return fmt.Errorf("want at most %d parts in a workbook, got %d", mostParts, len(parts))
	}
	var total uint64
	for _, part := range parts {
		size := part.UncompressedSize64
		if total += size; size > MostFileBytes || total > MostFileBytes {
			return fmt.Errorf("want at most %d MB when the workbook is unpacked, got more", MostFileBytes>>20)
		}
		if size > mostPartBytes && !isSheet(part.Name) && !strings.EqualFold(part.Name, "xl/sharedStrings.xml") {
			return fmt.Errorf("want at most %d MB in part %s of the workbook, got %d", mostPartBytes>>20, scalar.Quote(part.Name), size>>20)
		}
	}
	return nil
}

func isSheet(name string) bool {
	return strings.HasPrefix(strings.ToLower(name), "xl/worksheets/sheet")
}

// sheetEnds tells the last row of every sheet part, by the part's name, and
// which part a relation of the workbook is.
type sheetEnds struct {
	rows  map[string]int
	parts map[string]string
	err   error
}

// findEnds reads every part to its end, which checks its checksum too.
func findEnds(parts []*zip.File) sheetEnds {
	ends := sheetEnds{rows: map[string]int{}, parts: map[string]string{}}
	for _, part := range parts {
		if ends.err = ends.look(part); ends.err != nil {
			ends.err = fmt.Errorf("the workbook is damaged: part %s: %w", scalar.Quote(part.Name), ends.err)
			break
		}
	}
	return ends
}

func (e *sheetEnds) look(part *zip.File) error {
	from, err := part.Open()
	if err != nil {
		return err
	}
	defer from.Close()
	switch {
	case isSheet(part.Name):
		last, err := lastRow(from)
		e.rows[part.Name] = last
		return err
	case strings.EqualFold(part.Name, "xl/_rels/workbook.xml.rels"):
		var relations struct {
			All []struct {
				ID     string `xml:"Id,attr"`
				Target string `xml:"Target,attr"`
			} `xml:"Relationship"`
		}
		if err := xml.NewDecoder(from).Decode(&relations); err != nil {
			return err
		}
		for _, relation := range relations.All {
			target := strings.ReplaceAll(relation.Target, `\`, "/")
			if !strings.HasPrefix(target, "/") {
				target = "/xl/" + target
			}
			e.parts[relation.ID] = strings.TrimPrefix(path.Clean(target), "/")
		}
	}
	_, err = io.Copy(io.Discard, from)
	return err
}

// partOf names the part that holds a sheet; "" where that is not to be found.
func partOf(book *excelize.File, sheet string, ends sheetEnds) string {
	if book.WorkBook == nil {
		return ""
	}
	for _, s := range book.WorkBook.Sheets.Sheet {
		if s.Name == sheet {
			return ends.parts[s.ID]
		}
	}
	return ""
}

var rowNumber = regexp.MustCompile(`\sr\s*=\s*["']([0-9]{1,9})["']`)

// lastRow finds the number of the last row element. Rows that state no number
// count on from the one before.
func lastRow(from io.Reader) (int, error) {
	last := 0
	tags := bufio.NewScanner(from)
	tags.Buffer(make([]byte, 64<<10), mostPartBytes)
	tags.Split(func(data []byte, atEnd bool) (int, []byte, error) {
		if i := bytes.IndexByte(data, '>'); i >= 0 {
			return i + 1, data[:i], nil
		}
		if atEnd {
			return len(data), nil, nil
		}
		return 0, nil, nil
	})
	for tags.Scan() {
		tag := tags.Bytes()
		tag = tag[bytes.LastIndexByte(tag, '<')+1:]
		name, _, _ := bytes.Cut(tag, []byte(" "))
		if i := bytes.IndexByte(name, ':'); i >= 0 {
			name = name[i+1:]
		}
		if string(bytes.TrimSuffix(name, []byte("/"))) != "row" {
			continue
		}
		last++
		if number := rowNumber.FindSubmatch(tag); number != nil {
			last, _ = strconv.Atoi(string(number[1]))
		}
	}
	return last, tags.Err()
}
