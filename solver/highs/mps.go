package highs

import (
	"bytes"
	"fmt"
	"math"

	"laneplan/solver"
)

// writeMPS writes a model in free MPS format, as one to minimise. Columns are
// called c0, c1, … and rows r0, r1, …, whatever their names: a name may hold a
// blank, or be used twice. Rows that bind nothing are left out, since a second
// objective (N) row means different things to different readers.
func writeMPS(m *solver.Model) []byte {
	var b bytes.Buffer
	s := sense(m)
	b.WriteString("NAME model\nROWS\n N obj\n")
	for i := range m.Rows {
		if kind, _, _ := rowKind(&m.Rows[i]); kind != 0 {
			fmt.Fprintf(&b, " %c r%d\n", kind, i)
		}
	}

	// MPS goes by columns.
	type entry struct {
		row   int
		value float64
	}
	columns := make([][]entry, len(m.Columns))
	for i := range m.Rows {
		if kind, _, _ := rowKind(&m.Rows[i]); kind == 0 {
			continue
		}
		for _, e := range m.Rows[i].Entries {
			columns[e.Column] = append(columns[e.Column], entry{i, e.Value})
		}
	}
	b.WriteString("COLUMNS\n")
	inside := false // of a run of integer columns
	marker := func(j int) {
		kind := "INTEND"
		if inside = !inside; inside {
			kind = "INTORG"
		}
		fmt.Fprintf(&b, " M%d 'MARKER' '%s'\n", j, kind)
	}
	for j := range m.Columns {
		if m.Columns[j].Integer != inside {
			marker(j)
		}
		// The cost is written even where it is 0, so that no column is
		// without a line.
		fmt.Fprintf(&b, " c%d obj %s\n", j, number(s*m.Columns[j].Cost+0)) // + 0: no -0
		for _, e := range columns[j] {
			fmt.Fprintf(&b, " c%d r%d %s\n", j, e.row, number(e.value))
		}
	}
	if inside {
		marker(len(m.Columns))
	}

	b.WriteString("RHS\n")
	if m.Offset != 0 {
		fmt.Fprintf(&b, " RHS obj %s\n", number(-s*m.Offset))
	}
	ranges := false
	for i := range m.Rows {
		kind, side, width := rowKind(&m.Rows[i])
		if kind != 0 && side != 0 {
			fmt.Fprintf(&b, " RHS r%d %s\n", i, number(side))
		}
		ranges = ranges || width != 0
	}
	if ranges {
		b.WriteString("RANGES\n")
		for i := range m.Rows {
			if _, _, width := rowKind(&m.Rows[i]); width != 0 {
				fmt.Fprintf(&b, " RNG r%d %s\n", i, number(width))
			}
		}
	}
	b.WriteString("BOUNDS\n")
	for j := range m.Columns {
		writeBounds(&b, j, &m.Columns[j])
	}
	b.WriteString("ENDATA\n")
	return b.Bytes()
}

// rowKind gives the MPS type of a row (0 where it binds nothing), its
// right-hand side, and how much further it may go up (0 is no range).
func rowKind(r *solver.Row) (kind byte, side, width float64) {
	switch {
	case r.Lower == r.Upper:
		return 'E', r.Lower, 0
	case math.IsInf(r.Lower, -1) && math.IsInf(r.Upper, 1):
		return 0, 0, 0
	case math.IsInf(r.Lower, -1):
		return 'L', r.Upper, 0
	case math.IsInf(r.Upper, 1):
		return 'G', r.Lower, 0
	}
	return 'G', r.Lower, r.Upper - r.Lower
}

// writeBounds writes both bounds of every column: what a reader assumes
// without them differs, for integer columns above all.
func writeBounds(b *bytes.Buffer, j int, c *solver.Column) {
	switch {
	case c.Lower == c.Upper:
		fmt.Fprintf(b, " FX BND c%d %s\n", j, number(c.Lower))
		return
	case math.IsInf(c.Lower, -1) && math.IsInf(c.Upper, 1):
		fmt.Fprintf(b, " FR BND c%d\n", j)
		return
	case math.IsInf(c.Lower, -1):
		fmt.Fprintf(b, " MI BND c%d\n", j)
	default:
		fmt.Fprintf(b, " LO BND c%d %s\n", j, number(c.Lower))
	}
	if math.IsInf(c.Upper, 1) {
		fmt.Fprintf(b, " PL BND c%d\n", j)
	} else {
		fmt.Fprintf(b, " UP BND c%d %s\n", j, number(c.Upper))
	}
}
