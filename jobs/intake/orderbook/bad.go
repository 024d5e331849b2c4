package orderbook

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/wholefile"
)

// WriteBad writes the bad rows of every file into a file in the same format
// and with the same headings, in the folder dir, so that they can be mended
// and read again. Tables get a first column, fault, that says what is wrong
// and is not read; YAML gets comments. It returns the paths, in the order of
// the files; all are written or none.
func WriteBad(dir string, bad []BadFile, format jobs.BookFormat) ([]string, error) {
	var set wholefile.Set
	defer set.Discard()
	var paths []string
	for i := range bad {
		ext := filepath.Ext(bad[i].File)
		stem := filepath.Join(dir, strings.TrimSuffix(filepath.Base(bad[i].File), ext)+"-bad")
		path := stem + ext
		for n := 2; slices.Contains(paths, path); n++ {
			path = fmt.Sprintf("%s-%d%s", stem, n, ext)
		}
		paths = append(paths, path)
		if err := set.Add(path, 0o644, func(w io.Writer) error { return writeBad(w, bad[i], format) }); err != nil {
			return nil, err
		}
	}
	return paths, set.Commit()
}

func writeBad(w io.Writer, bad BadFile, format jobs.BookFormat) error {
	if bad.Heading == nil {
		return writeBadYAML(w, bad)
	}
	table := [][]string{append([]string{faultColumn}, bad.withoutFaults(bad.Heading)...)}
	for _, row := range bad.Rows {
		table = append(table, append([]string{faultsIn(row)}, bad.withoutFaults(row.Cells)...))
	}
	if strings.EqualFold(filepath.Ext(bad.File), ".csv") {
		return writeTable(w, table, format)
	}
	columns := headings(table[0], format, func(int, string, string, string) {})
	return writeWorkbook(w, table[0], columns, bad.notation, format.Sheet, slices.Values(table[1:]))
}

func writeBadYAML(w io.Writer, bad BadFile) error {
	if _, err := io.WriteString(w, yamlHead); err != nil {
		return err
	}
	for _, row := range bad.Rows {
		if len(row.Cells) != 1 {
			return errors.New("a bad row of YAML has no text")
		}
		lines := strings.Split(strings.TrimRight(row.Cells[0], "\r\n"), "\n")
		// Comments before the next item are not this one's.
		for len(lines) > 1 && strings.HasPrefix(strings.TrimSpace(lines[len(lines)-1]), "#") {
			lines = lines[:len(lines)-1]
		}
		text := strings.Join(lines, "\n")
		if _, err := fmt.Fprintf(w, "# %s\n%s\n", faultsIn(row), text); err != nil {
			return err
		}
	}
	return nil
}

// withoutFaults leaves out the column of faults that a list of bad rows had
// when it was read again.
func (b BadFile) withoutFaults(cells []string) []string {
	var kept []string
	for i, cell := range cells {
		if i >= len(b.Heading) || fold(b.Heading[i]) != faultColumn {
			kept = append(kept, cell)
		}
	}
	return kept
}

// faultsIn is what is wrong with a row, in one line.
func faultsIn(row BadRow) string {
	var all []string
	for _, f := range row.Faults {
		all = append(all, strings.TrimPrefix(f.Field+": "+f.Message, ": "))
	}
	return strings.Join(all, "; ")
}
