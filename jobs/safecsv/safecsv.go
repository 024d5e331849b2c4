// Package safecsv writes tables as comma-separated values (RFC 4180: CRLF,
// quotes where needed, one number of fields) in UTF-8, with no cell that a
// spreadsheet would run as a formula.
//
//	err := safecsv.Write(w, []string{"version", "ordered"}, rows)
package safecsv

import (
	"encoding/csv"
	"fmt"
	"io"
	"regexp"
	"strings"
)

// Write writes a heading and its rows. It fails where a row has another
// number of cells than the heading: a fault of the caller.
func Write(w io.Writer, heading []string, rows [][]string) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	safe := make([]string, len(heading))
	for i, row := range append([][]string{heading}, rows...) {
		if len(row) != len(heading) {
			return fmt.Errorf("csv: row %d has %d cells, the heading has %d", i, len(row), len(heading))
		}
		for j, cell := range row {
			safe[j] = Cell(cell)
		}
		if err := out.Write(safe); err != nil {
			return fmt.Errorf("csv: %w", err)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("csv: %w", err)
	}
	return nil
}

// formulaStart are the first characters after which a spreadsheet reads a
// cell as a formula, with their full-width twins (the list of OWASP's page
// on CSV injection, from memory).
const formulaStart = "=+-@\t\r\n＝＋－＠"

var negativeNumber = regexp.MustCompile(`^-[0-9]+(\.[0-9]+)?$`)

// Cell is the text with an apostrophe in front where a spreadsheet would read
// it as a formula. A negative number stays one. Text undoes it.
func Cell(text string) string {
	// A text that has such apostrophes already gets one more, so that none is
	// lost on the way back.
	first := strings.TrimLeft(text, " '")
	if first == "" || negativeNumber.MatchString(text) {
		return text
	}
	if strings.ContainsRune(formulaStart, []rune(first)[0]) {
		return "'" + text
	}
	return text
}

// Text is what Cell made a cell of.
func Text(cell string) string {
	if text, guarded := strings.CutPrefix(cell, "'"); guarded && Cell(text) == cell {
		return text
	}
	return cell
}
