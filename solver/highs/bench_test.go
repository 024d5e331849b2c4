package highs

import (
	"context"
	"fmt"
	"math"
	"math/rand"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"laneplan/solver"
)

// BenchmarkStart is the time to the first result of a process: cold without a
// cache on disk, warm with one.
func BenchmarkStart(b *testing.B) {
	for _, how := range []string{"cold", "warm"} {
		b.Run(how, func(b *testing.B) {
			folder := os.Getenv(cacheVariable)
			if how == "warm" {
				solve(b, embeddedEngine(b), wyndor(), solver.Options{}) // fills the cache
			}
			for b.Loop() {
				if how == "cold" {
					folder = b.TempDir()
				}
				e, err := New(Options{CacheFolder: folder})
				require.NoError(b, err)
				solve(b, e, wyndor(), solver.Options{})
				require.NoError(b, e.Close())
			}
		})
	}
}

// BenchmarkLinear is a linear programme from nothing, of the kind that column
// generation makes: to cover rows by sections of 1 to 4 lanes.
func BenchmarkLinear(b *testing.B) {
	for _, size := range [][2]int{{3, 5}, {20, 60}, {50, 150}, {200, 600}} {
		b.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(b *testing.B) {
			e, m := embeddedEngine(b), sections(size[0], size[1], 1)
			solve(b, e, m, solver.Options{})
			b.ReportAllocs()
			for b.Loop() {
				solve(b, e, m, solver.Options{})
			}
		})
	}
}

// BenchmarkColumnGeneration solves a programme of 200 rows that grows from 300
// columns to 600 by 10 a round: 31 solves an operation, from nothing each time
// or from the basis before.
func BenchmarkColumnGeneration(b *testing.B) {
	for _, warm := range []bool{false, true} {
		b.Run(map[bool]string{false: "without basis", true: "with basis"}[warm], func(b *testing.B) {
			e, m := embeddedEngine(b), sections(200, 600, 1)
			var rounds []*solver.Model
			for columns := 300; columns <= 600; columns += 10 {
				rounds = append(rounds, firstColumns(m, columns))
			}
			iterations := 0
			for b.Loop() {
				var basis *solver.Basis
				for _, round := range rounds {
					r := solve(b, e, round, solver.Options{Basis: basis})
					iterations += r.Iterations
					if warm {
						basis = r.Basis
					}
				}
			}
			b.ReportMetric(float64(iterations)/float64(b.N), "iterations/op")
			b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N*len(rounds)), "ms/solve")
		})
	}
}

// BenchmarkInteger is the first 200 nodes of an integer programme of 30 rows and
// 90 integers.
func BenchmarkInteger(b *testing.B) {
	e, m := embeddedEngine(b), covering(30, 90, 1)
	for b.Loop() {
		r := solve(b, e, m, solver.Options{NodeLimit: 200})
		b.ReportMetric(r.Work, "work/op")
	}
}

// BenchmarkParallel is many small programmes at a time.
func BenchmarkParallel(b *testing.B) {
	e := embeddedEngine(b)
	b.RunParallel(func(pb *testing.PB) {
		m := sections(20, 60, 1)
		for pb.Next() {
			if _, err := e.Solve(context.Background(), m, solver.Options{}); err != nil {
				b.Error(err)
			}
		}
	})
}

// sections is the linear programme of a configuration bound: demands to cover,
// columns with a length, the useful part of it in up to 4 rows, and the cost of
// the length and of a start. The first columns cover one row each.
func sections(rows, columns int, seed int64) *solver.Model {
	r := rand.New(rand.NewSource(seed))
	m := &solver.Model{Rows: make([]solver.Row, rows)}
	for i := range m.Rows {
		m.Rows[i] = solver.Row{Lower: float64(500 + r.Intn(3000)), Upper: solver.Inf}
	}
	add := func(length float64, used map[int]bool) {
		j := len(m.Columns)
		m.Columns = append(m.Columns, solver.Column{Cost: 13.44*length + 18676, Upper: solver.Inf})
		for i := range m.Rows {
			if used[i] {
				m.Rows[i].Entries = append(m.Rows[i].Entries, solver.Entry{Column: j, Value: math.Min(4*length/float64(len(used)), m.Rows[i].Lower)})
			}
		}
	}
	for i := range rows {
		add(m.Rows[i].Lower/4, map[int]bool{i: true})
	}
	for len(m.Columns) < columns {
		used := map[int]bool{}
		for range 4 {
			used[r.Intn(rows)] = true
		}
		add(float64(100+r.Intn(3000)), used)
	}
	return m
}

// firstColumns is a model without its columns from the n-th on.
func firstColumns(m *solver.Model, n int) *solver.Model {
	c := &solver.Model{Columns: m.Columns[:n], Rows: make([]solver.Row, len(m.Rows))}
	for i, row := range m.Rows {
		c.Rows[i] = solver.Row{Lower: row.Lower, Upper: row.Upper}
		for _, e := range row.Entries {
			if e.Column < n {
				c.Rows[i].Entries = append(c.Rows[i].Entries, e)
			}
		}
	}
	return c
}
