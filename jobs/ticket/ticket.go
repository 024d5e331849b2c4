// Package ticket turns a lane plan into what people at the press, the rewinder
// and the packing table work from: a run sheet, a rewind sheet and roll tags
// as PDF, a report as one HTML file, and tables as CSV and JSON. All of them
// are made from one Job, which holds nothing that does not follow from the
// gang and its plan file; the package decides nothing and knows nothing of how
// a plan was found.
//
//	job, err := ticket.New(gang, problem, plan)
//	err = ticket.WriteAll("out/G1", job, ticket.Options{})
package ticket

import (
	"fmt"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
	"laneplan/jobs/rewind"
	"laneplan/nest"
)

// Job is everything that a document can say.
type Job struct {
	Gang    jobs.Gang
	Plan    planfile.Gang
	Winding rewind.Winding
	// Lanes of every section as indices into Winding.Versions; nest.Empty
	// for none.
	Lanes [][]int
	// Money of every order, where prices were made; see jobs/price.
	Money []OrderMoney
	// MoneyRule says how the cost was shared; it stands above Money.
	MoneyRule string
	// Printed is the date on the documents; the zero time leaves it to be
	// filled in by hand.
	Printed time.Time
}

// OrderMoney is what an order costs alone and in the gang.
type OrderMoney struct {
	Order                string
	Alone, Share, Saving decimal.Decimal
}

// Check finds out before any planning whether documents can be made for a
// gang: what New would refuse whatever the plan is.
func Check(g jobs.Gang) error {
	err := rewind.Check(g)
	if err == nil {
		err = checkPapers(g.Papers)
	}
	if err != nil {
		return fmt.Errorf("gang %s: %w", g.ID, err)
	}
	return nil
}

// New job of a gang, its problem (as g.Problem gives it) and its plan file,
// which must have passed nest.Check. Errors that wrap rewind.ErrCannotWind
// say that the plan cannot be wound; all others are bad input.
func New(g jobs.Gang, p nest.Problem, file planfile.Gang) (Job, error) {
	plan, err := file.Plan(p)
	if err != nil {
		return Job{}, err
	}
	winding, err := rewind.Wind(g, p, plan)
	if err != nil {
		return Job{}, fmt.Errorf("gang %s: %w", g.ID, err)
	}
	if err := checkPapers(g.Papers); err != nil {
		return Job{}, fmt.Errorf("gang %s: %w", g.ID, err)
	}
	job := Job{Gang: g, Plan: file, Winding: winding}
	byID := map[string]int{}
	for i, v := range winding.Versions {
		byID[v.ID] = i
	}
	for _, s := range plan.Sections {
		lanes := make([]int, len(s.Lanes))
		for lane, i := range s.Lanes {
			lanes[lane] = nest.Empty
			if i != nest.Empty {
				lanes[lane] = byID[p.Versions[i].ID]
			}
		}
		job.Lanes = append(job.Lanes, lanes)
	}
	return job, nil
}

// bare says that no length is known.
func (j Job) bare() bool { return j.Gang.Bare != nil }

// closed says whether a lane, from 1, is out of use.
func (j Job) closed(lane int) bool {
	for _, c := range j.Gang.Die.ClosedLanes {
		if c == lane {
			return true
		}
	}
	return false
}

// flags of the gang's orders, without repeats.
func (j Job) flags() []string {
	var all []string
	seen := map[string]bool{}
	for _, o := range j.Gang.Orders {
		for _, f := range o.Flags {
			if !seen[f] {
				seen[f] = true
				all = append(all, f)
			}
		}
	}
	return all
}
