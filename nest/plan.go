package nest

import "fmt"

// plan turns a draft into a Plan: dice lanes, sections in running order, cost
// by kind.
func (in *instance) plan(d *draft) Plan {
	d = d.clone()
	if in.rules == nil && in.p.Stock.RollRows == 0 {
		in.layout(d) // the others were laid out when they were finished
	}
	plan := Plan{}
	for k, rows := range d.rows {
		lanes := make([]int, in.p.Lanes)
		for l := range lanes {
			lanes[l] = Empty
		}
		for l, v := range d.lanes[k*in.lanes : (k+1)*in.lanes] {
			if int(v) < in.count {
				lanes[in.lane[l]] = int(v)
			}
		}
		plan.Sections = append(plan.Sections, Section{Rows: rows, Lanes: lanes})
	}
	w, _ := in.reels(d) // finish saw that there is a way
	plan.Splices, plan.RollChanges = w.splices, w.changes
	plan.Cost = in.costs(plan)
	return plan
}

// costs counts a plan's cost by kind, in money.
func (in *instance) costs(plan Plan) Cost {
	p := in.p
	c := Cost{Fixed: p.Costs.Fixed, Splices: float64(len(plan.Splices)) * p.Stock.SpliceCost}
	printed := make([]int, in.count)
	for k, s := range plan.Sections {
		c.Rows += p.Costs.Row * float64(s.Rows)
		c.Sections += p.Costs.Section
		whole := true
		for l, v := range s.Lanes {
			if v == Empty {
				continue
			}
			printed[v] += s.Rows
			if k == 0 || plan.Sections[k-1].Lanes[l] != v {
				c.LaneRuns += p.Costs.LaneRun
			}
			if n := p.Versions[v].LabelsPerRoll; n == 0 || s.Rows%n != 0 {
				whole = false
			}
		}
		if whole && k < len(plan.Sections)-1 {
			c.WholeRolls -= p.Costs.WholeRollSaving
		}
	}
	for i, v := range p.Versions {
		n := printed[i]
		if n == 0 && v.Filler {
			c.Elsewhere += v.ElsewhereCost
			continue
		}
		c.Labels += v.LabelCost * float64(n)
		if n < v.Quantity {
			c.Shorts += v.ShortCost * float64(v.Quantity-n)
		} else if v.Most > 0 {
			c.Overs -= v.OverPrice * float64(min(n, v.Most)-v.Quantity)
		}
	}
	c.Total = c.Fixed + c.Rows + c.Sections + c.LaneRuns + c.Labels + c.Shorts + c.Overs + c.Elsewhere + c.WholeRolls + c.Splices
	return c
}

// draftOf turns a plan that somebody else made into a draft; it must have
// passed Check.
func (in *instance) draftOf(plan Plan) *draft {
	d := &draft{}
	for _, s := range plan.Sections {
		d.rows = append(d.rows, s.Rows)
		for _, l := range in.lane {
			v := s.Lanes[l]
			if v == Empty {
				v = in.count
			}
			d.lanes = append(d.lanes, int16(v))
		}
	}
	return d
}

// Infeasible says that no plan can meet the demands, and why.
type Infeasible struct {
	// Reasons name versions and the rules that clash, a sentence each.
	Reasons []string
	// Terms are rules that cannot be kept together.
	Terms []Term
	// Irreducible: with any one of Terms left out there is a plan that keeps
	// the others; false where that could not be decided of every one.
	Irreducible bool
	// Smallest: no fewer rules of the problem clash; false where that was not
	// decided.
	Smallest bool
	// Minutes that the versions due take at least, set-up included, where
	// time is the matter; else 0.
	Minutes float64
}

// Error joins the reasons.
func (e *Infeasible) Error() string {
	text := "no plan can meet the demands"
	for i, r := range e.Reasons {
		if i == 0 {
			text += ": "
		} else {
			text += "; "
		}
		text += r
	}
	return text
}

// NoPlan says that a limit ended the search before it met a plan that keeps
// every rule; whether there is one stays open.
type NoPlan struct{ Stop Stop }

// Error says so.
func (e *NoPlan) Error() string {
	return fmt.Sprintf("no plan found that keeps every rule (stopped by: %s); it is not known whether there is one", e.Stop)
}
