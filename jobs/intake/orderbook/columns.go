package orderbook

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/intake/scalar"
)

// kind of a column: how a workbook and YAML hold its values.
type kind int

const (
	textKind kind = iota
	wholeKind
	numberKind
	percentKind
	dateKind
	yesKind
	listKind
)

// column reads a cell into an order line and writes it back. Neither sees an
// empty cell.
type column struct {
	name  string
	kind  kind
	read  func(r *rowReader, value string, line *jobs.OrderLine) error
	write func(n notation, line *jobs.OrderLine) string
}

// columns are those of jobs.OrderColumns, in their order, and the tolerance,
// which is only read.
var columns = []column{
	{"order", textKind, readText(func(l *jobs.OrderLine) *string { return &l.Order }),
		func(_ notation, l *jobs.OrderLine) string { return l.Order }},
	{"customer", textKind, readText(func(l *jobs.OrderLine) *string { return &l.Customer }),
		func(_ notation, l *jobs.OrderLine) string { return l.Customer }},
	{"version", textKind, readText(func(l *jobs.OrderLine) *string { return &l.Version }),
		func(_ notation, l *jobs.OrderLine) string { return l.Version }},
	{"name", textKind, readText(func(l *jobs.OrderLine) *string { return &l.Name }),
		func(_ notation, l *jobs.OrderLine) string { return l.Name }},
	{"die", textKind,
		func(r *rowReader, v string, l *jobs.OrderLine) (err error) {
			l.Die, err = r.known(r.dies, "die", v)
			return
		},
		func(_ notation, l *jobs.OrderLine) string { return l.Die }},
	{"stock", textKind,
		func(r *rowReader, v string, l *jobs.OrderLine) (err error) {
			l.Stock, err = r.known(r.stocks, "stock", v)
			return
		},
		func(_ notation, l *jobs.OrderLine) string { return l.Stock }},
	{"finish", listKind, readFinishes,
		func(_ notation, l *jobs.OrderLine) string { return strings.Join(l.Finishes, "+") }},
	{"ink_set", textKind, readText(func(l *jobs.OrderLine) *string { return &l.InkSet }),
		func(_ notation, l *jobs.OrderLine) string { return l.InkSet }},
	{"quantity", wholeKind,
		func(r *rowReader, v string, l *jobs.OrderLine) (err error) {
			l.Quantity, err = r.whole(v, 1, scalar.MostQuantity)
			return
		},
		func(_ notation, l *jobs.OrderLine) string { return writeWhole(l.Quantity) }},
	{"due", dateKind,
		func(r *rowReader, v string, l *jobs.OrderLine) (err error) { l.Due, err = r.date(v); return },
		func(n notation, l *jobs.OrderLine) string { return n.writeDate(l.Due) }},
	{"rush", yesKind,
		func(_ *rowReader, v string, l *jobs.OrderLine) (err error) { l.Rush, err = yes(v); return },
		func(_ notation, l *jobs.OrderLine) string { return writeYes(l.Rush) }},
	{"unders", percentKind,
		func(r *rowReader, v string, l *jobs.OrderLine) error {
			unders, err := r.percent(v)
			l.Unders = &unders
			return err
		},
		func(n notation, l *jobs.OrderLine) string { return n.writePercent(l.Unders) }},
	{"overs", percentKind,
		func(r *rowReader, v string, l *jobs.OrderLine) error {
			if l.AllOvers = strings.EqualFold(v, scalar.AnyOvers); l.AllOvers {
				return nil
			}
			overs, err := r.percent(v)
			l.Overs = &overs
			return err
		},
		func(n notation, l *jobs.OrderLine) string {
			if l.AllOvers {
				return scalar.AnyOvers
			}
			return n.writePercent(l.Overs)
		}},
	{"bill_overs", yesKind,
		func(_ *rowReader, v string, l *jobs.OrderLine) error {
			bill, err := yes(v)
			l.BillOvers = &bill
			return err
		},
		func(_ notation, l *jobs.OrderLine) string {
			if l.BillOvers == nil {
				return ""
			}
			return map[bool]string{true: "yes", false: "no"}[*l.BillOvers]
		}},
	{"unit_price", numberKind,
		func(r *rowReader, v string, l *jobs.OrderLine) (err error) { l.UnitPrice, err = r.number(v); return },
		func(n notation, l *jobs.OrderLine) string { return n.writeNumber(l.UnitPrice) }},
	{"labels_per_roll", wholeKind,
		func(r *rowReader, v string, l *jobs.OrderLine) (err error) {
			l.LabelsPerRoll, err = r.whole(v, 1, scalar.MostQuantity)
			return
		},
		func(_ notation, l *jobs.OrderLine) string { return writeWhole(l.LabelsPerRoll) }},
	{"max_diameter", textKind,
		func(r *rowReader, v string, l *jobs.OrderLine) (err error) { l.MaxDiameter, err = r.length(v); return },
		func(n notation, l *jobs.OrderLine) string { return n.writeLength(l.MaxDiameter) }},
	{"core", textKind,
		func(r *rowReader, v string, l *jobs.OrderLine) (err error) { l.Core, err = r.length(v); return },
		func(n notation, l *jobs.OrderLine) string { return n.writeLength(l.Core) }},
	{"most_splices", wholeKind,
		func(r *rowReader, v string, l *jobs.OrderLine) error {
			splices, err := r.whole(v, 0, 1000)
			l.MostSplices = &splices
			return err
		},
		func(_ notation, l *jobs.OrderLine) string {
			if l.MostSplices == nil {
				return ""
			}
			return fmt.Sprint(*l.MostSplices)
		}},
	{"wind", textKind, readWind, func(_ notation, l *jobs.OrderLine) string { return l.Wind.Text() }},
	{"leave_overs", yesKind,
		func(_ *rowReader, v string, l *jobs.OrderLine) (err error) { l.LeaveOvers, err = yes(v); return },
		func(_ notation, l *jobs.OrderLine) string { return writeYes(l.LeaveOvers) }},
	{"coverage", textKind,
		func(r *rowReader, v string, l *jobs.OrderLine) (err error) {
			l.Coverage, err = r.known(r.coverage, "coverage class", v)
			return
		},
		func(_ notation, l *jobs.OrderLine) string { return l.Coverage }},
	{"artwork", textKind, readText(func(l *jobs.OrderLine) *string { return &l.Artwork }),
		func(_ notation, l *jobs.OrderLine) string { return l.Artwork }},
	{"flags", listKind, readFlags,
		func(_ notation, l *jobs.OrderLine) string { return strings.Join(l.Flags, "+") }},
	{jobs.ToleranceColumn, percentKind,
		func(r *rowReader, v string, l *jobs.OrderLine) error {
			both, err := r.percent(v)
			l.Unders, l.Overs = &both, &both
			return err
		},
		func(notation, *jobs.OrderLine) string { return "" }},
}

func columnNamed(name string) *column {
	if i := slices.IndexFunc(columns, func(c column) bool { return c.name == name }); i >= 0 {
		return &columns[i]
	}
	return nil
}

func readText(field func(*jobs.OrderLine) *string) func(*rowReader, string, *jobs.OrderLine) error {
	return func(r *rowReader, value string, line *jobs.OrderLine) error {
		value, err := text(value)
		*field(line) = r.intern(value)
		return err
	}
}

func readFinishes(r *rowReader, value string, line *jobs.OrderLine) error {
	ids, err := list(value)
	if err != nil {
		return err
	}
	for i, id := range ids {
		if ids[i], err = r.known(r.finishes, "finish", id); err != nil {
			return err
		}
	}
	// The order in which finishes are named says nothing: one on the other is
	// a finish of its own in the shop file.
	slices.Sort(ids)
	line.Finishes = ids
	return nil
}

func readFlags(r *rowReader, value string, line *jobs.OrderLine) error {
	flags, err := list(strings.ToLower(value))
	if err != nil {
		return err
	}
	for i, flag := range flags {
		if !slices.Contains(jobs.OrderFlags, flag) {
			return fmt.Errorf("want flags of %s, joined by +, got %s", strings.Join(jobs.OrderFlags, ", "), scalar.Quote(flag))
		}
		flags[i] = r.intern(flag)
	}
	slices.Sort(flags)
	line.Flags = flags
	return nil
}

// readWind takes words, or a number where the shop file has a chart.
func readWind(r *rowReader, value string, line *jobs.OrderLine) error {
	var err error
	if number, isNumber := strconv.Atoi(value); isNumber == nil {
		line.Wind, err = r.chart.Wind(number)
	} else {
		line.Wind, err = jobs.ParseWind(strings.ToLower(value))
	}
	return err
}

// headings assigns the cells of a heading row to columns; nil is a column
// that is not read. Every complaint names the place of its cell, from 1, or 0
// for the row.
func headings(cells []string, format jobs.BookFormat, complain func(at int, heading, message, hint string)) []*column {
	mapped := map[string]string{}
	for heading, name := range format.Columns {
		mapped[fold(heading)] = name
	}
	read := make([]*column, len(cells))
	first := map[string]int{}
	for i, cell := range cells {
		name, known := mapped[fold(cell)]
		if !known {
			name = fold(cell)
		}
		switch {
		case name == jobs.IgnoreColumn && known, fold(cell) == faultColumn, fold(cell) == "":
			continue
		case !jobs.IsOrderColumn(name):
			complain(i+1, cell, "no column of an order book has this heading",
				"map it in the shop file's order_book columns, to one of ours or to "+jobs.IgnoreColumn)
			continue
		}
		if at, twice := first[name]; twice {
			complain(i+1, cell, fmt.Sprintf("column %d (%s) is the %s already", at+1, showable(cells[at]), name), "")
			continue
		}
		first[name], read[i] = i, columnNamed(name)
	}
	var missing []string
	for _, name := range jobs.RequiredColumns {
		if _, there := first[name]; !there {
			missing = append(missing, name)
		}
	}
	if missing != nil {
		complain(0, "", "missing column: "+strings.Join(missing, ", "),
			"map the office's own headings to these in the shop file's order_book columns")
	}
	if _, both := first[jobs.ToleranceColumn]; both {
		for _, name := range []string{"unders", "overs"} {
			if at, there := first[name]; there {
				complain(at+1, cells[at], "want either tolerance or unders and overs, got both", "")
			}
		}
	}
	return read
}

// faultColumn holds the reasons in a list of bad rows; it is not read.
const faultColumn = "fault"

func fold(heading string) string { return strings.ToLower(strings.TrimSpace(heading)) }
