package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"laneplan/jobs"
	"laneplan/jobs/report"
)

func checkCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "check FILE",
		Short: "Read a bare problem or a job file and report what is wrong with it",
		Long: `check reads a file as plan does and plans nothing. Every fault is reported at
once, with its line and field and what would be right; exit code 2. Where
nothing is wrong it says what it found.`,
		Example: "  laneplan check spices.yaml",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			gang, _, err := a.problem(args[0], func(*jobs.Rules) {})
			if err != nil {
				return err
			}
			if _, err := fmt.Fprintf(a.stdout, "%s: nothing wrong\n", args[0]); err != nil {
				return err
			}
			return report.Gang(a.stdout, gang)
		},
	}
}
