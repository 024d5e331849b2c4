package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"laneplan/jobs"
	"laneplan/jobs/intake/fault"
	"laneplan/jobs/planfile"
	"laneplan/jobs/report"
)

func verifyCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "verify PLAN.json FILE",
		Short: "Recount a plan, wherever it comes from, against the file it is for",
		Long: `verify recounts a plan from its sections alone: that every demand is met, every
rule of the file kept, and every figure that the plan states is right. The plan
may be one that plan wrote, a hand edit of one, or come from another program;
it need hold no more than lanes and sections. Every fault is reported at once,
with its line; exit code 2.`,
		Example: "  laneplan verify plan.json spices.yaml",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			document, err := planfile.ReadFile(args[0])
			if err != nil {
				return err
			}
			gang, problem, err := a.problem(args[1], func(*jobs.Rules) {})
			if err != nil {
				return err
			}
			counted, err := planfile.Verify(document, gang, problem)
			if faults := (fault.List{}); errors.As(err, &faults) {
				return faults
			}
			if err != nil {
				return err
			}
			if _, err := fmt.Fprintf(a.stdout, "%s: the plan holds: every demand is met, every rule kept, every figure right\n\n", args[0]); err != nil {
				return err
			}
			return report.Text(a.stdout, counted, style(a.stdout))
		},
	}
}
