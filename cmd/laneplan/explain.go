package main

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"laneplan/jobs"
	"laneplan/jobs/compare"
	"laneplan/jobs/explain"
	"laneplan/jobs/planfile"
	"laneplan/jobs/report"
	"laneplan/nest"
)

// explainTime is the time limit of explain where none is given.
const explainTime = 60 * time.Second

// explainFlags of the command explain.
type explainFlags struct {
	*search
	format *choice
	quiet  bool
	book   *bookFlags
}

func explainCommand(a *app) *cobra.Command {
	var f explainFlags
	c := &cobra.Command{
		Use:   "explain PLAN.json FILE | explain PLAN.json --shop SHOP ORDERS...",
		Short: "Say why a plan is as it is and what would change it",
		Long: `explain tells which version sets the length of each section, what the overs of
each version cost, and what the total would be with one lane more or fewer,
with a tolerance of 2, 5 or 10 %, or without each of the versions.

Every question is planned anew by the same search, and what is said of it is
proven: the cheapest plan then costs at least so much less, and at most so
much. --time (` + explainTime.String() + ` where neither it nor --work is given) is for all
questions together, --work for each. With --shop the plan is one of an order
book, gang by gang; give the planning date too.`,
		Example: `  laneplan explain plan.json spices.yaml
  laneplan explain plan.json spices.yaml --work 2 --format json`,
		Args: cobra.MinimumNArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			if f.book.shop == "" {
				if len(args) > 2 {
					return usage("want a plan and one file, got %d arguments; an order book takes --shop", len(args))
				}
				for _, flag := range bookOnly {
					if f.flags.Changed(flag) {
						return usage("--%s: is for an order book, with --shop", flag)
					}
				}
			}
			return a.explain(args[0], args[1:], &f)
		},
	}
	flags := c.Flags()
	flags.SortFlags = false
	f.format = format(c, "text", "json")
	f.search = searchFlags(flags, explainTime)
	flags.BoolVarP(&f.quiet, "quiet", "q", false, "no live line, even on a terminal")
	f.book = addBookFlags(flags)
	return c
}

// toExplain is a gang with its plan.
type toExplain struct {
	gang    jobs.Gang
	problem nest.Problem
	plan    nest.Plan
}

func (a *app) explain(path string, files []string, f *explainFlags) error {
	document, err := planfile.ReadFile(path)
	if err != nil {
		return err
	}
	list, err := a.toExplain(path, document, files, f)
	if err != nil {
		return err
	}
	engine, err := f.search.start()
	if err != nil {
		return err
	}
	defer engine.Close()
	var out explain.Document
	options := f.options()
	options.Engine = engine
	limit, _ := f.limits()
	begun := time.Now()
	for i, one := range list {
		if limit > 0 {
			options.Time = max(time.Millisecond, (limit-time.Since(begun))/time.Duration(len(list)-i))
		}
		options.Unit = compare.Unit(one.gang)
		about, done := a.tell(f.quiet, one.gang.ID)
		e, err := explain.Gang(a.ctx, one.gang, one.problem, one.plan, options, about)
		done()
		if a.ctx.Err() != nil && err != nil {
			return interrupted("interrupted; nothing is explained yet")
		}
		if err != nil {
			return fmt.Errorf("gang %s: %w", one.gang.ID, err)
		}
		e.Limits.Seconds = limit.Seconds() // as it was given: for all gangs
		out.Gangs = append(out.Gangs, e)
		if a.ctx.Err() != nil {
			break
		}
	}
	if err := a.writeExplained(out, f); err != nil {
		return err
	}
	if a.ctx.Err() == context.Canceled {
		return interrupted("interrupted; some questions were not asked")
	}
	return nil
}

func (a *app) writeExplained(d explain.Document, f *explainFlags) error {
	if f.format.word == "json" {
		return explain.Write(a.stdout, d)
	}
	for i, e := range d.Gangs {
		if i > 0 {
			if _, err := fmt.Fprintln(a.stdout); err != nil {
				return err
			}
		}
		if err := report.Explain(a.stdout, e, style(a.stdout)); err != nil {
			return err
		}
	}
	return nil
}

// toExplain pairs every gang with its plan, which must hold.
func (a *app) toExplain(path string, document planfile.Document, files []string, f *explainFlags) ([]toExplain, error) {
	var gangs []jobs.Gang
	if f.book.shop != "" {
		_, pooling, err := a.pooled(files, f.book)
		if err != nil {
			return nil, err
		}
		for _, g := range pooling.Gangs {
			gangs = append(gangs, g.Gang)
		}
	} else {
		gang, _, err := a.problem(files[0], func(*jobs.Rules) {})
		if err != nil {
			return nil, err
		}
		gangs = []jobs.Gang{gang}
	}
	var list []toExplain
	for _, g := range gangs {
		problem, err := g.Problem()
		if err != nil {
			return nil, err
		}
		plan, wrong, err := planFor(document, g, problem)
		if err != nil {
			return nil, err
		}
		if wrong != nil {
			return nil, usage("%s: gang %s: %w\nhint: laneplan verify tells all that is wrong", path, g.ID, wrong)
		}
		list = append(list, toExplain{g, problem, plan})
	}
	return list, nil
}

// tell shows on a terminal what is asked at the moment.
func (a *app) tell(quiet bool, gang string) (about func(string), done func()) {
	if quiet || !a.isTerminal(a.stderr) {
		return nil, func() {}
	}
	const clear = "\r\x1b[K"
	return func(what string) { fmt.Fprintf(a.stderr, "%s%s: %s", clear, gang, what) },
		func() { fmt.Fprint(a.stderr, clear) }
}
