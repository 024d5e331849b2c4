package jobs

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Shop is the shop file: what a label shop owns and has decided, written once
// and used for every order book.
type Shop struct {
	Name      string // for people; may be empty
	Currency  string // ISO 4217 code of every amount of money in the file
	Dies      []Die
	Stocks    []Stock
	Finishes  []Finish
	Presses   []Press
	Rewinders []Rewinder
	Policy    Policy
	Rates     Rates
	Pricing   Pricing
	Pooling   PoolingRules
	Book      BookFormat
	Chart     *WindChart // numbers of copy positions; nil is none
	Papers    Papers     // how documents for the floor are made
	// Shapes names dies that cut the same label, so that any of them may
	// stand in for another: die id to the name of the shape. A die without
	// one stands for itself alone.
	Shapes map[string]string
}

// PoolingRules say which orders of a book share a set-up.
type PoolingRules struct {
	// WindowDays is the gang window: whatever is due up to so many calendar
	// days after the planning date must run, later orders are fillers. 0 is
	// the planning date itself.
	WindowDays int
	// MostVersions of one gang, from 1; 0 is no limit.
	MostVersions int
}

// BookFormat is how the office writes its order book. Nothing of it is ever
// guessed from a file.
type BookFormat struct {
	// Separator between the cells of a CSV row, ',' or ';'. 0 is ','.
	Separator rune
	// DecimalMark in numbers of a CSV or XLSX text cell, '.' or ','. 0 is '.'.
	DecimalMark rune
	// DateLayout of dates written as text, as package time writes layouts; ""
	// is 2006-01-02 (ISO 8601).
	DateLayout string
	// Columns turns the office's own headings into ours: heading to the name
	// of one of OrderColumns, or to IgnoreColumn for one that is not read.
	Columns map[string]string
	// Sheet of a workbook that holds the orders; "" is the only sheet, or the
	// one named orders where there are several.
	Sheet string
}

// SeparatorOrDefault is Separator, or a comma where none is stated.
func (b BookFormat) SeparatorOrDefault() rune {
	if b.Separator == 0 {
		return ','
	}
	return b.Separator
}

// DecimalMarkOrDefault is DecimalMark, or a point where none is stated.
func (b BookFormat) DecimalMarkOrDefault() rune {
	if b.DecimalMark == 0 {
		return '.'
	}
	return b.DecimalMark
}

// DateLayoutOrDefault is DateLayout, or year-month-day where none is stated.
func (b BookFormat) DateLayoutOrDefault() string {
	if b.DateLayout == "" {
		return time.DateOnly
	}
	return b.DateLayout
}

// Die finds a die by its id.
func (s *Shop) Die(id string) (Die, bool) {
	return find(s.Dies, func(d Die) bool { return d.ID == id })
}

// Stock finds a stock by its id.
func (s *Shop) Stock(id string) (Stock, bool) {
	return find(s.Stocks, func(k Stock) bool { return k.ID == id })
}

// Finish finds a finish by its id.
func (s *Shop) Finish(id string) (Finish, bool) {
	return find(s.Finishes, func(f Finish) bool { return f.ID == id })
}

// Press finds a press by its id.
func (s *Shop) Press(id string) (Press, bool) {
	return find(s.Presses, func(p Press) bool { return p.ID == id })
}

// AlikeDies lists the dies that may cut the label of the die with this id, in
// the order of the shop file: the die itself and those of the same shape.
func (s *Shop) AlikeDies(id string) []Die {
	shape := s.Shapes[id]
	var alike []Die
	for _, d := range s.Dies {
		if d.ID == id || shape != "" && s.Shapes[d.ID] == shape {
			alike = append(alike, d)
		}
	}
	return alike
}

func find[T any](all []T, is func(T) bool) (T, bool) {
	if i := slices.IndexFunc(all, is); i >= 0 {
		return all[i], true
	}
	var none T
	return none, false
}

// IgnoreColumn is what a column map says of a column that is not read.
const IgnoreColumn = "ignore"

// Check refuses a column map that names a column that we do not have, turns
// two of our own names round in a circle, or an odd separator or decimal mark.
func (b BookFormat) Check() error {
	separator, mark := b.SeparatorOrDefault(), b.DecimalMarkOrDefault()
	if separator != ',' && separator != ';' {
		return fmt.Errorf("separator: want \",\" or \";\", got %q", separator)
	}
	if mark != ',' && mark != '.' {
		return fmt.Errorf("decimal_mark: want \".\" or \",\", got %q", mark)
	}
	headings := make([]string, 0, len(b.Columns))
	for heading := range b.Columns {
		headings = append(headings, heading)
	}
	slices.Sort(headings)
	for _, heading := range headings {
		if circle := b.circle(heading); circle != nil {
			return fmt.Errorf("columns: %s goes round in a circle; map each heading of the office straight to one of our columns",
				strings.Join(circle, " → "))
		}
	}
	for _, heading := range headings {
		name := b.Columns[heading]
		if name != IgnoreColumn && !IsOrderColumn(name) {
			return fmt.Errorf("columns: %s is mapped to %q, which is not a column of ours (ours: %s, or %s)",
				heading, name, strings.Join(OrderColumns, ", "), IgnoreColumn)
		}
	}
	return nil
}

// circle follows a heading through the map until it comes back to itself. A
// heading that is mapped to its own name is no circle.
func (b BookFormat) circle(heading string) []string {
	path, at := []string{heading}, heading
	for range len(b.Columns) {
		next, mapped := b.Columns[at]
		if !mapped || next == at {
			return nil
		}
		path, at = append(path, next), next
		if at == heading {
			return path
		}
	}
	return nil
}

// DateForms are the ways in which an office may write dates, by the name that
// the shop file uses, with their layouts in the manner of package time.
var DateForms = map[string]string{
	"YYYY-MM-DD": "2006-01-02",
	"DD.MM.YYYY": "02.01.2006",
	"DD/MM/YYYY": "02/01/2006",
	"MM/DD/YYYY": "01/02/2006",
}

// DateForm names a layout of DateForms; any other layout is its own name.
func DateForm(layout string) string {
	for name, is := range DateForms {
		if is == layout {
			return name
		}
	}
	return layout
}

// DateFormNames lists the names of DateForms.
func DateFormNames() []string { return slices.Sorted(maps.Keys(DateForms)) }
