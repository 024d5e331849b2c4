// Package batch plans a whole order book while nobody watches: every gang gets
// a good plan quickly, then the widest gaps in money get what is left of the
// budget. A gang is planned in steps (Task) that any process can work off
// (Plan); a Runner spreads them over the cores of this machine or over others.
//
//	f, err := folder.Open("out")
//	pool := batch.Pool{Plan: func(ctx context.Context, t batch.Task) batch.Result { return batch.Plan(ctx, engine, t) }}
//	night, err := batch.Run(ctx, batch.Options{Folder: f, Shop: shop, Pooling: pooling, Runner: pool, Slots: 2, Budget: 6 * time.Hour})
//
// Killed at any moment and run again it goes on where it was: a step's result
// is on the disk whole or not at all, and which steps there are follows from
// the results of the steps before. So with a budget of work a batch that was
// killed ends with the same bytes as one that was not; with a budget of time
// it spends the same time, and no clock but the stop-watch of this process
// counts.
package batch

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"slices"
	"strings"
	"time"

	"laneplan/jobs"
	"laneplan/jobs/batch/folder"
	"laneplan/jobs/batch/summary"
	"laneplan/jobs/dossier"
	"laneplan/jobs/ledger"
	"laneplan/jobs/planfile"
	"laneplan/jobs/pool"
	"laneplan/jobs/ticket"
)

// Options of a batch. Folder, Shop, Pooling and Runner have to be set, and one
// of Budget and Work.
type Options struct {
	Folder  *folder.Folder
	Program string // the program's version
	Shop    *jobs.Shop
	Pooling pool.Pooling
	Runner  Runner
	// Slots are the tasks that the runner works off at a time, from 1.
	Slots int
	// Budget is the time that the batch may take, documents and all; it is
	// soft: every gang gets its first plan. Work is the work for each gang on
	// average, in the units of nest.Options; it takes as long as it takes.
	Budget time.Duration
	Work   float64
	Gap    float64 // at which a gang is good enough
	// Begun is what the clock says, for Resumes alone; zero asks it.
	Begun time.Time
	Seed  int64
	// NoTimes leaves clocks and seconds out of what is written, so that equal
	// batches are equal bytes.
	NoTimes bool
	GiveUp  time.Duration // see Task
	// Log gets an event for everything that happens; nil is none.
	Log *slog.Logger
	// Watch, if not nil, is called whenever something changed.
	Watch func(Status)
	// Page writes the morning page; nil leaves it out.
	Page func(io.Writer, summary.Night, map[string]planfile.Gang) error
	// Ledger gets an entry for every plan; nil is none.
	Ledger *ledger.Ledger
}

// Status of a batch under way.
type Status struct {
	Gangs, Planned, Failed int
	Round                  int
	Doing                  string // what the tasks are: round, savings, documents
	Tasks, TasksDone       int    // of that
	// Saving of all plans so far against every order alone.
	Saving   string
	Currency string
	Elapsed  time.Duration
	Left     time.Duration // of the budget, or estimated; 0 is not known
}

// ErrInterrupted says that ctx ended before the batch did. What was done is
// written.
var ErrInterrupted = errors.New("interrupted")

// gang is one gang of a batch under way.
type gang struct {
	pool.Gang
	index   int
	folder  string
	base    Task // of all its rounds
	input   string
	record  *Record // nil before the first plan
	old     *Record // of another input: an earlier night's
	kept    bool    // whole before this batch began: it has no share in the budget
	settled bool    // whole when this same batch ended once before
	stuck   bool    // has a plan, and is not planned further
	failure *Failure
	notes   []string // warnings of this run
}

// night is a batch under way.
type night struct {
	Options
	begun   time.Time
	gangs   []*gang
	byKey   map[string]*gang
	tasks   map[string]Task // of the round, by key
	status  Status
	written time.Time
	lost    []string // warnings of the batch as a whole
}

// Run runs a batch. The summary tells how it went, also beside an error:
// ErrInterrupted, ErrDisk, or what else kept it from going on. Gangs that
// failed are no error.
func Run(ctx context.Context, o Options) (summary.Night, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if (o.Budget > 0) == (o.Work > 0) || o.Slots < 1 {
		return summary.Night{}, fmt.Errorf("batch: want a budget of time or of work and a slot, got %v, %v and %d", o.Budget, o.Work, o.Slots)
	}
	n := &night{Options: o, begun: time.Now()}
	if n.Begun.IsZero() {
		n.Begun = n.begun
	}
	err := n.run(ctx)
	if err == nil && ctx.Err() != nil {
		err = ErrInterrupted
	}
	state := summary.Done
	switch {
	case err != nil:
		state = summary.CutShort
	case n.failed() > 0 || slices.ContainsFunc(o.Pooling.Out, func(out pool.Out) bool { return out.Must }):
		state = summary.Partly
	}
	told, failed := n.write(state)
	err = cmp.Or(err, failed)
	o.Log.Info("batch ended", "state", state, "planned", told.Totals.Planned, "failed", told.Totals.Failed, "waiting", told.Totals.Waiting,
		"cost", told.Totals.Cost, "saving", told.Totals.Saving, "currency", told.Currency)
	return told, err
}

func (n *night) run(ctx context.Context) error {
	if err := n.prepare(); err != nil {
		return err
	}
	open := n.count(func(g *gang) bool { return !g.kept && !g.settled })
	n.Log.Info("batch begun", "gangs", len(n.gangs), "unchanged", len(n.gangs)-open, "date", n.Pooling.Date.Format(time.DateOnly))
	for _, g := range n.gangs {
		if g.record != nil && !g.kept && !g.settled {
			n.Log.Info("gang goes on", "gang", g.ID, "rounds", len(g.record.Rounds), "cut_short", g.record.CutShort)
		}
	}
	if open > 0 {
		if _, err := n.write(summary.Running); err != nil {
			return err
		}
	}
	for round := 1; round <= mostRounds && ctx.Err() == nil; round++ {
		n.status.Round = round
		if err := n.work(ctx, "round begun", n.plan(round), "round", round); err != nil {
			return err
		}
	}
	if ctx.Err() != nil {
		n.note(context.WithoutCancel(ctx))
		return nil
	}
	if err := n.share(ctx); err != nil || ctx.Err() != nil {
		return err
	}
	if err := n.mend(ctx); err != nil || ctx.Err() != nil {
		return err
	}
	if err := n.retire(); err != nil {
		return err
	}
	n.note(ctx)
	m := n.memory()
	m.Finished = true
	return n.Folder.SetState(memoryFile, m)
}

// prepare makes the gangs' tasks and looks for what is there of them.
func (n *night) prepare() error {
	var last memory
	found, err := n.Folder.State(memoryFile, &last)
	if err != nil {
		n.Log.Warn("what the last batch remembered is damaged and not used", "error", err)
		found = false
	}
	for i, g := range n.Pooling.Gangs {
		one := &gang{Gang: g, index: i, folder: ticket.FolderName(g.ID)}
		one.base = Task{Program: n.Program, Gang: g.Gang, Date: n.Pooling.Date, Gap: n.Gap, Seed: n.Seed, NoTimes: n.NoTimes, GiveUp: n.GiveUp}
		if undated, dates := g.WithoutDates(); dates {
			one.base.Undated = &undated.Gang
		}
		if len(g.Orders) > 1 {
			one.base.Alone = pool.Apart(n.Shop, n.Pooling, g, func(string) bool { return true })
		}
		if one.input, err = one.base.Input(); err != nil {
			return err
		}
		if err := n.recall(one); err != nil {
			return err
		}
		n.gangs = append(n.gangs, one)
	}
	now := n.memory()
	for _, g := range n.gangs {
		if !found || g.record == nil || g.record.CutShort || last.Inputs[g.ID] != g.input {
			continue
		}
		switch {
		case last.same(now):
			// The same batch again shares its budget among the same gangs.
			g.kept, g.settled = slices.Contains(last.Kept, g.ID), last.Finished
		case last.Finished:
			g.kept = n.Budget <= last.Budget && n.Work <= last.Work
		default:
			g.kept = slices.Contains(last.Kept, g.ID)
		}
	}
	return n.Folder.SetState(memoryFile, n.memory())
}

// recall reads what an earlier run wrote of a gang.
func (n *night) recall(g *gang) error {
	var r Record
	got, err := n.Folder.Get(g.folder, &r)
	switch {
	case err != nil:
		return fmt.Errorf("gang %s: %w", g.ID, err)
	case got == folder.Nothing:
	case r.Input == g.input && r.Gang == g.ID:
		g.record = &r
	default:
		g.old = &r
	}
	return nil
}

func (n *night) memory() memory {
	m := memory{
		Program: n.Program, Date: n.Pooling.Date, Begun: n.Begun.UTC().Truncate(time.Second), Budget: n.Budget, Work: n.Work,
		Inputs: map[string]string{}, Kept: []string{},
	}
	for _, g := range n.gangs {
		m.Inputs[g.ID] = g.input
		if g.kept {
			m.Kept = append(m.Kept, g.ID)
		}
	}
	return m
}

// timed says that the budget is a time.
func (n *night) timed() bool { return n.Budget > 0 }

// whole is the effort for the open gangs together.
func (n *night) whole(open int) float64 {
	if n.timed() {
		return n.Budget.Seconds() * float64(n.Slots)
	}
	return n.Work * float64(open)
}

// plan makes the tasks of a round. Who gets how much follows from the rounds
// before alone, so that a batch that goes on shares as it did before.
func (n *night) plan(round int) []Task {
	var open []*gang
	for _, g := range n.gangs {
		if !g.kept && !g.stuck && g.failure == nil {
			open = append(open, g)
		}
	}
	if len(open) == 0 {
		return nil
	}
	count := n.count(func(g *gang) bool { return !g.kept })
	first := firstEffort(n.whole(count)/float64(count), n.timed())
	efforts := make([]float64, len(open))
	if round == 1 {
		for i := range efforts {
			efforts[i] = first
		}
	} else {
		efforts = n.shares(round, first, n.whole(count), open)
	}
	var tasks []Task
	n.byKey, n.tasks = map[string]*gang{}, map[string]Task{}
	order := make([]int, len(open))
	for i := range order {
		order[i] = i
	}
	// The longest first, so that at the end no slot waits long for another.
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(efforts[b], efforts[a]), cmp.Compare(open[b].Versions(), open[a].Versions()))
	})
	for _, i := range order {
		g := open[i]
		if efforts[i] <= 0 || g.settled || g.record.has(round) {
			continue
		}
		t := g.base
		t.Round, t.Seed, t.Before = round, n.Seed+int64(round-1), g.record.before()
		if n.timed() {
			t.Time = time.Duration(efforts[i] * float64(time.Second)).Round(time.Millisecond)
		} else {
			t.Work = math.Round(efforts[i]*1000) / 1000
		}
		if err := t.SetKey(); err != nil {
			g.failure = Fail(Broken, "%v", err)
			continue
		}
		n.byKey[t.Key], n.tasks[t.Key] = g, t
		tasks = append(tasks, t)
	}
	return tasks
}

// Versions of a gang.
func (g *gang) Versions() int { return len(g.Entries()) }

// shares of a round after the first: a third of the budget's rest, then half
// of it, then all.
func (n *night) shares(round int, first, whole float64, open []*gang) []float64 {
	rest := whole
	for _, g := range n.gangs {
		if !g.kept {
			rest -= spent(g.record.until(round))
		}
	}
	if n.timed() {
		rest = math.Min(rest, ((1-sharesPart)*n.Budget.Seconds()-time.Since(n.begun).Seconds())*float64(n.Slots))
	}
	hopes, had, beside := make([]float64, len(open)), make([]float64, len(open)), make([]float64, len(open))
	for i, g := range open {
		history := g.record.until(round)
		hopes[i], had[i] = hope(history), spent(history)
		if len(history) > 0 {
			beside[i] = history[len(history)-1].Beside
		}
	}
	efforts := share(rest/float64(max(1, rounds-round+1)), leastShare*first, hopes, had)
	for i := range efforts {
		efforts[i] = math.Max(0, efforts[i]-beside[i]) // documents take their time too
	}
	return efforts
}

// work works tasks off; the event says what they are.
func (n *night) work(ctx context.Context, event string, tasks []Task, more ...any) error {
	if len(tasks) == 0 {
		return nil
	}
	n.status.Doing, n.status.Tasks, n.status.TasksDone = strings.TrimSuffix(event, " begun"), len(tasks), 0
	n.Log.Info(event, append(more, "gangs", len(tasks))...)
	n.watch()
	if err := n.Runner.Run(ctx, tasks, n.take); err != nil {
		return err
	}
	_, err := n.write(summary.Running)
	return err
}

// often is how long the page may be behind.
const often = time.Minute

// take writes a result down.
func (n *night) take(r Result) error {
	g, known := n.byKey[r.Key]
	if !known {
		return nil // of a task that is not ours, or a second time
	}
	t := n.tasks[r.Key]
	delete(n.byKey, r.Key)
	delete(n.tasks, r.Key)
	n.status.TasksDone++
	if r.Failure != nil && t.Shares {
		n.Log.Warn("what the orders save is not told", "gang", g.ID, "reason", r.Failure.Reason, "detail", r.Failure.Detail)
	} else if r.Failure != nil {
		n.fail(g, r.Failure)
	} else if r.Outcome != nil && !(r.CutShort && t.Shares) {
		if err := n.put(g, t, r); err != nil {
			return err
		}
	}
	n.watch()
	if time.Since(n.written) > often {
		_, err := n.write(summary.Running)
		return err
	}
	return nil
}

// fail sets a failure down. A gang that has a plan keeps it.
func (n *night) fail(g *gang, f *Failure) {
	if g.record != nil {
		g.notes = append(g.notes, fmt.Sprintf("not planned further: %s", f.Reason))
		n.Log.Warn("gang not planned further", "gang", g.ID, "kind", f.Kind, "reason", f.Reason, "do", f.Do, "detail", f.Detail)
		g.stuck = true
		return
	}
	g.failure = f
	n.Log.Error("gang failed", "gang", g.ID, "kind", f.Kind, "reason", f.Reason, "do", f.Do, "detail", f.Detail)
	n.putAway(g)
}

// putAway keeps what an earlier night made of a gang, where it would be taken
// for tonight's.
func (n *night) putAway(g *gang) {
	if g.old == nil {
		return
	}
	if err := n.Folder.Retire(g.folder, g.old.Date.Format(time.DateOnly)); err != nil {
		g.notes = append(g.notes, fmt.Sprintf("the documents in its folder are old: %v", err))
	}
	g.old = nil
}

// put writes a plan and its documents.
func (n *night) put(g *gang, t Task, r Result) error {
	record := Record{Gang: g.ID, Input: g.input, Date: n.Pooling.Date, Outcome: *r.Outcome, CutShort: r.CutShort}
	record.Rounds = slices.Clone(g.record.until(t.Round))
	switch {
	case r.CutShort:
		record.Before = t.Before
	case t.Work == 0 && t.Time == 0: // nothing was searched
		record.Rounds = g.record.Rounds
	default:
		record.Rounds = append(record.Rounds, n.came(t, r))
	}
	n.putAway(g)
	if err := written(n.Folder.Put(g.folder, r.Files, record)); err != nil {
		if errors.Is(err, ErrDisk) {
			return err
		}
		n.fail(g, Fail(NotWritten, "%v", err))
		return nil
	}
	g.record = &record
	plan, took := r.Outcome.Plan, math.Round(r.Seconds*1000)/1000
	if t.Work == 0 && t.Time == 0 {
		n.Log.Info("gang's documents made anew", "gang", g.ID, "seconds", took)
		return nil
	}
	event := "gang planned"
	if r.CutShort {
		event = "gang cut short"
	}
	n.Log.Info(event, "gang", g.ID, "round", t.Round, "cost", plan.Cost.Total, "bound", plan.Bound.Cost, "gap", plan.Bound.Gap,
		"proven", plan.Bound.Proven, "sections", len(plan.Sections), "seconds", took)
	for _, w := range r.Outcome.Warnings {
		n.Log.Warn("gang planned with a warning", "gang", g.ID, "warning", w)
	}
	return nil
}

// came is what a step came to.
func (n *night) came(t Task, r Result) Round {
	plan := r.Outcome.Plan
	round := Round{Round: t.Round, Given: t.Work, Took: r.Work, Cost: planfile.Decimal(plan.Cost.Total).InexactFloat64(),
		Bound: planfile.Decimal(plan.Bound.Cost).InexactFloat64(), Proven: plan.Bound.Proven || n.Gap > 0 && planfile.Decimal(plan.Bound.Gap).InexactFloat64() <= n.Gap}
	if n.timed() {
		round.Given, round.Took, round.Beside = t.Time.Seconds(), r.Seconds, math.Max(0, r.Seconds-r.Searched)
	}
	return round
}

// share has the reports tell what every order saves, for the final plans and
// as far as a budget of time lasts.
func (n *night) share(ctx context.Context) error {
	if n.timed() {
		limited, cancel := context.WithTimeout(ctx, max(0, n.Budget-time.Since(n.begun)))
		defer cancel()
		ctx = limited
	}
	var tasks []Task
	n.byKey, n.tasks = map[string]*gang{}, map[string]Task{}
	for _, g := range n.gangs {
		if g.record == nil || g.failure != nil || g.settled || g.record.CutShort || g.record.Outcome.Shared || !dossier.HasSavings(g.Gang.Gang) {
			continue
		}
		t := g.base
		t.Round, t.Before, t.Shares = len(g.record.Rounds), &g.record.Outcome, true
		if err := t.SetKey(); err != nil {
			return err
		}
		n.byKey[t.Key], n.tasks[t.Key] = g, t
		tasks = append(tasks, t)
	}
	return n.work(ctx, "savings begun", tasks)
}

// mend makes documents again that were taken away or changed meanwhile.
func (n *night) mend(ctx context.Context) error {
	var tasks []Task
	n.byKey, n.tasks = map[string]*gang{}, map[string]Task{}
	for _, g := range n.gangs {
		if g.record == nil || g.failure != nil {
			continue
		}
		var r Record
		got, err := n.Folder.Get(g.folder, &r)
		if err != nil {
			return fmt.Errorf("gang %s: %w", g.ID, err)
		}
		if got == folder.Whole {
			continue
		}
		t := g.base
		t.Round, t.Before = len(g.record.Rounds), &g.record.Outcome
		if err := t.SetKey(); err != nil {
			return err
		}
		n.Log.Warn("the documents were taken away or changed, and are made again", "gang", g.ID)
		n.byKey[t.Key], n.tasks[t.Key] = g, t
		tasks = append(tasks, t)
	}
	return n.work(ctx, "documents begun", tasks)
}

// retire moves away what earlier nights made for gangs that are no more.
func (n *night) retire() error {
	names, err := n.Folder.Names()
	if err != nil {
		return err
	}
	ours := map[string]bool{}
	for _, g := range n.gangs {
		ours[g.folder] = true
	}
	for _, name := range names {
		if ours[name] {
			continue
		}
		var r Record
		night := "undated"
		if got, err := n.Folder.Get(name, &r); err == nil && got != folder.Nothing {
			night = r.Date.Format(time.DateOnly)
		}
		n.Log.Info("documents of an earlier night put away", "folder", name, "into", folder.Earlier+"/"+night)
		if err := n.Folder.Retire(name, night); err != nil {
			return err
		}
	}
	return nil
}

// note tells the ledger what is planned. It is no reason to fail that the
// ledger cannot be written: the plans are.
func (n *night) note(ctx context.Context) {
	if n.Ledger == nil {
		return
	}
	for _, g := range n.gangs {
		if g.record == nil || g.failure != nil {
			continue
		}
		if _, err := n.Ledger.Append(ctx, g.entry(n.Program)); err != nil {
			n.Log.Error("the ledger was not written", "error", err)
			n.lost = append(n.lost, fmt.Sprintf("The ledger was not written: %v.", err))
			return
		}
	}
}

// entry of the ledger; the same plan of the same input is entered once.
func (g *gang) entry(program string) ledger.Entry {
	o := g.record.Outcome
	e := ledger.Planned(g.planned().Gang, o.Plan)
	e.Program, e.Inputs, e.Key = program, g.input, g.input+" "+e.Plan
	e.LeaveOut(planfile.Decimal(o.Plan.Cost.Total).Sub(o.Cost.Round(g.Places())))
	e.Alone = o.Alone
	if o.Alone != nil {
		saving := o.Alone.Sub(o.Cost)
		e.Saving = &saving
	}
	for _, m := range o.Money {
		if i := slices.IndexFunc(e.Orders, func(order ledger.Order) bool { return order.ID == m.Order }); i >= 0 {
			e.Orders[i].Alone, e.Orders[i].Share, e.Orders[i].Saving = &m.Alone, &m.Share, &m.Saving
		}
	}
	return e
}

func (n *night) count(is func(*gang) bool) int {
	count := 0
	for _, g := range n.gangs {
		if is(g) {
			count++
		}
	}
	return count
}

func (n *night) failed() int { return n.count(func(g *gang) bool { return g.failure != nil }) }
