// Package compare plans gangs to compare what they cost: with limited work and
// without the engine, so that a gang costs the same each time and everywhere.
// Its plans are thrown away.
//
//	pooling, err = pool.SplitGangs(ctx, shop, pooling, compare.Cost)
//	costs, unknown, err := compare.Alone(ctx, pool.Apart(shop, pooling, gang, prints))
package compare

import (
	"context"
	"errors"
	"fmt"
	"math"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/nest"
)

// work limit of one plan, in nest's units.
const work = 0.5

// few is the number of versions up to which most plans are proven with a small
// part of that work. A search spends most of its limit before it proves
// anything, so these get a little, and more where that was not enough.
const few = 8

var steps = []float64{0.02, 0.06, 0.12}

// Cost is what a plan of limited work costs; it is a pool.Planner. It fails as
// nest.Solve does, and with the cause of ctx where that ended.
func Cost(ctx context.Context, g jobs.Gang) (float64, error) {
	problem, err := g.Problem()
	if err != nil {
		return 0, err
	}
	o := nest.Options{Seed: 1, Unit: Unit(g)}
	limits := steps
	if len(problem.Versions) > few {
		limits = []float64{work}
	}
	var r nest.Result
	for i, limit := range limits {
		o.Work = limit
		r, err = nest.Solve(ctx, problem, o)
		var none *nest.NoPlan
		switch last := i == len(limits)-1; {
		case err != nil && (last || ctx.Err() != nil || !errors.As(err, &none)):
			return 0, err
		case err == nil && r.Stop == nest.StopContext:
			return 0, context.Cause(ctx)
		case err == nil && r.Proven:
			return r.Plan.Cost.Total, nil
		case err == nil:
			o.Start = &r.Plan
		}
	}
	return r.Plan.Cost.Total, nil
}

// Unit is the smallest unit of a gang's money, as nest.Options wants it.
func Unit(g jobs.Gang) float64 { return math.Pow10(-int(g.Places())) }

// Alone plans gangs of one order each. unknown are the orders for which no
// plan was found, or none before ctx ended.
func Alone(ctx context.Context, gangs []jobs.Gang) (costs []decimal.Decimal, unknown []string, err error) {
	for _, g := range gangs {
		cost, err := Cost(ctx, g)
		var infeasible *nest.Infeasible
		var none *nest.NoPlan
		switch {
		case errors.As(err, &infeasible), errors.As(err, &none), ctx.Err() != nil:
			unknown = append(unknown, g.Orders[0].ID)
		case err != nil:
			return nil, nil, fmt.Errorf("%s alone: %w", g.ID, err)
		default:
			costs = append(costs, decimal.NewFromFloat(cost))
		}
	}
	return costs, unknown, nil
}
