package nest

// Count is what follows from a plan's sections and the problem, counted
// without any help of whoever made the plan.
type Count struct {
	Versions []VersionCount // in the order of Problem.Versions
	Sections int
	Rows     int // of all sections
	LaneRuns int // lanes that print, counted over all sections
	Carried  int // of them, those that keep their version from the section before
	Idle     int // labels not printed because an open lane is empty
	Splices  int
	// WholeRolls counts the sections but the last in which every lane run is
	// whole customer rolls.
	WholeRolls int
	Minutes    float64 // from the start of the set-up to the end of the last section; 0 without a section
	Cost       Cost
}

// VersionCount is the count of one version:
// Planned = Ordered - Unders + Overs + Scrap, but for a filler left out, of
// which nothing is planned and nothing counts as short.
type VersionCount struct {
	ID       string
	Ordered  int // Version.Quantity
	Planned  int // labels printed, overs and scrap too
	Overs    int // above Ordered, up to Most (all of them where Most is 0)
	Unders   int // below Ordered
	Scrap    int // above Most
	Sections int // in which it runs
	LaneRuns int
	Carried  int
	LeftOut  bool // a filler that runs nowhere
}

// Recount counts a plan. It takes any plan, valid or not: lanes beyond the
// die and versions that do not exist print nothing, rows below 1 count as
// none; what is stated in plan.Cost is not read.
//
// Cost.Total = Fixed
//   - Row · rows
//   - Section · sections
//   - LaneRun · lane runs that are not carried
//   - Σ LabelCost · labels printed
//   - Σ ShortCost · unders
//   - Σ OverPrice · overs, as an earning (negative)
//   - Σ ElsewhereCost of fillers left out
//   - WholeRollSaving · sections but the last in which every lane run is whole customer rolls, as an earning
//   - SpliceCost · splices
//
// A lane run is carried where the same lane holds the same version in the
// section immediately before. A parent-roll change between two sections
// costs nothing. Fixed is paid whatever runs, even by a plan without
// sections.
func Recount(p Problem, plan Plan) Count {
	c := Count{
		Versions: make([]VersionCount, len(p.Versions)),
		Sections: len(plan.Sections),
		Splices:  len(plan.Splices),
	}
	for k, s := range plan.Sections {
		c.addSection(p, plan, k)
		if k < len(plan.Sections)-1 && allWholeRolls(p, s) {
			c.WholeRolls++
		}
	}
	if c.Sections > 0 {
		c.Minutes = minutesToEnd(p, plan, c.Sections-1)
	}
	c.Cost = Cost{
		Fixed:      p.Costs.Fixed,
		Rows:       p.Costs.Row * float64(c.Rows),
		Sections:   p.Costs.Section * float64(c.Sections),
		LaneRuns:   p.Costs.LaneRun * float64(c.LaneRuns-c.Carried),
		WholeRolls: 0 - p.Costs.WholeRollSaving*float64(c.WholeRolls), // never -0
		Splices:    p.Stock.SpliceCost * float64(c.Splices),
	}
	for i, v := range p.Versions {
		c.settle(i, v)
	}
	k := &c.Cost
	k.Total = k.Fixed + k.Rows + k.Sections + k.LaneRuns + k.Labels + k.Shorts + k.Overs + k.Elsewhere + k.WholeRolls + k.Splices
	return c
}

// addSection counts the lanes of section k.
func (c *Count) addSection(p Problem, plan Plan, k int) {
	rows := countedRows(plan.Sections[k])
	c.Rows += rows
	running := map[int]bool{}
	printing := 0
	for lane := range min(p.Lanes, len(plan.Sections[k].Lanes)) {
		i := laneVersion(p, plan.Sections[k], lane)
		if i == Empty {
			continue
		}
		printing++
		v := &c.Versions[i]
		v.Planned += rows
		v.LaneRuns++
		c.LaneRuns++
		if k > 0 && laneVersion(p, plan.Sections[k-1], lane) == i {
			v.Carried++
			c.Carried++
		}
		if !running[i] {
			running[i] = true
			v.Sections++
		}
	}
	c.Idle += rows * max(p.Lanes-len(p.Closed)-printing, 0)
}

// settle compares what is planned of a version with what is ordered.
func (c *Count) settle(i int, v Version) {
	n := &c.Versions[i]
	n.ID, n.Ordered = v.ID, v.Quantity
	if v.Filler && n.LaneRuns == 0 {
		n.LeftOut = true
		c.Cost.Elsewhere += v.ElsewhereCost
		return
	}
	n.Unders = max(v.Quantity-n.Planned, 0)
	n.Overs = max(n.Planned-v.Quantity, 0)
	if v.Most > 0 {
		n.Scrap = max(n.Planned-v.Most, 0)
		n.Overs -= n.Scrap
	}
	c.Cost.Labels += v.LabelCost * float64(n.Planned)
	c.Cost.Shorts += v.ShortCost * float64(n.Unders)
	c.Cost.Overs -= v.OverPrice * float64(n.Overs)
}

// laneVersion is the version in a lane (from 0), Empty where the section has
// no such lane or names a version that does not exist.
func laneVersion(p Problem, s Section, lane int) int {
	if lane >= len(s.Lanes) || s.Lanes[lane] < 0 || s.Lanes[lane] >= len(p.Versions) {
		return Empty
	}
	return s.Lanes[lane]
}

// countedRows keeps rows within what can be added up without overflow.
func countedRows(s Section) int { return min(max(s.Rows, 0), maxLabels) }

// minutesToEnd is the time from the start of the set-up to the end of
// section k.
func minutesToEnd(p Problem, plan Plan, k int) float64 {
	rows := 0
	for _, s := range plan.Sections[:k+1] {
		rows += countedRows(s)
	}
	return p.Press.SetupMinutes + p.Press.RowMinutes*float64(rows) + p.Press.ChangeoverMinutes*float64(k)
}

// allWholeRolls says whether every lane run of a section is whole customer
// rolls, the labels per roll of each being known.
func allWholeRolls(p Problem, s Section) bool {
	for lane := range min(p.Lanes, len(s.Lanes)) {
		i := laneVersion(p, s, lane)
		if i == Empty {
			continue
		}
		per := p.Versions[i].LabelsPerRoll
		if per <= 0 || s.Rows%per != 0 {
			return false
		}
	}
	return true
}
