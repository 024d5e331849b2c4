package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"laneplan/jobs/planfile"
	"laneplan/jobs/starter"
)

// manyGangs writes an order book of so many gangs with least to most versions
// each, and gives its shop and its path. Every gang has an ink set of its own,
// so that none shares a set-up; the presses state no start, so that a thousand
// gangs are not late one after the other.
func manyGangs(b *testing.B, gangs, least, most int) (shop, orders string) {
	b.Helper()
	folder := b.TempDir()
	_, err := starter.Write(folder, true)
	require.NoError(b, err)
	shop, orders = filepath.Join(folder, starter.ShopFile), filepath.Join(folder, "many.csv")
	text, err := os.ReadFile(shop)
	require.NoError(b, err)
	require.NoError(b, os.WriteFile(shop, regexp.MustCompile(`(?m)^ *start: .*\n`).ReplaceAll(text, nil), 0o600))
	random := rand.New(rand.NewPCG(3, 5))
	var book strings.Builder
	book.WriteString("order,customer,version,die,stock,ink_set,quantity,due\n")
	for g := range gangs {
		die, stock := "pouch-100x150", "paper-80"
		if g%2 == 1 {
			die, stock = "lid-48", "pp-60"
		}
		for v := range least + random.IntN(most-least+1) {
			fmt.Fprintf(&book, "%d-%d,Customer %d,version-%d,%s,%s,ink-%04d,%d,2026-12-01\n", g, v/5, (g+v/5)%40, v, die, stock, g, 50*(4+random.IntN(200)))
		}
	}
	require.NoError(b, os.WriteFile(orders, []byte(book.String()), 0o600))
	return shop, orders
}

// residentMB of a process, as Linux tells it.
func residentMB(b *testing.B, process int) float64 {
	b.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", process))
	require.NoError(b, err)
	_, rest, _ := strings.Cut(string(text), "VmRSS:")
	kilobytes, err := strconv.Atoi(strings.Fields(rest)[0])
	require.NoError(b, err)
	return float64(kilobytes) / 1024
}

// BenchmarkThousandGangs is a night of 1,000 gangs of 4 to 40 versions in ten
// minutes (LANEPLAN_BUDGET) on two jobs: the time to all first plans, the mean
// gap then and at the end, and the memory along the way.
//
//	go test ./cmd/laneplan -run '^$' -bench ThousandGangs -benchtime 1x -timeout 60m
func BenchmarkThousandGangs(b *testing.B) {
	gangs, budget := 1000, "10m"
	if text := os.Getenv("LANEPLAN_GANGS"); text != "" {
		var err error
		gangs, err = strconv.Atoi(text)
		require.NoError(b, err)
	}
	if text := os.Getenv("LANEPLAN_BUDGET"); text != "" {
		budget = text
	}
	for range b.N {
		shop, orders := manyGangs(b, gangs, 4, 40)
		n := nightOf{shop, orders, filepath.Join(b.TempDir(), "night")}
		begun := time.Now()
		p := started(b, "batch", "--shop", n.shop, "--orders", n.orders, "--out", n.out, "--no-split", "--date", "2026-11-30", "--budget", budget, "--jobs", "2")
		var memory []float64
		planned := 0
		for line := range p.lines {
			switch {
			case strings.Contains(line, `msg="gang planned"`):
				if planned++; planned%(gangs/10) == 0 {
					memory = append(memory, residentMB(b, p.Process.Pid))
				}
			case strings.Contains(line, `msg="round begun" round=2`):
				b.ReportMetric(time.Since(begun).Seconds(), "s-to-first-plans")
				b.ReportMetric(meanGap(b, n), "%-gap-then")
			}
		}
		require.NoError(b, p.Wait())
		b.ReportMetric(time.Since(begun).Seconds(), "s-in-all")
		b.ReportMetric(meanGap(b, n), "%-gap-at-the-end")
		require.NotEmpty(b, memory)
		b.ReportMetric(memory[0], "MB-after-a-tenth")
		b.ReportMetric(slices.Max(memory), "MB-at-most")
		b.Logf("MB along the way: %.0f", memory)
	}
}

// meanGap of the gangs that have a plan, in percent.
func meanGap(b *testing.B, n nightOf) float64 {
	b.Helper()
	sum, count := 0.0, 0
	for _, g := range n.summary(b).Gangs {
		if g.Folder != "" {
			sum += planfile.Decimal(g.Gap).InexactFloat64()
			count++
		}
	}
	return 100 * sum / float64(max(1, count))
}

// BenchmarkSoak kills a batch of 200 gangs 50 times at random moments and runs
// it to its end: nothing may differ from the batch that nobody disturbed.
//
//	go test ./cmd/laneplan -run '^$' -bench Soak -benchtime 1x -timeout 60m
func BenchmarkSoak(b *testing.B) {
	const gangs, kills = 200, 50
	for range b.N {
		shop, orders := manyGangs(b, gangs, 2, 8)
		n := nightOf{shop, orders, filepath.Join(b.TempDir(), "night")}
		args := []string{"batch", "--shop", n.shop, "--orders", n.orders, "--out", n.out, "--no-split", "--date", "2026-11-30", "--work", "0.02", "--no-times", "--jobs", "2"}
		p := started(b, args...)
		require.Equal(b, exitDone, p.end(), p.log.String())
		want := filesOf(b, n.out)
		require.NoError(b, os.RemoveAll(n.out))
		random := rand.New(rand.NewPCG(13, 17))
		killed, runs := 0, 0
		for killed < kills {
			runs++
			p := started(b, args...)
			// So that the kills are spread over the whole batch.
			for range 1 + random.IntN(3*gangs/kills) {
				p.until("gang planned")
			}
			time.Sleep(time.Duration(random.IntN(50_000)) * time.Microsecond)
			_ = p.Process.Signal(syscall.SIGKILL)
			if p.end() == -1 {
				killed++
			} else if killed < kills { // it was done before the kill: once more from the start
				require.NoError(b, os.RemoveAll(n.out))
			}
		}
		p = started(b, args...)
		require.Equal(b, exitDone, p.end(), p.log.String())
		sameFiles(b, want, filesOf(b, n.out), "after the kills")
		b.ReportMetric(float64(killed), "kills")
		b.ReportMetric(float64(len(want)), "files-compared")
	}
}
