package main

import (
	"fmt"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"laneplan/jobs"
	"laneplan/jobs/compare"
	"laneplan/jobs/intake"
	"laneplan/jobs/planfile"
	"laneplan/jobs/rewind"
	"laneplan/jobs/wholefile"
	"laneplan/nest"
)

// planTime is the time limit of plan where none is given.
const planTime = 60 * time.Second

// planFlags of the command plan.
type planFlags struct {
	*search
	format                *choice
	out, start            string
	sections, mostSection count
	alternatives          count
	quiet, progress       bool
	noTimes               bool
	book                  *bookFlags
	documents             *documentFlags
	folder                bool // out is a folder for documents
}

func planCommand(a *app) *cobra.Command {
	var f planFlags
	c := &cobra.Command{
		Use:   "plan FILE | plan --shop SHOP ORDERS...",
		Short: "Plan the lanes of a bare problem, a job file or an order book",
		Long: `plan reads a bare problem or a job file (YAML) and prints the cheapest lane plan
that it finds, with a proven bound below which no plan can cost.

The search ends when the plan is proven best, or at the first of the limits
--time, --work and --gap. Where neither --time nor --work is given it ends
after ` + planTime.String() + `. Ctrl-C ends it too: the best plan so far is written, with exit code 130.

With --shop it reads an order book (CSV, XLSX or YAML files, or folders of them),
divides it into gangs as pool does, plans them all and compares the total with
every order alone. --time is then for all gangs together, --work for each.

With --out DIR every gang gets a folder of documents for press and rewinder: run
sheet, rewind sheet and roll tags (PDF), a report (HTML), the plan (JSON), tables
(CSV). A name that ends in a slash or has no ending, such as out, is a folder;
with --format it is a file.

The plan goes to standard output and nothing else does. On a terminal a line
on standard error shows how the search goes.`,
		Example: `  laneplan plan spices.yaml
  laneplan plan spices.yaml --gap 1% --out plan.json
  laneplan plan spices.yaml --start plan.json --time 5m
  laneplan plan spices.yaml --out out
  laneplan plan --shop shop.yaml orders.csv --format json --out plans.json`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if f.book.shop != "" {
				return a.planBook(args, &f)
			}
			if len(args) > 1 {
				return usage("want one file, got %d; an order book takes --shop", len(args))
			}
			for _, flag := range bookOnly {
				if f.flags.Changed(flag) {
					return usage("--%s: is for an order book, with --shop", flag)
				}
			}
			return a.plan(args[0], &f)
		},
	}
	flags := c.Flags()
	flags.SortFlags = false
	f.format = format(c, "text", "json", "csv")
	flags.StringVarP(&f.out, "out", "o", "", "write the plan to this file (.json or .csv choose the format), or documents into this folder, whole or not at all")
	f.documents = addDocumentFlags(flags)
	f.search = searchFlags(flags, planTime)
	flags.Var(&f.sections, "sections", "plan exactly so many sections")
	flags.Var(&f.mostSection, "max-sections", "plan at most so many sections")
	flags.Lookup("sections").DefValue, flags.Lookup("max-sections").DefValue = "", ""
	flags.Var(&f.alternatives, "alternatives", "also the cheapest plans with up to so many sections fewer and more; the limits are then shared")
	flags.Lookup("alternatives").DefValue = ""
	flags.StringVar(&f.start, "start", "", "begin the search from this plan (JSON)")
	flags.BoolVar(&f.noTimes, "no-times", false, "leave the seconds that the search took out of the JSON, so that equal plans are equal bytes")
	flags.BoolVarP(&f.quiet, "quiet", "q", false, "no live line, even on a terminal")
	f.book = addBookFlags(flags)
	flags.BoolVar(&f.progress, "progress", false, "a line on standard error for every better plan or bound, even in a pipe")
	return c
}

func (f *planFlags) check() error {
	switch {
	case f.sections > 0 && f.mostSection > 0:
		return usage("--sections and --max-sections: give one of them")
	case f.quiet && f.progress:
		return usage("--quiet and --progress: give one of them")
	}
	if !f.flags.Changed("format") {
		switch filepath.Ext(f.out) {
		case ".json":
			f.format.word = "json"
		case ".csv":
			f.format.word = "csv"
		}
	}
	f.folder = !f.flags.Changed("format") && namesFolder(f.out)
	for _, flag := range documentOnly {
		if f.flags.Changed(flag) && !f.folder {
			return usage("--%s: is for documents, with --out DIR", flag)
		}
	}
	if f.out == "" || f.folder {
		return nil
	}
	// Better refused now than after a minute's search.
	if err := wholefile.Writable(f.out); err != nil {
		return usage("--out: %w", err)
	}
	return nil
}

func (a *app) plan(file string, f *planFlags) error {
	if err := f.check(); err != nil {
		return err
	}
	gang, problem, err := a.problem(file, f.rules)
	if err != nil {
		return err
	}
	if f.folder {
		if err := f.documents.ready(f.out, gang); err != nil {
			return inFile(file, err)
		}
	}
	options, mended := f.options(), false
	if f.start != "" {
		document, err := planfile.ReadFile(f.start)
		if err != nil {
			return err
		}
		if options.Start, mended, err = a.startFrom(document, f, gang, problem); err != nil {
			return err
		}
	}
	engine, err := f.search.start()
	if err != nil {
		return err
	}
	defer engine.Close()
	options.Engine = engine
	described, result, err := a.solve("", gang, problem, options, f)
	if err != nil {
		return f.clash(file, gang, problem, fmt.Errorf("%s: %w", file, err))
	}
	if f.alternatives > 0 {
		if result, err = a.alternatives(gang, problem, options, f, &described, result); err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
	}
	if options.Start != nil {
		described.Solve.Start = planfile.StartOf(*options.Start, result.Plan, mended, gang.Places())
	}
	if f.folder {
		if err := a.documents(f.out, f.documents, gang, problem, described, engine); err != nil {
			return err
		}
	}
	if err := a.writePlans([]planfile.Gang{described}, nil, f); err != nil {
		return err
	}
	if result.Stop == nest.StopContext {
		return interrupted("interrupted; the best plan so far is written")
	}
	return nil
}

// solve searches the plan of one gang, shows on standard error how that goes,
// under a name where there are several, and checks and describes the plan.
func (a *app) solve(name string, gang jobs.Gang, problem nest.Problem, options nest.Options, f *planFlags) (planfile.Gang, nest.Result, error) {
	options.Unit = compare.Unit(gang)
	live := a.watch(name, f.quiet, f.progress, gang.Places())
	options.Progress = live.report
	result, err := nest.Solve(a.ctx, problem, options)
	live.end(result, err)
	if err != nil {
		return planfile.Gang{}, result, err
	}
	if err := nest.Check(problem, result.Plan); err != nil {
		return planfile.Gang{}, result, fmt.Errorf("the planner made a plan that does not hold: %w", err)
	}
	_, limits := f.limits()
	described, err := planfile.Describe(gang, problem, result, planfile.Run{Engine: options.Engine.Name(), Limits: limits, Times: !f.noTimes})
	return described, result, err
}

// rules puts what the flags say in the place of the file's own rules.
func (f *planFlags) rules(r *jobs.Rules) {
	if f.sections > 0 || f.mostSection > 0 {
		r.Sections, r.MostSections = int(f.sections), int(f.mostSection)
	}
}

// problem reads a file and turns it into what the planner takes.
func (a *app) problem(file string, change func(*jobs.Rules)) (jobs.Gang, nest.Problem, error) {
	gang, err := intake.ReadFile(file)
	if err != nil {
		return jobs.Gang{}, nest.Problem{}, err
	}
	change(&gang.Rules)
	problem, err := gang.Problem()
	if err != nil {
		return jobs.Gang{}, nest.Problem{}, fmt.Errorf("%s: %w", file, err)
	}
	if err := rewind.CheckEdges(gang); err != nil {
		return jobs.Gang{}, nest.Problem{}, inFile(file, documentError(err))
	}
	return gang, problem, nil
}

// readPlan reads the plan that a flag names; it must hold.
func readPlan(flag, path string, gang jobs.Gang, problem nest.Problem) (*nest.Plan, error) {
	document, err := planfile.ReadFile(path)
	if err != nil {
		return nil, err
	}
	plan, wrong, err := planFor(document, gang, problem)
	if wrong != nil {
		return nil, usage("--%s: %s: %w", flag, path, wrong)
	}
	return &plan, err
}

// planFor finds the plan of a gang; wrong says why it does not hold.
func planFor(document planfile.Document, gang jobs.Gang, problem nest.Problem) (plan nest.Plan, wrong, err error) {
	described, err := document.Find(gang.ID)
	if err != nil {
		return nest.Plan{}, nil, err
	}
	plan, wrong = described.Plan(problem)
	if wrong == nil {
		wrong = nest.Check(problem, plan)
	}
	return plan, wrong, nil
}
