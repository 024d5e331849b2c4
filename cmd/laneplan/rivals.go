package main

import (
	"context"
	"math"
	"time"

	"laneplan/jobs/report"
	"laneplan/nest"
	"laneplan/nest/bench"
	"laneplan/solver"
)

// What the rivals get for a unit of work, about 0.1 s of one core: seconds as
// the engine counts them, and small linear programmes (the embedded engine
// solves 1500 to 2000 a second).
const (
	engineWork      = 0.1
	programmesAUnit = 150
)

// rivals plans a problem in the ways of the literature, within the limits of
// our own search. Each has one core: the engine uses no more, and annealing is
// one walk after another. Whatever keeps one of them from a plan stands in its
// line.
func (a *app) rivals(name string, problem nest.Problem, f *benchFlags, engine solver.Solver) []report.Rival {
	limit, _ := f.limits()
	ways := []struct {
		method string
		plan   func(context.Context) (nest.Plan, error)
	}{
		{"textbook", func(ctx context.Context) (nest.Plan, error) {
			plan, _, err := bench.Textbook(ctx, problem, engine, bench.TextbookOptions{
				TimeLimit: limit.Seconds(), WorkLimit: engineWork * float64(f.work), Seed: int(f.seed)})
			return plan, err
		}},
		{"annealing", func(ctx context.Context) (nest.Plan, error) {
			if limit > 0 {
				limited, cancel := context.WithTimeout(ctx, limit)
				defer cancel()
				ctx = limited
			}
			return bench.AnnealLP(ctx, problem, engine, bench.AnnealOptions{
				Programmes: int(math.Ceil(programmesAUnit * float64(f.work))), Again: limit > 0 || f.work > 0, Seed: uint64(f.seed)})
		}},
	}
	var out []report.Rival
	for _, way := range ways {
		live := a.watch(name+", "+way.method, f.quiet, false, 0)
		begun := time.Now()
		rival := baseline(way.plan(a.ctx))
		seconds := time.Since(begun).Seconds()
		live.drop()
		rival.Method, rival.Seconds = way.method, &seconds
		out = append(out, rival)
	}
	return out
}
