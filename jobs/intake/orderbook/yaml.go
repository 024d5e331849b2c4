package orderbook

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/intake/fault"
	"laneplan/jobs/intake/yamltree"
)

// A YAML document takes about a hundred times its size in memory, so a long
// list is cut between its items and read a part at a time.
const (
	itemsAtOnce   = 250
	bytesAtOnce   = 256 << 10
	mostYAML      = 48 << 20 // of a file
	mostItemBytes = 64 << 10
	mostHeadBytes = 64 << 10 // before the first item: every part has it again
	mostFlowBytes = 2 << 20  // of a file whose items cannot be told apart by line
)

const listKey = "order_lines"

func (b *builder) readYAML(path string) error {
	data, err := fault.ReadFile(path, mostYAML)
	if err != nil {
		return err
	}
	return b.yamlTable(path, data)
}

func (b *builder) yamlTable(path string, data []byte) error {
	data = bytes.TrimPrefix(data, bom)
	r := &rowReader{builder: b, notation: isoNotation, file: path}
	head, items := cut(data)
	if items == nil {
		if len(data) > mostFlowBytes {
			return fault.Fault{File: path, Message: fmt.Sprintf("want %s: and one order line under another (- order: …) in a file of more than %d MB",
				listKey, mostFlowBytes>>20)}
		}
		return r.yamlPart(yamlPart{tree: yamltree.Parse(path, data)})
	}
	ahead, stop := make(chan yamlPart, 1), make(chan struct{})
	go parse(path, head, items, ahead, stop)
	defer close(stop)
	for part := range ahead {
		if part.err != nil {
			return part.err
		}
		if err := r.yamlPart(part); err != nil {
			return err
		}
	}
	return nil
}

// parse sends the items in parts, some ahead of who reads them, until stop is
// closed: parsing takes half of the time.
func parse(path string, head []byte, items []yamlItem, to chan<- yamlPart, stop <-chan struct{}) {
	defer close(to)
	headLines := bytes.Count(head, []byte("\n"))
	for len(items) > 0 {
		part := yamlPart{head: headLines, skipped: items[0].line - headLines - 1}
		text := slices.Clone(head)
		count := 0
		for count < len(items) && count < itemsAtOnce && (count == 0 || len(text) < bytesAtOnce) {
			if len(items[count].text) > mostItemBytes {
				part.err = fault.Fault{File: path, Line: items[count].line, Message: fmt.Sprintf("want order lines of at most %d KB, got %d", mostItemBytes>>10, len(items[count].text)>>10)}
				items = nil
				break
			}
			text = append(text, items[count].text...)
			count++
		}
		if part.err == nil {
			part.items, items = items[:count], items[count:]
			part.tree = yamltree.Parse(path, text)
		}
		select {
		case to <- part:
		case <-stop:
			return
		}
	}
}

// yamlPart is some items of a list as a document of their own, whose lines
// after the head are those of the file less skipped.
type yamlPart struct {
	tree    *yamltree.Tree
	head    int // lines that the parts share
	skipped int
	items   []yamlItem // empty where the items cannot be told apart by line
	err     error      // keeps it and what follows from being read
}

type yamlItem struct {
	line int    // of the file
	text []byte // part of the file's
}

var listLine = regexp.MustCompile(`(?m)^` + listKey + `:[ \t]*(?:#.*)?\r?$`)

// cut finds the head and the items of a list in block form; no items where the
// text has any other form: then the whole is one document. A line that begins
// an item does so whatever stands before it; in the one case where it does
// not, inside a quoted text that runs over several lines, the parts are no
// YAML and are refused.
func cut(data []byte) (head []byte, items []yamlItem) {
	at := listLine.FindIndex(data)
	if at == nil || at[1]+1 >= len(data) || at[1] >= mostHeadBytes || listLine.Match(data[at[1]:]) {
		return nil, nil
	}
	head = data[:at[1]+1]
	line, indent, begin := bytes.Count(head, []byte("\n")), -1, 0
	for next := len(head); next < len(data); {
		start := next
		if i := bytes.IndexByte(data[start:], '\n'); i >= 0 {
			next = start + i + 1
		} else {
			next = len(data)
		}
		line++
		text := bytes.TrimRight(data[start:next], "\r\n")
		spaces := len(text) - len(bytes.TrimLeft(text, " "))
		isItem := bytes.HasPrefix(text[spaces:], []byte("- "))
		switch {
		case spaces == len(text) || text[spaces] == '#' && indent < 0:
		case indent < 0 && !isItem:
			return nil, nil
		case indent < 0 || spaces == indent && isItem:
			if n := len(items); n > 0 {
				items[n-1].text = data[begin:start]
			}
			indent, begin = spaces, start
			items = append(items, yamlItem{line: line})
		case text[spaces] == '#':
		case spaces <= indent:
			return nil, nil
		}
	}
	if n := len(items); n > 0 {
		items[n-1].text = data[begin:]
	}
	return head, items
}

// yamlPart reads one part. The error is of the file; faults of an item are
// its row's.
func (r *rowReader) yamlPart(part yamlPart) error {
	tree := part.tree
	tree.Root().Need(listKey, "the order lines, such as - {order: 1001, …}")
	var read []jobs.OrderLine
	for i, item := range tree.Root().Maps(listKey) {
		read = append(read, r.yamlLine(item))
		path := fmt.Sprintf("%s[%d]", listKey, i)
		read[i].Source = jobs.Source{File: r.file, Row: part.lineOf(tree.Line(path))}
		if err := r.count(r.file, "", read[i].Source.Row); err != nil {
			return err
		}
	}
	var faults fault.List
	if err := tree.Err(); err != nil {
		faults = err.(fault.List)
	}
	for i := range faults {
		faults[i].Line = part.lineOf(faults[i].Line)
	}
	bad := map[int]fault.List{}
	for _, f := range faults {
		// Faults of the head, or of a text that is not what it seemed, are the
		// whole file's; so are more than the tree collects.
		if f.Line <= part.head || len(part.items) == 0 || len(part.items) != len(read) || tree.Full() {
			return faults
		}
		at := part.itemAt(f.Line)
		bad[at] = append(bad[at], f)
	}
	for i := range read {
		if bad[i] == nil {
			r.clashes(&read[i], func(name, message string) {
				f := fault.Fault{File: r.file, Line: part.lineOf(tree.Line(fmt.Sprintf("%s[%d].%s", listKey, i, name))), Field: name, Message: message}
				bad[i] = append(bad[i], f)
			})
		}
		if bad[i] == nil {
			r.add(read[i])
			continue
		}
		row := BadRow{Row: read[i].Source.Row, Faults: bad[i]}
		if len(part.items) > 0 {
			row.Cells = []string{string(part.items[i].text)}
		} else if r.options.SkipBad {
			return fault.Fault{File: r.file, Line: row.Row,
				Message: "want one order line under another (- order: …) for bad ones to be set aside, got another form of list"}
		}
		r.setAside(row)
	}
	return nil
}

func (p yamlPart) lineOf(line int) int {
	if line <= p.head {
		return line
	}
	return line + p.skipped
}

func (p yamlPart) itemAt(line int) int {
	at, found := slices.BinarySearchFunc(p.items, line, func(item yamlItem, line int) int { return item.line - line })
	if !found {
		at--
	}
	return at
}

// yamlLine reads the fields of one item by the same rules as the cells of a
// table. Finishes and flags are lists.
func (r *rowReader) yamlLine(item *yamltree.Map) jobs.OrderLine {
	var line jobs.OrderLine
	for _, name := range jobs.RequiredColumns {
		item.Need(name, yamlWants[name])
	}
	for i := range columns {
		column := &columns[i]
		if column.kind == listKind {
			words := yamltree.Values(item, column.name, func(value string) (string, error) {
				return value, column.read(r, value, &line)
			})
			// Each word was checked; together they may repeat.
			if len(words) > 0 {
				if err := column.read(r, strings.Join(words, "+"), &line); err != nil {
					item.Fault(column.name, err.Error(), "")
				}
			}
			continue
		}
		yamltree.Value(item, column.name, func(value string) (struct{}, error) {
			return struct{}{}, column.read(r, value, &line)
		})
	}
	if item.Has(jobs.ToleranceColumn) && (item.Has("unders") || item.Has("overs")) {
		item.Fault(jobs.ToleranceColumn, "want either tolerance or unders and overs, got both", "")
	}
	return line
}

var yamlWants = map[string]string{
	"order": "the order's number, such as 1001", "customer": "the customer's name", "version": "the version's name",
	"die": "a die of the shop file", "stock": "a stock of the shop file",
	"quantity": "labels ordered, such as 2500", "due": "a date such as 2026-12-04",
}
