// Package fault holds what is wrong with an input file, as data: where, in
// which field, what is wrong and what would be right. Every reader collects
// all faults of a file and returns them at once, sorted by place:
//
//	var faults fault.List
//	faults.Add(fault.Fault{File: "jobs.yaml", Line: 14, Column: 5, Field: "quantity",
//		Message: "want a whole number, got 10.5"})
//	return faults.Err()
//
// Callers tell bad input from our own failures with errors.As and a List.
package fault

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing wrong with an input file.
type Fault struct {
	File string
	// Sheet of a workbook; empty otherwise.
	Sheet string
	// Line of a text file or row of a table, from 1; 0 is the file as a whole.
	Line int
	// Column in a line or of a table, from 1; 0 is the line as a whole.
	Column int
	// Field is the key or the heading; empty where it is the file as a whole.
	Field string
	// Message says what is wrong and what would be right, in one sentence
	// without a full stop.
	Message string
	// Hint is something that the reader can do about it; may be empty.
	Hint string
}

// Place is file:sheet:line:column, as far as they are known.
func (f Fault) Place() string {
	place := f.File
	if f.Sheet != "" {
		place += ":" + f.Sheet
	}
	if f.Line > 0 {
		place += fmt.Sprintf(":%d", f.Line)
		if f.Column > 0 {
			place += fmt.Sprintf(":%d", f.Column)
		}
	}
	return place
}

// Error is one sentence: place, field, message; and the hint in a line of its
// own.
func (f Fault) Error() string {
	text := f.Message
	if f.Field != "" {
		text = f.Field + ": " + text
	}
	if place := f.Place(); place != "" {
		text = place + ": " + text
	}
	if f.Hint != "" {
		text += "\nhint: " + f.Hint
	}
	return text
}

// List is all faults of one or more files. As an error it prints one fault a
// line.
type List []Fault

// mostShown faults are printed; the rest is counted. A file of another kind
// altogether has a fault in every line.
const mostShown = 200

// Error lists the faults, one a line.
func (l List) Error() string {
	var text strings.Builder
	for i, f := range l {
		if i > 0 {
			text.WriteByte('\n')
		}
		if i == mostShown {
			fmt.Fprintf(&text, "and %d more", len(l)-mostShown)
			break
		}
		text.WriteString(f.Error())
	}
	return text.String()
}

// Add appends faults.
func (l *List) Add(faults ...Fault) { *l = append(*l, faults...) }

// Sort orders the faults by file, sheet, line and column; faults of one place
// by field and message.
func (l List) Sort() {
	slices.SortStableFunc(l, func(a, b Fault) int {
		return cmp.Or(
			cmp.Compare(a.File, b.File), cmp.Compare(a.Sheet, b.Sheet),
			cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column),
			cmp.Compare(a.Field, b.Field), cmp.Compare(a.Message, b.Message))
	})
}

// Err is the sorted list as an error, or nil where there are no faults.
func (l List) Err() error {
	if len(l) == 0 {
		return nil
	}
	l.Sort()
	return l
}

// Of makes a list of one fault of a file as a whole.
func Of(file, format string, values ...any) List {
	return List{{File: file, Message: fmt.Sprintf(format, values...)}}
}
