package orderbook

import (
	"encoding/csv"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"laneplan/jobs"
	"laneplan/jobs/intake/yamltree"
	"laneplan/jobs/safecsv"
	"laneplan/jobs/wholefile"
)

// Write writes order lines to a file in the format that its name ends in
// (.csv, .xlsx, .yaml or .yml), whole or not at all. Reading it with the same
// format of the shop gives the same lines.
func Write(path string, lines []jobs.OrderLine, format jobs.BookFormat) error {
	write := writers[strings.ToLower(filepath.Ext(path))]
	if write == nil {
		return fmt.Errorf("%s: want a name that ends in %s", path, formatNames)
	}
	return wholefile.Write(path, 0o644, func(w io.Writer) error { return write(w, lines, format) })
}

var writers = map[string]func(io.Writer, []jobs.OrderLine, jobs.BookFormat) error{
	".csv": WriteCSV, ".xlsx": WriteXLSX, ".yaml": WriteYAML, ".yml": WriteYAML,
}

// used are the columns that the lines need, always with the required ones.
func used(lines []jobs.OrderLine, n notation) []*column {
	var used []*column
	for _, name := range jobs.OrderColumns {
		column := columnNamed(name)
		if slices.Contains(jobs.RequiredColumns, name) ||
			slices.ContainsFunc(lines, func(l jobs.OrderLine) bool { return column.write(n, &l) != "" }) {
			used = append(used, column)
		}
	}
	return used
}

// headingOf is the office's own heading of one of our columns, so that what we
// write can be read back: with a map, our name may mean another column.
func headingOf(name string, format jobs.BookFormat) string {
	headings := slices.Sorted(maps.Keys(format.Columns))
	if !slices.ContainsFunc(headings, func(heading string) bool { return fold(heading) == name }) {
		return name
	}
	for _, heading := range headings {
		if format.Columns[heading] == name {
			return strings.TrimSpace(heading)
		}
	}
	return name
}

// WriteCSV writes a table with the shop's separator, decimal mark and form of
// dates, with CRLF line ends (RFC 4180) and a byte-order mark, by which
// spreadsheet programs know UTF-8.
func WriteCSV(w io.Writer, lines []jobs.OrderLine, format jobs.BookFormat) error {
	n := notationOf(format)
	columns := used(lines, n)
	table := make([][]string, 0, len(lines)+1)
	table = append(table, headingsOf(columns, format))
	for i := range lines {
		table = append(table, cellsOf(columns, &lines[i], n))
	}
	return writeTable(w, table, format)
}

func headingsOf(columns []*column, format jobs.BookFormat) []string {
	headings := make([]string, len(columns))
	for i, column := range columns {
		headings[i] = headingOf(column.name, format)
	}
	return headings
}

func cellsOf(columns []*column, line *jobs.OrderLine, n notation) []string {
	cells := make([]string, len(columns))
	for i, column := range columns {
		cells[i] = column.write(n, line)
	}
	return cells
}

func writeTable(w io.Writer, table [][]string, format jobs.BookFormat) error {
	if _, err := w.Write(bom); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.Comma, out.UseCRLF = format.SeparatorOrDefault(), true
	for _, cells := range table {
		safe := make([]string, len(cells))
		for i, cell := range cells {
			safe[i] = safecsv.Cell(cell)
		}
		if err := out.Write(safe); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// WriteYAML writes a list of order lines with one field a line.
func WriteYAML(w io.Writer, lines []jobs.OrderLine, _ jobs.BookFormat) error {
	if _, err := io.WriteString(w, yamlHead); err != nil {
		return err
	}
	for i := range lines {
		text, err := yaml.Marshal([]*yaml.Node{yamlItemOf(&lines[i])})
		if err != nil {
			return err
		}
		if _, err := w.Write(text); err != nil {
			return err
		}
	}
	return nil
}

var yamlHead = fmt.Sprintf("laneplan: %d\n%s:\n", yamltree.Format, listKey)

func yamlItemOf(line *jobs.OrderLine) *yaml.Node {
	item := &yaml.Node{Kind: yaml.MappingNode}
	for i := range columns {
		column := &columns[i]
		cell := column.write(isoNotation, line)
		if cell == "" {
			continue
		}
		value := &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: cell}
		switch column.kind {
		case wholeKind:
			value.Tag = "!!int"
		case numberKind:
			value.Tag = "!!float"
		case dateKind:
			value.Tag = "!!timestamp"
		case yesKind:
			value.Tag, value.Value = "!!bool", map[string]string{"yes": "true", "no": "false"}[cell]
		case listKind:
			value = &yaml.Node{Kind: yaml.SequenceNode, Style: yaml.FlowStyle}
			for word := range strings.SplitSeq(cell, "+") {
				value.Content = append(value.Content, &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: word})
			}
		}
		item.Content = append(item.Content, &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: column.name}, value)
	}
	return item
}
