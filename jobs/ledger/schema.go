package ledger

import (
	"context"
	"database/sql"
	_ "embed"
	"fmt"
)

// The numbers in the file's head by which it is known: ours, chosen at
// random, and the version of the schema.
const (
	applicationID = 0x4c616e65
	schemaVersion = 1
)

//go:embed schema.sql
var tables string

// guards refuse whatever is not an addition. A table's own key is what a
// REPLACE would go by: it deletes without firing the triggers of DELETE.
var guards = map[string]string{
	"entry":         "id = NEW.id OR key = NEW.key",
	"entry_order":   "entry = NEW.entry AND place = NEW.place",
	"entry_version": "entry = NEW.entry AND place = NEW.place",
	"entry_section": "entry = NEW.entry AND number = NEW.number",
	"entry_spoiled": "entry = NEW.entry AND place = NEW.place",
}

// prepare makes the tables where the file is new and they are wanted, and
// refuses a file that is not a ledger or a newer one.
func (l *Ledger) prepare(ctx context.Context, wanted bool) error {
	version, made, err := l.look(ctx)
	if err != nil {
		return err
	}
	if made > 0 || !wanted {
		return l.known(version)
	}
	// Two processes may come here at once: the one that waits for the lock
	// finds the tables made.
	tx, err := l.db.BeginTx(ctx, nil)
	if err != nil {
		return l.fault("make it", err)
	}
	defer func() { _ = tx.Rollback() }() // nothing to undo after the commit
	if version, made, err = l.head(ctx, tx); err != nil {
		return err
	}
	if made > 0 {
		return l.known(version)
	}
	for _, statement := range statements() {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return l.fault("make it", err)
		}
	}
	return l.fault("make it", tx.Commit())
}

// look reads the head in a transaction, so that it is of one moment.
func (l *Ledger) look(ctx context.Context) (version, made int, err error) {
	tx, err := l.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return 0, 0, l.fault("open it", err)
	}
	defer func() { _ = tx.Rollback() }() // only reads
	return l.head(ctx, tx)
}

// head is the schema's version, -1 in a file of another program, and the
// number of tables.
func (l *Ledger) head(ctx context.Context, tx *sql.Tx) (version, made int, err error) {
	var application int
	for _, part := range []struct {
		query string
		into  *int
	}{
		{"SELECT count(*) FROM sqlite_schema", &made}, // takes the lock
		{"PRAGMA application_id", &application},
		{"PRAGMA user_version", &version},
	} {
		if err := tx.QueryRowContext(ctx, part.query).Scan(part.into); err != nil {
			return 0, 0, l.fault("open it", err)
		}
	}
	if application != applicationID {
		version = -1
	}
	return version, made, nil
}

func (l *Ledger) known(version int) error {
	switch {
	case version < 1:
		return fmt.Errorf("%s: %w", l.path, ErrNoLedger)
	case version > schemaVersion:
		return fmt.Errorf("%s: %w: it has version %d of its tables, this program knows %d; use the newer program", l.path, ErrNewer, version, schemaVersion)
	}
	return nil
}

func statements() []string {
	all := []string{
		tables,
		fmt.Sprintf("PRAGMA application_id = %d", applicationID),
		fmt.Sprintf("PRAGMA user_version = %d", schemaVersion),
	}
	for table, same := range guards {
		const refuse = "BEGIN SELECT RAISE(ABORT, 'a ledger is only added to'); END"
		all = append(all,
			fmt.Sprintf("CREATE TRIGGER %s_no_update BEFORE UPDATE ON %[1]s %s", table, refuse),
			fmt.Sprintf("CREATE TRIGGER %s_no_delete BEFORE DELETE ON %[1]s %s", table, refuse),
			fmt.Sprintf("CREATE TRIGGER %s_no_replace BEFORE INSERT ON %[1]s WHEN EXISTS (SELECT 1 FROM %[1]s WHERE %s) %s", table, same, refuse),
		)
	}
	return all
}
