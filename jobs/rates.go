package jobs

import (
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// Rates are what the shop reckons for everything that is not stock, finish or
// press time; money in the shop's currency. A nil rate is one that the shop
// has not set: it is never taken as zero without saying so.
type Rates struct {
	// PlatePerVersion and RIPPerVersion are charged once for every version.
	PlatePerVersion, RIPPerVersion *decimal.Decimal
	// Coverage classes give ink or clicks for a thousand labels.
	Coverage []CoverageClass
	// RewindHourlyRate of the slitter-rewinder with its people, and the
	// minutes that setting it up (once for a gang) and every customer roll
	// take.
	RewindHourlyRate     *decimal.Decimal
	RewindSetupMinutes   *decimal.Decimal
	RewindMinutesPerRoll *decimal.Decimal
	// CorePrice, TagPrice and PackingPerRoll are for every customer roll,
	// PackingPerOrder for every order.
	CorePrice, TagPrice, PackingPerRoll, PackingPerOrder *decimal.Decimal
	// MinimumCharge that a gang costs at the least; nil is none.
	MinimumCharge *decimal.Decimal
}

// CoverageClass is how much ink a version takes, as the shop classes it.
type CoverageClass struct {
	ID          string
	PerThousand decimal.Decimal // money for ink or clicks on 1,000 labels
}

// Outwork is bought in for one order: a foil, a special core, a courier.
type Outwork struct {
	Name   string
	Amount decimal.Decimal
}

// Pricing is how the shop makes a price out of a cost. The zero value has
// neither markup nor margin, so no price can be made.
type Pricing struct {
	// Rule by which the orders of a gang share its cost; "" is the default.
	Rule string
	// Markup is a fraction of the cost (0.4 is cost × 1.4); Margin a fraction
	// of the price (0.4 is cost / 0.6), below 1. At most one is set.
	Markup, Margin *decimal.Decimal
	// Classes go before Markup and Margin: the first that fits.
	Classes []PriceClass
	// MinimumPrice of one order; nil is none.
	MinimumPrice *decimal.Decimal
	// RoundTo rounds prices to its multiples; nil is the currency's minor
	// unit. RoundUp rounds up instead of to the nearest.
	RoundTo *decimal.Decimal
	RoundUp bool
}

// ShareRules are the rules by which the orders of a gang can share its cost,
// the default first. jobs/price/game has what they mean.
var ShareRules = []string{"fair", "proportional", "equal-savings", "separable", "shapley", "nucleolus"}

// PriceClass is a markup or margin of its own for a customer, for orders from
// a number of labels on, or for both.
type PriceClass struct {
	Customer       string // exactly as in the order book; "" is any
	FromLabels     int    // of the whole order; 0 is any
	Markup, Margin *decimal.Decimal
}

// SquareInches is the area of 1,000 square inches (1 MSI) in square metres,
// exactly: 1,000 × 0.0254².
var SquareInches = decimal.RequireFromString("0.64516")

// PerSquareMetre turns a price for 1,000 square inches (1 MSI) into one for a
// square metre, to 12 decimals.
func PerSquareMetre(perThousandSquareInches decimal.Decimal) decimal.Decimal {
	return perThousandSquareInches.DivRound(SquareInches, 12)
}

// HourlyBudget is what makes the budgeted hourly rate of a cost centre: what
// it costs in a year, the hours that are paid, and the share of them that is
// sold (from above 0 to 1).
type HourlyBudget struct{ YearlyCost, PaidHours, Use decimal.Decimal }

// Rate is the yearly cost over the hours that are sold. It is a cost without
// profit. Method: P. K. Ruggles, 'Printing Estimating'. To 6 decimals; zero
// where no hour is sold.
func (b HourlyBudget) Rate() decimal.Decimal {
	sold := b.PaidHours.Mul(b.Use)
	if !sold.IsPositive() {
		return decimal.Zero
	}
	return b.YearlyCost.DivRound(sold, 6)
}

// Text says how the rate comes about.
func (b HourlyBudget) Text() string {
	return fmt.Sprintf("%s a year over %s paid hours, %s%% of them sold", b.YearlyCost, b.PaidHours, b.Use.Shift(2))
}

// LabelInk is the money for ink or clicks on one label of a version: its own
// where it states one, else its coverage class's. An unknown class is an
// error; no class and no money of its own is zero.
func (r Rates) LabelInk(v Version) (decimal.Decimal, error) {
	if !v.InkPerLabel.IsZero() || v.Coverage == "" {
		return v.InkPerLabel, nil
	}
	class, found := find(r.Coverage, func(c CoverageClass) bool { return c.ID == v.Coverage })
	if !found {
		return decimal.Zero, fmt.Errorf("version %s: unknown coverage class %q", v.ID, v.Coverage)
	}
	return class.PerThousand.Shift(-3), nil
}

// Check finds what is wrong with the pricing; paths start at its fields. A
// pricing without markup and margin is sound: it makes no price.
func (p Pricing) Check() Faults {
	var faults Faults
	if p.Rule != "" && !slices.Contains(ShareRules, p.Rule) {
		faults.add("rule", "want one of %s, got %q", strings.Join(ShareRules, ", "), p.Rule)
	}
	faults.markup("", p.Markup, p.Margin)
	for i, class := range p.Classes {
		path := fmt.Sprintf("classes[%d]", i)
		if class.Markup == nil && class.Margin == nil {
			faults.add(path, "want a markup or a margin, got neither")
		}
		if class.FromLabels < 0 {
			faults.add(path+".from_labels", "want 0 or more, got %d", class.FromLabels)
		}
		faults.markup(path+".", class.Markup, class.Margin)
	}
	faults.notNegative("minimum_price", p.MinimumPrice)
	if p.RoundTo != nil && !p.RoundTo.IsPositive() {
		faults.add("round_to", "want an amount above 0, got %s", *p.RoundTo)
	}
	return faults
}

func (f *Faults) markup(prefix string, markup, margin *decimal.Decimal) {
	if markup != nil && margin != nil {
		f.clash(prefix+"margin", prefix+"markup", "want a markup or a margin, not both")
	}
	if markup != nil && markup.IsNegative() {
		f.add(prefix+"markup", "want a markup of 0%% or more, got %s%%", markup.Shift(2))
	}
	if margin != nil && (margin.IsNegative() || !margin.LessThan(one)) {
		f.add(prefix+"margin", "want a margin from 0%% to less than 100%%, got %s%%", margin.Shift(2))
	}
}

func (f *Faults) notNegative(path string, amount *decimal.Decimal) {
	if amount != nil && amount.IsNegative() {
		f.add(path, "want 0 or more, got %s", *amount)
	}
}

// Check finds what is wrong with the rates; paths start at their fields.
func (r Rates) Check() Faults {
	var faults Faults
	faults.notNegative("plate_per_version", r.PlatePerVersion)
	faults.notNegative("rip_per_version", r.RIPPerVersion)
	faults.notNegative("rewind_hourly_rate", r.RewindHourlyRate)
	faults.notNegative("rewind_setup_minutes", r.RewindSetupMinutes)
	faults.notNegative("rewind_minutes_per_roll", r.RewindMinutesPerRoll)
	faults.notNegative("core_price", r.CorePrice)
	faults.notNegative("tag_price", r.TagPrice)
	faults.notNegative("packing_per_roll", r.PackingPerRoll)
	faults.notNegative("packing_per_order", r.PackingPerOrder)
	faults.notNegative("minimum_charge", r.MinimumCharge)
	seen := map[string]string{}
	for i, class := range r.Coverage {
		path := fmt.Sprintf("coverage[%d]", i)
		switch earlier, twice := seen[class.ID]; {
		case class.ID == "":
			faults.add(path+".id", "want a name for the coverage class, got nothing")
		case twice:
			faults.clash(path+".id", earlier, "coverage class %s stands here twice: want it once", class.ID)
		default:
			seen[class.ID] = path + ".id"
		}
		faults.notNegative(path+".per_thousand", &class.PerThousand)
	}
	return faults
}
