package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/shopspring/decimal"
	"github.com/spf13/cobra"

	"laneplan/jobs"
	"laneplan/jobs/compare"
	"laneplan/jobs/intake/donefile"
	"laneplan/jobs/intake/fault"
	"laneplan/jobs/ledger"
	"laneplan/jobs/planfile"
	"laneplan/jobs/pool"
	"laneplan/jobs/report"
	"laneplan/jobs/rest"
	"laneplan/nest"
)

// recordFlags of the command record.
type recordFlags struct {
	planFlags
	ledger         string
	correct, noDue bool
}

func recordCommand(a *app) *cobra.Command {
	var f recordFlags
	c := &cobra.Command{
		Use:   "record PLAN.json DONE.yaml [FILE] | record PLAN.json DONE.yaml --shop SHOP ORDERS...",
		Short: "Write what was really printed into the ledger, and plan the rest",
		Long: `record takes what ran of a plan: rows of every section, spoiled stretches and
lanes, where the press stopped. It writes that to the ledger and plans what is
short, from where the web and the press stand. What is good counts; a spoiled
label does not. A spoiled lane is out of use for the rest, unless it is mended.

The rest is planned twice, and the cheaper plan is taken: going on with the
versions that are in the lanes, which costs no changeover, and beginning with a
changeover. While it goes on, a lane with a version of which no more is wanted
prints on, and counts as empty. Lanes of the first section are charged as newly
started either way, and lanes that a changeover would leave as they are, too.

A plan.json that plan or batch wrote into a folder holds the job it was made
from. For another plan, name the job file too; for one of an order book, --shop
and the book, pooled on the same --date as it was for the plan. Where no --ledger is given, the
ledger.sqlite beside the plan or in the folder above is written to, if there is
one. The same record twice is one entry; another one of the same plan takes
--correct. The rest is written as plan writes a plan, and can be recorded again.`,
		Example: `  laneplan record out/spice-mill/plan.json done.yaml --ledger out/ledger.sqlite --out out
  laneplan record plan.json done.yaml spices.yaml --out rest.json
  laneplan record plans.json done.yaml --shop shop.yaml --date 2026-11-30 orders.csv`,
		Args: cobra.MinimumNArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case f.book.shop != "" && len(args) < 3:
				return usage("--shop: want the order book behind the plan and the record")
			case f.book.shop == "" && len(args) > 3:
				return usage("want a plan, a record and at most one job file, got %d files; an order book takes --shop", len(args))
			}
			for _, flag := range bookOnly {
				if f.book.shop == "" && c.Flags().Changed(flag) {
					return usage("--%s: is for an order book, with --shop", flag)
				}
			}
			return a.record(args, &f)
		},
	}
	flags := c.Flags()
	flags.SortFlags = false
	f.format = format(c, "text", "json", "csv")
	flags.StringVar(&f.ledger, "ledger", "", "write to this ledger (default: ledger.sqlite beside the plan or in the folder above)")
	flags.BoolVar(&f.correct, "correct", false, "put this record in the place of the last one of the same plan")
	flags.BoolVar(&f.noDue, "no-due", false, "plan the rest without due dates")
	flags.StringVarP(&f.out, "out", "o", "", "write the rest's plan to this file (.json or .csv choose the format), or documents into this folder, whole or not at all")
	f.documents = addDocumentFlags(flags)
	f.book = addBookFlags(flags)
	f.search = searchFlags(flags, planTime)
	flags.BoolVar(&f.noTimes, "no-times", false, "leave the seconds that the search took out of the JSON, so that equal plans are equal bytes")
	flags.BoolVarP(&f.quiet, "quiet", "q", false, "no live line, even on a terminal")
	return c
}

// printRun is what record has read.
type printRun struct {
	gang   jobs.Gang
	stated planfile.Gang
	plan   nest.Plan
	done   rest.Done
	count  rest.Count
	entry  ledger.Entry
}

func (a *app) record(args []string, f *recordFlags) error {
	if err := f.check(); err != nil {
		return err
	}
	run, err := a.printRun(args, f.book)
	if err != nil {
		return err
	}
	todo := run.count.Rest(run.gang, run.done)
	if f.noDue {
		for i := range todo.Gang.Orders {
			todo.Gang.Orders[i].Due = time.Time{}
		}
	}
	if f.folder && len(todo.Gang.Orders) > 0 {
		if err := f.documents.ready(f.out, todo.Gang); err != nil {
			return err
		}
	}
	path := cmp.Or(f.ledger, ledgerOf(args[0]))
	if path != "" {
		book, err := ledger.Open(path)
		if err != nil {
			return ledgerError(err)
		}
		defer book.Close()
		// What was printed is written first: it is a fact, whatever comes of
		// the rest, and also after Ctrl-C.
		if err := a.enter(book, run, f.correct); err != nil {
			return err
		}
		return a.rest(run, todo, book, f)
	}
	return a.rest(run, todo, nil, f)
}

// ledgerOf is the ledger beside a plan or in the folder above; empty where
// there is none.
func ledgerOf(plan string) string {
	folder := filepath.Dir(plan)
	for _, path := range []string{filepath.Join(folder, ledger.FileName), filepath.Join(folder, "..", ledger.FileName)} {
		if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
			return path
		}
	}
	return ""
}

// ledgerError gives what is wrong with a ledger its exit code.
func ledgerError(err error) error {
	if errors.Is(err, ledger.ErrBusy) || errors.Is(err, ledger.ErrDiskFull) || errors.Is(err, context.Canceled) {
		return err
	}
	return &coded{exitInput, err}
}

// printRun reads the plan, its job and what ran of it.
func (a *app) printRun(args []string, book *bookFlags) (printRun, error) {
	document, err := planfile.ReadFile(args[0])
	if err != nil {
		return printRun{}, err
	}
	file, err := donefile.ReadFile(args[1])
	if err != nil {
		return printRun{}, err
	}
	r := printRun{done: file.Done}
	if r.gang, err = a.jobOf(document, args, file.Done.Gang, book); err != nil {
		return printRun{}, err
	}
	problem, err := r.gang.Problem()
	if err != nil {
		return printRun{}, fmt.Errorf("%s: %w", args[0], err)
	}
	if _, err := planfile.Verify(document, r.gang, problem); err != nil {
		return printRun{}, err
	}
	if r.stated, err = document.Find(r.gang.ID); err != nil {
		return printRun{}, err
	}
	if r.plan, err = r.stated.Plan(problem); err != nil {
		return printRun{}, err
	}
	if err := file.Fits(r.gang, r.plan); err != nil {
		return printRun{}, err
	}
	if r.count, err = rest.Tally(r.gang, r.plan, r.done); err != nil {
		return printRun{}, err
	}
	r.entry = ledger.Printed(r.gang, r.stated, r.count)
	r.entry.At, r.entry.Program = now(), versionText()
	r.entry.Inputs, err = inputsHash(r.gang, r.done)
	return r, err
}

// jobOf is the gang that was printed: the one that DONE names, of the job that
// the plan holds, of a file or of an order book.
func (a *app) jobOf(document planfile.Document, args []string, id string, book *bookFlags) (jobs.Gang, error) {
	if len(args) > 2 && book.shop == "" {
		gang, _, err := a.problem(args[2], func(*jobs.Rules) {})
		if err == nil && id != "" && id != gang.ID {
			err = fault.Of(args[1], "is about gang %q, but %s holds gang %q", id, args[2], gang.ID)
		}
		return gang, err
	}
	if id == "" && len(document.Gangs) > 1 {
		return jobs.Gang{}, fault.Of(args[1], "the plan has %d gangs: name one of them as gang", len(document.Gangs))
	}
	for _, g := range document.Gangs {
		switch {
		case id != "" && g.ID != id:
		case book.shop != "":
			return a.gangOfBook(document, g.ID, args, book)
		default:
			return document.Stored(g)
		}
	}
	return jobs.Gang{}, fault.Of(args[1], "is about gang %q, which %s does not hold", id, args[0])
}

// gangOfBook is a gang of an order book as it was planned: where no plan keeps
// its dates, without them.
func (a *app) gangOfBook(document planfile.Document, id string, args []string, book *bookFlags) (jobs.Gang, error) {
	_, pooling, err := a.pooled(args[2:], book)
	if err != nil {
		return jobs.Gang{}, err
	}
	i := slices.IndexFunc(pooling.Gangs, func(g pool.Gang) bool { return g.ID == id })
	if i < 0 {
		return jobs.Gang{}, fault.Of(args[0], "holds a plan of gang %s, which the order book does not make on %s", id, pooling.Date.Format(time.DateOnly))
	}
	holds := func(g jobs.Gang) bool {
		problem, err := g.Problem()
		if err == nil {
			_, err = planfile.Verify(document, g, problem)
		}
		return err == nil
	}
	gang := pooling.Gangs[i]
	if undated, dates := gang.WithoutDates(); dates && !holds(gang.Gang) && holds(undated.Gang) {
		return undated.Gang, nil
	}
	return gang.Gang, nil
}

// inputsHash names a record: the job that was printed, and what was.
func inputsHash(g jobs.Gang, d rest.Done) (string, error) {
	var job planfile.Gang
	if err := job.SetJob(g); err != nil {
		return "", err
	}
	text, err := json.Marshal(struct {
		Job  json.RawMessage
		Done rest.Done
	}{job.Job, d})
	if err != nil {
		return "", fmt.Errorf("gang %s: %w", g.ID, err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), nil
}

// enter writes what was printed to the ledger, once. run.entry gets its ID.
func (a *app) enter(book *ledger.Ledger, run printRun, correct bool) error {
	ctx := context.WithoutCancel(a.ctx)
	e := run.entry
	orders := ordersHash(e.Orders)
	entries, err := book.Entries(ctx, ledger.Filter{Kind: ledger.KindPrinted, Plan: e.Plan})
	if err != nil {
		return ledgerError(err)
	}
	entries = slices.DeleteFunc(entries, func(other ledger.Entry) bool { return ordersHash(other.Orders) != orders })
	e.Key = "printed " + e.Plan + " " + orders
	if len(entries) > 0 {
		last := entries[len(entries)-1]
		switch {
		case last.Inputs == e.Inputs:
			_, err := fmt.Fprintf(a.stderr, "this is recorded already, as entry %d of %s\n", last.ID, book.Path())
			return err
		case !correct:
			return usage("%s holds another record of this plan, entry %d of %s: give --correct to put this one in its place",
				book.Path(), last.ID, last.At.Format(time.DateOnly))
		}
		e.Corrects = last.ID
		e.Key += fmt.Sprintf(" corrects %d", last.ID)
	}
	id, err := book.Append(ctx, e)
	if err != nil {
		return ledgerError(err)
	}
	// Somebody else may have recorded it in this moment.
	if now, err := book.Entries(ctx, ledger.Filter{Key: e.Key}); err != nil {
		return ledgerError(err)
	} else if len(now) == 1 && now[0].Inputs != e.Inputs {
		return usage("%s got another record of this plan just now, entry %d: give --correct to put this one in its place", book.Path(), id)
	}
	_, err = fmt.Fprintf(a.stderr, "recorded as entry %d of %s\n", id, book.Path())
	return err
}

// rest plans what is short and writes the plan.
func (a *app) rest(run printRun, todo rest.Todo, book *ledger.Ledger, f *recordFlags) error {
	text := f.format.word == "text" && f.out == ""
	if text || f.out != "" {
		if err := report.Printed(a.stdout, run.entry, style(a.stdout)); err != nil {
			return err
		}
	}
	if len(todo.Gang.Orders) == 0 {
		return a.nothing(todo, "nothing is left to print: no rest is planned")
	}
	described, stop, err := a.planRest(run, todo, f)
	if err != nil {
		return fmt.Errorf("the rest of gang %s: %w", run.gang.ID, err)
	}
	if len(described.plan.Sections) == 0 {
		return a.nothing(todo, "what is short may stay so, and printing it would cost more than it is worth: no rest is planned")
	}
	if text || f.folder {
		if _, err := io.WriteString(a.stdout, "\n"); err != nil {
			return err
		}
	}
	if err := a.writePlans([]planfile.Gang{described.plan}, nil, &f.planFlags); err != nil {
		return err
	}
	if book != nil {
		e := ledger.Planned(described.gang, described.plan)
		e.LeaveOut(described.elsewhere)
		e.At, e.Program, e.Inputs = run.entry.At, versionText(), run.entry.Inputs
		e.Key = "rest " + e.Plan + " " + ordersHash(e.Orders)
		if _, err := book.Append(context.WithoutCancel(a.ctx), e); err != nil {
			return ledgerError(err)
		}
	}
	if stop == nest.StopContext {
		return interrupted("interrupted; the best plan of the rest so far is written")
	}
	return nil
}

// nothing says why no rest is planned.
func (a *app) nothing(todo rest.Todo, why string) error {
	for _, note := range append(todo.Notes, why) {
		if _, err := fmt.Fprintln(a.stderr, note); err != nil {
			return err
		}
	}
	return nil
}

// described is the plan of a rest and the gang that it is for.
type described struct {
	gang      jobs.Gang
	plan      planfile.Gang
	elsewhere decimal.Decimal // of its cost, for what it leaves for another day
}

// planRest searches the plan of what is short, checks and describes it, and
// writes its documents where they are wanted.
func (a *app) planRest(run printRun, todo rest.Todo, f *recordFlags) (described, nest.Stop, error) {
	engine, err := f.search.start()
	if err != nil {
		return described{}, 0, err
	}
	defer engine.Close()
	options := f.options()
	options.Engine, options.Unit = engine, compare.Unit(todo.Gang)
	live := a.watch("", f.quiet, false, todo.Gang.Places())
	options.Progress = live.report
	planned, err := rest.Plan(a.ctx, todo, options)
	live.end(planned.Result, err)
	if faults := (jobs.Faults{}); errors.As(err, &faults) {
		return described{}, 0, &coded{exitInfeasible, err} // the lanes that are left do not do
	}
	if err != nil {
		return described{}, 0, err
	}
	if len(planned.Result.Plan.Sections) == 0 {
		return described{}, planned.Result.Stop, nil
	}
	if err := nest.Check(planned.Problem, planned.Result.Plan); err != nil {
		return described{}, 0, fmt.Errorf("the planner made a plan that does not hold: %w", err)
	}
	_, limits := f.limits()
	plan, err := planfile.Describe(planned.Gang, planned.Problem, planned.Result, planfile.Run{Engine: engine.Name(), Limits: limits, Times: !f.noTimes})
	if err != nil {
		return described{}, 0, err
	}
	if planned.Continues {
		todo.Notes = append(todo.Notes, todo.RunOn...)
	}
	plan.Rest = &planfile.Rest{Gang: run.gang.ID, Plan: run.entry.Plan, Continues: planned.Continues, OffPress: run.done.OffPress, Notes: todo.Notes}
	if err := plan.SetJob(planned.Gang); err != nil {
		return described{}, 0, err
	}
	if f.folder {
		if err := a.documents(f.out, f.documents, planned.Gang, planned.Problem, plan, engine); err != nil {
			return described{}, 0, err
		}
	}
	elsewhere := decimal.NewFromFloat(planned.Result.Plan.Cost.Elsewhere).Round(planned.Gang.Places())
	return described{planned.Gang, plan, elsewhere}, planned.Result.Stop, nil
}

// ordersHash names the orders of a gang, so that an equal plan of other orders
// is another one.
func ordersHash(orders []ledger.Order) string {
	hash := sha256.New()
	for _, o := range orders {
		fmt.Fprintf(hash, "%q %q\n", o.ID, o.Due.Format(time.DateOnly))
	}
	return hex.EncodeToString(hash.Sum(nil)[:8])
}
