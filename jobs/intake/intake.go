// Package intake reads files into the types of package jobs. Everything wrong
// with a file is reported at once, each fault with file, line and field: the
// error is then a fault.List. It plans nothing.
//
//	gang, err := intake.ReadFile("spice-mill.yaml")
package intake

import (
	"fmt"
	"path/filepath"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/intake/parts"
	"laneplan/jobs/intake/scalar"
	"laneplan/jobs/intake/yamltree"
)

// MostBytes of a job file: some 20,000 versions, and 200 MB of memory at the
// worst.
const MostBytes = 2_000_000

// ReadFile reads a bare problem or a job file of at most MostBytes. On error
// the gang is zero; the error is a fault.List unless reading itself broke.
func ReadFile(path string) (jobs.Gang, error) {
	tree, err := yamltree.ReadFile(path, MostBytes)
	if err != nil {
		return jobs.Gang{}, err
	}
	return read(tree, path)
}

// Parse reads a bare problem or a job file from memory; name stands for the
// file in messages, and without folder and extension for the gang where the
// file gives it no name.
func Parse(name string, data []byte) (jobs.Gang, error) {
	return read(yamltree.Parse(name, data), name)
}

func read(tree *yamltree.Tree, path string) (jobs.Gang, error) {
	var g jobs.Gang
	if tree.Root() != nil {
		var clear bool
		if g, clear = gang(tree.Root()); clear {
			parts.Report(tree, g.Check(), func(path string) string { return locate(tree, path) })
		}
	}
	if g.ID == "" {
		g.ID = strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	}
	if err := tree.Err(); err != nil {
		return jobs.Gang{}, err
	}
	return g, nil
}

// The fields that only one of the two kinds of file has.
var (
	bareFields = []string{"lanes", "closed_lanes", "frame_rows", "costs"}
	shopFields = []string{"currency", "die", "stock", "finishes", "press", "rewinder", "rates", "pricing", "wind_chart", "papers", "begun"}
)

// gang reads the file; false where it is not clear which kind of file it is.
func gang(root *yamltree.Map) (jobs.Gang, bool) {
	g := jobs.Gang{ID: root.Text("gang"), Policy: policy(root), Rules: rules(root.Map("rules"))}
	bareField, shopField := root.First(bareFields...), root.First(shopFields...)
	switch {
	case bareField != "" && shopField != "":
		root.Fault(bareField, fmt.Sprintf("want a bare problem (lanes, costs) or a job file (die, stock, press), got %s beside %s", bareField, shopField), "")
	case bareField != "":
		bare(root, &g)
	case shopField != "":
		shop(root, &g)
	default:
		root.Need("die", "die, stock and press of a job file, or lanes and costs of a bare problem")
	}
	g.Orders = orders(root, versionFields(root, jobs.Version{}))
	return g, (bareField == "") != (shopField == "")
}

func bare(root *yamltree.Map, g *jobs.Gang) {
	root.Need("lanes", "the number of lanes, such as 4")
	root.Need("costs", "the costs of a row and a section, such as {row: 13.44, section: 18676}")
	g.Die = jobs.Die{
		Lanes:       root.Whole("lanes", 1, jobs.MostLanes),
		ClosedLanes: root.Wholes("closed_lanes", 1, jobs.MostLanes),
		FrameRows:   root.Whole("frame_rows", 1, 100_000),
	}
	costs := root.Map("costs")
	costs.Need("row", "the cost of one row, such as 13.44")
	costs.Need("section", "the cost of starting a section, such as 18676")
	g.Bare = &jobs.BareCosts{Row: parts.Money(costs, "row"), Section: parts.Money(costs, "section"), LaneRun: parts.Money(costs, "lane_run")}
}

func shop(root *yamltree.Map, g *jobs.Gang) {
	root.Need("currency", "the currency of all money in the file, such as EUR")
	root.Need("die", "the die, such as {across: 60mm, around: 100mm, lanes: 4, …}")
	root.Need("stock", "the stock, such as {id: paper, price_per_m2: 0.42}")
	root.Need("press", "the press, such as {speed: 30m/min, hourly_rate: 75, …}")
	g.Currency = yamltree.Value(root, "currency", scalar.Currency)
	g.Die = parts.Die(root.Map("die"))
	g.Stock = parts.Stock(root.Map("stock"))
	for _, m := range root.Maps("finishes") {
		g.Finishes = append(g.Finishes, parts.Finish(m))
	}
	g.Press = parts.Press(root.Map("press"))
	g.Rewinder = parts.Rewinder(root.Map("rewinder"))
	g.Rates = parts.Rates(root.Map("rates"))
	g.Pricing = parts.Pricing(root.Map("pricing"))
	g.Chart = parts.Chart(root.Map("wind_chart"))
	g.Papers = parts.Papers(root.Map("papers"))
	g.Begun = begun(root)
}

// begun is where the press stands, in the job file of a rest.
func begun(root *yamltree.Map) *jobs.Begun {
	m := root.Map("begun")
	if m == nil {
		return nil
	}
	return &jobs.Begun{
		RollUsed:     parts.Length(m, "roll_used"),
		MinutesGone:  m.Decimal("minutes_gone", 0, jobs.MostQuantity),
		SetupWeb:     parts.Length(m, "setup_web"),
		SetupMinutes: m.Decimal("setup_minutes", 0, jobs.MostQuantity),
	}
}

// policy is the tolerance of the file as a whole.
func policy(root *yamltree.Map) jobs.Policy {
	v := tolerance(root, jobs.Version{})
	p := jobs.Policy{BillOvers: v.BillOvers}
	if v.Unders != nil {
		p.Unders = *v.Unders
	}
	if v.Overs != nil {
		p.Overs, p.LimitOvers = *v.Overs, true
	}
	return p
}

func rules(m *yamltree.Map) jobs.Rules {
	return jobs.Rules{
		Sections:           m.Whole("sections", 1, jobs.MostQuantity),
		MostSections:       m.Whole("most_sections", 1, jobs.MostQuantity),
		VersionsPerSection: m.Whole("versions_per_section", 1, jobs.MostQuantity),
		LeastRows:          m.Whole("least_rows", 1, jobs.MostQuantity),
		LeastSection:       parts.Length(m, "least_section"),
		Together:           yamltree.Lists(m, "together", scalar.Text),
		Apart:              yamltree.Lists(m, "apart", scalar.Text),
		WholeRolls:         m.Choice("whole_rolls", jobs.WholeRollsPreferred, jobs.WholeRollsRequired),
		WholeRollSaving:    parts.Money(m, "whole_roll_saving"),
	}
}
