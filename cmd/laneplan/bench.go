package main

import (
	"errors"
	"fmt"
	"math"
	"time"

	"github.com/shopspring/decimal"
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
	rivals bool
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
blocks of as many versions as there are lanes, sorted by quantity.

With --rivals two more are run on every instance, each within the limits of our
own search: the textbook integer programme, with a slot for every lane of every
section and a big M, by the same engine, and simulated annealing of what the
lanes hold, with the lengths from a linear programme. A second table has their
costs against ours, and when our search had a plan that costs no more.`,
		Example: `  laneplan bench testdata/bench
  laneplan bench testdata/bench --time 10s --rivals
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
	flags.BoolVar(&f.rivals, "rivals", false, "run the textbook integer programme and annealing with a linear programme beside our search")
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

// benchOne plans one instance, and in other ways beside it.
func (a *app) benchOne(in benchset.Instance, f *benchFlags, engine solver.Solver) (report.Benchmark, error) {
	problem, err := in.Gang.Problem()
	if err != nil {
		return report.Benchmark{}, fmt.Errorf("%s: %w", in.Name, err)
	}
	options := f.options()
	options.Engine, options.Unit = engine, compare.Unit(in.Gang)
	line, better, err := a.measure(in.Name, problem, in.Gang.Places(), options, f.quiet)
	if err != nil {
		return line, err
	}
	line.Best, line.Published = float(in.Best), float(in.Published)
	alone, blocks := baseline(bench.EachAlone(problem)), baseline(bench.SortedBlocks(problem))
	line.Alone, line.Blocks = alone.Cost, blocks.Cost
	if f.rivals && line.Failure == "" {
		alone.Method, blocks.Method = "alone", "blocks"
		line.Rivals = append([]report.Rival{alone, blocks}, a.rivals(in.Name, problem, f, engine)...)
		for i := range line.Rivals {
			line.Rivals[i].EqualSeconds = equalSeconds(better, line.Rivals[i].Cost)
		}
	}
	return line, nil
}

// measure plans a problem; beside the line it tells when the search got
// better.
func (a *app) measure(name string, problem nest.Problem, places int32, options nest.Options, quiet bool) (report.Benchmark, []nest.Progress, error) {
	line := report.Benchmark{Name: name, Versions: len(problem.Versions), Lanes: problem.Lanes, Places: places, Seed: options.Seed}
	live := a.watch(name, quiet, false, places)
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
		return line, nil, nil
	case err != nil:
		return line, nil, fmt.Errorf("%s: %w", name, err)
	}
	cost := result.Plan.Cost.Total
	line.Cost, line.Bound, line.Gap, line.Proven = cost, result.Bound, result.Gap, result.Proven
	line.Sections, line.Stop, line.Seconds = len(result.Plan.Sections), result.Stop.String(), result.Time.Seconds()
	line.SecondsToOnePercent = line.Seconds
	within := cost + 0.01*max(cost, -cost)
	if when := equalSeconds(better, &within); when != nil {
		line.SecondsToOnePercent = *when
	}
	return line, better, nil
}

// equalSeconds is when a search had a plan that costs no more than cost; nil
// where it never had.
func equalSeconds(better []nest.Progress, cost *float64) *float64 {
	if cost == nil {
		return nil
	}
	for _, p := range better {
		if p.Cost <= *cost+floatNoise*math.Abs(*cost) {
			seconds := p.Elapsed.Seconds()
			return &seconds
		}
	}
	return nil
}

// floatNoise is how much two sums of the same costs may differ, as a share.
const floatNoise = 1e-9

// float is an amount as a float; nil where there is none.
func float(amount *decimal.Decimal) *float64 {
	if amount == nil {
		return nil
	}
	x := amount.InexactFloat64()
	return &x
}

// baseline is the cost of a plan made another way, or why there is none.
func baseline(plan nest.Plan, err error) report.Rival {
	if err != nil {
		return report.Rival{Failure: err.Error()}
	}
	return report.Rival{Cost: &plan.Cost.Total}
}
