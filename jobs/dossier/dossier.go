// Package dossier gathers what the documents of one gang say: the plan, how it
// is wound, and what every order saves by sharing it. Package ticket then
// makes the documents.
//
//	job, err := dossier.New(ctx, gang, problem, plan, dossier.Options{Printed: printed, Engine: engine})
//	err = ticket.WriteAll(ctx, "out/G1", job, ticket.Options{})
package dossier

import (
	"context"
	"fmt"
	"time"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
	"laneplan/jobs/price"
	"laneplan/jobs/price/game"
	"laneplan/jobs/ticket"
	"laneplan/nest"
	"laneplan/solver"
)

// Options of New.
type Options struct {
	Printed time.Time // date on the documents
	Engine  solver.Solver
	// NoSavings leaves out what every order saves; telling it takes many plans.
	NoSavings bool
	// ExactOrders as in price.Options.
	ExactOrders int
}

// New gathers the job of a gang, its problem and its plan, as ticket.New
// does, with the day of printing and the savings. These are left out once ctx
// has ended, and where there is nothing to tell, see HasSavings.
func New(ctx context.Context, g jobs.Gang, p nest.Problem, plan planfile.Gang, o Options) (ticket.Job, error) {
	job, err := ticket.New(g, p, plan)
	if err != nil {
		return ticket.Job{}, err
	}
	// The day alone, so that the same plan has the same bytes all day.
	year, month, day := o.Printed.Date()
	job.Printed = time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	if !o.NoSavings && HasSavings(g) && ctx.Err() == nil {
		if err := savings(ctx, &job, p, o); err != nil {
			return ticket.Job{}, &SavingsError{g.ID, err}
		}
	}
	return job, nil
}

// HasSavings says whether there is something to tell: not in a bare problem,
// for one order, or for more than game.MostPlayers.
func HasSavings(g jobs.Gang) bool {
	return g.Bare == nil && len(g.Orders) > 1 && len(g.Orders) <= game.MostPlayers
}

// SavingsError says that the savings of a gang could not be worked out. Every
// other error of New is one of ticket.New.
type SavingsError struct {
	Gang string
	Err  error
}

// Error names the gang.
func (e *SavingsError) Error() string { return fmt.Sprintf("gang %s: savings: %v", e.Gang, e.Err) }

// Unwrap gives what went wrong.
func (e *SavingsError) Unwrap() error { return e.Err }

// usualSeed is that of the commands, so that the report of a plan whose search
// is not known says what the command price says.
const usualSeed = 1

// savings tells what every order would cost alone.
func savings(ctx context.Context, job *ticket.Job, p nest.Problem, o Options) error {
	g := job.Gang
	plan, err := job.Plan.Plan(p)
	if err != nil {
		return err
	}
	rule, err := game.ParseRule(g.Pricing.Rule)
	if err != nil {
		return jobs.Faults{{Path: "pricing.rule", Message: err.Error()}}
	}
	seed := int64(usualSeed)
	if s := job.Plan.Solve; s != nil {
		seed = s.Seed
	}
	coalitions, err := price.NewCoalitions(g, plan, price.Options{Engine: o.Engine, Seed: seed, ExactOrders: o.ExactOrders})
	if err != nil {
		return err
	}
	shares, err := coalitions.Share(ctx, rule)
	if ctx.Err() != nil {
		return nil
	}
	if err != nil {
		return err
	}
	job.MoneyRule = string(shares.Rule)
	for _, o := range shares.Orders {
		job.Money = append(job.Money, ticket.OrderMoney{Order: o.Order, Alone: o.Alone, Share: o.Share, Saving: o.Saving})
	}
	return nil
}
