package jobs

import (
	"fmt"
	"slices"
	"time"

	"github.com/shopspring/decimal"
)

// OrderLine is one row of an order book: one version of one order.
type OrderLine struct {
	Order, Customer, Version string
	Name                     string // of the version in words; may be empty
	Die, Stock               string // ids in the shop file
	Finishes                 []string
	InkSet                   string // versions of another ink set never share a gang; "" is the standard set
	Quantity                 int    // labels, from 1
	Due                      time.Time
	Rush                     bool
	Unders, Overs            *decimal.Decimal // fractions; nil takes the policy's
	AllOvers                 bool             // the customer takes all overs; Overs is then nil
	BillOvers                *bool            // nil takes the policy's
	UnitPrice                decimal.Decimal  // for one label; zero is not known
	LabelsPerRoll            int              // of a customer roll; 0 is not stated
	MaxDiameter              Length           // of a customer roll; 0 is not stated
	Core                     Length           // nominal inside diameter; 0 is not stated
	MostSplices              *int             // in one customer roll; nil is no limit
	Wind                     Wind
	LeaveOvers               bool     // overs are left off the last roll
	Coverage                 string   // id of a class in the shop's rates; "" is none
	Artwork                  string   // file name, never opened as a path by us
	Flags                    []string // of food, pharma, toy, sorted
	Source                   Source
}

// Source is where an order line was read.
type Source struct {
	File  string
	Sheet string // of a workbook; empty otherwise
	Row   int    // from 1: the row of a sheet, else the line of the file
}

// String gives the place as people look for it: file, sheet and row.
func (s Source) String() string {
	switch {
	case s.File == "":
		return "order book"
	case s.Sheet != "":
		return fmt.Sprintf("%s:%s:%d", s.File, s.Sheet, s.Row)
	case s.Row == 0:
		return s.File
	default:
		return fmt.Sprintf("%s:%d", s.File, s.Row)
	}
}

// OrderColumns are our own names for the columns of an order book, in the
// order in which we write them.
var OrderColumns = []string{
	"order", "customer", "version", "name", "die", "stock", "finish", "ink_set", "quantity", "due", "rush",
	"unders", "overs", "bill_overs", "unit_price", "labels_per_roll", "max_diameter", "core", "most_splices",
	"wind", "leave_overs", "coverage", "artwork", "flags",
}

// ToleranceColumn may stand in an order book in place of unders and overs: one
// percentage for both.
const ToleranceColumn = "tolerance"

// IsOrderColumn tells whether a column of an order book may have this name.
func IsOrderColumn(name string) bool {
	return name == ToleranceColumn || slices.Contains(OrderColumns, name)
}

// RequiredColumns must be in every order book.
var RequiredColumns = []string{"order", "customer", "version", "die", "stock", "quantity", "due"}

// OrderFlags are the flags that an order may carry. Work for one of these
// uses is never ganged with work that is not, since ink, adhesive and varnish
// have to suit it.
var OrderFlags = []string{"food", "pharma", "toy"}
