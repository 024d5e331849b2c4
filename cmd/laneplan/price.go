package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"laneplan/jobs"
	"laneplan/jobs/compare"
	"laneplan/jobs/intake"
	"laneplan/jobs/planfile"
	"laneplan/jobs/price"
	"laneplan/jobs/price/game"
	"laneplan/jobs/price/quotefile"
	"laneplan/jobs/report"
	"laneplan/jobs/wholefile"
	"laneplan/nest"
	"laneplan/solver"
)

// priceTime is the time limit of a gang's plan where none is given.
const priceTime = 10 * time.Second

// priceFlags of the command price.
type priceFlags struct {
	*search
	format               *choice
	out, planFile, rule  string
	add, plot            string
	ladders, vary        []string
	trace, quiet         bool
	exactOrders, samples count
	shareWork            amount
	book                 *bookFlags
	variations           []price.Variation
	steps                []ladderSteps
	engine               solver.Solver
	asked                bool // for something else than shares
}

// ladderSteps are the quantities of one version.
type ladderSteps struct {
	version    string
	quantities []int
}

func priceCommand(a *app) *cobra.Command {
	f := &priceFlags{}
	c := &cobra.Command{
		Use:   "price FILE... | price --shop SHOP ORDERS...",
		Short: "Tell what gangs cost, what each order should carry and what to ask for it",
		Long: `price plans the gangs of job files, bare problems or, with --shop, of an order
book, and prints what each gang costs by kind, each order's cost alone and its
share by a rule, and a price made of the share by the shop's markup or margin.
Sub-gangs are planned to a work limit, so the shares of a plan are the same
each time; the gang's own plan is that of --plan, or searched up to --time or
--work (` + priceTime.String() + ` where neither is given).

Instead of shares, --add tells what further orders would add, --ladder prices
a version at several quantities, --vary shows the cost as something varies;
their plans each get the work of --work, 5 where it is not given.

Rules: ` + strings.Join(jobs.ShareRules, ", ") + `.
Tax is left out.`,
		Example: `  laneplan price spices.yaml
  laneplan price spices.yaml --rule shapley --trace
  laneplan price spices.yaml --ladder saffron=250,500,1000,2500,5000
  laneplan price --shop shop.yaml orders.csv --add new.csv
  laneplan price spices.yaml --vary tolerance=0,2,5,10 --vary stock_price=-10%,+10% --plot vary.svg`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error { return a.price(args, f) },
	}
	flags := c.Flags()
	flags.SortFlags = false
	f.format = format(c, "text", "json", "csv", "pdf", "html")
	flags.StringVarP(&f.out, "out", "o", "", "write to this file, whole or not at all; without --format its ending .json, .csv, .pdf or .html chooses the format")
	flags.StringVar(&f.rule, "rule", "", "share the cost by this rule (default the shop's, or "+jobs.ShareRules[0]+")")
	flags.BoolVar(&f.trace, "trace", false, "print the arithmetic of every line of the cost")
	flags.StringVar(&f.planFile, "plan", "", "price this plan (JSON) instead of searching one")
	flags.StringVar(&f.add, "add", "", "tell what the orders of this file add to the gangs as they stand")
	flags.StringArrayVar(&f.ladders, "ladder", nil, "price a version at several quantities, VERSION=250,500,1000; may be repeated")
	flags.StringArrayVar(&f.vary, "vary", nil, "show the cost as one thing varies, tolerance=0,2,5 or stock_price=-10%,+10%; may be repeated ("+strings.Join(price.Varied(), ", ")+")")
	flags.StringVar(&f.plot, "plot", "", "draw what --vary shows into this file (SVG); --format html has the drawing in it")
	f.search = searchFlags(flags, priceTime)
	flags.Var(&f.exactOrders, "exact-orders", fmt.Sprintf("plan every sub-gang up to so many orders in a gang (default %d, most %d)", game.DefaultExactPlayers, game.MostNucleolus))
	flags.Var(&f.shareWork, "share-work", fmt.Sprintf("work of a sub-gang's plan for each of its versions (default %g)", price.DefaultWork))
	flags.Var(&f.samples, "samples", fmt.Sprintf("random orders of arrival for the rule shapley beyond --exact-orders (default %d)", game.DefaultSamples))
	for _, flag := range []string{"exact-orders", "share-work", "samples"} {
		flags.Lookup(flag).DefValue = ""
	}
	flags.BoolVarP(&f.quiet, "quiet", "q", false, "no live line, even on a terminal")
	f.book = addBookFlags(flags)
	if err := c.RegisterFlagCompletionFunc("rule", cobra.FixedCompletions(jobs.ShareRules, cobra.ShellCompDirectiveNoFileComp)); err != nil {
		panic(err) // the flag is not there: our own bug
	}
	return c
}

func (f *priceFlags) check() error {
	if f.book.shop == "" {
		for _, flag := range bookOnly {
			if f.flags.Changed(flag) {
				return usage("--%s: is for an order book, with --shop", flag)
			}
		}
	}
	if _, err := game.ParseRule(f.rule); err != nil {
		return usage("--rule: %w", err)
	}
	if f.exactOrders > game.MostNucleolus {
		return usage("--exact-orders: want at most %d, got %d", game.MostNucleolus, f.exactOrders)
	}
	for _, text := range f.vary {
		v, err := price.ParseVariation(text)
		if err != nil {
			return usage("--vary: %w", err)
		}
		f.variations = append(f.variations, v)
	}
	for _, text := range f.ladders {
		steps, err := parseLadder(text)
		if err != nil {
			return usage("--ladder: %w", err)
		}
		f.steps = append(f.steps, steps)
	}
	f.asked = f.add != "" || len(f.steps) > 0 || len(f.variations) > 0
	switch {
	case f.asked && f.flags.Changed("rule"):
		return usage("--rule: is for shares, not for --add, --ladder and --vary")
	case f.asked && f.planFile != "":
		return usage("--plan: is for shares, not for --add, --ladder and --vary")
	case f.asked && f.flags.Changed("time"):
		return usage("--time: --add, --ladder and --vary compare plans of equal work: want --work")
	case f.asked && f.trace:
		return usage("--trace: is for the cost and its shares, not for --add, --ladder and --vary")
	case f.plot != "" && len(f.variations) == 0:
		return usage("--plot: draws what --vary shows: want --vary beside it")
	case f.planFile != "" && f.book.shop != "":
		return usage("--plan: is for a job file or bare problem, not for an order book")
	}
	if !f.flags.Changed("format") {
		switch filepath.Ext(f.out) {
		case ".json", ".csv", ".pdf", ".html":
			f.format.word = filepath.Ext(f.out)[1:]
		}
	}
	for flag, path := range map[string]string{"out": f.out, "plot": f.plot} {
		if path == "" {
			continue
		}
		if err := wholefile.Writable(path); err != nil {
			return usage("--%s: %w", flag, err)
		}
	}
	return nil
}

// parseLadder reads VERSION=250,500,1000.
func parseLadder(text string) (ladderSteps, error) {
	version, list, found := strings.Cut(text, "=")
	if !found || version == "" || list == "" {
		return ladderSteps{}, fmt.Errorf("want a version and its quantities, such as saffron=250,500,1000, got %q", text)
	}
	s := ladderSteps{version: version}
	for _, one := range strings.Split(list, ",") {
		var n count
		if err := n.Set(strings.TrimSpace(one)); err != nil || n > jobs.MostQuantity {
			return ladderSteps{}, fmt.Errorf("%s: want quantities from 1 to %d, got %q", version, jobs.MostQuantity, one)
		}
		s.quantities = append(s.quantities, int(n))
	}
	return s, nil
}

// priced is one gang to price, and where it comes from.
type priced struct {
	gang    jobs.Gang
	file    string               // that holds it; "" for an order book's
	apart   map[string]jobs.Gang // its orders alone where another press or die is cheaper
	further []jobs.Order         // to add to it
}

// place names the gang's file, with the lines of faults in it.
func (p priced) place(err error) error {
	var faults jobs.Faults
	switch {
	case p.file == "":
		return fmt.Errorf("gang %s: %w", p.gang.ID, err)
	case errors.As(err, &faults):
		if placed := intake.Placed(p.file, faults); placed != nil {
			return placed
		}
	}
	return fmt.Errorf("%s: %w", p.file, err)
}

func (a *app) price(paths []string, f *priceFlags) error {
	if err := f.check(); err != nil {
		return err
	}
	gangs, err := a.toPrice(paths, f)
	if err != nil {
		return err
	}
	for _, s := range f.steps {
		if !slices.ContainsFunc(gangs, func(p priced) bool { return hasVersion(p.gang, s.version) }) {
			return usage("--ladder: no gang has a version %s", s.version)
		}
	}
	engine, err := f.search.start()
	if err != nil {
		return err
	}
	defer engine.Close()
	f.engine = engine
	d := quotefile.Document{Currency: gangs[0].gang.Currency}
	var curves []price.Curve
	for _, p := range gangs {
		var g quotefile.Gang
		if f.asked {
			var drawn []price.Curve
			g, drawn, err = a.whatIf(p, f)
			curves = append(curves, drawn...)
		} else {
			g, err = a.share(p, f)
		}
		if err != nil {
			return p.place(err)
		}
		if g.Cost != "" { // a gang without the versions of --ladder has nothing to say
			d.Gangs = append(d.Gangs, g)
		}
	}
	if f.plot != "" {
		err := wholefile.Write(f.plot, 0o644, func(w io.Writer) error { return price.PlotSVG(w, curves, d.Currency) })
		if err != nil {
			return err
		}
	}
	return a.writePrices(d, curves, gangs[0].gang.Papers, f)
}

func (f *priceFlags) priceOptions(p priced) price.Options {
	return price.Options{
		Engine: f.engine, Seed: f.seed, Workers: int(f.workers), Work: float64(f.shareWork),
		ExactOrders: int(f.exactOrders), Samples: int(f.samples), GangWork: float64(f.work), Apart: p.apart,
	}
}

// share costs a gang's plan and shares the cost.
func (a *app) share(p priced, f *priceFlags) (quotefile.Gang, error) {
	plan, gap, err := a.planFor(p, f)
	if err != nil {
		return quotefile.Gang{}, err
	}
	sheet, err := price.NewSheet(p.gang, plan)
	if err != nil {
		return quotefile.Gang{}, err
	}
	g := quotefile.Describe(sheet)
	if gap != nil {
		fraction := quotefile.Fraction(*gap)
		g.Gap = &fraction
	}
	name := f.rule
	if name == "" {
		name = p.gang.Pricing.Rule
	}
	rule, err := game.ParseRule(name)
	if err != nil {
		return quotefile.Gang{}, err
	}
	options := f.priceOptions(p)
	if end := a.watchSubGangs(p.gang.ID, f.quiet, &options); end != nil {
		defer end()
	}
	coalitions, err := price.NewCoalitions(p.gang, plan, options)
	if err != nil {
		return quotefile.Gang{}, err
	}
	shares, err := coalitions.Share(a.ctx, rule)
	if err != nil {
		return quotefile.Gang{}, err
	}
	g.Share(shares, p.gang.Places())
	if gap != nil {
		g.Warnings = price.Warnings(shares, p.gang.Places(), *gap)
	}
	return g, nil
}

// planFor is the plan to price with its gap; nil where that is not known.
func (a *app) planFor(p priced, f *priceFlags) (nest.Plan, *float64, error) {
	problem, err := p.gang.Problem()
	if err != nil {
		return nest.Plan{}, nil, err
	}
	if f.planFile != "" {
		return planFromFile(f.planFile, p.gang, problem)
	}
	options := f.options()
	options.Engine, options.Unit = f.engine, compare.Unit(p.gang)
	live := a.watch(p.gang.ID, f.quiet, false, p.gang.Places())
	options.Progress = live.report
	result, err := nest.Solve(a.ctx, problem, options)
	live.end(result, err)
	switch {
	case err != nil:
		return nest.Plan{}, nil, err
	case result.Stop == nest.StopContext:
		return nest.Plan{}, nil, interrupted("interrupted; nothing is written")
	}
	gap := min(result.Gap, 1)
	return result.Plan, &gap, nest.Check(problem, result.Plan)
}

func planFromFile(path string, gang jobs.Gang, problem nest.Problem) (nest.Plan, *float64, error) {
	plan, err := readPlan("plan", path, gang, problem)
	if err != nil {
		return nest.Plan{}, nil, err
	}
	document, err := planfile.ReadFile(path)
	if err != nil {
		return nest.Plan{}, nil, err
	}
	described, err := document.Find(gang.ID)
	if err != nil || described.Bound == nil {
		return *plan, nil, err
	}
	gap, err := described.Bound.Gap.Float64()
	if err != nil {
		return nest.Plan{}, nil, fmt.Errorf("%s: gap: %w", path, err)
	}
	return *plan, &gap, nil
}

// whatIf answers --add, --ladder and --vary for one gang.
func (a *app) whatIf(p priced, f *priceFlags) (quotefile.Gang, []price.Curve, error) {
	places, options := p.gang.Places(), f.priceOptions(p)
	g := quotefile.Gang{ID: p.gang.ID}
	if len(p.further) > 0 {
		addition, err := price.Add(a.ctx, p.gang, p.further, options)
		if err != nil {
			return g, nil, err
		}
		g.Add(addition, places)
		g.Cost = addition.Before.Cost.StringFixed(places)
	}
	for _, s := range f.steps {
		if !hasVersion(p.gang, s.version) {
			continue
		}
		ladder, err := price.MakeLadder(a.ctx, p.gang, s.version, s.quantities, options)
		if err != nil {
			return g, nil, err
		}
		g.Ladder(ladder, places)
		g.Cost = ladder.AsItStands.Cost.StringFixed(places)
	}
	if len(f.variations) == 0 || len(p.gang.Orders) == 0 {
		return g, nil, nil
	}
	curves, err := price.Vary(a.ctx, p.gang, f.variations, options)
	if errors.Is(err, price.ErrNotVaried) {
		return g, nil, usage("--vary: %w", err)
	}
	if err != nil {
		return g, nil, err
	}
	g.Vary(curves, places)
	g.Cost = curves[0].AsItIs.Cost.StringFixed(places)
	return g, curves, nil
}

func hasVersion(g jobs.Gang, id string) bool {
	for _, entry := range g.Entries() {
		if entry.Version.ID == id {
			return true
		}
	}
	return false
}

// writePrices puts a document on standard output or into the file of --out.
func (a *app) writePrices(d quotefile.Document, curves []price.Curve, papers jobs.Papers, f *priceFlags) error {
	page := quotefile.Page{Papers: papers, Trace: f.trace}
	content := func(w io.Writer, style report.Style) error {
		switch f.format.word {
		case "json":
			return quotefile.Write(w, d)
		case "csv":
			return quotefile.WriteCSV(w, d)
		case "pdf":
			return quotefile.WritePDF(w, d, page)
		case "html":
			plots, err := plotsOf(curves, d.Currency)
			if err != nil {
				return err
			}
			return quotefile.WriteHTML(w, d, page, plots)
		}
		return report.Quotes(w, d, f.trace, style)
	}
	if f.out == "" {
		return content(a.stdout, style(a.stdout))
	}
	return wholefile.Write(f.out, 0o644, func(w io.Writer) error { return content(w, report.Style{}) })
}

// plotsOf draws the curves of every gang; one of which too few values have a
// plan is not drawn.
func plotsOf(curves []price.Curve, currency string) (map[string][][]byte, error) {
	plots := map[string][][]byte{}
	for _, c := range curves {
		var svg bytes.Buffer
		err := price.PlotSVG(&svg, []price.Curve{c}, currency)
		switch {
		case errors.Is(err, price.ErrNoPlot):
		case err != nil:
			return nil, err
		default:
			plots[c.Gang] = append(plots[c.Gang], svg.Bytes())
		}
	}
	return plots, nil
}
