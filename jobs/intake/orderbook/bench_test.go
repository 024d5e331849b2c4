package orderbook

import (
	"fmt"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
)

// book of so many lines, as an office with three dozen customers would have.
func bookOf(count int) []jobs.OrderLine {
	lines := make([]jobs.OrderLine, count)
	for i := range lines {
		lines[i] = jobs.OrderLine{
			Order: fmt.Sprintf("SM-%d", 10_000+i/5), Customer: fmt.Sprintf("Customer %d", i/5%37), Version: fmt.Sprintf("V%d", i%5),
			Name: "Paprika, sweet, 50 g", Die: "D-75x50", Stock: "PP-white", Finishes: []string{"varnish"},
			Quantity: 250 + i%7000, Due: day("2026-12-01").AddDate(0, 0, i%30), Unders: fraction("0"), Overs: fraction("0.1"),
			UnitPrice: decimal.New(int64(20+i%90), -3), LabelsPerRoll: 1000, Core: 76 * jobs.Millimetre,
			Wind: jobs.Wind{Face: jobs.FaceOut, Edge: jobs.EdgeTop}, Artwork: fmt.Sprintf("art-%d.pdf", i), Flags: []string{"food"},
		}
	}
	return lines
}

// Reading an order book of 100,000 lines with 16 columns; 'MB-held' is the
// memory that is in use after it, 'MB-taken' what the process has from the
// system.
func BenchmarkRead(b *testing.B) {
	shop := testShop()
	lines := bookOf(100_000)
	for _, ext := range []string{".csv", ".xlsx", ".yaml"} {
		b.Run(ext[1:], func(b *testing.B) {
			path := filepath.Join(b.TempDir(), "orders"+ext)
			if err := Write(path, lines, shop.Book); err != nil {
				b.Fatal(err)
			}
			var book Book
			for b.Loop() {
				var err error
				if book, err = Read([]string{path}, shop, Options{}); err != nil {
					b.Fatal(err)
				}
			}
			var memory runtime.MemStats
			runtime.ReadMemStats(&memory)
			b.ReportMetric(float64(memory.HeapInuse)/1e6, "MB-held")
			b.ReportMetric(float64(memory.Sys)/1e6, "MB-taken")
			b.ReportMetric(float64(len(book.Lines)), "lines")
		})
	}
}
