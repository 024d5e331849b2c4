package orderbook

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"laneplan/jobs"
	"laneplan/jobs/intake/fault"
	"laneplan/jobs/intake/scalar"
)

// builder gathers the rows of all files.
type builder struct {
	shop      *jobs.Shop
	options   Options
	book      Book
	faults    fault.List // of files; of rows too, unless bad rows are skipped
	uncounted int        // faults that were not kept
	rows      int
	total     int // labels
	lookups
	// seen tells where an order line stands, orders which line names an order
	// first.
	seen   map[lineKey]int
	orders map[string]int
}

type lineKey struct{ order, version string }

// lookups are what rows are read against.
type lookups struct {
	dies, stocks, finishes, coverage ids
	chart                            *jobs.WindChart
	strings                          map[string]string
}

// ids are names that the shop file defines.
type ids struct {
	known map[string]string
	all   []string
}

func idsOf[T any](all []T, id func(T) string) ids {
	set := ids{known: map[string]string{}}
	for _, one := range all {
		set.known[id(one)] = id(one)
		set.all = append(set.all, id(one))
	}
	return set
}

func newBuilder(shop *jobs.Shop, o Options) (*builder, error) {
	if err := shop.Book.Check(); err != nil {
		return nil, fmt.Errorf("shop: order_book: %w", err)
	}
	return &builder{
		shop: shop, options: o, seen: map[lineKey]int{}, orders: map[string]int{},
		lookups: lookups{
			dies:     idsOf(shop.Dies, func(d jobs.Die) string { return d.ID }),
			stocks:   idsOf(shop.Stocks, func(s jobs.Stock) string { return s.ID }),
			finishes: idsOf(shop.Finishes, func(f jobs.Finish) string { return f.ID }),
			coverage: idsOf(shop.Rates.Coverage, func(c jobs.CoverageClass) string { return c.ID }),
			chart:    shop.Chart, strings: map[string]string{},
		},
	}, nil
}

// known finds an id of the shop file.
func (l *lookups) known(set ids, what, id string) (string, error) {
	if known, is := set.known[id]; is {
		return known, nil
	}
	has := "it has none"
	if len(set.all) > 0 {
		const most = 8
		has = "it has " + strings.Join(set.all[:min(most, len(set.all))], ", ")
		if len(set.all) > most {
			has += fmt.Sprintf(" and %d more", len(set.all)-most)
		}
	}
	return "", fmt.Errorf("no %s %s in the shop file; %s", what, scalar.Quote(id), has)
}

// intern keeps one copy of a text that many rows repeat.
func (l *lookups) intern(value string) string {
	const most = 100_000
	if one, have := l.strings[value]; have {
		return one
	}
	value = strings.Clone(value)
	if len(l.strings) < most {
		l.strings[value] = value
	}
	return value
}

// fail sets down faults that are errors whatever the options say.
func (b *builder) fail(faults ...fault.Fault) {
	for _, f := range faults {
		if len(b.faults) < mostFaults {
			b.faults.Add(f)
		} else {
			b.uncounted++
		}
	}
}

func (b *builder) err() error {
	if b.uncounted > 0 {
		// Without a file it sorts first; it must come last.
		err := b.faults.Err().(fault.List)
		return append(err, fault.Fault{Message: fmt.Sprintf("and %d more faults in the order book", b.uncounted)})
	}
	return b.faults.Err()
}

// rowReader reads the rows of one table.
type rowReader struct {
	*builder
	notation
	file, sheet string
	heading     []string
	columns     []*column
	required    []int // columns that no row leaves empty
	bad         *BadFile
}

// table starts a table with its heading row. The error lists what is wrong
// with the headings.
func (b *builder) table(file, sheet string, row int, cells []string, n notation) (*rowReader, error) {
	r := &rowReader{builder: b, notation: n, file: file, sheet: sheet}
	if len(cells) > MostColumns {
		return nil, fault.Fault{File: file, Sheet: sheet, Line: row, Message: fmt.Sprintf("want at most %d columns, got %d", MostColumns, len(cells))}
	}
	r.heading = slices.Clone(cells)
	var faults fault.List
	r.columns = headings(r.heading, b.shop.Book, func(at int, heading, message, hint string) {
		faults.Add(fault.Fault{File: file, Sheet: sheet, Line: row, Column: at, Field: showable(heading), Message: message, Hint: hint})
	})
	for i, column := range r.columns {
		if column != nil && slices.Contains(jobs.RequiredColumns, column.name) {
			r.required = append(r.required, i)
		}
	}
	return r, faults.Err()
}

// showable is a heading without what a terminal would obey, and cut where it
// is long: it stands in messages.
func showable(heading string) string {
	const most = 60
	runes := []rune(strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return unicode.ReplacementChar
	}, strings.ToValidUTF8(heading, string(unicode.ReplacementChar))))
	if len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return string(runes)
}

// count ends a reading that gets too long.
func (b *builder) count(file, sheet string, row int) error {
	if b.rows++; b.rows > MostRows {
		return fault.Fault{File: file, Sheet: sheet, Line: row, Message: fmt.Sprintf("want at most %d rows in an order book", MostRows),
			Hint: "plan the book in parts"}
	}
	return nil
}

// row reads one row, which is the caller's again afterwards. The error ends
// the table; a bad row is no error.
func (r *rowReader) row(number int, cells []string) error {
	empty := true
	for i, cell := range cells {
		cells[i] = strings.TrimSpace(cell)
		empty = empty && cells[i] == ""
	}
	if empty {
		return nil
	}
	if err := r.count(r.file, r.sheet, number); err != nil {
		return err
	}
	if len(cells) > MostColumns {
		return fault.Fault{File: r.file, Sheet: r.sheet, Line: number, Message: fmt.Sprintf("want at most %d columns, got %d", MostColumns, len(cells))}
	}
	line := jobs.OrderLine{Source: jobs.Source{File: r.file, Sheet: r.sheet, Row: number}}
	var faults fault.List
	complain := func(at int, message string) {
		f := fault.Fault{File: r.file, Sheet: r.sheet, Line: number, Column: at, Message: message}
		if at > 0 && at <= len(r.heading) {
			f.Field = showable(r.heading[at-1])
		}
		faults.Add(f)
	}
	for i, cell := range cells {
		switch {
		case cell == "":
		case i >= len(r.columns) || r.columns[i] == nil && strings.TrimSpace(r.heading[i]) == "":
			complain(i+1, fmt.Sprintf("want no cell without a heading, got %s", scalar.Quote(cell)))
		case r.columns[i] != nil:
			if err := r.columns[i].read(r, cell, &line); err != nil {
				complain(i+1, err.Error())
			}
		}
	}
	for _, i := range r.required {
		if i >= len(cells) || cells[i] == "" {
			complain(i+1, "want a value, got an empty cell")
		}
	}
	r.settle(line, number, cells, faults)
	return nil
}

// clashes reports where the fields of a line clash with each other or with a
// line that is in the book already.
func (b *builder) clashes(line *jobs.OrderLine, fail func(column, message string)) {
	if line.MaxDiameter > 0 && line.MaxDiameter <= line.Core {
		fail("max_diameter", fmt.Sprintf("want a roll wider than its core of %s, got %s", line.Core, line.MaxDiameter))
	}
	if bill := line.BillOvers; bill != nil && *bill {
		if !line.UnitPrice.IsPositive() {
			fail("bill_overs", "want the unit_price where overs are billed, got none")
		}
		if line.AllOvers || line.Overs == nil && !b.shop.Policy.LimitOvers {
			fail("bill_overs", "want a limit to the overs such as 10% where they are billed, got none")
		}
	}
	key := lineKey{line.Order, line.Version}
	if at, twice := b.seen[key]; twice {
		fail("version", fmt.Sprintf("order %s has version %s already, in %s", scalar.Quote(line.Order), scalar.Quote(line.Version), b.book.Lines[at].Source))
	}
	if at, known := b.orders[line.Order]; known && b.book.Lines[at].Customer != line.Customer {
		fail("customer", fmt.Sprintf("order %s is of customer %s in %s, here of %s", scalar.Quote(line.Order),
			scalar.Quote(b.book.Lines[at].Customer), b.book.Lines[at].Source, scalar.Quote(line.Customer)))
	}
	if b.total+line.Quantity > mostTotal {
		fail("quantity", fmt.Sprintf("the quantities of the order book add up to more than %d labels", mostTotal))
	}
}

// settle takes a row into the book, or sets it aside where it has faults or
// clashes with another row.
func (r *rowReader) settle(line jobs.OrderLine, number int, cells []string, faults fault.List) {
	b := r.builder
	if len(faults) == 0 {
		b.clashes(&line, func(name, message string) {
			at := slices.IndexFunc(r.columns, func(c *column) bool { return c != nil && c.name == name })
			faults.Add(fault.Fault{File: r.file, Sheet: r.sheet, Line: number, Column: at + 1, Field: showable(r.heading[at]), Message: message})
		})
	}
	if len(faults) > 0 {
		r.setAside(BadRow{Row: number, Cells: slices.Clone(cells), Faults: faults})
		return
	}
	b.add(line)
}

func (b *builder) add(line jobs.OrderLine) {
	at := len(b.book.Lines)
	b.seen[lineKey{line.Order, line.Version}] = at
	if _, known := b.orders[line.Order]; !known {
		b.orders[line.Order] = at
	}
	b.total += line.Quantity
	b.book.Lines = append(b.book.Lines, line)
}

// setAside keeps a bad row, or its faults where bad rows are errors.
func (r *rowReader) setAside(row BadRow) {
	slices.SortStableFunc(row.Faults, func(a, b fault.Fault) int { return cmp.Compare(a.Column, b.Column) })
	if !r.options.SkipBad {
		r.fail(row.Faults...)
		return
	}
	if r.bad == nil {
		r.book.Bad = append(r.book.Bad, BadFile{File: r.file, Heading: r.heading, notation: r.notation})
		r.bad = &r.book.Bad[len(r.book.Bad)-1]
	}
	r.bad.Rows = append(r.bad.Rows, row)
}
