package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/batch/folder"
	"laneplan/jobs/batch/summary"
	"laneplan/jobs/ledger"
	"laneplan/jobs/starter"
)

// nightly is the program as one of its own, with the lines that it logs.
type nightly struct {
	*exec.Cmd
	lines chan string // closed when it has ended
	log   bytes.Buffer
}

// started runs the program, which testscript put on the path under its name.
func started(t testing.TB, args ...string) *nightly {
	t.Helper()
	// A hang ends the test, and never decides it.
	guard := 3 * time.Minute
	if _, long := t.(*testing.B); long {
		guard = time.Hour
	}
	ctx, cancel := context.WithTimeout(context.Background(), guard)
	t.Cleanup(cancel)
	p := &nightly{Cmd: exec.CommandContext(ctx, "laneplan", args...), lines: make(chan string, 1000)}
	stderr, err := p.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, p.Start())
	go func() {
		defer close(p.lines)
		for s := bufio.NewScanner(stderr); s.Scan(); {
			p.lines <- s.Text()
		}
	}()
	return p
}

// until reads what it logs up to a line with these words; false where it ended
// before.
func (p *nightly) until(words string) bool {
	for line := range p.lines {
		fmt.Fprintln(&p.log, line)
		if strings.Contains(line, words) {
			return true
		}
	}
	return false
}

// end reads the rest and gives the exit code; -1 where it was killed.
func (p *nightly) end() int {
	p.until("\x00")
	err := p.Wait()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return exit.ExitCode()
	}
	return 0
}

// sixGangs are planned in several rounds.
var sixGangs = threeGangs +
	"5,Hill,dill,jar-70x100,paper-80,2100,2026-12-01\n5,Hill,bay,jar-70x100,paper-80,1300,2026-12-01\n6,Dale,clove,jar-70x100,paper-80,700,2026-12-01\n" +
	"7,Moor,anise,jar-70x100,pp-60,900,2026-12-01\n8,Moor,chive,pouch-100x150,pp-60,750,2026-12-02\n"

// sameFiles compares two folders, with a short message.
func sameFiles(t testing.TB, want, got map[string]string, message string) {
	t.Helper()
	var differ []string
	for name := range want {
		if want[name] != got[name] {
			differ = append(differ, name)
		}
	}
	for name := range got {
		if _, known := want[name]; !known {
			differ = append(differ, "more: "+name)
		}
	}
	assert.Empty(t, differ, message)
}

// Killed at random moments and run again, over and over, a batch ends with the
// bytes of one that nobody disturbed. The clock decides when a kill comes, and
// nothing else.
func TestKilledAtRandomMoments(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no SIGKILL there")
	}
	const kills = 12
	n := newNight(t, sixGangs)
	args := n.args("--no-times", "--work", "0.3", "--jobs", "2")
	require.Equal(t, exitDone, laneplan(t, args...).code)
	want := filesOf(t, n.out)

	random := rand.New(rand.NewPCG(7, 11))
	moments := []string{"batch begun", "round begun", "gang planned", "gang planned", "gang planned", "batch ended"}
	killed, stale, rounds := 0, 0, 0
	for killed < kills {
		rounds++
		require.Less(t, rounds, 5*kills, "the batch ends before anyone can kill it")
		require.NoError(t, os.RemoveAll(n.out))
		for range 4 { // on what the kill before left
			p := started(t, args...)
			// After some line of the log, and a little later.
			for range 1 + random.IntN(3) {
				p.until(moments[random.IntN(len(moments))])
			}
			pause := time.NewTimer(time.Duration(random.IntN(25_000)) * time.Microsecond)
			<-pause.C
			_ = p.Process.Signal(syscall.SIGKILL)
			if p.end() == -1 {
				killed++
			}
			if strings.Contains(p.log.String(), "the last batch was killed") {
				stale++
			}
		}
		p := started(t, args...)
		require.Equal(t, exitDone, p.end(), p.log.String())
		sameFiles(t, want, filesOf(t, n.out), fmt.Sprintf("after %d kills", killed))
	}
	assert.Positive(t, stale, "a lock that was left behind is known to be stale")
	book, err := ledger.OpenThere(filepath.Join(n.out, ledger.FileName))
	require.NoError(t, err)
	defer book.Close()
	entries, err := book.Entries(t.Context(), ledger.Filter{})
	require.NoError(t, err)
	assert.Len(t, entries, n.summary(t).Totals.Gangs, "every plan is in the ledger once")
}

// SIGTERM and SIGINT end a batch at once: what it has is written as cut short.
func TestASignalEndsABatch(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no signals there")
	}
	for _, signal := range []os.Signal{syscall.SIGTERM, os.Interrupt} {
		n := newNight(t, threeGangs)
		n.orders = filepath.Join(filepath.Dir(n.shop), starter.CSVFile)
		p := started(t, n.args("--budget", "40s", "--jobs", "2")...)
		// The largest gang comes first and takes its seconds, so that it is under
		// way while another is done.
		require.True(t, p.until("gang planned"), p.log.String())
		require.NoError(t, p.Process.Signal(signal))
		require.Equal(t, exitInterrupted, p.end(), p.log.String())
		assert.Contains(t, p.log.String(), "run the same command again to go on")
		told := n.summary(t)
		assert.Equal(t, summary.CutShort, told.State)
		assert.Zero(t, told.Totals.Failed)
		assert.Positive(t, told.Totals.CutShort)
		for _, g := range told.Gangs {
			if g.State == summary.CutShort {
				assert.FileExists(t, filepath.Join(n.out, g.Folder, "run-sheet.pdf"))
				assert.Contains(t, g.Warnings, "cut short: run the batch again for the whole plan")
			}
		}
	}
}

// hook calls do once, when a line with these words is written.
type hook struct {
	io.Writer
	words string
	do    func()
	once  sync.Once
}

func (h *hook) Write(text []byte) (int, error) {
	if bytes.Contains(text, []byte(h.words)) {
		h.once.Do(h.do)
	}
	return h.Writer.Write(text)
}

// when runs the program in this process, and something when its log says so.
func when(ctx context.Context, words string, do func(), args ...string) ran {
	var stdout, stderr bytes.Buffer
	code := run(ctx, args, &stdout, &hook{Writer: &stderr, words: words, do: do})
	return ran{code, stdout.String(), stderr.String()}
}

func TestAShopFileThatChangesInMidRun(t *testing.T) {
	n := newNight(t, threeGangs)
	require.Equal(t, exitDone, n.run(t, "--no-times").code)
	want := filesOf(t, n.out)
	require.NoError(t, os.RemoveAll(n.out))
	shop, err := os.ReadFile(n.shop)
	require.NoError(t, err)
	got := when(t.Context(), "round begun", func() {
		assert.NoError(t, os.WriteFile(n.shop, append(shop, "# half a line"...), 0o600))
	}, n.args("--no-times")...)
	assert.Equal(t, exitDone, got.code)
	assert.Contains(t, got.stderr, "inputs changed while the batch ran: run it again, it plans only what is changed")
	sameFiles(t, want, filesOf(t, n.out), "planned by the file as it was read")
	// A comment changes nothing that is planned.
	assert.Contains(t, n.run(t, "--no-times").stderr, "unchanged=3")
}

func TestTheOutputFolderIsTaken(t *testing.T) {
	n := newNight(t, threeGangs)
	f, err := folder.Open(n.out)
	require.NoError(t, err)
	got := n.run(t)
	assert.Equal(t, exitInput, got.code)
	assert.Contains(t, got.stderr, fmt.Sprintf("another batch works in this folder: process %d on ", os.Getpid()))
	require.NoError(t, f.Close())
	assert.Equal(t, exitDone, n.run(t).code)
}

// After midnight a batch that was stopped goes on with the day of its first
// run, also where the clock was put back since.
func TestTheDayOfAStoppedBatchStays(t *testing.T) {
	evening := time.Date(2026, 11, 30, 23, 50, 0, 0, time.UTC)
	for name, later := range map[string]time.Time{
		"after midnight": evening.Add(time.Hour), "the clock was put back": evening.AddDate(-3, 0, 0),
	} {
		t.Run(name, func(t *testing.T) {
			n := newNight(t, threeGangs)
			args := []string{"batch", "--shop", n.shop, "--orders", n.orders, "--out", n.out, "--no-split", "--work", "0.05", "--no-times"}
			t.Cleanup(func() { now = time.Now })
			now = func() time.Time { return evening }
			ctx, cancel := context.WithCancel(t.Context())
			first := when(ctx, "round begun", cancel, args...)
			require.Equal(t, exitInterrupted, first.code, first.stderr)
			now = func() time.Time { return later }
			second := laneplan(t, args...)
			require.Equal(t, exitDone, second.code, second.stderr)
			assert.Equal(t, "2026-11-30", n.summary(t).Date)
			// Finished, the next run is another night's.
			now = func() time.Time { return evening.Add(time.Hour) }
			require.Equal(t, exitDone, laneplan(t, args...).code)
			assert.Equal(t, "2026-12-01", n.summary(t).Date)
		})
	}
}
