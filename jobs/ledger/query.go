package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// Filter chooses entries; the zero value chooses all. Names are compared as
// they are.
type Filter struct {
	Kind                       Kind
	Key                        string
	Plan                       string // hash
	Gang, Order, Customer, Die string
	// Since and Until are days in UTC, both included; zero is open.
	Since, Until time.Time
}

// where is the filter as a condition; values are only ever bound.
func (f Filter) where() (condition string, values []any) {
	var parts []string
	add := func(part string, value any) {
		parts = append(parts, part)
		values = append(values, value)
	}
	for _, same := range []struct{ column, value string }{
		{"kind", string(f.Kind)}, {"key", f.Key}, {"plan", f.Plan}, {"gang", f.Gang}, {"die", f.Die},
	} {
		if same.value != "" {
			add("e."+same.column+" = ?", same.value)
		}
	}
	for _, same := range []struct{ column, value string }{{"id", f.Order}, {"customer", f.Customer}} {
		if same.value != "" {
			add("e.id IN (SELECT entry FROM entry_order WHERE "+same.column+" = ?)", same.value)
		}
	}
	if !f.Since.IsZero() {
		add("e.at >= ?", day(f.Since))
	}
	if !f.Until.IsZero() {
		add("e.at < ?", day(f.Until.AddDate(0, 0, 1)))
	}
	if len(parts) == 0 {
		return "TRUE", nil
	}
	return strings.Join(parts, " AND "), values
}

// Entries are those that the filter chooses, whole, in the order in which
// they were added: of an entry that holds the order asked for, the other
// orders are there too.
func (l *Ledger) Entries(ctx context.Context, f Filter) ([]Entry, error) {
	// One transaction, so that all tables are of one moment.
	tx, err := l.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, l.fault("read it", err)
	}
	defer func() { _ = tx.Rollback() }() // only reads
	r := reader{ctx: ctx, tx: tx, at: map[int64]int{}}
	r.condition, r.values = f.where()
	r.entries()
	r.orders()
	r.versions()
	r.sections()
	r.spoiled()
	if r.err != nil {
		return nil, l.fault("read it", r.err)
	}
	return r.out, nil
}

// reader reads the tables of the chosen entries, one after another; after the
// first error it reads nothing more.
type reader struct {
	ctx       context.Context
	tx        *sql.Tx
	condition string
	values    []any
	at        map[int64]int // index in out, by ID
	out       []Entry
	err       error
}

// each runs a query over a table that hangs on the chosen entries, or over
// those themselves, and scans every row.
func (r *reader) each(query string, scan func(*sql.Rows) error) {
	if r.err != nil {
		return
	}
	rows, err := r.tx.QueryContext(r.ctx, strings.ReplaceAll(query, "CHOSEN", r.condition), r.values...)
	if err != nil {
		r.err = err
		return
	}
	defer rows.Close()
	for rows.Next() {
		if r.err = scan(rows); r.err != nil {
			return
		}
	}
	r.err = rows.Err()
}

func (r *reader) entries() {
	r.each(`SELECT id, at, kind, coalesce(key, ''), coalesce(corrects, 0), program, inputs, plan, rest_of, gang, die, stock, press, currency,
		cost, bound, gap, proven, stop, alone, saving, row_count, sections, web_m, minutes
		FROM entry e WHERE CHOSEN ORDER BY id`, func(rows *sql.Rows) error {
		var e Entry
		var at string
		err := rows.Scan(&e.ID, &at, &e.Kind, &e.Key, &e.Corrects, &e.Program, &e.Inputs, &e.Plan, &e.RestOf, &e.Gang, &e.Die, &e.Stock, &e.Press, &e.Currency,
			money{&e.Cost}, money{&e.Bound}, money{&e.Gap}, &e.Proven, &e.Stop, money{&e.Alone}, money{&e.Saving},
			&e.Rows, &e.Sections, money{&e.Web}, money{&e.Minutes})
		if err != nil {
			return err
		}
		if e.At, err = time.Parse(time.RFC3339, at); err != nil {
			return fmt.Errorf("entry %d: %w", e.ID, err)
		}
		r.at[e.ID] = len(r.out)
		r.out = append(r.out, e)
		return nil
	})
}

func (r *reader) orders() {
	r.each(`SELECT t.entry, t.id, t.customer, t.due, t.alone, t.share, t.saving
		FROM entry e JOIN entry_order t ON t.entry = e.id WHERE CHOSEN ORDER BY t.entry, t.place`, func(rows *sql.Rows) error {
		var entry int64
		var o Order
		var due string
		if err := rows.Scan(&entry, &o.ID, &o.Customer, &due, money{&o.Alone}, money{&o.Share}, money{&o.Saving}); err != nil {
			return err
		}
		if due != "" {
			var err error
			if o.Due, err = time.Parse(time.DateOnly, due); err != nil {
				return fmt.Errorf("entry %d: %w", entry, err)
			}
		}
		e := &r.out[r.at[entry]]
		e.Orders = append(e.Orders, o)
		return nil
	})
}

func (r *reader) versions() {
	r.each(`SELECT t.entry, t.order_id, t.id, t.name, t.ordered, t.planned, t.good, t.spoiled, t.overs, t.unders, t.scrap, t.left_out
		FROM entry e JOIN entry_version t ON t.entry = e.id WHERE CHOSEN ORDER BY t.entry, t.place`, func(rows *sql.Rows) error {
		var entry int64
		var order string
		var v Version
		if err := rows.Scan(&entry, &order, &v.ID, &v.Name, &v.Ordered, &v.Planned, &v.Good, &v.Spoiled, &v.Overs, &v.Unders, &v.Scrap, &v.LeftOut); err != nil {
			return err
		}
		e := &r.out[r.at[entry]]
		for i := range e.Orders {
			if e.Orders[i].ID == order {
				e.Orders[i].Versions = append(e.Orders[i].Versions, v)
				return nil
			}
		}
		return fmt.Errorf("entry %d: version %q is of no order", entry, v.ID)
	})
}

func (r *reader) sections() {
	r.each(`SELECT t.entry, t.number, t.planned, t.printed
		FROM entry e JOIN entry_section t ON t.entry = e.id WHERE CHOSEN ORDER BY t.entry, t.number`, func(rows *sql.Rows) error {
		var entry int64
		var s Section
		err := rows.Scan(&entry, &s.Number, &s.Planned, &s.Printed)
		if err == nil {
			e := &r.out[r.at[entry]]
			e.Printed = append(e.Printed, s)
		}
		return err
	})
}

func (r *reader) spoiled() {
	r.each(`SELECT t.entry, t.section, t.lane, t.from_row, t.to_row, t.reason
		FROM entry e JOIN entry_spoiled t ON t.entry = e.id WHERE CHOSEN ORDER BY t.entry, t.place`, func(rows *sql.Rows) error {
		var entry int64
		var s Spoil
		err := rows.Scan(&entry, &s.Section, &s.Lane, &s.FromRow, &s.ThruRow, &s.Reason)
		if err == nil {
			e := &r.out[r.at[entry]]
			e.Spoiled = append(e.Spoiled, s)
		}
		return err
	})
}

// money scans a figure that may not be known.
type money struct{ into **decimal.Decimal }

// Scan implements sql.Scanner.
func (m money) Scan(value any) error {
	if value == nil {
		return nil
	}
	text, ok := value.(string)
	if !ok {
		return fmt.Errorf("want a number as text, got %v", value)
	}
	d, err := decimal.NewFromString(text)
	if err != nil {
		return err
	}
	*m.into = &d
	return nil
}
