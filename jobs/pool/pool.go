// Package pool divides an order book into gangs: orders that may share a
// set-up do, those that may not do not, and every order that stays alone or
// out has the one reason that decides it. It optimises nothing inside a gang;
// SplitGangs asks a planner that its caller brings.
//
//	pooling, err := pool.Pool(shop, lines, date)
//	pooling, err = pool.SplitGangs(ctx, shop, pooling, plan) // where two set-ups cost less than one
package pool

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
)

// Pooling is an order book in gangs.
type Pooling struct {
	Date   time.Time // planning date
	Until  time.Time // last day of the gang window
	Gangs  []Gang    // sorted by id
	Out    []Out     // sorted by order
	Splits []Split   // that SplitGangs made or tried, sorted by gang
}

// Gang is one gang with what pooling knows of it beside.
type Gang struct {
	jobs.Gang
	// Alone is the reason why the gang's only order has no company; empty
	// where it has.
	Alone string
	// Turn of the gang on its press, from 1: those before it are expected to
	// take Press.Busy working minutes.
	Turn int
	// Late lists orders that cannot be in time whatever the plan. They run in
	// the first sections, and their date binds the plan no more.
	Late []Late
	// Estimate is the cost of a simple plan: versions sorted by quantity and
	// cut into the cheapest blocks. No order book costs more than its
	// estimates, since a planner may always take this plan.
	Estimate decimal.Decimal
	// Minutes on the press of the same simple plan, set-up included.
	Minutes decimal.Decimal

	parts   []part
	options []option
	ownBusy decimal.Decimal // of the press before any gang
}

// Late is an order that cannot be in time.
type Late struct {
	Order string
	Due   time.Time
	Rush  bool // by the order book, not because it is late
}

// Out is an order, or the part of an order for one set-up, that does not run.
type Out struct {
	Order, Customer string
	Due             time.Time
	Versions        []string
	Sources         []jobs.Source
	Must            bool // it is due in the window, and cannot run
	Reason          string
}

// part is what one order wants of one set-up.
type part struct {
	key
	order, customer string
	due             time.Time // the earliest of its lines; zero is not stated
	rush            bool
	lines           []jobs.OrderLine // sorted by version
}

// key is what must match in a gang.
type key struct {
	shape    string // of the die; dies of one shape cut the same label
	stock    string
	finishes string
	inkSet   string
	flags    string
	axis     axis
}

// axis is the pair of edges from which copies may leave the press: those that
// differ by 180° can share a web, others cannot, unless the label is square
// (derived from the geometry of the label).
type axis string

const (
	anyAxis  axis = ""
	upright  axis = "top or bottom first"
	sideways axis = "left or right first"
)

// Pool divides the lines of an order book for one planning date. What is due
// by the end of the gang window must run, what is due later fills up gangs
// that run anyway. The result depends on the lines, not on their order.
//
// It fails where the shop has no press, or two lines are the same order and
// version; whatever is wrong with one order alone puts it among Out.
func Pool(shop *jobs.Shop, lines []jobs.OrderLine, date time.Time) (Pooling, error) {
	if len(shop.Presses) == 0 {
		return Pooling{}, fmt.Errorf("pooling: the shop has no press")
	}
	date = day(date)
	p := Pooling{Date: date, Until: date.AddDate(0, 0, shop.Pooling.WindowDays)}
	parts, err := partsOf(shop, lines)
	if err != nil {
		return Pooling{}, err
	}
	pools := newPooler(shop, &p)
	for _, same := range groups(parts) {
		pools.pool(same)
	}
	with := companyOf(parts)
	for i := range p.Gangs {
		if g := &p.Gangs[i]; len(g.parts) == 1 {
			g.Alone = with.why(g.parts[0])
		}
	}
	p.name()
	p.sequence()
	slices.SortFunc(p.Out, func(a, b Out) int {
		return cmp.Or(cmp.Compare(a.Order, b.Order), slices.Compare(a.Versions, b.Versions))
	})
	return p, nil
}

func day(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
}

// partsOf gathers the lines of every order by what must match, sorted.
func partsOf(shop *jobs.Shop, lines []jobs.OrderLine) ([]part, error) {
	type orderKey struct {
		order string
		key
	}
	lines = slices.Clone(lines)
	slices.SortFunc(lines, func(a, b jobs.OrderLine) int {
		return cmp.Or(cmp.Compare(a.Order, b.Order), cmp.Compare(a.Version, b.Version))
	})
	axes := axesOf(shop, lines)
	at := map[orderKey]int{}
	var parts []part
	for i, line := range lines {
		if i > 0 && line.Order == lines[i-1].Order && line.Version == lines[i-1].Version {
			return nil, fmt.Errorf("pooling: order %s has version %s twice (%s, %s)", line.Order, line.Version, lines[i-1].Source, line.Source)
		}
		k := keyOf(shop, line)
		if k.axis == anyAxis {
			k.axis = axes[k]
		}
		ok := orderKey{line.Order, k}
		n, known := at[ok]
		if !known {
			n = len(parts)
			at[ok] = n
			parts = append(parts, part{key: k, order: line.Order, customer: line.Customer, due: line.Due})
		}
		p := &parts[n]
		p.lines = append(p.lines, line)
		p.rush = p.rush || line.Rush
		if !line.Due.IsZero() && (p.due.IsZero() || line.Due.Before(p.due)) {
			p.due = line.Due
		}
	}
	sortParts(parts)
	return parts, nil
}

func sortParts(parts []part) {
	slices.SortStableFunc(parts, func(a, b part) int {
		return cmp.Or(a.due.Compare(b.due), cmp.Compare(a.order, b.order), cmp.Compare(a.lines[0].Version, b.lines[0].Version))
	})
}

func keyOf(shop *jobs.Shop, line jobs.OrderLine) key {
	k := key{
		shape: line.Die, stock: line.Stock, inkSet: line.InkSet,
		finishes: joined(line.Finishes), flags: joined(line.Flags),
	}
	if shape := shop.Shapes[line.Die]; shape != "" {
		k.shape = "shape " + shape
	}
	if die, known := shop.Die(line.Die); known && die.Across != die.Around {
		switch line.Wind.Edge {
		case jobs.EdgeTop, jobs.EdgeBottom:
			k.axis = upright
		case jobs.EdgeLeft, jobs.EdgeRight:
			k.axis = sideways
		}
	}
	return k
}

// axesOf tells where lines go that state no edge: to the upright ones, or to
// the sideways ones where there are only those.
func axesOf(shop *jobs.Shop, lines []jobs.OrderLine) map[key]axis {
	axes := map[key]axis{}
	for _, line := range lines {
		k := keyOf(shop, line)
		is := k.axis
		if k.axis = anyAxis; is == upright || is == sideways && axes[k] == anyAxis {
			axes[k] = is
		}
	}
	return axes
}

func joined(words []string) string {
	return strings.Join(slices.Sorted(slices.Values(words)), "+")
}

// groups divides parts by their keys, in the order of the first of each.
func groups(parts []part) [][]part {
	at := map[key]int{}
	var all [][]part
	for _, p := range parts {
		n, known := at[p.key]
		if !known {
			n = len(all)
			at[p.key] = n
			all = append(all, nil)
		}
		all[n] = append(all[n], p)
	}
	return all
}

// due says that an order must run: it is due in the window, or rush, or nobody
// said when.
func (p *Pooling) due(one part) bool { return one.rush || !one.due.After(p.Until) }

func (p *part) versions() []string {
	names := make([]string, len(p.lines))
	for i, line := range p.lines {
		names[i] = line.Version
	}
	return names
}

func (p *Pooling) out(why string, parts ...part) {
	for _, one := range parts {
		o := Out{Must: p.due(one), Order: one.order, Customer: one.customer, Due: one.due, Versions: one.versions(), Reason: why}
		for _, line := range one.lines {
			o.Sources = append(o.Sources, line.Source)
		}
		p.Out = append(p.Out, o)
	}
}
