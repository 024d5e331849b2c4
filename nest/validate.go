package nest

import (
	"errors"
	"fmt"
	"math"
)

// The largest numbers that a Problem may hold. They keep every count of
// labels far inside an int and every sum of money exact to the nine digits
// that Check compares.
const (
	maxLanes    = 10_000
	maxQuantity = 1_000_000_000     // labels of one version
	maxLabels   = 1_000_000_000_000 // labels of all versions together
	maxMoney    = 1e15
)

// Fault is one thing that is wrong with a Problem itself, whatever the plan.
type Fault struct {
	Version int    // index of the version that has it; -1 for the problem's own fields
	Field   string // Go name of the field
	Detail  string // what is wrong and what would be right, version named
}

// Error gives the detail.
func (f *Fault) Error() string { return f.Detail }

// Validate reports every fault of a Problem at once, joined, each a *Fault,
// in the order of the fields. A problem without faults may still be
// infeasible (a version that must run in closed lanes, say): that is for a
// solve to find.
//
// Limits: 1 to 10,000 lanes; 1 to 1e9 labels a version and 1e12 in all;
// money and minutes at most 1e15 and, but for Costs.Fixed, not negative.
func Validate(p Problem) error {
	v := validator{p: p}
	v.lanes()
	v.money(-1, "Costs.Row", p.Costs.Row)
	v.money(-1, "Costs.Section", p.Costs.Section)
	v.money(-1, "Costs.LaneRun", p.Costs.LaneRun)
	v.money(-1, "Costs.WholeRollSaving", p.Costs.WholeRollSaving)
	if f := p.Costs.Fixed; math.IsNaN(f) || math.Abs(f) > maxMoney {
		v.fault(-1, "Costs.Fixed", "%v: want a number between -1e15 and 1e15", f)
	}
	if c := p.Costs; c.WholeRollSaving > c.Section {
		v.fault(-1, "Costs.WholeRollSaving", "%v: want at most Costs.Section, %v, or every section cut in two would earn money", c.WholeRollSaving, c.Section)
	}
	v.limits()
	v.money(-1, "Press.SetupMinutes", p.Press.SetupMinutes)
	v.money(-1, "Press.RowMinutes", p.Press.RowMinutes)
	v.money(-1, "Press.ChangeoverMinutes", p.Press.ChangeoverMinutes)
	v.stock()
	v.versions()
	v.sets("Together", p.Together)
	v.sets("Apart", p.Apart)
	return errors.Join(v.faults...)
}

type validator struct {
	p      Problem
	faults []error
}

func (v *validator) fault(version int, field, format string, args ...any) {
	detail := field + " " + fmt.Sprintf(format, args...)
	if version >= 0 {
		detail = fmt.Sprintf("version %q: %s", v.p.Versions[version].ID, detail)
	}
	v.faults = append(v.faults, &Fault{Version: version, Field: field, Detail: detail})
}

// money wants a finite amount of money, minutes or web, not negative.
func (v *validator) money(version int, field string, amount float64) {
	if math.IsNaN(amount) || amount < 0 || amount > maxMoney {
		v.fault(version, field, "%v: want a number from 0 to 1e15", amount)
	}
}

// count wants a whole number from least to most.
func (v *validator) count(version int, field string, number, least, most int) {
	if number < least || number > most {
		v.fault(version, field, "%d: want a whole number from %d to %d", number, least, most)
	}
}

// laneList wants lane numbers within the die, none twice.
func (v *validator) laneList(version int, field string, lanes []int) {
	seen := map[int]bool{}
	for _, lane := range lanes {
		switch {
		case lane < 1 || lane > v.p.Lanes:
			v.fault(version, field, "names lane %d: want 1 to %d", lane, v.p.Lanes)
		case seen[lane]:
			v.fault(version, field, "names lane %d twice", lane)
		}
		seen[lane] = true
	}
}

func (v *validator) lanes() {
	before := len(v.faults)
	v.count(-1, "Lanes", v.p.Lanes, 1, maxLanes)
	v.laneList(-1, "Closed", v.p.Closed)
	if len(v.faults) == before && len(v.p.Closed) == v.p.Lanes {
		v.fault(-1, "Closed", "takes all %d lanes: want at least one lane open", v.p.Lanes)
	}
}

func (v *validator) limits() {
	l := v.p.Limits
	v.count(-1, "Limits.Sections", l.Sections, 0, maxQuantity)
	v.count(-1, "Limits.MostSections", l.MostSections, 0, maxQuantity)
	if l.MostSections > 0 && l.Sections > l.MostSections {
		v.fault(-1, "Limits.Sections", "%d: want at most MostSections, %d", l.Sections, l.MostSections)
	}
	v.count(-1, "Limits.VersionsPerSection", l.VersionsPerSection, 0, maxQuantity)
	v.count(-1, "Limits.Frame", l.Frame, 0, maxQuantity)
	v.count(-1, "Limits.LeastRows", l.LeastRows, 0, maxQuantity)
}

func (v *validator) stock() {
	s := v.p.Stock
	before := len(v.faults)
	v.money(-1, "Stock.RollRows", s.RollRows)
	v.money(-1, "Stock.SetupRows", s.SetupRows)
	v.money(-1, "Stock.ChangeoverRows", s.ChangeoverRows)
	v.money(-1, "Stock.SpliceCost", s.SpliceCost)
	v.money(-1, "Stock.SpliceRows", s.SpliceRows)
	if s.RollRows == 0 || len(v.faults) > before {
		return
	}
	// What a fresh roll loses before its first row must leave that row.
	for _, lost := range []struct {
		field string
		rows  float64
	}{
		{"Stock.SetupRows", s.SetupRows},
		{"Stock.ChangeoverRows", s.ChangeoverRows},
		{"Stock.SpliceRows", s.SpliceRows},
	} {
		if lost.rows+1 > s.RollRows {
			v.fault(-1, lost.field, "%v: want at least one row less than a parent roll, which has %v rows", lost.rows, s.RollRows)
		}
	}
}

func (v *validator) versions() {
	if len(v.p.Versions) == 0 {
		v.fault(-1, "Versions", "is empty: want at least one version")
	}
	first := map[string]int{}
	sum := 0
	for i, version := range v.p.Versions {
		if version.ID == "" {
			v.fault(-1, "Versions", "has no ID at index %d: want a name of its own for every version", i)
		} else if j, twice := first[version.ID]; twice {
			v.fault(i, "ID", "is used twice, at index %d and %d: want a name of its own for every version", j, i)
		} else {
			first[version.ID] = i
		}
		v.demand(i, version)
		v.placement(i, version)
		if sum <= maxLabels {
			sum += min(max(version.Quantity, 0), maxQuantity)
		}
	}
	if sum > maxLabels {
		v.fault(-1, "Versions", "add up to more than %d labels", maxLabels)
	}
}

func (v *validator) demand(i int, version Version) {
	v.count(i, "Quantity", version.Quantity, 1, maxQuantity)
	v.count(i, "Fewest", version.Fewest, 0, maxQuantity)
	if version.Fewest > max(version.Quantity, 0) && version.Fewest <= maxQuantity {
		v.fault(i, "Fewest", "%d: want at most Quantity, %d", version.Fewest, version.Quantity)
	}
	v.count(i, "Most", version.Most, 0, maxLabels)
	if version.Most > 0 && version.Most < version.Quantity {
		v.fault(i, "Most", "%d: want at least Quantity, %d", version.Most, version.Quantity)
	}
	v.money(i, "ShortCost", version.ShortCost)
	v.money(i, "OverPrice", version.OverPrice)
	if version.OverPrice > 0 && version.Most == 0 {
		v.fault(i, "OverPrice", "%v needs a Most: want to know how many overs are billed", version.OverPrice)
	}
	v.money(i, "LabelCost", version.LabelCost)
	v.money(i, "ElsewhereCost", version.ElsewhereCost)
}

func (v *validator) placement(i int, version Version) {
	v.count(i, "LeastLanes", version.LeastLanes, 0, maxLanes)
	v.count(i, "MostLanes", version.MostLanes, 0, maxLanes)
	if version.MostLanes > 0 && version.MostLanes < version.LeastLanes {
		v.fault(i, "MostLanes", "%d: want at least LeastLanes, %d", version.MostLanes, version.LeastLanes)
	}
	v.laneList(i, "OnlyLanes", version.OnlyLanes)
	v.money(i, "Deadline", version.Deadline)
	v.count(i, "LabelsPerRoll", version.LabelsPerRoll, 0, maxQuantity)
	v.count(i, "MostSplices", version.MostSplices, -1, maxQuantity)
}

// sets wants every set to hold two or more versions, none twice.
func (v *validator) sets(field string, sets [][]int) {
	for n, set := range sets {
		seen := map[int]bool{}
		for _, i := range set {
			switch {
			case i < 0 || i >= len(v.p.Versions):
				v.fault(-1, field, "set %d holds version index %d: want 0 to %d", n+1, i, len(v.p.Versions)-1)
			case seen[i]:
				v.fault(-1, field, "set %d holds version %q twice", n+1, v.p.Versions[i].ID)
			}
			seen[i] = true
		}
		if len(set) < 2 {
			v.fault(-1, field, "set %d: want two versions or more, got %d", n+1, len(set))
		}
	}
}
