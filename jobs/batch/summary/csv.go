package summary

import (
	"io"
	"strconv"
	"strings"

	"laneplan/jobs/safecsv"
)

// WriteCSV writes one line for every gang. Lists in a cell are joined by "; ".
func WriteCSV(w io.Writer, n Night) error {
	heading := []string{
		"gang", "state", "warnings", "folder", "due", "press", "turn", "begins", "ends", "die", "stock", "finishes", "orders", "customers", "versions", "labels",
		"sections", "web_m", "minutes", "overs", "unders", "currency", "cost", "cost_alone", "saving", "open", "gap", "proven", "failure", "do",
	}
	var rows [][]string
	for _, g := range n.Gangs {
		var orders, customers []string
		for _, o := range g.Orders {
			orders, customers = append(orders, o.Order), append(customers, o.Customer)
		}
		var why, do string
		if g.Failure != nil {
			why, do = g.Failure.Reason, g.Failure.Do
		}
		proven := ""
		if g.Open != "" {
			proven = map[bool]string{true: "yes", false: "no"}[g.Proven]
		}
		rows = append(rows, []string{
			g.ID, string(g.State), list(g.Warnings), g.Folder, g.Due, g.Press, strconv.Itoa(g.Turn), g.Begins, g.Ends, g.Die, g.Stock, list(g.Finishes), list(orders), list(customers),
			strconv.Itoa(g.Versions), strconv.Itoa(g.Labels), known(g.Sections, g), g.Web.String(), g.Minutes.String(), known(g.Overs, g), known(g.Unders, g),
			n.Currency, g.Cost.String(), g.CostAlone.String(), g.Saving.String(), g.Open.String(), g.Gap.String(), proven, why, do,
		})
	}
	return safecsv.Write(w, heading, rows)
}

func list(words []string) string { return strings.Join(words, "; ") }

// known is a figure of a plan; empty where there is none.
func known(n int, g Gang) string {
	if g.Sections == 0 {
		return ""
	}
	return strconv.Itoa(n)
}
