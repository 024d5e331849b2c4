// Package dossier gathers what the documents of one gang say: the plan, how it
// is wound, and what every order saves by sharing it. Package ticket then
// makes the documents.
//
//	job, err := dossier.New(ctx, gang, problem, plan, printed, engine)
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

// New gathers the job of a gang, its problem and its plan, as ticket.New
// does, with the day of printing and the savings. An order's savings need many
// plans, so they are left out once ctx has ended, and where there is nothing
// to tell: in a bare problem, for one order, for more than game.MostPlayers.
func New(ctx context.Context, g jobs.Gang, p nest.Problem, plan planfile.Gang, printed time.Time, engine solver.Solver) (ticket.Job, error) {
	job, err := ticket.New(g, p, plan)
	if err != nil {
		return ticket.Job{}, err
	}
	// The day alone, so that the same plan has the same bytes all day.
	year, month, day := printed.Date()
	job.Printed = time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	if n := len(g.Orders); g.Bare == nil && n > 1 && n <= game.MostPlayers && ctx.Err() == nil {
		if err := savings(ctx, &job, p, engine); err != nil {
			return ticket.Job{}, &SavingsError{g.ID, err}
		}
	}
	return job, nil
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
func savings(ctx context.Context, job *ticket.Job, p nest.Problem, engine solver.Solver) error {
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
	coalitions, err := price.NewCoalitions(g, plan, price.Options{Engine: engine, Seed: seed})
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
