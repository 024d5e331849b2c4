package report

import (
	"fmt"
	"io"
	"strconv"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
)

// unitPlaces of money for one row: far below the smallest unit of any
// currency.
const unitPlaces = 6

// Gang writes what is known of a gang before any planning.
func Gang(w io.Writer, g jobs.Gang) error {
	f := newFacts()
	line := f.line
	labels := 0
	for _, e := range g.Entries() {
		labels += e.Version.Quantity
	}
	line("gang", "%s", clean(g.ID))
	line("to print", "%s in %s, %s", counted(len(g.Entries()), "version"), counted(len(g.Orders), "order"), counted(labels, "label"))
	lanes := strconv.Itoa(g.Die.Lanes)
	if n := len(g.Die.ClosedLanes); n > 0 {
		lanes += fmt.Sprintf(", %d of them out of use", n)
	}
	line("lanes", "%s", lanes)
	costs := g.UnitCosts()
	money := func(name string, d decimal.Decimal) {
		if !d.IsZero() {
			line(name, "%s%s", d.Round(unitPlaces), afterAmount(g.Currency))
		}
	}
	if g.Bare == nil {
		line("label", "%s across, %s around; a row is %s", g.Die.Across, g.Die.Around, g.Die.Pitch())
		line("web", "%s wide", g.Die.Web)
		money("a square metre costs", g.AreaPrice())
	}
	money("a row costs", costs.Row)
	if g.Bare == nil {
		money("the set-up costs", costs.Setup)
		money("a changeover costs", costs.Changeover)
		money("a splice costs", costs.Splice)
	} else {
		money("a section costs", costs.Changeover)
	}
	money("a lane run costs", costs.LaneRun)
	return f.write(w)
}

func afterAmount(currency string) string {
	if currency == "" {
		return ""
	}
	return " " + currency
}
