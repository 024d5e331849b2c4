package batch

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/batch/folder"
	"laneplan/jobs/batch/summary"
	"laneplan/jobs/planfile"
	"laneplan/jobs/ticket"
)

// guess stands in for Plan where a test is about the batch and not about
// planning: its cost falls with the work, and depends on the task alone.
func guess(_ context.Context, t Task) Result {
	hash := fnv.New32()
	_, _ = hash.Write([]byte(t.Gang.ID))
	width := float64(hash.Sum32()%1000) + 100
	work := t.Work
	outcome := Outcome{Plan: planfile.Gang{ID: t.Gang.ID, Solve: &planfile.Solve{Stop: "work limit"}, Totals: &planfile.Totals{Sections: 1, Overs: t.Round}}}
	if t.Before != nil {
		work += planfile.Decimal(t.Before.Plan.Solve.Work).InexactFloat64()
		outcome = *t.Before
	}
	outcome.Shared = outcome.Shared || t.Shares
	money := func(x float64) json.Number { return json.Number(decimal.NewFromFloat(x).StringFixed(2)) }
	cost := 1000 + width/(1+work)
	outcome.Plan.Solve = &planfile.Solve{Stop: "work limit", Work: json.Number(decimal.NewFromFloat(work).Round(6).String())}
	outcome.Plan.Cost, outcome.Plan.Bound = &planfile.Cost{Total: money(cost)}, &planfile.Bound{Cost: "1000.00", Gap: money((cost - 1000) / cost)}
	outcome.Cost = decimal.NewFromFloat(cost).Round(2)
	alone := decimal.NewFromInt(3000)
	outcome.Alone = &alone
	r := Result{Key: t.Key, Gang: t.Gang.ID, Outcome: &outcome, Work: t.Work}
	for _, name := range ticket.FileNames() {
		r.Files = append(r.Files, ticket.File{Name: name, Data: fmt.Appendf(nil, "%s of %s after %s", name, t.Gang.ID, outcome.Plan.Solve.Work)})
	}
	return r
}

// book is a batch over the mill's orders.
func book(t testing.TB, out string, runner Runner) Options {
	t.Helper()
	shop, pooling := mill(t)
	f, err := folder.Open(out)
	require.NoError(t, err)
	t.Cleanup(func() { _ = f.Close() })
	return Options{Folder: f, Program: "test", Shop: shop, Pooling: pooling, Runner: runner, Slots: 2, Work: 1, Seed: 1, NoTimes: true}
}

// finished runs a batch to its end and gives what is in its folder.
func finished(t *testing.T, out string, runner Runner) map[string]string {
	t.Helper()
	o := book(t, out, runner)
	night, err := Run(t.Context(), o)
	require.NoError(t, err)
	require.Equal(t, summary.Done, night.State)
	require.NoError(t, o.Folder.Close())
	return filesIn(t, out)
}

// quick is a folder in memory where there is one: syncing thousands of files
// to a disk takes minutes.
func quick(t testing.TB) string {
	t.Helper()
	folder, err := os.MkdirTemp("/dev/shm", "laneplan-*")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	return folder
}

// filesIn a folder, without those that only the program reads.
func filesIn(t *testing.T, out string) map[string]string {
	t.Helper()
	files := map[string]string{}
	require.NoError(t, filepath.WalkDir(out, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() && e.Name() != folder.StateFolder {
			return err
		}
		if e.IsDir() {
			return fs.SkipDir
		}
		data, err := os.ReadFile(path)
		name, _ := filepath.Rel(out, path)
		files[filepath.ToSlash(name)] = string(data)
		return err
	}))
	return files
}

// same compares two folders, with a short message.
func same(t *testing.T, want, got map[string]string, message string) {
	t.Helper()
	var differ []string
	for name, text := range want {
		if got[name] != text {
			differ = append(differ, name)
		}
	}
	for name := range got {
		if _, known := want[name]; !known {
			differ = append(differ, "+"+name)
		}
	}
	assert.Empty(t, differ, message)
}

var guesser = Pool{Jobs: 2, Plan: guess}

// dying ends a batch after some results, as a kill between two of them does:
// nothing is told, nothing is cleared away.
type dying struct {
	after *int
	Runner
}

var errKilled = errors.New("killed")

func (d dying) Run(ctx context.Context, tasks []Task, each func(Result) error) error {
	return d.Runner.Run(ctx, tasks, func(r Result) error {
		if *d.after--; *d.after < 0 {
			return errKilled
		}
		return each(r)
	})
}

func TestAKillBetweenAnyTwoResultsLosesNothing(t *testing.T) {
	want := finished(t, quick(t), guesser)
	kills := 0
	for after := 0; ; after++ {
		out, left := quick(t), after
		o := book(t, out, dying{&left, guesser})
		_, err := Run(t.Context(), o)
		require.NoError(t, o.Folder.Close())
		if err == nil {
			break
		}
		require.ErrorIs(t, err, errKilled)
		kills++
		same(t, want, finished(t, out, guesser), fmt.Sprintf("killed after %d results", after))
	}
	assert.Greater(t, kills, 15, "kills before the end")
}

// Killed again and again, each time after one more result.
func TestManyKillsLoseNothing(t *testing.T) {
	want := finished(t, quick(t), guesser)
	out := quick(t)
	for kills := 0; ; kills++ {
		one := 1
		o := book(t, out, dying{&one, guesser})
		_, err := Run(t.Context(), o)
		require.NoError(t, o.Folder.Close())
		if err == nil {
			assert.Greater(t, kills, 15)
			break
		}
	}
	same(t, want, filesIn(t, out), "killed after every result")
}

func TestEveryGangIsPlannedBeforeAnyIsPlannedBetter(t *testing.T) {
	var seen []string
	var rounds []int
	o := book(t, quick(t), Pool{Jobs: 1, Plan: func(ctx context.Context, task Task) Result {
		if !task.Shares {
			seen, rounds = append(seen, task.Gang.ID), append(rounds, task.Round)
		}
		return guess(ctx, task)
	}})
	_, err := Run(t.Context(), o)
	require.NoError(t, err)
	gangs := len(o.Pooling.Gangs)
	assert.Len(t, uniq(seen[:gangs]), gangs)
	assert.IsNonDecreasing(t, rounds)
	assert.Greater(t, len(seen), 2*gangs)
}

func uniq(words []string) map[string]bool {
	set := map[string]bool{}
	for _, w := range words {
		set[w] = true
	}
	return set
}

func TestTheBudgetIsUsedUpAndNotMore(t *testing.T) {
	var given atomic.Int64 // in thousandths
	o := book(t, quick(t), Pool{Jobs: 2, Plan: func(ctx context.Context, task Task) Result {
		given.Add(int64(task.Work*1000 + 0.5))
		return guess(ctx, task)
	}})
	_, err := Run(t.Context(), o)
	require.NoError(t, err)
	whole := float64(len(o.Pooling.Gangs)) * o.Work
	assert.InDelta(t, whole, float64(given.Load())/1000, 0.02*whole)
}

func TestASecondRunDoesNothing(t *testing.T) {
	out := quick(t)
	want := finished(t, out, guesser)
	none := Pool{Jobs: 2, Plan: func(_ context.Context, task Task) Result {
		t.Errorf("gang %s is planned again", task.Gang.ID)
		return Result{}
	}}
	same(t, want, finished(t, out, none), "the second run")
}

func TestMoreBudgetGoesOn(t *testing.T) {
	out := quick(t)
	finished(t, out, guesser)
	least := 99
	o := book(t, out, Pool{Jobs: 1, Plan: func(ctx context.Context, task Task) Result {
		least = min(least, task.Round)
		return guess(ctx, task)
	}})
	o.Work = 10
	_, err := Run(t.Context(), o)
	require.NoError(t, err)
	assert.Greater(t, least, 1, "first plans are kept")
	assert.Less(t, least, 99, "and bettered")
}

// someGang is the name of a gang's folder, or "" where there is none. Those
// that are being written are hidden.
func someGang(out string) string {
	records, _ := filepath.Glob(filepath.Join(out, "[^.]*", folder.RecordFile))
	if len(records) == 0 {
		return ""
	}
	return filepath.Base(filepath.Dir(records[0]))
}

// What somebody takes away or changes while the batch runs is made again.
func TestAFolderRemovedBeneathIt(t *testing.T) {
	want := finished(t, quick(t), guesser)
	for name, remove := range map[string]func(out, gang string) error{
		"a gang's folder":    func(out, gang string) error { return os.RemoveAll(filepath.Join(out, gang)) },
		"one document":       func(out, gang string) error { return os.Remove(filepath.Join(out, gang, "run-sheet.pdf")) },
		"a document's bytes": func(out, gang string) error { return os.WriteFile(filepath.Join(out, gang, "plan.json"), nil, 0o600) },
		"the output folder":  func(out, _ string) error { return os.RemoveAll(out) },
		"the state":          func(out, _ string) error { return os.RemoveAll(filepath.Join(out, folder.StateFolder)) },
	} {
		out := filepath.Join(quick(t), "night")
		n := 0
		got := finished(t, out, Pool{Jobs: 1, Plan: func(ctx context.Context, task Task) Result {
			if n++; n == 4 { // by now two results are written and the third is being written
				gang := someGang(out)
				for range 1000 { // as long as the batch is writing there
					if remove(out, gang) == nil {
						break
					}
					if _, err := os.Lstat(filepath.Join(out, gang)); err != nil {
						break
					}
					time.Sleep(time.Millisecond)
				}
			}
			return guess(ctx, task)
		}})
		same(t, want, got, name+" removed in mid-run")

		// And between two runs.
		require.NoError(t, remove(out, someGang(out)))
		same(t, want, finished(t, out, guesser), name+" removed between two runs")
	}
}

func TestOneGangDoesNotStopTheOthers(t *testing.T) {
	out := quick(t)
	held := make(chan struct{})
	t.Cleanup(func() { close(held) })
	bad := map[string]func(context.Context, Task) Result{
		"lid-48-pp-60": func(_ context.Context, task Task) Result {
			return Result{Key: task.Key, Failure: Fail(Infeasible, "no plan can meet the demands")}
		},
		"lid-48-pp-60-food": func(ctx context.Context, task Task) Result {
			hard(&task)
			return Plan(ctx, panicking{}, task)
		},
		"pouch-100x150-pp-60-laminate": func(context.Context, Task) Result {
			<-held // never stops, whatever it is told
			return Result{}
		},
	}
	o := book(t, out, Pool{Jobs: 2, Grace: time.Millisecond, Plan: func(ctx context.Context, task Task) Result {
		if plan, is := bad[task.Gang.ID]; is {
			return plan(ctx, task)
		}
		return guess(ctx, task)
	}})
	o.GiveUp = time.Hour
	// The one that hangs is given up at once, the others have time.
	inner := o.Runner.(Pool)
	o.Runner = perTask{inner, func(task *Task) {
		if task.Gang.ID == "pouch-100x150-pp-60-laminate" {
			task.GiveUp = time.Millisecond
		}
	}}
	night, err := Run(t.Context(), o)
	require.NoError(t, err)
	assert.Equal(t, summary.Partly, night.State)
	kinds := map[string]string{}
	for _, g := range night.Gangs {
		if g.Failure == nil {
			assert.Equal(t, summary.Planned, g.State, g.ID)
			assert.FileExists(t, filepath.Join(out, g.Folder, "run-sheet.pdf"))
			continue
		}
		kinds[g.ID] = g.Failure.Kind
		assert.NotEmpty(t, g.Failure.Do)
	}
	assert.Equal(t, map[string]string{"lid-48-pp-60": "infeasible", "lid-48-pp-60-food": "broken", "pouch-100x150-pp-60-laminate": "time-out"}, kinds)
}

// perTask changes tasks on their way.
type perTask struct {
	Runner
	change func(*Task)
}

func (p perTask) Run(ctx context.Context, tasks []Task, each func(Result) error) error {
	for i := range tasks {
		p.change(&tasks[i])
	}
	return p.Runner.Run(ctx, tasks, each)
}

// Told to stop in the middle of a round, a batch writes what it has; the next
// run comes to what an undisturbed one gives.
func TestToldToStop(t *testing.T) {
	want := finished(t, quick(t), guesser)
	for stop := 1; stop <= 20; stop++ {
		out := quick(t)
		ctx, cancel := context.WithCancel(t.Context())
		var mutex sync.Mutex
		n := 0
		o := book(t, out, Pool{Jobs: 2, Plan: func(ctx context.Context, task Task) Result {
			mutex.Lock()
			n++
			if n == stop {
				cancel()
			}
			mutex.Unlock()
			r := guess(ctx, task)
			if ctx.Err() != nil { // as Plan does it: something less good
				half := task
				half.Work /= 2
				r = guess(ctx, half)
				r.CutShort = true
			}
			return r
		}})
		night, err := Run(ctx, o)
		cancel()
		require.ErrorIs(t, err, ErrInterrupted)
		require.Equal(t, summary.CutShort, night.State)
		assert.Positive(t, night.Totals.CutShort)
		assert.Zero(t, night.Totals.Failed)
		require.NoError(t, o.Folder.Close())
		same(t, want, finished(t, out, guesser), fmt.Sprintf("told to stop in task %d", stop))
	}
}

// Whoever looks at a clock that was put back must not lose the night's date.
func TestAClockThatWasPutBack(t *testing.T) {
	out, one := quick(t), 1
	o := book(t, out, dying{&one, guesser})
	_, err := Run(t.Context(), o)
	require.ErrorIs(t, err, errKilled)
	now := time.Now()
	for name, tt := range map[string]struct {
		now  time.Time
		want bool
	}{
		"soon after":                   {now.Add(time.Minute), true},
		"the clock is back at 1970":    {time.Unix(0, 0), true},
		"the next night is a new date": {now.Add(20 * time.Hour), false},
	} {
		date, _, resumes, err := Resumes(o.Folder, tt.now)
		require.NoError(t, err)
		assert.Equal(t, tt.want, resumes, name)
		if tt.want {
			assert.Equal(t, monday, date.UTC(), name)
		}
	}
	require.NoError(t, o.Folder.Close())
	finished(t, out, guesser)
	f, err := folder.Open(out)
	require.NoError(t, err)
	defer f.Close()
	_, _, resumes, err := Resumes(f, now)
	require.NoError(t, err)
	assert.False(t, resumes, "it is finished")
}

func TestAGangsFolderThatCannotBeWritten(t *testing.T) {
	out := quick(t)
	require.NoError(t, os.WriteFile(filepath.Join(out, "lid-48-pp-60"), []byte("a file where a folder should be"), 0o600))
	o := book(t, out, guesser)
	night, err := Run(t.Context(), o)
	require.NoError(t, err)
	assert.Equal(t, 1, night.Totals.Failed)
	for _, g := range night.Gangs {
		if g.Failure != nil {
			assert.Equal(t, "lid-48-pp-60", g.ID)
			assert.Equal(t, string(NotWritten), g.Failure.Kind)
		}
	}
	// Out of the way, only that one is planned.
	require.NoError(t, o.Folder.Close())
	require.NoError(t, os.Remove(filepath.Join(out, "lid-48-pp-60")))
	var planned []string
	got := finished(t, out, Pool{Jobs: 1, Plan: func(ctx context.Context, task Task) Result {
		planned = append(planned, task.Gang.ID)
		return guess(ctx, task)
	}})
	assert.Equal(t, map[string]bool{"lid-48-pp-60": true}, uniq(planned))
	assert.Contains(t, got, "lid-48-pp-60/plan.json")
}

// What a scheduler put into a gang's folder is not thrown away with the old
// plan.
func TestForeignFilesAreKept(t *testing.T) {
	out := quick(t)
	finished(t, out, guesser)
	require.NoError(t, os.WriteFile(filepath.Join(out, "lid-48-pp-60", "notes.txt"), []byte("ask Ida"), 0o600))
	o := book(t, out, guesser)
	o.Seed = 2
	_, err := Run(t.Context(), o)
	require.NoError(t, err)
	kept := ""
	for name, text := range filesIn(t, out) {
		if strings.HasSuffix(name, "notes.txt") {
			kept = name + ": " + text
		}
	}
	assert.Equal(t, "earlier/2026-11-30/lid-48-pp-60/notes.txt: ask Ida", kept)
}

func TestOptionsOfABatch(t *testing.T) {
	for _, change := range []func(*Options){
		func(o *Options) { o.Work = 0 }, func(o *Options) { o.Budget = time.Hour }, func(o *Options) { o.Slots = 0 },
	} {
		o := book(t, quick(t), guesser)
		change(&o)
		_, err := Run(t.Context(), o)
		assert.ErrorContains(t, err, "want a budget of time or of work")
	}
}

func TestWhatWasComparedIsKnownAgain(t *testing.T) {
	out := quick(t)
	f, err := folder.Open(out)
	require.NoError(t, err)
	defer f.Close()
	_, pooling := mill(t)
	one, two := pooling.Gangs[0].Gang, pooling.Gangs[1].Gang
	c := NewComparisons(f, "v1")
	cost, err := c.Cost(t.Context(), one)
	require.NoError(t, err)
	_, err = c.Cost(t.Context(), two)
	require.NoError(t, err)
	require.NoError(t, c.Keep())

	ended, cancel := context.WithCancel(t.Context()) // so that nothing is planned
	cancel()
	c = NewComparisons(f, "v1")
	again, err := c.Cost(ended, one)
	require.NoError(t, err)
	assert.Equal(t, cost, again)
	require.NoError(t, c.Keep())
	_, err = NewComparisons(f, "v1").Cost(ended, two)
	assert.Error(t, err, "what the last batch did not ask for is forgotten")
	_, err = NewComparisons(f, "v2").Cost(ended, one)
	assert.Error(t, err, "another version may plan otherwise")
	one.Orders[0].Versions[0].Quantity++
	_, err = NewComparisons(f, "v1").Cost(ended, one)
	assert.Error(t, err, "another gang")
	require.NoError(t, os.WriteFile(filepath.Join(out, folder.StateFolder, comparedFile), []byte("{half"), 0o600))
	one.Orders[0].Versions[0].Quantity--
	again, err = NewComparisons(f, "v1").Cost(t.Context(), one)
	require.NoError(t, err)
	assert.Equal(t, cost, again, "what is damaged is planned anew")
}
