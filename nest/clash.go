package nest

import "fmt"

// clashes finds, before any search, what no plan can get round. Each reason
// names the version and the rules.
func (in *instance) clashes() []string {
	p := in.p
	var reasons []string
	say := func(format string, args ...any) { reasons = append(reasons, fmt.Sprintf(format, args...)) }
	must, each := 0, in.lanes
	if n := p.Limits.VersionsPerSection; n > 0 {
		each = min(each, n)
	}
	for i := range p.Versions {
		v := &p.Versions[i]
		if !v.Filler {
			must++
		}
		usable := in.lanes
		if in.rules != nil && in.rules.allowed != nil {
			usable = 0
			for l := range in.lane {
				if in.rules.mayHold(l, i, in) {
					usable++
				}
			}
		}
		if v.Filler {
			continue // it may be left out
		}
		if usable == 0 {
			say("version %s is bound to lanes that are out of use", v.ID)
			continue
		}
		if v.LeastLanes > usable {
			say("version %s wants at least %d lanes of a section, and only %d lanes may hold it", v.ID, v.LeastLanes, usable)
			continue
		}
		if v.Deadline > 0 {
			most := usable
			if v.MostLanes > 0 {
				most = min(most, v.MostLanes)
			}
			rows := in.length((in.need[i] + most - 1) / most)
			if need := p.Press.SetupMinutes + float64(rows)*p.Press.RowMinutes; need > v.Deadline*(1+1e-12) {
				say("version %s is due %.0f minutes after the start, and its %d labels alone take %.0f minutes with the set-up", v.ID, v.Deadline, in.need[i], need)
			}
		}
	}
	if in.atMost > 0 && must > in.atMost*each {
		say("%d versions do not fit into %d sections of %d versions each", must, in.atMost, each)
	}
	for _, set := range p.Together {
		lanes := 0
		for _, v := range set {
			lanes += max(1, p.Versions[v].LeastLanes)
		}
		if lanes > in.lanes || len(set) > each {
			for _, v := range set {
				if !p.Versions[v].Filler {
					say("version %s must share its sections with %d others, which takes %d lanes and versions where a section holds %d", p.Versions[v].ID, len(set)-1, max(lanes, len(set)), min(each, in.lanes))
					break
				}
			}
		}
	}
	return reasons
}
