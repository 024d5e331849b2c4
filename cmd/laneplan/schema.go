package main

import (
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"laneplan/jobs/planfile"
)

// schemas are the formats that other programs read, by name.
var schemas = map[string][]byte{"plan": planfile.Schema}

func schemaCommand(a *app) *cobra.Command {
	names := slices.Sorted(maps.Keys(schemas))
	return &cobra.Command{
		Use:       "schema " + strings.Join(names, "|"),
		Short:     "Print the JSON Schema of a format that other programs read",
		Example:   "  laneplan schema plan > plan.schema.json",
		ValidArgs: names,
		Args:      cobra.MatchAll(cobra.ExactArgs(1), cobra.OnlyValidArgs),
		RunE: func(c *cobra.Command, args []string) error {
			_, err := a.stdout.Write(schemas[args[0]])
			return err
		},
	}
}
