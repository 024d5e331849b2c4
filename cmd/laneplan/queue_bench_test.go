//go:build unix

package main

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"laneplan/jobs/queue/queuetest"
	"laneplan/jobs/starter"
)

// bookOf draws an order book of so many gangs, each an ink set of its own with
// 8 to 16 versions in four orders.
func bookOf(gangs int) string {
	r := rand.New(rand.NewPCG(1, 2))
	var b strings.Builder
	b.WriteString("order,customer,version,die,stock,ink_set,quantity,due\n")
	for g := range gangs {
		for v := range 8 + r.IntN(9) {
			fmt.Fprintf(&b, "%d-%d,Hill,v%d,jar-70x100,paper-80,set %d,%d,2026-12-02\n", g, v%4, v, g, 250+50*r.IntN(80))
		}
	}
	return b.String()
}

// BenchmarkBatchOverAQueue plans the same gangs with one worker and with two,
// each a process that has one core, as a machine of its own. It gives gangs an
// hour:
//
//	go test -run '^$' -bench BatchOverAQueue -benchtime 1x ./cmd/laneplan
func BenchmarkBatchOverAQueue(b *testing.B) {
	const gangs = 60
	b.Setenv("GOMAXPROCS", "1") // of the workers
	for _, workers := range []int{1, 2} {
		b.Run(fmt.Sprintf("workers=%d", workers), func(b *testing.B) {
			n := nightOf{filepath.Join(mill(b), starter.ShopFile), file(b, "orders.csv", bookOf(gangs)), ""}
			for b.Loop() {
				b.StopTimer()
				s := queuetest.Start(b, "")
				var all []*nightly
				for range workers {
					all = append(all, startWorker(b, s))
				}
				for _, p := range all {
					require.True(b, p.until("waits for tasks"), "%s", &p.log)
				}
				n.out = filepath.Join(b.TempDir(), "night")
				b.StartTimer()
				got := n.run(b, "--work", "1", "--queue", s.URL())
				b.StopTimer()
				require.Equal(b, exitDone, got.code, got.stderr)
				require.Contains(b, got.stdout, fmt.Sprintf("%d of %d gangs", gangs, gangs))
				for _, p := range all {
					require.NoError(b, p.Process.Kill())
					p.end()
				}
				s.Stop()
				b.StartTimer()
			}
			b.ReportMetric(gangs*float64(b.N)/b.Elapsed().Hours(), "gangs/hour")
		})
	}
}
