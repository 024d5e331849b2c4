package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
	"laneplan/solver/highs"
)

func ticketsCommand(a *app) *cobra.Command {
	var f *documentFlags
	var out string
	c := &cobra.Command{
		Use:   "tickets PLAN.json [FILE]",
		Short: "Make the documents for press and rewinder again from a stored plan",
		Long: `tickets writes a folder of documents for every gang of a plan: run sheet, rewind
sheet and roll tags (PDF), the report (HTML), tables (CSV) and the rolls as JSON.
The plan is recounted first, as verify does it.

A plan.json that plan wrote into a folder holds the job it was made from. For
another plan of a single gang, name the job file too.`,
		Example: `  laneplan tickets out/spice-mill/plan.json --out again
  laneplan tickets plan.json spices.yaml --out out --replace`,
		Args: cobra.RangeArgs(1, 2),
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				return usage("--out: want the folder to write into")
			}
			document, err := planfile.ReadFile(args[0])
			if err != nil {
				return err
			}
			gangs, err := a.gangsOf(document, args)
			if err != nil {
				return err
			}
			for _, g := range gangs {
				if err := f.ready(out, g); err != nil {
					return err
				}
			}
			return a.tickets(document, gangs, out, f)
		},
	}
	flags := c.Flags()
	flags.SortFlags = false
	flags.StringVarP(&out, "out", "o", "", "write the documents into a folder for each gang in this folder")
	f = addDocumentFlags(flags)
	return c
}

// gangsOf a plan file: those that it holds, or the one of a job file.
func (a *app) gangsOf(document planfile.Document, args []string) ([]jobs.Gang, error) {
	if len(args) == 2 {
		gang, _, err := a.problem(args[1], func(*jobs.Rules) {})
		return []jobs.Gang{gang}, err
	}
	var gangs []jobs.Gang
	for _, g := range document.Gangs {
		gang, err := document.Stored(g)
		if err != nil {
			return nil, err
		}
		gangs = append(gangs, gang)
	}
	return gangs, nil
}

// tickets recounts every plan and writes its documents.
func (a *app) tickets(document planfile.Document, gangs []jobs.Gang, out string, f *documentFlags) error {
	engine, err := highs.New(highs.Options{})
	if err != nil {
		return err
	}
	defer engine.Close()
	for _, gang := range gangs {
		problem, err := gang.Problem()
		if err != nil {
			return err
		}
		plan, err := planfile.Verify(document, gang, problem)
		if err != nil {
			return err
		}
		stated, err := document.Find(gang.ID)
		if err != nil {
			return err
		}
		plan.Bound, plan.Solve, plan.Rest = stated.Bound, stated.Solve, stated.Rest
		if err := plan.SetJob(gang); err != nil {
			return err
		}
		if err := a.documents(out, f, gang, problem, plan, engine); err != nil {
			return err
		}
		if _, err := fmt.Fprintln(a.stdout, folderOf(out, gang)); err != nil {
			return err
		}
		if err := a.ctx.Err(); err != nil {
			return interrupted("interrupted; the documents above are written")
		}
	}
	return nil
}
