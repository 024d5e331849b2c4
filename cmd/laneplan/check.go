package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"laneplan/jobs"
	"laneplan/jobs/intake/orderbook"
	"laneplan/jobs/intake/shopfile"
	"laneplan/jobs/report"
	"laneplan/jobs/ticket"
)

func checkCommand(a *app) *cobra.Command {
	var shop string
	c := &cobra.Command{
		Use:   "check FILE | check --shop SHOP [ORDERS...]",
		Short: "Read a job file, or a shop file and its order book, and report what is wrong",
		Long: `check reads a file as plan does and plans nothing. Every fault is reported at
once, with its line and field and what would be right; exit code 2. Where
nothing is wrong it says what it found, and whether the documents of plan
--out DIR could be made.

With --shop it reads a shop file, and an order book (CSV, XLSX or YAML files, or
folders of them) against it.`,
		Example: "  laneplan check spices.yaml\n  laneplan check --shop shop.yaml orders.csv",
		RunE: func(c *cobra.Command, args []string) error {
			if shop != "" {
				return a.checkBook(shop, args)
			}
			if len(args) != 1 {
				return usage("want one file, got %d; an order book takes --shop", len(args))
			}
			gang, _, err := a.problem(args[0], func(*jobs.Rules) {})
			if err != nil {
				return err
			}
			verdict := args[0] + ": nothing wrong"
			if err := ticket.Check(gang); err != nil {
				verdict = fmt.Sprintf("%s: nothing wrong for a plan, but no documents can be made of it:\n%v", args[0], inFile(args[0], documentError(err)))
			}
			if _, err := fmt.Fprintln(a.stdout, verdict); err != nil {
				return err
			}
			return report.Gang(a.stdout, gang)
		},
	}
	c.Flags().StringVar(&shop, "shop", "", "shop file to check, and the order books that are the arguments against it")
	return c
}

func (a *app) checkBook(file string, paths []string) error {
	shop, err := shopfile.ReadFile(file)
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintf(a.stdout, "%s: nothing wrong\n", file); err != nil {
		return err
	}
	if err := report.Shop(a.stdout, shop); err != nil || len(paths) == 0 {
		return err
	}
	book, err := orderbook.Read(paths, shop, orderbook.Options{NotABook: file})
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintf(a.stdout, "\n%s: nothing wrong\n", strings.Join(book.Files, ", ")); err != nil {
		return err
	}
	return report.OrderLines(a.stdout, book.Lines)
}
