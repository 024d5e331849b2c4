package main

import (
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"laneplan/jobs/batch/summary"
	"laneplan/jobs/explain"
	"laneplan/jobs/history"
	"laneplan/jobs/intake/donefile"
	"laneplan/jobs/intake/orderbook"
	"laneplan/jobs/intake/shopfile"
	"laneplan/jobs/planfile"
	"laneplan/jobs/price/quotefile"
	"laneplan/jobs/ticket"
)

// schemas are those of our formats, by the name of what they describe.
var schemas = map[string][]byte{
	"done":    donefile.Schema,
	"history": history.Schema,
	"explain": explain.Schema,
	"orders":  orderbook.Schema,
	"plan":    planfile.Schema,
	"price":   quotefile.Schema,
	"rolls":   ticket.RollsSchema,
	"shop":    shopfile.Schema,
	"summary": summary.Schema,
}

func schemaCommand(a *app) *cobra.Command {
	names := slices.Sorted(maps.Keys(schemas))
	return &cobra.Command{
		Use:   "schema " + strings.Join(names, "|"),
		Short: "Print the JSON Schema of one of our formats",
		Long: `schema prints the JSON Schema of a plan, its rolls, prices, an explanation, a
history or the summary of a batch as JSON, which other programs read; of an order
book or a print record in YAML; or of a shop file, by which editors complete and check it.`,
		Example:   "  laneplan schema plan > plan.schema.json",
		ValidArgs: names,
		Args:      cobra.MatchAll(cobra.ExactArgs(1), cobra.OnlyValidArgs),
		RunE: func(c *cobra.Command, args []string) error {
			_, err := a.stdout.Write(schemas[args[0]])
			return err
		},
	}
}
