package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"laneplan/jobs/history"
	"laneplan/jobs/ledger"
	"laneplan/jobs/report"
	"laneplan/jobs/wholefile"
)

// historyFlags of the command history.
type historyFlags struct {
	format       *choice
	out          string
	asked        history.Asked
	since, until dateFlag
	by           choice
}

func historyCommand(a *app) *cobra.Command {
	f := historyFlags{by: choice{word: string(history.Month), words: []string{string(history.Day), string(history.Week), string(history.Month)}}}
	c := &cobra.Command{
		Use:   "history LEDGER|DIR",
		Short: "Tell from the ledger what was planned and printed: overs, waste and savings over time",
		Long: `history reads a ledger, or the ledger.sqlite of a folder that batch wrote into:
what was planned and printed when, from which inputs, at which cost, and the
sums of overs, waste and savings by day, week or month. Names are taken as they
are; days are those of UTC, both included.

Waste is scrap, labels beyond what the customer takes, and labels that were
spoiled. Where an order or a customer is asked for, labels, cost and saving in
the sums are theirs alone, as far as their shares of a gang are known. Of two
plans of the same orders the later counts; the plan of a rest does not, since
its labels are in the plan before it.

--format html is a page that stands alone, with plots.`,
		Example: `  laneplan history out
  laneplan history out/ledger.sqlite --customer "Hof Wiesengrund" --since 2026-11-01
  laneplan history out --by week --out history.html`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.history(args[0], &f, c.Flags().Changed("format"))
		},
	}
	flags := c.Flags()
	flags.SortFlags = false
	f.format = format(c, "text", "json", "csv", "html")
	flags.StringVarP(&f.out, "out", "o", "", "write to this file (.json, .csv or .html choose the format), whole or not at all")
	flags.StringVar(&f.asked.Order, "order", "", "entries that hold this order")
	flags.StringVar(&f.asked.Customer, "customer", "", "entries that hold an order of this customer")
	flags.StringVar(&f.asked.Die, "die", "", "entries on this die")
	flags.StringVar(&f.asked.Gang, "gang", "", "entries of the gang of this name")
	flags.Var(&f.since, "since", "entries from this day on")
	flags.Var(&f.until, "until", "entries to this day")
	flags.Var(&f.by, "by", "sums of each")
	return c
}

func (a *app) history(path string, f *historyFlags, chosen bool) error {
	if !chosen {
		switch filepath.Ext(f.out) {
		case ".json":
			f.format.word = "json"
		case ".csv":
			f.format.word = "csv"
		case ".html", ".htm":
			f.format.word = "html"
		}
	}
	f.asked.Since, f.asked.Until = time.Time(f.since), time.Time(f.until)
	if !f.asked.Since.IsZero() && !f.asked.Until.IsZero() && f.asked.Until.Before(f.asked.Since) {
		return usage("--until: want a day from --since %s on, got %s", f.since.String(), f.until.String())
	}
	if f.out != "" {
		if err := wholefile.Writable(f.out); err != nil {
			return usage("--out: %w", err)
		}
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		path = filepath.Join(path, ledger.FileName)
	}
	book, err := ledger.OpenThere(path)
	if err != nil {
		return ledgerError(err)
	}
	defer book.Close()
	entries, err := book.Entries(a.ctx, f.asked.Filter())
	if err != nil {
		return ledgerError(err)
	}
	d := history.Describe(entries, f.asked, history.Step(f.by.word))
	content := func(w io.Writer, style report.Style) error {
		switch f.format.word {
		case "json":
			return d.JSON(w)
		case "csv":
			return report.HistoryCSV(w, d)
		case "html":
			return d.HTML(w)
		}
		if none := d.None(path); none != "" {
			_, err := fmt.Fprintln(w, none)
			return err
		}
		return report.History(w, d, style)
	}
	if f.out == "" {
		return content(a.stdout, style(a.stdout))
	}
	return wholefile.Write(f.out, 0o644, func(w io.Writer) error { return content(w, report.Style{}) })
}
