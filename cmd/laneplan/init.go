package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"laneplan/jobs/starter"
)

func initCommand(a *app) *cobra.Command {
	var replace bool
	c := &cobra.Command{
		Use:   "init DIR",
		Short: "Write a commented shop file and a small example order book",
		Long: `init writes into a folder, which it makes where it is not there: shop.yaml with
a comment on every part, its JSON Schema for editors, and one example order
book as orders.csv and orders.xlsx. The example is the day's work of a spice
mill; everything in it is invented.`,
		Example: "  laneplan init myshop\n  laneplan pool --shop myshop/shop.yaml --date " + starter.PlanningDate + " myshop/orders.csv",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			paths, err := starter.Write(args[0], replace)
			if errors.Is(err, starter.ErrThere) {
				return usage("%w; --replace writes over it", err)
			}
			if err != nil {
				return usage("%w", err)
			}
			for _, path := range paths {
				if _, err := fmt.Fprintln(a.stdout, path); err != nil {
					return err
				}
			}
			return nil
		},
	}
	c.Flags().BoolVar(&replace, "replace", false, "write over files that are there")
	return c
}
