package main

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"laneplan/jobs/benchset"
	"laneplan/jobs/compare"
	"laneplan/jobs/report"
	"laneplan/nest"
	"laneplan/nest/bench"
	"laneplan/solver"
)

// benchTime is the time limit of one instance where none is given.
const benchTime = 10 * time.Second

// benchFlags of the command bench.
type benchFlags struct {
	*search
	format *choice
	quiet  bool
}

func benchCommand(a *app) *cobra.Command {
	var f benchFlags
	c := &cobra.Command{
		Use:   "bench DIR",
		Short: "Measure the planner on a folder of problems",
		Long: `bench plans every problem of a folder, one after the other: bare problems and
job files (.yaml), and lists of published instances with the best cost known
(.json); DIR may also be one such file. It prints a table: cost, bound and gap,
the seconds after which the search was within 1 % of its own final cost, and
the cost of two ways of planning that people use: every version alone, and
blocks of as many versions as there are lanes, sorted by quantity.`,
		Example: `  laneplan bench testdata/bench
  laneplan bench testdata/published --time 10s --format csv`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.bench(args[0], &f)
		},
	}
	flags := c.Flags()
	flags.SortFlags = false
	f.format = format(c, "text", "csv", "json")
	f.search = searchFlags(flags, benchTime)
	flags.BoolVarP(&f.quiet, "quiet", "q", false, "no live line, even on a terminal")
	return c
}

func (a *app) bench(path string, f *benchFlags) error {
	instances, err := benchset.Read(path)
	if err != nil {
		return err
	}
	engine, err := f.start()
	if err != nil {
		return err
	}
	defer engine.Close()
	var lines []report.Benchmark
	for _, in := range instances {
		if a.ctx.Err() != nil {
			break
		}
		line, err := a.benchOne(in, f, engine)
		if err != nil {
			return err
		}
		lines = append(lines, line)
	}
	write := map[string]func() error{
		"text": func() error { return report.BenchText(a.stdout, lines, style(a.stdout)) },
		"csv":  func() error { return report.BenchCSV(a.stdout, lines) },
		"json": func() error { return report.BenchJSON(a.stdout, lines) },
	}
	if err := write[f.format.word](); err != nil {
		return err
	}
	if a.ctx.Err() != nil {
		return interrupted("interrupted after %d of %d instances", len(lines), len(instances))
	}
	return nil
}

// benchOne plans one instance and the baselines beside it.
func (a *app) benchOne(in benchset.Instance, f *benchFlags, engine solver.Solver) (report.Benchmark, error) {
	line := report.Benchmark{Name: in.Name, Places: in.Gang.Places(), Seed: f.seed}
	problem, err := in.Gang.Problem()
	if err != nil {
		return line, fmt.Errorf("%s: %w", in.Name, err)
	}
	line.Versions, line.Lanes = len(problem.Versions), problem.Lanes
	if in.Best != nil {
		best := in.Best.InexactFloat64()
		line.Best = &best
	}
	line.Alone, line.Blocks = baseline(bench.EachAlone(problem)), baseline(bench.SortedBlocks(problem))

	live := a.watch(in.Name, f.quiet, false, line.Places)
	options := f.options()
	options.Engine, options.Unit = engine, compare.Unit(in.Gang)
	var better []nest.Progress
	options.Progress = func(p nest.Progress) {
		better = append(better, p)
		live.report(p)
	}
	result, err := nest.Solve(a.ctx, problem, options)
	live.end(result, err)
	var noPlan *nest.NoPlan
	var infeasible *nest.Infeasible
	switch {
	case errors.As(err, &noPlan), errors.As(err, &infeasible):
		line.Failure = err.Error()
		return line, nil
	case err != nil:
		return line, fmt.Errorf("%s: %w", in.Name, err)
	}
	cost := result.Plan.Cost.Total
	line.Cost, line.Bound, line.Gap, line.Proven = cost, result.Bound, result.Gap, result.Proven
	line.Sections, line.Stop, line.Seconds = len(result.Plan.Sections), result.Stop.String(), result.Time.Seconds()
	line.SecondsToOnePercent = line.Seconds
	for _, p := range better {
		if p.Cost <= cost+0.01*max(cost, -cost) {
			line.SecondsToOnePercent = p.Elapsed.Seconds()
			break
		}
	}
	return line, nil
}

// baseline is the cost of a plan made another way; nil where there is none.
func baseline(plan nest.Plan, err error) *float64 {
	if err != nil {
		return nil
	}
	return &plan.Cost.Total
}
