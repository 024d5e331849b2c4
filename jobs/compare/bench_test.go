package compare

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/intake/orderbook"
	"laneplan/jobs/pool"
	"laneplan/jobs/starter"
)

// BenchmarkAlone plans drawn orders of five versions alone, and reports what
// they cost together, so that less time for dearer plans is seen.
//
//	go test -run '^$' -bench Alone -benchtime 3x ./jobs/compare
func BenchmarkAlone(b *testing.B) {
	shop, _, day, err := starter.Book()
	require.NoError(b, err)
	random := rand.New(rand.NewPCG(3, 5))
	var book bytes.Buffer
	book.WriteString("order,customer,version,die,stock,ink_set,quantity,due\n")
	const orders = 30
	for o := range orders {
		for v := range 5 {
			fmt.Fprintf(&book, "%d,Hill,version-%d,pouch-100x150,paper-80,ink-%d,%d,2026-12-01\n", o, v, o, 50*(4+random.IntN(200)))
		}
	}
	read, err := orderbook.Parse("drawn.csv", &book, shop)
	require.NoError(b, err)
	pooling, err := pool.Pool(shop, read.Lines, day)
	require.NoError(b, err)
	var gangs []jobs.Gang
	for _, g := range pooling.Gangs {
		undated, _ := g.WithoutDates()
		gangs = append(gangs, undated.Gang)
	}
	require.Len(b, gangs, orders)
	sum, begun := 0.0, time.Now()
	for range b.N {
		costs, unknown, err := Alone(b.Context(), gangs)
		require.NoError(b, err)
		require.Empty(b, unknown)
		sum = 0
		for _, cost := range costs {
			sum += cost.InexactFloat64()
		}
	}
	b.ReportMetric(float64(time.Since(begun).Milliseconds())/float64(b.N*orders), "ms/order")
	b.ReportMetric(sum, "EUR")
}
