package solver

import (
	"fmt"
	"math"
)

// mostCost and mostValue are what an engine still takes for a number: HiGHS
// treats larger ones as infinite and refuses them.
const (
	mostCost  = 1e15
	mostValue = 1e15
)

// Check tells the first thing that is wrong with a model, or nil. Every engine
// calls it, so a caller need not.
func (m *Model) Check() error {
	if bad(m.Offset, mostCost) {
		return fmt.Errorf("model: offset %v is not a number that can be summed", m.Offset)
	}
	for j := range m.Columns {
		c := &m.Columns[j]
		if bad(c.Cost, mostCost) {
			return fmt.Errorf("%s: cost %v, want a number of at most %g", m.column(j), c.Cost, mostCost)
		}
		if err := checkBounds(c.Lower, c.Upper); err != nil {
			return fmt.Errorf("%s: %w", m.column(j), err)
		}
	}
	seen := make([]int32, len(m.Columns)) // the row, from 1, that last used a column
	for i := range m.Rows {
		r := &m.Rows[i]
		if err := checkBounds(r.Lower, r.Upper); err != nil {
			return fmt.Errorf("%s: %w", m.row(i), err)
		}
		for _, e := range r.Entries {
			if e.Column < 0 || e.Column >= len(m.Columns) {
				return fmt.Errorf("%s: entry for column %d, want one of 0 to %d", m.row(i), e.Column, len(m.Columns)-1)
			}
			if bad(e.Value, mostValue) {
				return fmt.Errorf("%s, %s: value %v, want a number of at most %g", m.row(i), m.column(e.Column), e.Value, mostValue)
			}
			if seen[e.Column] == int32(i)+1 {
				return fmt.Errorf("%s: %s has two entries, want one", m.row(i), m.column(e.Column))
			}
			seen[e.Column] = int32(i) + 1
		}
	}
	return nil
}

// Check tells the first thing that is wrong with options for the model m, or
// nil. Every engine calls it.
func (o *Options) Check(m *Model) error {
	switch {
	case !(o.TimeLimit >= 0):
		return fmt.Errorf("options: time limit %v, want seconds or 0 for none", o.TimeLimit)
	case !(o.WorkLimit >= 0):
		return fmt.Errorf("options: work limit %v, want a number from 0", o.WorkLimit)
	case !(o.Gap >= 0) || math.IsInf(o.Gap, 1):
		return fmt.Errorf("options: gap %v, want a fraction from 0", o.Gap)
	case o.NodeLimit < 0 || o.NodeLimit > math.MaxInt32:
		return fmt.Errorf("options: node limit %d, want 0 to %d", o.NodeLimit, math.MaxInt32)
	case o.IterationLimit < 0 || o.IterationLimit > math.MaxInt32:
		return fmt.Errorf("options: iteration limit %d, want 0 to %d", o.IterationLimit, math.MaxInt32)
	case o.Cutoff != nil && math.IsNaN(*o.Cutoff):
		return fmt.Errorf("options: the cut-off is not a number")
	case o.Start != nil && len(o.Start) != len(m.Columns):
		return fmt.Errorf("options: the start has %d values for %d columns", len(o.Start), len(m.Columns))
	}
	if o.Basis != nil {
		return o.Basis.check(m)
	}
	return nil
}

func (b *Basis) check(m *Model) error {
	if len(b.Columns) > len(m.Columns) || len(b.Rows) > len(m.Rows) {
		return fmt.Errorf("options: the basis has %d columns and %d rows, the model %d and %d",
			len(b.Columns), len(b.Rows), len(m.Columns), len(m.Rows))
	}
	basic := len(m.Rows) - len(b.Rows)
	for _, side := range [][]BasisStatus{b.Columns, b.Rows} {
		for _, s := range side {
			if s < AtLower || s > AtZero {
				return fmt.Errorf("options: basis status %d is not one that we know", s)
			}
			if s == Basic {
				basic++
			}
		}
	}
	if basic != len(m.Rows) {
		return fmt.Errorf("options: the basis has %d basic columns and rows, want %d, one a row", basic, len(m.Rows))
	}
	return nil
}

// HasIntegers tells whether any column is integer.
func (m *Model) HasIntegers() bool {
	for j := range m.Columns {
		if m.Columns[j].Integer {
			return true
		}
	}
	return false
}

// Value of the objective at x, one value a column.
func (m *Model) Value(x []float64) float64 {
	v := m.Offset
	for j := range m.Columns {
		v += m.Columns[j].Cost * x[j]
	}
	return v
}

// CheckPoint tells the first bound, row or integrality that x breaks, or nil
// where x is feasible. A rule may be broken by absolute plus relative
// times the size of what it sums, a whole number by absolute.
func (m *Model) CheckPoint(x []float64, absolute, relative float64) error {
	if len(x) != len(m.Columns) {
		return fmt.Errorf("point has %d values for %d columns", len(x), len(m.Columns))
	}
	outside := func(v, lower, upper, slack float64) bool {
		return !(v >= lower-slack && v <= upper+slack)
	}
	for j := range m.Columns {
		c := &m.Columns[j]
		if outside(x[j], c.Lower, c.Upper, absolute+relative*math.Abs(x[j])) {
			return fmt.Errorf("%s is %v, want %v to %v", m.column(j), x[j], c.Lower, c.Upper)
		}
		if c.Integer && math.Abs(x[j]-math.Round(x[j])) > absolute {
			return fmt.Errorf("%s is %v, want a whole number", m.column(j), x[j])
		}
	}
	for i := range m.Rows {
		r := &m.Rows[i]
		sum, size := 0.0, 0.0
		for _, e := range r.Entries {
			sum += e.Value * x[e.Column]
			size += math.Abs(e.Value * x[e.Column])
		}
		if outside(sum, r.Lower, r.Upper, absolute+relative*size) {
			return fmt.Errorf("%s is %v, want %v to %v", m.row(i), sum, r.Lower, r.Upper)
		}
	}
	return nil
}

// bad is NaN, an infinity or beyond most.
func bad(v, most float64) bool { return !(math.Abs(v) <= most) }

func checkBounds(lower, upper float64) error {
	switch {
	case math.IsNaN(lower) || math.IsNaN(upper):
		return fmt.Errorf("bounds %v to %v, want numbers", lower, upper)
	case lower > upper:
		return fmt.Errorf("lower bound %v is above upper bound %v", lower, upper)
	case math.IsInf(lower, 1) || math.IsInf(upper, -1):
		return fmt.Errorf("bounds %v to %v leave no number", lower, upper)
	}
	return nil
}

// column and row say which one, by number and by name where it has one.
func (m *Model) column(j int) string { return named("column", j, m.Columns[j].Name) }
func (m *Model) row(i int) string    { return named("row", i, m.Rows[i].Name) }

func named(what string, number int, name string) string {
	if name == "" {
		return fmt.Sprintf("%s %d", what, number)
	}
	return fmt.Sprintf("%s %d (%s)", what, number, name)
}
