package price

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/nest"
)

// Variation is one thing of a gang that is varied, everything else as it
// stands.
type Variation struct {
	Name   string // one of Varied
	Values []Value
}

// Value of a varied thing.
type Value struct {
	Text string // as written
	// Relative values change what the gang has by this percentage; others
	// take its place.
	Relative bool
	Number   decimal.Decimal
}

// ErrNotVaried marks a variation of what the gang does not have.
var ErrNotVaried = errors.New("cannot be varied here")

// varied is one thing that can be varied.
type varied struct {
	name string
	unit string // of a value that takes the place of the gang's own
	// relative says that a percentage can be put on what the gang has, and
	// absolute that a value can take its place.
	relative, absolute bool
	bare               bool // a bare problem has it
	set                func(g *jobs.Gang, v Value)
}

// amount makes a setter of a decimal field.
func amount(of func(g *jobs.Gang) *decimal.Decimal) func(g *jobs.Gang, v Value) {
	return func(g *jobs.Gang, v Value) { field := of(g); *field = v.of(*field) }
}

// of applies a value to what the gang has.
func (v Value) of(now decimal.Decimal) decimal.Decimal {
	if v.Relative {
		return now.Mul(one.Add(v.Number.Shift(-2)))
	}
	return v.Number
}

// length makes a setter of a length; values in metres.
func length(of func(g *jobs.Gang) *jobs.Length) func(g *jobs.Gang, v Value) {
	return func(g *jobs.Gang, v Value) {
		field := of(g)
		*field = jobs.Length(v.of(field.In(jobs.Metre)).Mul(decimal.NewFromInt(int64(jobs.Metre))).IntPart())
	}
}

var variables = []varied{
	{"tolerance", "% above and below", false, true, true, setTolerance},
	{"quantity", "%", true, false, true, setQuantity},
	{"stock_price", "per m²", true, true, false, amount(func(g *jobs.Gang) *decimal.Decimal { return &g.Stock.PricePerSquareMetre })},
	{"hourly_rate", "an hour", true, true, false, amount(func(g *jobs.Gang) *decimal.Decimal { return &g.Press.HourlyRate })},
	{"speed", "m/min", true, true, false, length(func(g *jobs.Gang) *jobs.Length { return &g.Press.Speed })},
	{"setup_minutes", "min", true, true, false, amount(func(g *jobs.Gang) *decimal.Decimal { return &g.Press.SetupMinutes })},
	{"changeover_minutes", "min", true, true, false, amount(func(g *jobs.Gang) *decimal.Decimal { return &g.Press.ChangeoverMin })},
	{"changeover_web", "m", true, true, false, length(func(g *jobs.Gang) *jobs.Length { return &g.Press.ChangeoverWeb })},
	{"lane_run_cost", "each", true, true, false, amount(func(g *jobs.Gang) *decimal.Decimal { return &g.Press.LaneRunCost })},
	{"row_cost", "a row", true, true, true, amount(func(g *jobs.Gang) *decimal.Decimal { return &g.Bare.Row })},
	{"section_cost", "a section", true, true, true, amount(func(g *jobs.Gang) *decimal.Decimal { return &g.Bare.Section })},
}

// Varied names what can be varied.
func Varied() []string {
	names := make([]string, len(variables))
	for i, v := range variables {
		names[i] = v.name
	}
	return names
}

// setTolerance lets customers take so many percent too many and too few of
// every version.
func setTolerance(g *jobs.Gang, v Value) {
	share := v.Number.Shift(-2)
	g.Policy.Unders, g.Policy.Overs, g.Policy.LimitOvers = share, share, true
	eachVersion(g, func(v *jobs.Version) { v.Unders, v.Overs, v.AllOvers, v.Fewest, v.Most = nil, nil, false, nil, nil })
}

// setQuantity changes every version's quantity, rounded up to a whole label.
func setQuantity(g *jobs.Gang, v Value) {
	eachVersion(g, func(version *jobs.Version) {
		version.Fewest, version.Most = nil, nil // numbers of labels fit one quantity
		version.Quantity = max(1, int(v.of(whole(version.Quantity)).Ceil().IntPart()))
	})
}

// eachVersion changes the versions without touching those of the gang that g
// was copied from.
func eachVersion(g *jobs.Gang, change func(*jobs.Version)) {
	g.Orders = slices.Clone(g.Orders)
	for i := range g.Orders {
		g.Orders[i].Versions = slices.Clone(g.Orders[i].Versions)
		for j := range g.Orders[i].Versions {
			change(&g.Orders[i].Versions[j])
		}
	}
}

func variable(name string) (varied, error) {
	for _, v := range variables {
		if v.name == name {
			return v, nil
		}
	}
	return varied{}, fmt.Errorf("unknown %q, want one of %s", name, strings.Join(Varied(), ", "))
}

// ParseVariation reads what to vary and its values: tolerance=0,2,5,10 or
// stock_price=-10%,+10%. A value with a sign and % is put on what the gang
// has, another takes its place; one variation has values of one kind.
func ParseVariation(text string) (Variation, error) {
	name, list, found := strings.Cut(text, "=")
	if !found || list == "" {
		return Variation{}, fmt.Errorf("want what to vary and its values, such as tolerance=0,2,5,10, got %q", text)
	}
	of, err := variable(name)
	if err != nil {
		return Variation{}, err
	}
	v := Variation{Name: name}
	for _, one := range strings.Split(list, ",") {
		value, err := of.value(strings.TrimSpace(one))
		if err != nil {
			return Variation{}, fmt.Errorf("%s: %w", name, err)
		}
		if len(v.Values) > 0 && v.Values[0].Relative != value.Relative {
			return Variation{}, fmt.Errorf("%s: want all values in their place or all as percentages put on, got %s and %s", name, v.Values[0].Text, value.Text)
		}
		if slices.ContainsFunc(v.Values, func(other Value) bool { return other.Number.Equal(value.Number) }) {
			return Variation{}, fmt.Errorf("%s: %s stands here twice", name, value.Text)
		}
		v.Values = append(v.Values, value)
	}
	return v, nil
}

func (of varied) value(text string) (Value, error) {
	v := Value{Text: text}
	number, percent := strings.CutSuffix(text, "%")
	v.Relative = percent && (strings.HasPrefix(text, "+") || strings.HasPrefix(text, "-"))
	if percent && !v.Relative && of.name != "tolerance" {
		return v, fmt.Errorf("want a sign before a percentage, such as +10%%, got %q", text)
	}
	var err error
	if v.Number, err = decimal.NewFromString(strings.TrimPrefix(number, "+")); err != nil || len(number) > 24 {
		return v, fmt.Errorf("want a number or a percentage such as -10%%, got %q", text)
	}
	switch {
	case v.Relative && !of.relative:
		return v, fmt.Errorf("want a value to put in its place, in %s, got %q", of.unit, text)
	case !v.Relative && !of.absolute:
		return v, fmt.Errorf("want a percentage to put on, such as +10%%, got %q", text)
	case v.Relative && v.Number.LessThanOrEqual(decimal.NewFromInt(-100)):
		return v, fmt.Errorf("want a percentage above -100%%, got %q", text)
	case !v.Relative && v.Number.IsNegative():
		return v, fmt.Errorf("want a value from 0 up, got %q", text)
	}
	return v, nil
}

// Unit of the variation's values, in words.
func (v Variation) Unit() string {
	if len(v.Values) > 0 && v.Values[0].Relative {
		return "% more or less"
	}
	of, err := variable(v.Name)
	if err != nil {
		return ""
	}
	return of.unit
}

// Curve is what a gang costs as one thing varies.
type Curve struct {
	Gang      string
	Variation Variation
	Points    []Point // in the order of the values
	AsItIs    Point   // without any change
}

// Point is one value's plan. Failed says why there is none.
type Point struct {
	Value Value
	Cost  decimal.Decimal // of the cost sheet
	// Unbilled is what the plan loses by labels short and by fillers that run
	// another day, less what billed overs earn: plans are compared by Cost
	// and Unbilled together.
	Unbilled decimal.Decimal
	Sections int
	Rows     int
	Gap      float64
	Failed   string
}

// Vary plans a gang once as it is and once for every value of every
// variation, one thing at a time, all with the same work.
func Vary(ctx context.Context, g jobs.Gang, variations []Variation, o Options) ([]Curve, error) {
	o = o.withDefaults()
	curves := make([]Curve, len(variations))
	gangs := []jobs.Gang{g}
	slots := []*Point{}
	var asItIs Point
	slots = append(slots, &asItIs)
	for i, variation := range variations {
		of, err := variable(variation.Name)
		if err != nil {
			return nil, err
		}
		if g.Bare != nil && !of.bare {
			return nil, fmt.Errorf("%s: %w: a bare problem has none", of.name, ErrNotVaried)
		}
		if g.Bare == nil && (of.name == "row_cost" || of.name == "section_cost") {
			return nil, fmt.Errorf("%s: %w: only a bare problem has one", of.name, ErrNotVaried)
		}
		curves[i] = Curve{Gang: g.ID, Variation: variation, Points: make([]Point, len(variation.Values))}
		for k, value := range variation.Values {
			changed := g
			if g.Bare != nil {
				costs := *g.Bare
				changed.Bare = &costs
			}
			of.set(&changed, value)
			curves[i].Points[k].Value = value
			gangs, slots = append(gangs, changed), append(slots, &curves[i].Points[k])
		}
	}
	results := make([]outcome, len(gangs))
	err := inParallel(ctx, o.Workers, len(gangs), func(k int) (err error) {
		results[k], err = try(ctx, gangs[k], o)
		return err
	})
	if err == nil {
		err = inParallel(ctx, o.Workers, len(gangs), func(k int) error { return slots[k].settle(gangs[k], results, k) })
	}
	if err != nil {
		return nil, fmt.Errorf("gang %s: %w", g.ID, err)
	}
	for i := range curves {
		curves[i].AsItIs = asItIs
	}
	return curves, nil
}

// settle takes the cheapest of all plans that hold for this gang: the planner
// is not always at its optimum, and what another value's plan can do is no
// dearer here. So more tolerance, say, never costs more. Costs are those of
// the sheet with what is not billed.
func (p *Point) settle(g jobs.Gang, results []outcome, own int) error {
	p.Gap, p.Failed = results[own].Gap, results[own].Failed
	problem, err := g.Problem()
	if err != nil {
		return err
	}
	least, found := decimal.Zero, false
	var chosen float64 // the chosen plan's cost to the planner
	for i, r := range results {
		if r.Failed != "" {
			continue
		}
		plan, count := r.plan, nest.Recount(problem, r.plan)
		plan.Cost = count.Cost
		if nest.Check(problem, plan) != nil {
			continue
		}
		sheet, err := NewSheet(g, plan)
		if err != nil {
			return err
		}
		unbilled := decimal.NewFromFloat(count.Cost.Shorts + count.Cost.Overs + count.Cost.Elsewhere).Round(g.Places())
		all := sheet.Total.Add(unbilled)
		// The own plan goes first among equals.
		if found && (all.GreaterThan(least) || all.Equal(least) && i != own) {
			continue
		}
		least, found, chosen = all, true, count.Cost.Total
		p.Cost, p.Unbilled, p.Rows, p.Sections = sheet.Total, unbilled, count.Rows, count.Sections
	}
	if !found {
		return nil
	}
	bound := 0.0
	if results[own].Failed == "" {
		bound = nest.Recount(problem, results[own].plan).Cost.Total * (1 - p.Gap)
	}
	p.Failed = ""
	if chosen > 0 {
		p.Gap = max(0, 1-bound/chosen)
	}
	return nil
}

// Against gives the cost of a point against the gang as it is, as a fraction;
// 0 where either has no plan.
func (c Curve) Against(p Point) float64 {
	if c.AsItIs.Cost.IsZero() || p.Failed != "" {
		return 0
	}
	change := p.Cost.Div(c.AsItIs.Cost).InexactFloat64()
	return math.Round((change-1)*1e6) / 1e6
}
