package report

import (
	"fmt"
	"io"
	"slices"
)

// Rival is what another way of planning came to on an instance.
type Rival struct {
	Method string   `json:"method"`
	Cost   *float64 `json:"cost"` // nil where it has no plan
	// Seconds that it took; nil for what takes no time worth telling.
	Seconds *float64 `json:"seconds"`
	// EqualSeconds is when our search had a plan that costs no more; nil
	// where it never had, or where there is no cost.
	EqualSeconds *float64 `json:"equal_seconds"`
	// Failure says why there is no plan.
	Failure string `json:"failure,omitempty"`
}

// rivalMethods are the methods of all lines, in their order.
func rivalMethods(lines []Benchmark) []string {
	var methods []string
	for _, b := range lines {
		for _, r := range b.Rivals {
			if !slices.Contains(methods, r.Method) {
				methods = append(methods, r.Method)
			}
		}
	}
	return methods
}

func (b Benchmark) rival(method string) (Rival, bool) {
	for _, r := range b.Rivals {
		if r.Method == method {
			return r, true
		}
	}
	return Rival{}, false
}

// rivalsText writes the table of the rivals, nothing where there are none.
func rivalsText(w io.Writer, lines []Benchmark, style Style) error {
	methods := rivalMethods(lines)
	if len(methods) == 0 {
		return nil
	}
	t := newTable()
	t.left("instance")
	t.right("our cost")
	for _, method := range methods {
		t.right(method)
		t.right("equal")
	}
	cost, equal := make([]mean, len(methods)), make([]mean, len(methods))
	var remarks []string
	for _, b := range lines {
		ours := b.money(b.Cost)
		if b.Failure != "" {
			ours = "-"
		}
		cells := []string{b.Name, ours}
		for i, method := range methods {
			r, _ := b.rival(method)
			when := "-"
			switch {
			case r.EqualSeconds != nil:
				equal[i].add(*r.EqualSeconds)
				when = inHundredths(*r.EqualSeconds)
			case r.Cost != nil:
				when = "never"
			}
			cost[i].against(r.Cost, b.Cost)
			cells = append(cells, b.beside(r.Cost), when)
			if r.Failure != "" {
				remarks = append(remarks, b.Name+": "+r.Failure)
			}
		}
		t.cells(cells, true)
	}
	t.footer = true
	cells := []string{"mean", ""}
	for i := range methods {
		cells = append(cells, cost[i].text(signed), equal[i].text(inHundredths))
	}
	t.cells(cells, true)
	if _, err := fmt.Fprintf(w, "\nOther ways of planning, in the same run and within the same limits:\n%s\n\n", t); err != nil {
		return err
	}
	for _, remark := range remarks {
		if _, err := fmt.Fprintln(w, dress(style.Care, clean(remark))); err != nil {
			return err
		}
	}
	_, err := io.WriteString(w, `alone, blocks: as above
textbook: the integer programme with lane slots and a big M, by the same engine
annealing: what the lanes hold is annealed, the lengths are a linear programme's
equal: when our search had a plan that costs no more than theirs; 'never' is not in the mean
`)
	return err
}

func inHundredths(x float64) string { return fmt.Sprintf("%.2f s", x) }
