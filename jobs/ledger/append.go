package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"github.com/shopspring/decimal"
)

// Append adds an entry and returns its ID once it is on the disk. Where the
// ledger has an entry with the same Key, nothing is added and that one's ID
// comes back. It waits up to a minute for other writers, or until ctx ends.
func (l *Ledger) Append(ctx context.Context, e Entry) (int64, error) {
	if e.Kind != KindPlanned && e.Kind != KindPrinted {
		return 0, fmt.Errorf("ledger: kind %q, want %q or %q", e.Kind, KindPlanned, KindPrinted)
	}
	if e.At.IsZero() {
		e.At = time.Now()
	}
	tx, err := l.db.BeginTx(ctx, nil)
	if err != nil {
		return 0, l.fault("add an entry", err)
	}
	defer func() { _ = tx.Rollback() }() // nothing to undo after the commit
	if e.Key != "" {
		var id int64
		err := tx.QueryRowContext(ctx, "SELECT id FROM entry WHERE key = ?", e.Key).Scan(&id)
		if err == nil {
			return id, nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return 0, l.fault("add an entry", err)
		}
	}
	w := writer{ctx: ctx, tx: tx}
	w.entry(e)
	if w.err != nil {
		return 0, l.fault("add an entry", w.err)
	}
	if err := tx.Commit(); err != nil {
		return 0, l.fault("add an entry", err)
	}
	return w.id, nil
}

// writer writes one entry; after the first error it writes nothing more.
type writer struct {
	ctx context.Context
	tx  *sql.Tx
	id  int64
	err error
}

func (w *writer) exec(query string, values ...any) sql.Result {
	if w.err != nil {
		return nil
	}
	result, err := w.tx.ExecContext(w.ctx, query, values...)
	w.err = err
	return result
}

func (w *writer) entry(e Entry) {
	result := w.exec(`INSERT INTO entry (at, kind, key, corrects, program, inputs, plan, rest_of, gang, die, stock, press, currency,
		cost, bound, gap, proven, stop, alone, saving, row_count, sections, web_m, minutes)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		moment(e.At), string(e.Kind), sql.NullString{String: e.Key, Valid: e.Key != ""}, sql.NullInt64{Int64: e.Corrects, Valid: e.Corrects != 0},
		e.Program, e.Inputs, e.Plan, e.RestOf, e.Gang, e.Die, e.Stock, e.Press, e.Currency,
		number(e.Cost), number(e.Bound), number(e.Gap), e.Proven, e.Stop, number(e.Alone), number(e.Saving),
		e.Rows, e.Sections, number(e.Web), number(e.Minutes))
	if w.err != nil {
		return
	}
	w.id, w.err = result.LastInsertId()
	place := 0
	for i, o := range e.Orders {
		w.exec("INSERT INTO entry_order (entry, place, id, customer, due, alone, share, saving) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
			w.id, i, o.ID, o.Customer, day(o.Due), number(o.Alone), number(o.Share), number(o.Saving))
		for _, v := range o.Versions {
			w.exec(`INSERT INTO entry_version (entry, place, order_id, id, name, ordered, planned, good, spoiled, overs, unders, scrap, left_out)
				VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
				w.id, place, o.ID, v.ID, v.Name, v.Ordered, v.Planned, v.Good, v.Spoiled, v.Overs, v.Unders, v.Scrap, v.LeftOut)
			place++
		}
	}
	for _, s := range e.Printed {
		w.exec("INSERT INTO entry_section (entry, number, planned, printed) VALUES (?, ?, ?, ?)", w.id, s.Number, s.Planned, s.Printed)
	}
	for i, s := range e.Spoiled {
		w.exec("INSERT INTO entry_spoiled (entry, place, section, lane, from_row, to_row, reason) VALUES (?, ?, ?, ?, ?, ?, ?)",
			w.id, i, s.Section, s.Lane, s.FromRow, s.ThruRow, s.Reason)
	}
}

// moment is a time as the ledger writes it: text that sorts as time does.
func moment(t time.Time) string { return t.UTC().Format(time.RFC3339) }

func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

func number(d *decimal.Decimal) sql.NullString {
	if d == nil {
		return sql.NullString{}
	}
	// With the zeros that it ends in: 410.00 is an amount of money.
	return sql.NullString{String: d.StringFixed(max(0, -d.Exponent())), Valid: true}
}
