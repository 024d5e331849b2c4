package highs

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"laneplan/solver"
)

// writeStart writes a point in the form of a solution file.
func writeStart(m *solver.Model, x []float64) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "Model status\nUnknown\n\n# Primal solution values\nFeasible\nObjective %s\n# Columns %d\n",
		number(sense(m)*m.Value(x)), len(x))
	for j, v := range x {
		fmt.Fprintf(&b, "c%d %s\n", j, number(v))
	}
	fmt.Fprintf(&b, "# Rows %d\n", boundRows(m))
	for i := range m.Rows {
		if kind, _, _ := rowKind(&m.Rows[i]); kind != 0 {
			sum := 0.0
			for _, e := range m.Rows[i].Entries {
				sum += e.Value * x[e.Column]
			}
			fmt.Fprintf(&b, "r%d %s\n", i, number(sum))
		}
	}
	return b.Bytes()
}

// boundRows is the number of rows that writeMPS writes.
func boundRows(m *solver.Model) int {
	n := 0
	for i := range m.Rows {
		if kind, _, _ := rowKind(&m.Rows[i]); kind != 0 {
			n++
		}
	}
	return n
}

// readSolution reads a solution file in HiGHS's raw style: the model status,
// then the primal and the dual values, each 'None', 'Infeasible' or 'Feasible'
// with a line a column and a row.
func readSolution(text []byte, columns, rows int) (answer, error) {
	a := answer{bound: noBound}
	lines := strings.Split(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n")
	statusAt := find(lines, 0, "Model status")
	if statusAt < 0 || statusAt+1 >= len(lines) {
		return answer{}, fmt.Errorf("no model status in it")
	}
	code, ok := statusByName(strings.TrimSpace(lines[statusAt+1]))
	if !ok {
		return answer{}, fmt.Errorf("model status %q is not one that we know", lines[statusAt+1])
	}
	var err error
	if a.status, err = statusOf(code); err != nil {
		return answer{}, err
	}
	if a.values, _, err = readValues(lines, "# Primal solution values", columns, rows); err != nil {
		return answer{}, err
	}
	if a.reducedCosts, a.rowDuals, err = readValues(lines, "# Dual solution values", columns, rows); err != nil {
		return answer{}, err
	}
	return a, nil
}

func statusByName(name string) (int, bool) {
	for code, s := range modelStatuses {
		if strings.EqualFold(s.name, name) {
			return code, true
		}
	}
	return 0, false
}

func find(lines []string, from int, want string) int {
	for k := from; k < len(lines); k++ {
		if strings.TrimSpace(lines[k]) == want {
			return k
		}
	}
	return -1
}

// readValues reads the values of one kind, nil where they are not feasible.
func readValues(lines []string, heading string, columns, rows int) (ofColumns, ofRows []float64, err error) {
	at := find(lines, 0, heading)
	if at < 0 || at+1 >= len(lines) || strings.TrimSpace(lines[at+1]) != "Feasible" {
		return nil, nil, nil
	}
	ofColumns, ofRows = make([]float64, columns), make([]float64, rows)
	seen := 0
	var into []float64
	prefix := ""
	for k := at + 2; k < len(lines); k++ {
		fields := strings.Fields(lines[k])
		switch {
		case len(fields) == 0 || fields[0] == "Objective":
			continue
		case fields[0] == "#" && len(fields) == 3 && fields[1] == "Columns":
			into, prefix = ofColumns, "c"
			continue
		case fields[0] == "#" && len(fields) == 3 && fields[1] == "Rows":
			into, prefix = ofRows, "r"
			continue
		case fields[0] == "#":
			k = len(lines) // the next heading
			continue
		}
		number, isOurs := strings.CutPrefix(fields[0], prefix)
		index, err1 := strconv.Atoi(number)
		if !isOurs || err1 != nil || index < 0 || index >= len(into) || len(fields) != 2 {
			return nil, nil, fmt.Errorf("line %d: %q is not a name of ours and a value", k+1, lines[k])
		}
		v, err := strconv.ParseFloat(fields[1], 64)
		if err != nil || math.IsNaN(v) {
			return nil, nil, fmt.Errorf("line %d: %q is not a number", k+1, fields[1])
		}
		into[index] = v
		if prefix == "c" {
			seen++
		}
	}
	if seen != columns {
		return nil, nil, fmt.Errorf("%q has %d columns, want %d", heading, seen, columns)
	}
	return ofColumns, ofRows, nil
}

// What the log says at its end of an integer programme, and of a linear one.
var (
	logDualBound         = regexp.MustCompile(`(?m)^  Dual bound +(\S+)`)
	logNodes             = regexp.MustCompile(`(?m)^  Nodes +(\d+)`)
	logLPIterations      = regexp.MustCompile(`(?m)^  LP iterations +(\d+)`)
	logSimplexIterations = regexp.MustCompile(`(?m)^Simplex +iterations *: +(\d+)`)
)

// logDigits is the relative error of a number that the log prints with 12
// digits; a bound is moved by it to the safe side.
const logDigits = 5e-12

// readLog takes from the log what the solution file does not tell.
func readLog(a *answer, log []byte, integer bool) {
	whole := func(line *regexp.Regexp) int {
		all := line.FindAllSubmatch(log, -1)
		if len(all) == 0 {
			return 0
		}
		n, _ := strconv.Atoi(string(all[len(all)-1][1]))
		return n
	}
	if !integer {
		a.iterations = whole(logSimplexIterations)
		return
	}
	a.nodes, a.iterations = whole(logNodes), whole(logLPIterations)
	if all := logDualBound.FindAllSubmatch(log, -1); len(all) > 0 {
		if v, err := strconv.ParseFloat(string(all[len(all)-1][1]), 64); err == nil && !math.IsNaN(v) {
			if !math.IsInf(v, 0) {
				v -= logDigits * math.Abs(v)
			}
			a.bound = v
		}
	}
}
