package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/bookfile"
	"laneplan/jobs/compare"
	"laneplan/jobs/planfile"
	"laneplan/jobs/pool"
	"laneplan/jobs/report"
	"laneplan/jobs/wholefile"
	"laneplan/nest"
	"laneplan/solver"
)

// planBook plans every gang of an order book. A gang without a plan does not
// stop the others: it is named at the end, with its exit code.
func (a *app) planBook(paths []string, f *planFlags) error {
	if err := f.check(); err != nil {
		return err
	}
	for _, flag := range []string{"sections", "max-sections", "alternatives"} {
		if f.flags.Changed(flag) {
			return usage("--%s: is for a single gang, not for an order book", flag)
		}
	}
	begun := time.Now()
	shop, pooling, err := a.pooled(paths, f.book)
	if err != nil {
		return err
	}
	for _, gang := range pooling.Gangs {
		if f.folder {
			if err := f.documents.ready(f.out, gang.Gang); err != nil {
				return err
			}
		}
	}
	engine, err := f.search.start()
	if err != nil {
		return err
	}
	defer engine.Close()
	p := bookPlan{app: a, flags: f, engine: engine, book: bookfile.Describe(pooling)}
	if f.start != "" {
		if p.start, err = planfile.ReadFile(f.start); err != nil {
			return err
		}
	}
	limit, _ := f.limits()
	var failed error
	for i, gang := range pooling.Gangs {
		if a.ctx.Err() != nil {
			break
		}
		if limit > 0 {
			// What is left is shared by the gangs that are left.
			p.time = max(time.Millisecond, (limit-time.Since(begun))/time.Duration(len(pooling.Gangs)-i))
		}
		if err := p.gang(i, shop, pooling, gang); err != nil {
			failed = errors.Join(failed, fmt.Errorf("gang %s: %w", gang.ID, err))
		}
	}
	for _, out := range pooling.Out {
		if out.Must {
			failed = errors.Join(failed, &coded{exitInfeasible, fmt.Errorf("order %s is due and cannot run: %s", out.Order, out.Reason)})
		}
	}
	if f.format.word != "text" {
		for _, g := range p.book.Gangs {
			for _, late := range report.Late(g) {
				fmt.Fprintln(a.stderr, late)
			}
		}
	}
	if err := a.writePlans(p.plans, &p.book, f); err != nil {
		return err
	}
	if a.ctx.Err() != nil {
		return interrupted("interrupted after %d of %d gangs; their best plans so far are written", len(p.plans), len(pooling.Gangs))
	}
	return failed
}

// bookPlan is the plan of an order book as it grows.
type bookPlan struct {
	*app
	flags  *planFlags
	engine solver.Solver
	time   time.Duration     // for the next gang; 0 is no limit
	start  planfile.Document // of --start
	book   bookfile.Book
	plans  []planfile.Gang
}

// gang plans one gang, and what it prints alone.
func (p *bookPlan) gang(i int, shop *jobs.Shop, pooling pool.Pooling, gang pool.Gang) error {
	problem, described, result, err := p.search(gang.Gang)
	if undated, dates := gang.WithoutDates(); dates && noPlan(err) && p.ctx.Err() == nil {
		// Where no plan keeps the dates, the one that does not is still wanted.
		var failed error
		if problem, described, result, failed = p.search(undated.Gang); failed == nil {
			gang, err = undated, nil
		}
	}
	if err != nil {
		return err
	}
	p.plans = append(p.plans, described)
	if p.flags.folder {
		if err := p.documents(p.flags.out, p.flags.documents, gang.Gang, problem, described, p.engine); err != nil {
			return err
		}
	}
	printed := map[string]bool{}
	for _, v := range described.Versions {
		printed[v.ID] = !v.LeftOut
	}
	if err := p.timed(i, gang, result.Plan); err != nil {
		return err
	}
	cost := decimal.NewFromFloat(result.Plan.Cost.Total - result.Plan.Cost.Elsewhere)
	if len(gang.Orders) == 1 {
		p.book.Planned(i, cost, []decimal.Decimal{cost}, nil)
		return nil
	}
	alone, unknown, err := compare.Alone(p.ctx, pool.Apart(shop, pooling, gang, func(version string) bool { return printed[version] }))
	if err != nil {
		return err
	}
	p.book.Planned(i, cost, alone, unknown)
	return nil
}

func noPlan(err error) bool {
	var infeasible *nest.Infeasible
	var none *nest.NoPlan
	return errors.As(err, &infeasible) || errors.As(err, &none)
}

// search plans a gang.
func (p *bookPlan) search(gang jobs.Gang) (nest.Problem, planfile.Gang, nest.Result, error) {
	problem, err := gang.Problem()
	if err != nil {
		return problem, planfile.Gang{}, nest.Result{}, err
	}
	options := p.flags.options()
	options.Time, options.Engine = p.time, p.engine
	mended := false
	if slices.ContainsFunc(p.start.Gangs, func(g planfile.Gang) bool { return g.ID == gang.ID }) {
		if options.Start, mended, err = p.startFrom(p.start, p.flags, gang, problem); err != nil {
			return problem, planfile.Gang{}, nest.Result{}, err
		}
	}
	described, result, err := p.solve(gang.ID, gang, problem, options, p.flags)
	if err == nil && options.Start != nil {
		described.Solve.Start = planfile.StartOf(*options.Start, result.Plan, mended, gang.Places())
	}
	return problem, described, result, err
}

// timed tells the book how long the plan of a gang takes.
func (p *bookPlan) timed(i int, gang pool.Gang, plan nest.Plan) error {
	measures, err := gang.Measure(plan)
	if err != nil {
		return err
	}
	finished, err := gang.Finished(plan)
	if err != nil {
		return err
	}
	p.book.Timed(i, gang, measures.Minutes.Total, finished)
	return nil
}

// writePlans puts plans, of a whole book with its summary, on standard output
// or into the file of --out; beside documents in a folder they are shown too.
func (a *app) writePlans(plans []planfile.Gang, book *bookfile.Book, f *planFlags) error {
	content := func(w io.Writer, style report.Style) error {
		switch f.format.word {
		case "json":
			return planfile.Write(w, planfile.Document{Gangs: plans, Book: book})
		case "csv":
			if f.alternatives > 0 {
				return report.AlternativesCSV(w, plans[0])
			}
			return report.SectionsCSV(w, plans)
		}
		for i, g := range plans {
			if i > 0 {
				if _, err := fmt.Fprintln(w); err != nil {
					return err
				}
			}
			if err := report.Text(w, g, style); err != nil {
				return err
			}
			if len(g.Alternatives) > 0 {
				if _, err := fmt.Fprintln(w); err != nil {
					return err
				}
				if err := report.Alternatives(w, g, style); err != nil {
					return err
				}
			}
		}
		if book == nil {
			return nil
		}
		_, err := fmt.Fprintln(w)
		return cmp.Or(err, report.Book(w, *book, style))
	}
	if f.out == "" || f.folder {
		return content(a.stdout, style(a.stdout))
	}
	return wholefile.Write(f.out, 0o644, func(w io.Writer) error { return content(w, report.Style{}) })
}
