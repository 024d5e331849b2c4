package report

import (
	"fmt"
	"io"
	"time"

	"laneplan/jobs"
)

// facts is a table of names and what they are.
type facts struct{ table *columns }

func newFacts() facts {
	t := newTable()
	t.left("")
	t.left("")
	return facts{t}
}

func (f facts) line(name, format string, values ...any) {
	f.table.cell(name)
	f.table.cell(fmt.Sprintf(format, values...))
	f.table.end()
}

func (f facts) write(w io.Writer) error {
	_, err := fmt.Fprintln(w, f.table)
	return err
}

// Shop writes what a shop file holds.
func Shop(w io.Writer, s *jobs.Shop) error {
	f := newFacts()
	f.line("shop", "%s", clean(s.Name))
	f.line("money", "%s", s.Currency)
	finishes, presses := len(s.Finishes), len(s.Presses)
	f.line("to print on", "%s, %s, %d %s", counted(len(s.Dies), "die"), counted(len(s.Stocks), "stock"), finishes, plural(finishes, "finish", "finishes"))
	f.line("machines", "%d %s, %s", presses, plural(presses, "press", "presses"), counted(len(s.Rewinders), "rewinder"))
	f.line("gang window", "%s", counted(s.Pooling.WindowDays, "day"))
	return f.write(w)
}

// OrderLines writes what an order book holds.
func OrderLines(w io.Writer, lines []jobs.OrderLine) error {
	orders, customers := map[string]bool{}, map[string]bool{}
	labels := 0
	var first, last time.Time
	for i, l := range lines {
		orders[l.Order], customers[l.Customer] = true, true
		labels += l.Quantity
		if i == 0 || l.Due.Before(first) {
			first = l.Due
		}
		if l.Due.After(last) {
			last = l.Due
		}
	}
	f := newFacts()
	f.line("to print", "%s in %s of %s, %s", counted(len(lines), "version"), counted(len(orders), "order"), counted(len(customers), "customer"), counted(labels, "label"))
	f.line("due", "%s to %s", first.Format(time.DateOnly), last.Format(time.DateOnly))
	return f.write(w)
}
