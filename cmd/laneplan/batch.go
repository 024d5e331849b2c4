package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"laneplan/jobs"
	"laneplan/jobs/batch"
	"laneplan/jobs/batch/folder"
	"laneplan/jobs/batch/inputs"
	"laneplan/jobs/batch/page"
	"laneplan/jobs/batch/summary"
	"laneplan/jobs/ledger"
	"laneplan/jobs/pool"
)

// batchBudget of a batch where none is given.
const batchBudget = 6 * time.Hour

// batchFlags of the command batch.
type batchFlags struct {
	book           *bookFlags
	orders         []string
	out, ledger    string
	budget, giveUp span
	work           amount
	gap            share
	seed           int64
	jobs, memory   count
	engine         string
	noTimes        bool
	queue          *string
	log            *choice
	flags          *pflag.FlagSet
}

func batchCommand(a *app) *cobra.Command {
	f := batchFlags{seed: 1, giveUp: span(time.Hour)}
	c := &cobra.Command{
		Use:   "batch --shop SHOP --orders ORDERS --out DIR",
		Short: "Plan a whole order book overnight, and pick up where it was when killed",
		Long: `batch reads an order book, divides it into gangs as pool does, and plans them all
while nobody watches. Every gang gets a good plan quickly; then the gangs where
most money is open get the rest of the --budget. Each gang has a folder of
documents in --out, and index.html there shows the night's work at a glance.

Kill it at any moment and run it again: it does only what is missing or changed.
Ctrl-C, or SIGTERM, ends it within five seconds; what it had so far is written
as cut short. A gang that fails does not stop the others: exit code 4 says that
some did, and the page says why and what to do.

With --queue the gangs are planned by workers on other machines, see laneplan
worker; the plans are the same. --jobs is then how many they plan at a time
(default: as many as wait at the queue when the batch begins).

On a terminal it shows how far it is, else it writes a line for every event to
standard error (--log).

` + queueHelp(),
		Example: `  laneplan batch --shop shop.yaml --orders orders --out night --budget 6h
  laneplan batch --shop shop.yaml --orders orders.csv --out night --work 20 --jobs 2 --log json
  laneplan batch --shop shop.yaml --orders orders --out night --queue nats://queue.mill.example:4222`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return a.batch(&f) },
	}
	flags := c.Flags()
	flags.SortFlags = false
	f.flags = flags
	flags.StringArrayVar(&f.orders, "orders", nil, "order book: a file or a folder of them; may be given several times")
	flags.StringVarP(&f.out, "out", "o", "", "folder for the plans, their documents and the page")
	flags.Var(&f.budget, "budget", fmt.Sprintf("time for all gangs together (default %v, or none where --work is given)", batchBudget))
	flags.Var(&f.work, "work", "work for each gang on average in place of a time, in units of a million moves: the same seed and work give the same plans")
	flags.Lookup("budget").DefValue, flags.Lookup("work").DefValue = "", ""
	flags.Var(&f.gap, "gap", "a plan proven to be within this share of the cheapest is good enough, e.g. 1%")
	flags.Lookup("gap").DefValue = ""
	flags.Var(&f.jobs, "jobs", "plan so many gangs at a time (default: one a core)")
	flags.Lookup("jobs").DefValue = ""
	flags.Int64Var(&f.seed, "seed", f.seed, "seed of the random choices")
	flags.Var(&f.giveUp, "give-up", "give a gang up when one step of it takes so long, 0 for never")
	flags.StringVar(&f.engine, "engine", "", "path or name of a highs executable to use instead of the embedded engine")
	flags.Var(&f.memory, "memory", "most memory of one run of the embedded engine, in MiB (default 1024)")
	flags.Lookup("memory").DefValue = ""
	f.book = addBookFlags(flags)
	flags.StringVar(&f.ledger, "ledger", "", "ledger of what was planned (default: "+ledger.FileName+" in --out)")
	flags.BoolVar(&f.noTimes, "no-times", false, "leave clocks and seconds out of what is written, so that equal batches are equal bytes")
	f.queue = addQueueFlag(flags, "have workers plan: address of the queue server; several of one cluster with commas between them")
	f.log = choiceFlag(c, "log", "", "what goes to standard error: auto shows progress on a terminal and text elsewhere", "auto", "text", "json")
	return c
}

func (f *batchFlags) check() error {
	switch {
	case f.book.shop == "":
		return usage("--shop: want the shop file that the order book belongs to\nhint: laneplan init DIR writes one")
	case len(f.orders) == 0:
		return usage("--orders: want the order book, a file or a folder")
	case f.out == "":
		return usage("--out: want the folder to write into")
	case f.budget > 0 && f.work > 0:
		return usage("--budget and --work: give one of them")
	}
	for _, flag := range []string{"engine", "memory"} {
		if *f.queue != "" && f.flags.Changed(flag) {
			return usage("--%s: is for planning here; with --queue give it to the workers", flag)
		}
	}
	if f.budget == 0 && f.work == 0 {
		if f.flags.Changed("budget") || f.flags.Changed("work") {
			return usage("--budget: want a limit; a batch without one would never end")
		}
		f.budget = span(batchBudget)
	}
	if f.jobs == 0 {
		f.jobs = count(runtime.GOMAXPROCS(0))
	}
	if f.ledger == "" {
		f.ledger = filepath.Join(f.out, ledger.FileName)
	}
	if !f.flags.Changed("bad-rows") {
		f.book.badRows = filepath.Join(f.out, f.book.badRows)
	}
	// A clock that lost its battery would put 1970 on every ticket.
	if today := now(); f.book.date.String() == "" && today.Year() < 2020 {
		return usage("the clock says %s: set it, or name the day with --date", today.Format(time.DateOnly))
	}
	return nil
}

// now is the clock; tests put it back.
var now = time.Now

func (a *app) batch(f *batchFlags) error {
	if err := f.check(); err != nil {
		return err
	}
	out, err := folder.Open(f.out)
	if err != nil {
		return usage("--out: %w", err)
	}
	defer out.Close()
	told := a.batchLog(f)
	defer told.end()
	if out.Stale != nil {
		told.log.Warn("the last batch was killed: going on", "owner", out.Stale.String())
	}
	if err := f.sameDay(out, told); err != nil {
		return err
	}
	before, shop, pooling, err := a.batchInputs(f, batch.NewComparisons(out, versionText()))
	if err != nil {
		return err
	}
	book, err := ledger.Open(f.ledger)
	if err != nil {
		return usage("--ledger: %w", err)
	}
	defer book.Close()
	runner, slots, end, err := a.runner(f, told.log)
	if err != nil {
		return err
	}
	defer end()
	night, err := batch.Run(a.ctx, batch.Options{
		Folder: out, Program: versionText(), Begun: now(), Shop: shop, Pooling: pooling, Slots: slots, Runner: runner,
		Budget: time.Duration(f.budget), Work: float64(f.work), Gap: float64(f.gap), Seed: f.seed, NoTimes: f.noTimes, GiveUp: time.Duration(f.giveUp),
		Log: told.log, Watch: told.watch, Page: page.Write, Ledger: book,
	})
	if changed, failed := inputs.Changed(before, f.paths()); failed != nil || len(changed) > 0 {
		told.log.Warn("inputs changed while the batch ran: run it again, it plans only what is changed", "files", changed, "error", failed)
	}
	told.end()
	return a.batchEnd(f, night, err)
}

// paths of everything that is read.
func (f *batchFlags) paths() []string { return append([]string{f.book.shop}, f.orders...) }

// sameDay goes on with the planning date of a batch that was killed.
func (f *batchFlags) sameDay(out *folder.Folder, told *batchLog) error {
	if f.book.date.String() != "" {
		return nil
	}
	date, begun, resumes, err := batch.Resumes(out, now())
	if err != nil {
		return err
	}
	if resumes {
		told.log.Info("goes on with an unfinished batch", "date", date.Format(time.DateOnly), "begun", begun)
		f.book.date = dateFlag(date)
		return nil
	}
	f.book.date = dateFlag(now())
	return nil
}

// batchInputs reads shop file and order book, again where somebody wrote to
// them meanwhile, and divides the orders into gangs.
func (a *app) batchInputs(f *batchFlags, compared *batch.Comparisons) (inputs.Print, *jobs.Shop, pool.Pooling, error) {
	var shop *jobs.Shop
	var lines []jobs.OrderLine
	var fault error // of what was read, with its exit code
	taken, err := inputs.Steady(a.ctx, f.paths(), inputs.Patience{}, func() error {
		shop, lines, fault = a.orders(f.orders, f.book)
		return nil
	})
	switch {
	case errors.Is(err, context.Canceled):
		return nil, nil, pool.Pooling{}, interrupted("interrupted; nothing is planned yet")
	case err != nil:
		return nil, nil, pool.Pooling{}, usage("%w", err)
	case fault != nil:
		return nil, nil, pool.Pooling{}, fault
	}
	pooling, err := a.pool(shop, lines, f.book, compared.Cost)
	if kept := compared.Keep(); kept != nil && err == nil { // also of a batch that was interrupted
		err = fmt.Errorf("%w; nothing is planned yet", kept)
	}
	return taken, shop, pooling, err
}

// batchEnd says in a sentence how it went, and gives the exit code.
func (a *app) batchEnd(f *batchFlags, night summary.Night, err error) error {
	t := night.Totals
	done := fmt.Sprintf("%d of %d gangs are planned", t.Planned, t.Gangs)
	page := filepath.Join(f.out, batch.PageFile)
	switch {
	case errors.Is(err, batch.ErrInterrupted):
		return interrupted("interrupted; %s, %d of them cut short: run the same command again to go on", done, t.CutShort)
	case errors.Is(err, batch.ErrDisk):
		return fmt.Errorf("%w; %s: make room and run the same command again to go on", err, done)
	case err != nil:
		return fmt.Errorf("%w; %s and stay", err, done)
	}
	money := fmt.Sprintf("cost %s %s", t.Cost, night.Currency)
	if t.Planned > 0 {
		money += fmt.Sprintf(", %s %s less than every order alone", t.Saving, night.Currency)
	}
	fmt.Fprintf(a.stdout, "%s: %s. See %s\n", done, money, filepath.ToSlash(page))
	if night.State == summary.Partly {
		var wrong []string
		if t.Failed > 0 {
			wrong = append(wrong, fmt.Sprintf("gangs that failed: %d", t.Failed))
		}
		if n := due(night); n > 0 {
			wrong = append(wrong, fmt.Sprintf("orders that are due and cannot run: %d", n))
		}
		return &coded{exitPartly, fmt.Errorf("%s; the rest is written, and the page says why", strings.Join(wrong, ", "))}
	}
	return nil
}

// due are the orders that are due and cannot run.
func due(night summary.Night) int {
	n := 0
	for _, out := range night.Out {
		if out.Must {
			n++
		}
	}
	return n
}
