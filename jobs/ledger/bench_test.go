package ledger

import (
	"fmt"
	"path/filepath"
	"testing"
)

// BenchmarkAppend adds entries of two orders, each synced to the disk.
func BenchmarkAppend(b *testing.B) {
	l, err := Open(filepath.Join(b.TempDir(), FileName))
	if err != nil {
		b.Fatal(err)
	}
	defer l.Close()
	e := whole()
	for i := range b.N {
		e.Key = fmt.Sprint(i)
		if _, err := l.Append(b.Context(), e); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkEntries reads a ledger of 2,000 entries, all of it and one order.
func BenchmarkEntries(b *testing.B) {
	l, err := Open(filepath.Join(b.TempDir(), FileName))
	if err != nil {
		b.Fatal(err)
	}
	defer l.Close()
	for i := range 2000 {
		e := whole()
		e.Key, e.Orders[0].ID = fmt.Sprint(i), fmt.Sprint(i/2)
		if _, err := l.Append(b.Context(), e); err != nil {
			b.Fatal(err)
		}
	}
	for name, f := range map[string]Filter{"all": {}, "an order": {Order: "7"}} {
		b.Run(name, func(b *testing.B) {
			for range b.N {
				if _, err := l.Entries(b.Context(), f); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
