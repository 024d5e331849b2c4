package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"laneplan/jobs"
	"laneplan/jobs/intake/fault"
	"laneplan/jobs/planfile"
	"laneplan/jobs/pool"
	"laneplan/jobs/report"
	"laneplan/nest"
)

func verifyCommand(a *app) *cobra.Command {
	var book *bookFlags
	c := &cobra.Command{
		Use:   "verify PLAN.json FILE | verify PLAN.json --shop SHOP ORDERS...",
		Short: "Recount a plan, wherever it comes from, against the file it is for",
		Long: `verify recounts a plan from its sections alone: that every demand is met, every
rule of the file kept, and every figure that the plan states is right. The plan
may be one that plan wrote, a hand edit of one, or come from another program;
it need hold no more than lanes and sections. Every fault is reported at once,
with its line; exit code 2.

With --shop it recounts the plans of an order book, or of one of its gangs; the
book has to be pooled on the same --date as it was for the plan.`,
		Example: "  laneplan verify plan.json spices.yaml\n  laneplan verify plans.json --shop shop.yaml --date 2026-11-30 orders.csv",
		Args:    cobra.MinimumNArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			document, err := planfile.ReadFile(args[0])
			if err != nil {
				return err
			}
			if book.shop != "" {
				return a.verifyBook(document, args, book)
			}
			if len(args) != 2 {
				return usage("want a plan and its file, got %d files; an order book takes --shop", len(args))
			}
			for _, flag := range bookOnly {
				if c.Flags().Changed(flag) {
					return usage("--%s: is for an order book, with --shop", flag)
				}
			}
			gang, problem, err := a.problem(args[1], func(*jobs.Rules) {})
			if err != nil {
				return err
			}
			counted, err := verified(document, gang, problem)
			if err != nil {
				return err
			}
			return a.holds(args[0], "the plan holds", "", []planfile.Gang{counted})
		},
	}
	c.Flags().SortFlags = false
	book = addBookFlags(c.Flags())
	return c
}

// verified is planfile.Verify, with its faults as they are.
func verified(d planfile.Document, gang jobs.Gang, problem nest.Problem) (planfile.Gang, error) {
	counted, err := planfile.Verify(d, gang, problem)
	if faults := (fault.List{}); errors.As(err, &faults) {
		return counted, faults
	}
	return counted, err
}

// verifyBook verifies the plans of all gangs of an order book. A gang whose
// dates no plan keeps was planned without them.
func (a *app) verifyBook(document planfile.Document, args []string, book *bookFlags) error {
	_, pooling, err := a.pooled(args[1:], book)
	if err != nil {
		return err
	}
	var all fault.List
	var counted []planfile.Gang
	var undatedGangs []string
	for _, gang := range pooling.Gangs {
		if !slices.ContainsFunc(document.Gangs, func(g planfile.Gang) bool { return g.ID == gang.ID }) {
			if document.Book != nil { // else it may be the plan of one gang
				all.Add(fault.Of(args[0], "holds no plan of gang %s of the order book", gang.ID)...)
			}
			continue
		}
		problem, err := gang.Problem()
		if err != nil {
			return err
		}
		one, err := verified(document, gang.Gang, problem)
		if undated, dates := gang.WithoutDates(); dates && err != nil {
			if problem, err := undated.Problem(); err == nil {
				if without, fits := verified(document, undated.Gang, problem); fits == nil {
					counted, undatedGangs = append(counted, without), append(undatedGangs, gang.ID)
					continue
				}
			}
		}
		if faults := (fault.List{}); errors.As(err, &faults) {
			all.Add(faults...)
			continue
		}
		if err != nil {
			return err
		}
		counted = append(counted, one)
	}
	for _, g := range document.Gangs {
		if !slices.ContainsFunc(pooling.Gangs, func(p pool.Gang) bool { return p.ID == g.ID }) {
			all.Add(fault.Of(args[0], "holds a plan of gang %s, which the order book does not make on %s", g.ID, pooling.Date.Format(time.DateOnly))...)
		}
	}
	if err := all.Err(); err != nil {
		return err
	}
	what, but := "all plans of the order book hold", ""
	if document.Book == nil {
		what = "what it says of the order book holds"
	}
	if undatedGangs != nil {
		but = "; no due date binds " + strings.Join(undatedGangs, ", ")
	}
	return a.holds(args[0], what, but, counted)
}

func (a *app) holds(file, what, but string, counted []planfile.Gang) error {
	if _, err := fmt.Fprintf(a.stdout, "%s: %s: every demand is met, every rule kept, every figure right%s\n", file, what, but); err != nil {
		return err
	}
	for _, gang := range counted {
		if _, err := fmt.Fprintln(a.stdout); err != nil {
			return err
		}
		if err := report.Text(a.stdout, gang, style(a.stdout)); err != nil {
			return err
		}
	}
	return nil
}
