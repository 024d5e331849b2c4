package main

import (
	"io"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"laneplan/jobs/report"
	"laneplan/jobs/wholefile"
	"laneplan/nest/bench"
)

// What growth looks for where nothing is given.
const (
	growthTime = 120 * time.Second // an instance
	growthGap  = 0.02
)

// growthUnit is the smallest unit of money of the drawn instances, in which a
// row costs 1.
const growthUnit = 1

// growthFlags of the command growth.
type growthFlags struct {
	*search
	format *choice
	most   count
	plot   string
	quiet  bool
}

func growthCommand(a *app) *cobra.Command {
	var f growthFlags
	c := &cobra.Command{
		Use:   "growth",
		Short: "Measure how the work grows with the versions",
		Long: `growth draws problems of 10 to 400 versions on 4, 8 and 12 lanes, the same ones
every time, and plans each until its plan is proven to be within 2 % of the
cheapest (--gap), for at most 120 s (--time). It prints the times; what is not
reached in its time is told as 'more than', with the gap at its end.`,
		Example: `  laneplan growth --most 40
  laneplan growth --time 60s --plot growth.svg`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return a.growth(&f) },
	}
	flags := c.Flags()
	flags.SortFlags = false
	f.format = format(c, "text", "csv", "json")
	f.search = searchFlags(flags, growthTime)
	flags.Var(&f.most, "most", "leave out problems of more versions than this (default: none)")
	flags.Lookup("most").DefValue = ""
	flags.StringVar(&f.plot, "plot", "", "draw the times into this file (SVG)")
	flags.BoolVarP(&f.quiet, "quiet", "q", false, "no live line, even on a terminal")
	return c
}

func (a *app) growth(f *growthFlags) error {
	specs := bench.Growth()
	if f.most > 0 {
		least := specs[0].Versions
		specs = slices.DeleteFunc(specs, func(s bench.Spec) bool { return s.Versions > int(f.most) })
		if len(specs) == 0 {
			return usage("--most: want %d versions or more, the smallest problem has so many; got %d", least, f.most)
		}
	}
	if f.plot != "" {
		if err := wholefile.Writable(f.plot); err != nil {
			return usage("--plot: %w", err)
		}
	}
	engine, err := f.start()
	if err != nil {
		return err
	}
	defer engine.Close()
	options := f.options()
	options.Engine, options.Unit = engine, growthUnit
	if !f.flags.Changed("gap") {
		options.Gap = growthGap
	}
	var lines []report.Growth
	for _, spec := range specs {
		if a.ctx.Err() != nil {
			break
		}
		line, _, err := a.measure(spec.Name(), spec.Problem(), 0, options, f.quiet)
		if err != nil {
			return err
		}
		lines = append(lines, report.GrowthOf(line, options.Gap))
	}
	write := map[string]func() error{
		"text": func() error { return report.GrowthText(a.stdout, lines, style(a.stdout)) },
		"csv":  func() error { return report.GrowthCSV(a.stdout, lines) },
		"json": func() error { return report.GrowthJSON(a.stdout, lines) },
	}
	if err := write[f.format.word](); err != nil {
		return err
	}
	if a.ctx.Err() != nil {
		return interrupted("interrupted after %d problems", len(lines))
	}
	if f.plot == "" {
		return nil
	}
	return wholefile.Write(f.plot, 0o644, func(w io.Writer) error { return report.GrowthPlot(w, lines) })
}
