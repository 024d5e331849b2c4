package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func amount(text string) *decimal.Decimal {
	d := decimal.RequireFromString(text)
	return &d
}

func day0(text string) time.Time {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic(err)
	}
	return t
}

// whole is an entry with every field set.
func whole() Entry {
	return Entry{
		At: time.Date(2026, 11, 30, 5, 15, 2, 0, time.UTC), Kind: KindPrinted, Key: "k", Program: "1.2", Inputs: "abc", Plan: "def", RestOf: "cde",
		Gang: "jar-1", Die: "jar-70x100", Stock: "paper-80", Press: "digital-1", Currency: "EUR",
		Cost: amount("412.35"), Bound: amount("410.00"), Gap: amount("0.0057"), Stop: "time limit",
		Alone: amount("600"), Saving: amount("187.65"), Rows: 4000, Sections: 2, Web: amount("418.5"), Minutes: amount("46.25"),
		Orders: []Order{
			{ID: "2026-118", Customer: "Mühle", Due: day0("2026-12-02"), Alone: amount("300"), Share: amount("200"), Saving: amount("100"), Versions: []Version{
				{ID: "mace", Name: "Mace", Ordered: 900, Planned: 1000, Good: 950, Spoiled: 50, Overs: 50},
				{ID: "clove", Ordered: 900, Planned: 0, Unders: 900, LeftOut: true},
			}},
			{ID: "2026-119", Customer: "Hof", Versions: []Version{{ID: "thyme", Ordered: 1, Planned: 2000, Good: 2000, Overs: 1, Scrap: 1998}}},
		},
		Printed: []Section{{Number: 1, Planned: 1000, Printed: 1000}, {Number: 2, Planned: 3000, Printed: 200}},
		Spoiled: []Spoil{{Section: 1, Lane: 3, FromRow: 10, ThruRow: 59, Reason: "scuffed"}},
	}
}

func opened(t *testing.T, path string) *Ledger {
	t.Helper()
	l, err := Open(path)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, l.Close()) })
	return l
}

func appended(t *testing.T, l *Ledger, e Entry) int64 {
	t.Helper()
	id, err := l.Append(t.Context(), e)
	require.NoError(t, err)
	return id
}

func TestAnEntryComesBackAsItWasAdded(t *testing.T) {
	// A name that a URI or a shell would read otherwise.
	path := filepath.Join(t.TempDir(), "new folder", "a?mode=memory&x#%41 'ledger'.sqlite")
	l := opened(t, path)
	want := whole()
	want.ID = appended(t, l, want)
	bare := Entry{Kind: KindPlanned, At: want.At, Corrects: want.ID, Proven: true}
	bare.ID = appended(t, l, bare)

	again, err := OpenThere(path)
	require.NoError(t, err)
	defer again.Close()
	got, err := again.Entries(t.Context(), Filter{})
	require.NoError(t, err)
	assert.Equal(t, []Entry{want, bare}, got)
	assert.FileExists(t, path)
}

func TestAKeyIsWrittenOnce(t *testing.T) {
	l := opened(t, filepath.Join(t.TempDir(), FileName))
	first := appended(t, l, whole())
	other := whole()
	other.Gang = "another"
	assert.Equal(t, first, appended(t, l, other))
	other.Key = ""
	assert.NotEqual(t, first, appended(t, l, other))
	assert.NotEqual(t, first, appended(t, l, other), "no key is no key")
}

func TestEntriesAreChosen(t *testing.T) {
	l := opened(t, filepath.Join(t.TempDir(), FileName))
	names := map[int64]string{}
	add := func(name, at string, change func(*Entry)) {
		e := whole()
		var err error
		e.At, err = time.Parse(time.RFC3339, at)
		require.NoError(t, err)
		e.Key, e.Gang = "", name
		change(&e)
		names[appended(t, l, e)] = name
	}
	add("a", "2026-11-29T23:59:59Z", func(e *Entry) { e.Die = "other"; e.Key = "key of a" })
	add("b", "2026-11-30T00:00:00Z", func(e *Entry) { e.Orders = e.Orders[:1]; e.Plan = "plan of b" })
	add("c", "2026-11-30T23:59:59Z", func(e *Entry) { e.Orders = e.Orders[1:]; e.Kind = KindPlanned })
	add("d", "2026-12-01T00:30:00+01:00", func(e *Entry) { e.Orders[0].ID = `x' OR '1'='1`; e.Orders[0].Customer = "CHOSEN; DROP TABLE entry" })
	for _, tt := range []struct {
		name string
		f    Filter
		want string
	}{
		{"all", Filter{}, "abcd"},
		{"an order", Filter{Order: "2026-118"}, "ab"},
		{"a customer", Filter{Customer: "Hof"}, "acd"},
		{"a die", Filter{Die: "other"}, "a"},
		{"a gang", Filter{Gang: "c"}, "c"},
		{"a kind", Filter{Kind: KindPlanned}, "c"},
		{"a key", Filter{Key: "key of a"}, "a"},
		{"a plan", Filter{Plan: "plan of b"}, "b"},
		{"a day, in UTC", Filter{Since: day0("2026-11-30"), Until: day0("2026-11-30")}, "bcd"},
		{"since", Filter{Since: day0("2026-12-01")}, ""},
		{"until", Filter{Until: day0("2026-11-29")}, "a"},
		{"an order and a kind", Filter{Order: "2026-119", Kind: KindPlanned}, "c"},
		{"a name that looks like a condition", Filter{Order: `x' OR '1'='1`}, "d"},
		{"a customer that looks like a statement", Filter{Customer: "CHOSEN; DROP TABLE entry"}, "d"},
		{"nobody", Filter{Customer: "%"}, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			entries, err := l.Entries(t.Context(), tt.f)
			require.NoError(t, err)
			got := ""
			for _, e := range entries {
				got += names[e.ID]
			}
			assert.Equal(t, tt.want, got)
		})
	}
}

func TestALedgerIsOnlyAddedTo(t *testing.T) {
	l := opened(t, filepath.Join(t.TempDir(), FileName))
	appended(t, l, whole())
	before, err := l.Entries(t.Context(), Filter{})
	require.NoError(t, err)
	tables := []string{"entry", "entry_order", "entry_section", "entry_spoiled", "entry_version"}
	var all []string
	rows, err := l.db.Query("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
	require.NoError(t, err)
	for rows.Next() {
		var name string
		require.NoError(t, rows.Scan(&name))
		all = append(all, name)
	}
	require.NoError(t, rows.Err())
	require.Equal(t, tables, all, "every table is tried")
	column := map[string]string{"entry": "id"}
	for _, table := range tables {
		key := column[table]
		if key == "" {
			key = "entry"
		}
		for _, statement := range []string{
			fmt.Sprintf("DELETE FROM %s", table),
			fmt.Sprintf("UPDATE %s SET %s = %[2]s", table, key),
			fmt.Sprintf("INSERT OR REPLACE INTO %s SELECT * FROM %[1]s", table),
			fmt.Sprintf("INSERT OR IGNORE INTO %s SELECT * FROM %[1]s", table),
		} {
			_, err := l.db.Exec(statement)
			assert.ErrorContains(t, err, "a ledger is only added to", statement)
		}
	}
	after, err := l.Entries(t.Context(), Filter{})
	require.NoError(t, err)
	assert.Equal(t, before, after)
}

func TestAFileThatIsNoLedgerIsRefused(t *testing.T) {
	folder := t.TempDir()
	path := func(name string) string { return filepath.Join(folder, name) }
	require.NoError(t, os.WriteFile(path("text"), []byte("this is a text, and long enough to be taken for the head of a database by nobody but a fool"), 0o644))
	require.NoError(t, os.WriteFile(path("empty"), nil, 0o644))
	made := func(name string, statements ...string) {
		l, err := Open(path(name))
		require.NoError(t, err)
		appended(t, l, whole())
		for _, s := range statements {
			_, err := l.db.Exec(s)
			require.NoError(t, err)
		}
		require.NoError(t, l.Close())
	}
	made("newer", "PRAGMA user_version = 2")
	made("cut")
	require.NoError(t, os.Truncate(path("cut"), 5000))
	db, err := sql.Open("sqlite", address(path("other"), "rwc"))
	require.NoError(t, err)
	_, err = db.Exec("CREATE TABLE theirs (x)")
	require.NoError(t, err)
	require.NoError(t, db.Close())

	for _, tt := range []struct {
		name  string
		open  func(string) (*Ledger, error)
		fault error
		says  string
	}{
		{"text", Open, ErrNoLedger, "not a ledger"},
		{"text", OpenThere, ErrNoLedger, "not a ledger"},
		{"other", Open, ErrNoLedger, "not a ledger"},
		{"other", OpenThere, ErrNoLedger, "not a ledger"},
		{"newer", Open, ErrNewer, "version 2 of its tables, this program knows 1"},
		{"newer", OpenThere, ErrNewer, "use the newer program"},
		{"nothing", OpenThere, ErrNotThere, "there is no ledger"},
		{"empty", OpenThere, ErrNoLedger, "not a ledger"},
		{"cut", OpenThere, ErrNotWhole, "damaged"},
		{".", Open, nil, "want a file, got a folder"},
		{".", OpenThere, nil, "want a file, got a folder"},
		{"text/" + FileName, Open, nil, "not a directory"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			l, err := tt.open(path(tt.name))
			if err == nil { // what is damaged shows where it is read
				_, err = l.Entries(t.Context(), Filter{})
				require.NoError(t, l.Close())
			}
			require.ErrorContains(t, err, tt.says)
			assert.ErrorContains(t, err, path(tt.name))
			if tt.fault != nil {
				assert.ErrorIs(t, err, tt.fault)
			}
		})
	}
	assert.NoFileExists(t, path("nothing"))
}

func TestAFullDiskLeavesTheLedgerAsItWas(t *testing.T) {
	l := opened(t, filepath.Join(t.TempDir(), FileName))
	_, err := l.db.Exec("PRAGMA max_page_count = 40")
	require.NoError(t, err)
	e := whole()
	e.Key = ""
	added := 0
	for ; err == nil; added++ {
		require.Less(t, added, 10_000)
		_, err = l.Append(t.Context(), e)
	}
	added--
	require.Positive(t, added)
	assert.ErrorIs(t, err, ErrDiskFull)
	assert.ErrorContains(t, err, l.Path())
	_, err = l.db.Exec("PRAGMA max_page_count = 400")
	require.NoError(t, err)
	appended(t, l, e)
	entries, err := l.Entries(t.Context(), Filter{})
	require.NoError(t, err)
	assert.Len(t, entries, added+1)
	for _, got := range entries {
		assert.Len(t, got.Orders, len(e.Orders), "an entry is whole")
	}
}

// Many open the same new file at once, as the workers of a batch may.
func TestWritersWaitForEachOther(t *testing.T) {
	path := filepath.Join(t.TempDir(), FileName)
	const writers, each = 6, 8
	var group sync.WaitGroup
	errs := make([]error, writers)
	for w := range writers {
		group.Go(func() {
			l, err := Open(path)
			if err != nil {
				errs[w] = err
				return
			}
			defer l.Close()
			for i := range each {
				e := whole()
				e.Key = fmt.Sprint(w, " ", i)
				if _, err := l.Append(context.Background(), e); err != nil {
					errs[w] = err
					return
				}
			}
		})
	}
	group.Wait()
	for _, err := range errs {
		require.NoError(t, err)
	}
	entries, err := opened(t, path).Entries(t.Context(), Filter{})
	require.NoError(t, err)
	keys := map[string]bool{}
	for _, e := range entries {
		keys[e.Key] = true
	}
	assert.Len(t, keys, writers*each)
}

func TestAWriterThatIsNotLetInGivesUpWithItsContext(t *testing.T) {
	path := filepath.Join(t.TempDir(), FileName)
	l := opened(t, path)
	appended(t, l, whole())
	other := opened(t, path)
	tx, err := other.db.Begin()
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = l.Append(ctx, Entry{Kind: KindPlanned})
	assert.ErrorIs(t, err, context.Canceled)
	require.NoError(t, tx.Rollback())
	appended(t, l, Entry{Kind: KindPlanned})
}

func TestAKindIsNeeded(t *testing.T) {
	_, err := opened(t, filepath.Join(t.TempDir(), FileName)).Append(t.Context(), Entry{Kind: "dreamt"})
	assert.ErrorContains(t, err, `kind "dreamt", want "planned" or "printed"`)
}
