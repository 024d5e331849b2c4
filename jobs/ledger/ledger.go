// Package ledger keeps what was planned and what was printed in one SQLite
// file to which entries are only ever added. It plans nothing and draws
// nothing.
//
//	l, err := ledger.Open("out/ledger.sqlite")
//	defer l.Close()
//	id, err := l.Append(ctx, ledger.Planned(gang, plan))
//	entries, err := l.Entries(ctx, ledger.Filter{Order: "2026-118"})
//
// The file is in rollback-journal mode with every commit synced: an entry
// whose Append returned is on the disk, and a process that dies in the middle
// of one leaves the file as it was before. It stays a single file that can be
// copied, also from a network drive, which a write-ahead log would not be.
// Several processes may write at once; they wait for each other.
package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"modernc.org/sqlite" // the driver, without cgo
	sqlite3 "modernc.org/sqlite/lib"
)

// FileName of a ledger in a folder of plans.
const FileName = "ledger.sqlite"

// patience is how long a writer waits for the others.
const patience = time.Minute

// Reasons for which a file is refused.
var (
	ErrNotThere  = errors.New("there is no ledger")
	ErrNoLedger  = errors.New("this is not a ledger of laneplan")
	ErrNewer     = errors.New("this ledger was written by a newer laneplan")
	ErrBusy      = errors.New("another process holds the ledger")
	ErrNotWhole  = errors.New("the ledger is damaged")
	ErrDiskFull  = errors.New("the disk is full")
	ErrReadOnly  = errors.New("the ledger cannot be written to")
	ErrNotOpened = errors.New("the ledger cannot be opened")
)

// Ledger is an open file. It may be used by several goroutines.
type Ledger struct {
	db   *sql.DB
	path string
}

// Open opens a ledger for writing and makes it, with its folder, where it is
// not there. Errors name the file and are one of those above where the file
// is at fault.
func Open(path string) (*Ledger, error) {
	switch info, err := os.Stat(path); {
	case err == nil && info.IsDir():
		return nil, fmt.Errorf("%s: want a file, got a folder", path)
	case errors.Is(err, fs.ErrNotExist):
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			return nil, fmt.Errorf("%s: make its folder: %w", path, err)
		}
	case err != nil:
		return nil, fmt.Errorf("%s: %w: %w", path, ErrNotOpened, err)
	}
	return open(path, "rwc")
}

// OpenThere opens a ledger that is there, for reading; ErrNotThere where it is
// not. Nothing is made or changed, but for the remains of a write that was cut
// off, which SQLite clears away.
func OpenThere(path string) (*Ledger, error) {
	switch info, err := os.Stat(path); {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%s: %w", path, ErrNotThere)
	case err != nil:
		return nil, fmt.Errorf("%s: %w: %w", path, ErrNotOpened, err)
	case info.IsDir():
		return nil, fmt.Errorf("%s: want a file, got a folder", path)
	case info.Size() == 0:
		return nil, fmt.Errorf("%s: %w", path, ErrNoLedger)
	}
	// In mode rw SQLite can roll a cut-off write back, and it falls back to
	// reading where the file may not be written.
	return open(path, "rw")
}

func open(path, mode string) (*Ledger, error) {
	absolute, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	db, err := sql.Open("sqlite", address(absolute, mode))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	db.SetMaxOpenConns(1) // one writer a process: the others wait in Go, in order
	l := &Ledger{db: db, path: path}
	if err := l.prepare(context.Background(), mode == "rwc"); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return l, nil
}

// address is the file as SQLite's URI, whatever characters its name has.
func address(absolute, mode string) string {
	slashed := filepath.ToSlash(absolute)
	if slashed[0] != '/' {
		slashed = "/" + slashed // a drive of Windows
	}
	options := url.Values{"mode": {mode}, "_txlock": {"immediate"}, "_pragma": {
		fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds()),
		"synchronous(EXTRA)", // the folder too, once the journal is gone
		"foreign_keys(1)",
		"trusted_schema(0)",
	}}
	return (&url.URL{Scheme: "file", Path: slashed, RawQuery: options.Encode()}).String()
}

// Close closes the file.
func (l *Ledger) Close() error { return l.db.Close() }

// Path of the file, as it was opened.
func (l *Ledger) Path() string { return l.path }

// fault says what SQLite found, in our words where there is something to do
// about it.
func (l *Ledger) fault(doing string, err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("%s: %s: %w", l.path, doing, err)
	}
	var of *sqlite.Error
	if errors.As(err, &of) {
		var known error
		switch of.Code() & 0xFF { // the primary code
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
			known = ErrBusy
		case sqlite3.SQLITE_NOTADB:
			known = ErrNoLedger
		case sqlite3.SQLITE_CORRUPT:
			known = ErrNotWhole
		case sqlite3.SQLITE_FULL:
			known = ErrDiskFull
		case sqlite3.SQLITE_READONLY:
			known = ErrReadOnly
		case sqlite3.SQLITE_CANTOPEN:
			known = ErrNotOpened
		}
		if known != nil {
			return fmt.Errorf("%s: %w (%s: %w)", l.path, known, doing, err)
		}
	}
	return fmt.Errorf("%s: %s: %w", l.path, doing, err)
}
