package main

import (
	"fmt"
	"io"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"laneplan/jobs"
	"laneplan/jobs/bookfile"
	"laneplan/jobs/compare"
	"laneplan/jobs/intake/orderbook"
	"laneplan/jobs/intake/shopfile"
	"laneplan/jobs/pool"
	"laneplan/jobs/report"
)

// bookFlags are those of every command that reads an order book.
type bookFlags struct {
	shop, badRows    string
	date             dateFlag
	skipBad, noSplit bool
}

// dateFlag is a day; the zero value is today.
type dateFlag time.Time

func (d *dateFlag) Type() string { return "date" }

func (d *dateFlag) String() string {
	if time.Time(*d).IsZero() {
		return ""
	}
	return time.Time(*d).Format(time.DateOnly)
}

func (d *dateFlag) Set(text string) error {
	day, err := time.Parse(time.DateOnly, text)
	if err != nil || day.Year() < 2000 || day.Year() > 2099 {
		return fmt.Errorf("want a date such as 2026-12-04, got %q", text)
	}
	*d = dateFlag(day)
	return nil
}

// day is the planning date; today's where none is given.
func (d dateFlag) day() time.Time {
	if day := time.Time(d); !day.IsZero() {
		return day
	}
	return time.Now()
}

func addBookFlags(flags *pflag.FlagSet) *bookFlags {
	f := &bookFlags{badRows: "bad-rows"}
	flags.StringVar(&f.shop, "shop", "", "shop file; the arguments are then order books (CSV, XLSX, YAML) and folders of them")
	flags.Var(&f.date, "date", "planning date (default today)")
	flags.BoolVar(&f.skipBad, "skip-bad", false, "go on with the good rows and write the bad ones, with what is wrong, into files of the same format")
	flags.StringVar(&f.badRows, "bad-rows", f.badRows, "folder for the bad rows of --skip-bad")
	flags.BoolVar(&f.noSplit, "no-split", false, "do not compare presses and two set-ups by planning them; the estimate alone chooses")
	return f
}

// bookOnly are the flags that mean nothing without a shop file.
var bookOnly = []string{"date", "skip-bad", "bad-rows", "no-split"}

func poolCommand(a *app) *cobra.Command {
	var book *bookFlags
	var out *choice
	c := &cobra.Command{
		Use:   "pool --shop SHOP ORDERS...",
		Short: "Divide an order book into gangs and say why an order stays alone or out",
		Long: `pool reads a shop file and an order book (CSV, XLSX or YAML files, or folders of
them) and prints which orders run together: those with one die (or dies of one
shape), stock, finish, ink set and flags. What is due within the shop's gang
window must run, what is due later fills up. Every order that stays alone or
out has the one reason that decides it.

Where a gang can run on several dies or presses, plans of limited work decide:
for one set-up on each, and for two or more set-ups on different ones.`,
		Example: "  laneplan pool --shop shop.yaml orders.csv\n  laneplan pool --shop shop.yaml --skip-bad --format json orders/",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			_, pooling, err := a.pooled(args, book)
			if err != nil {
				return err
			}
			return writeBook(a.stdout, bookfile.Describe(pooling), out.word, style(a.stdout))
		},
	}
	flags := c.Flags()
	flags.SortFlags = false
	out = format(c, "text", "json", "csv")
	book = addBookFlags(flags)
	return c
}

func writeBook(w io.Writer, b bookfile.Book, format string, s report.Style) error {
	switch format {
	case "json":
		return bookfile.Write(w, b)
	case "csv":
		return report.BookCSV(w, b)
	}
	return report.Book(w, b, s)
}

// pooled reads shop file and order book and divides the orders into gangs.
// Where bad rows are skipped it says on standard error where they are.
func (a *app) pooled(paths []string, f *bookFlags) (*jobs.Shop, pool.Pooling, error) {
	shop, lines, err := a.orders(paths, f)
	if err != nil {
		return nil, pool.Pooling{}, err
	}
	pooling, err := a.pool(shop, lines, f, compare.Cost)
	return shop, pooling, err
}

// pool divides orders into gangs; cost plans those that are compared.
func (a *app) pool(shop *jobs.Shop, lines []jobs.OrderLine, f *bookFlags, cost pool.Planner) (pool.Pooling, error) {
	pooling, err := pool.Pool(shop, lines, f.date.day())
	if err == nil && !f.noSplit {
		pooling, err = pool.SplitGangs(a.ctx, shop, pooling, cost)
	}
	if err != nil && a.ctx.Err() != nil {
		err = interrupted("interrupted while presses and set-ups were compared; nothing is planned yet")
	}
	return pooling, err
}

func (a *app) orders(paths []string, f *bookFlags) (*jobs.Shop, []jobs.OrderLine, error) {
	if f.shop == "" {
		return nil, nil, usage("--shop: want the shop file that the order book belongs to\nhint: laneplan init DIR writes one")
	}
	shop, err := shopfile.ReadFile(f.shop)
	if err != nil {
		return nil, nil, err
	}
	book, err := orderbook.Read(paths, shop, orderbook.Options{SkipBad: f.skipBad, NotABook: f.shop})
	if err != nil {
		return nil, nil, err
	}
	if len(book.Bad) == 0 {
		return shop, book.Lines, nil
	}
	written, err := orderbook.WriteBad(f.badRows, book.Bad, shop.Book)
	if err != nil {
		return nil, nil, usage("--bad-rows: %w", err)
	}
	for i, bad := range book.Bad {
		rows := "1 bad row"
		if n := len(bad.Rows); n != 1 {
			rows = fmt.Sprintf("%d bad rows", n)
		}
		fmt.Fprintf(a.stderr, "%s: left out %s, see %s\n", bad.File, rows, filepath.ToSlash(written[i]))
	}
	if len(book.Lines) == 0 {
		return nil, nil, usage("the order book has no good row")
	}
	return shop, book.Lines, nil
}
