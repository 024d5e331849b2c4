package rewind

import (
	"fmt"
	"strings"

	"laneplan/jobs"
)

// Refusal says why a gang's rolls cannot be wound, and which value of a job
// file says so.
type Refusal struct {
	Path string // such as orders[0].versions[2].core; indices count from 0
	Err  error
}

// Error tells the reason alone.
func (r *Refusal) Error() string { return r.Err.Error() }

// Unwrap gives the reason, which may be ErrCannotWind.
func (r *Refusal) Unwrap() error { return r.Err }

func refuse(path, format string, args ...any) error {
	return &Refusal{path, fmt.Errorf(format, args...)}
}

// Check refuses a gang whose rolls cannot be wound whatever the plan is: a
// core that the rewinder does not take, a diameter that holds no label, copy
// positions that cannot share a web. Its errors are Refusals; those that wrap
// ErrCannotWind say that the input is sound and the machine is not able, all
// others are bad input.
func Check(g jobs.Gang) error {
	if g.Bare != nil {
		return nil
	}
	if err := checkDie(g.Die); err != nil {
		return err
	}
	if g.Chart != nil {
		if err := g.Chart.Check(); err != nil {
			return &Refusal{"wind_chart", err}
		}
	}
	versions := versionsOf(g)
	at := 0
	for i, o := range g.Orders {
		for k, v := range o.Versions {
			if field, err := checkVersion(g, v, versions[at]); err != nil {
				if !strings.Contains(field, ".") {
					field = fmt.Sprintf("orders[%d].versions[%d].%s", i, k, field)
				}
				return refuse(field, "order %s, version %s: %w", o.ID, v.ID, err)
			}
			at++
		}
	}
	return CheckEdges(g)
}

func checkDie(d jobs.Die) error {
	if d.GapAround <= 0 {
		return refuse("die.gap_around", "die %s: has no gap around, want the gap between two labels along the web, such as 3mm", d.ID)
	}
	if d.Lanes > 1 && d.GapAcross <= 0 {
		return refuse("die.gap_across", "die %s: has no gap across, want the gap between two lanes, such as 3mm: the slitting knives stand in it", d.ID)
	}
	return nil
}

// checkVersion returns the field that is wrong, of the version or with a point
// in it of the gang.
func checkVersion(g jobs.Gang, v jobs.Version, w Version) (field string, err error) {
	if w.Core > 0 && !takesCore(g.Rewinder, w.Core) {
		return "core", fmt.Errorf("core %s: rewinder %s takes %s", w.Core, g.Rewinder.ID, list(g.Rewinder.Cores))
	}
	if v.MaxDiameter > 0 && w.Core == 0 {
		return "max_diameter", fmt.Errorf("max diameter %s: the core is not stated, want the inside diameter of one that the rewinder takes", v.MaxDiameter)
	}
	limit := smallerOf(v.MaxDiameter, g.Rewinder.MaxDiameter)
	if limit == 0 || w.Core == 0 {
		return "", nil
	}
	if woundCaliper(g) == 0 {
		return "stock.caliper", fmt.Errorf("stock %s: has no caliper, want its whole thickness with the liner, such as 0.145mm: a largest diameter is stated", g.Stock.ID)
	}
	fits := labelsWithin(g, limit, w.Core)
	if fits == 0 {
		return "max_diameter", fmt.Errorf("max diameter %s: holds not even one label of %s on a core of %s, want a larger one", limit, g.Die.Around, w.Core)
	}
	if v.LabelsPerRoll > fits {
		length := jobs.Length(v.LabelsPerRoll)*g.Die.Pitch() + g.Rewinder.Leader + g.Rewinder.Tail
		diameter := OutsideDiameter(length, coreOutside(g, w.Core), woundCaliper(g))
		err := fmt.Errorf("labels per roll %d: make a roll of %s, above the largest diameter of %s, which holds %d",
			v.LabelsPerRoll, nearest(diameter, jobs.Millimetre/10), limit, fits)
		if v.MaxDiameter == 0 || v.MaxDiameter > g.Rewinder.MaxDiameter && g.Rewinder.MaxDiameter > 0 {
			err = fmt.Errorf("%w: %w by rewinder %s", err, ErrCannotWind, g.Rewinder.ID)
		}
		return "labels_per_roll", err
	}
	return "", nil
}

// CheckEdges refuses copies that would have to stand at right angles to each
// other on a label that is not square. Copies that differ by 180° share a web.
// The error wraps ErrCannotWind.
func CheckEdges(g jobs.Gang) error {
	d := g.Die
	if g.Bare != nil || d.Across == d.Around {
		return nil
	}
	var first *jobs.Version
	for i, o := range g.Orders {
		for k := range o.Versions {
			v := &o.Versions[k]
			switch {
			case v.Wind.Edge == jobs.EdgeUnknown:
			case first == nil:
				first = v
			case v.Wind.Edge != first.Wind.Edge && v.Wind.Edge != first.Wind.Edge.Opposite():
				return refuse(fmt.Sprintf("orders[%d].versions[%d].wind", i, k),
					"versions %s (%s first) and %s (%s first) on one web %w: one copy would have to turn by 90° on a label of %s × %s, and only leading edges that differ by 180° can be ganged",
					first.ID, first.Wind.Edge, v.ID, v.Wind.Edge, ErrCannotWind, d.Across, d.Around)
			}
		}
	}
	return nil
}

func takesCore(r jobs.Rewinder, core jobs.Length) bool {
	if len(r.Cores) == 0 {
		return true
	}
	for _, c := range r.Cores {
		if c == core {
			return true
		}
	}
	return false
}

func list(lengths []jobs.Length) string {
	words := make([]string, len(lengths))
	for i, l := range lengths {
		words[i] = l.String()
	}
	return strings.Join(words, ", ")
}

// smallerOf two lengths of which 0 is not stated.
func smallerOf(a, b jobs.Length) jobs.Length {
	if a == 0 || b > 0 && b < a {
		return b
	}
	return a
}

func nearest(l, unit jobs.Length) jobs.Length { return (l + unit/2) / unit * unit }

// woundCaliper is the thickness of what is wound: stock and finishes. It is 0
// where the stock's is not known.
func woundCaliper(g jobs.Gang) jobs.Length {
	if g.Stock.Caliper == 0 {
		return 0
	}
	total := g.Stock.Caliper
	for _, f := range g.Finishes {
		total += f.Caliper
	}
	return total
}

// coreOutside of a core of this inside diameter. Where the shop states no
// wall it is the inside, which makes rolls look a little smaller than they are.
func coreOutside(g jobs.Gang, inside jobs.Length) jobs.Length {
	return inside + 2*g.Rewinder.CoreWall
}

// labelsWithin an outside diameter.
func labelsWithin(g jobs.Gang, diameter, core jobs.Length) int {
	length := WoundLength(diameter, coreOutside(g, core), woundCaliper(g))
	return LabelsOn(length, g.Rewinder.Leader, g.Rewinder.Tail, g.Die.Pitch())
}

// StripWidth after slitting: the knives stand in the middle of the gaps.
func StripWidth(d jobs.Die) jobs.Length { return d.Across + d.GapAcross }

// versionsOf a gang as it orders them, nothing wound yet.
func versionsOf(g jobs.Gang) []Version {
	var versions []Version
	first := jobs.EdgeUnknown
	for _, o := range g.Orders {
		for _, v := range o.Versions {
			w := Version{
				Index: len(versions), Order: o.ID, Customer: o.Customer, ID: v.ID, Name: v.Name, Due: o.Due, Flags: o.Flags,
				Ordered: v.Quantity, MostSplices: -1, Core: v.Core, Wind: v.Wind, PressEdge: pressEdge(g.Rewinder, v.Wind.Edge),
				LeaveOvers: v.LeaveOvers, Filler: o.Filler || g.Tolerance(v).Optional(),
			}
			if v.MostSplices != nil {
				w.MostSplices = *v.MostSplices
			}
			if w.Core == 0 && len(g.Rewinder.Cores) == 1 {
				w.Core = g.Rewinder.Cores[0]
			}
			w.LabelsPerRoll = labelsPerRoll(g, v, w.Core)
			if first == jobs.EdgeUnknown {
				first = w.PressEdge
			}
			if w.PressEdge != jobs.EdgeUnknown {
				w.Turned = w.PressEdge == first.Opposite()
				w.AtRightAngle = w.PressEdge != first && !w.Turned
			}
			versions = append(versions, w)
		}
	}
	return versions
}

// labelsPerRoll as stated, else as many as the largest diameter holds; 0 where
// neither is known.
func labelsPerRoll(g jobs.Gang, v jobs.Version, core jobs.Length) int {
	if v.LabelsPerRoll > 0 {
		return v.LabelsPerRoll
	}
	limit := smallerOf(v.MaxDiameter, g.Rewinder.MaxDiameter)
	if limit == 0 || core == 0 || g.Bare != nil {
		return 0
	}
	return labelsWithin(g, limit, core)
}

// pressEdge is the edge that has to leave the press first: every winding
// turns the leading edge round.
func pressEdge(r jobs.Rewinder, customer jobs.Edge) jobs.Edge {
	if r.Windings%2 == 1 {
		return customer.Opposite()
	}
	return customer
}

// target is how many of the planned labels are wound.
func (v *Version) target() int {
	target := v.Planned
	if v.LeaveOvers {
		target = min(target, v.Ordered)
	}
	if v.Most > 0 {
		target = min(target, v.Most)
	}
	return target
}
