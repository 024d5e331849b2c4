package batch

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"reflect"
	"runtime/debug"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/compare"
	"laneplan/jobs/dossier"
	"laneplan/jobs/planfile"
	"laneplan/jobs/rewind"
	"laneplan/jobs/ticket"
	"laneplan/nest"
	"laneplan/solver"
)

// Plan works a task off. It touches no file, never panics, and depends on
// nothing but its task: the same task gives the same result, but for times and
// where a time limit cut a search. When ctx ends, the best plan so far is the
// result, cut short, within a few seconds.
func Plan(ctx context.Context, engine solver.Solver, t Task) (r Result) {
	begun := time.Now()
	defer func() {
		if broken := recover(); broken != nil {
			f := Fail(Broken, "the planner broke down: %v", firstLine(broken))
			f.Detail = fmt.Sprintf("%v\n%s", broken, debug.Stack())
			r.Outcome, r.Files, r.Failure = nil, nil, f
		}
		r.Key, r.Gang, r.Seconds = t.Key, t.Gang.ID, time.Since(begun).Seconds()
	}()
	patience := ctx
	if t.GiveUp > 0 {
		var cancel context.CancelFunc
		patience, cancel = context.WithTimeout(ctx, t.GiveUp)
		defer cancel()
	}
	s := step{Task: t, engine: engine}
	outcome, files, err := s.run(patience)
	r.Work, r.Searched = s.work, s.took.Seconds()
	r.CutShort = ctx.Err() != nil && !s.whole
	var none *nest.NoPlan
	switch {
	case err == nil:
		if patience.Err() != nil && !s.whole && !r.CutShort {
			outcome.Warnings = append(outcome.Warnings, fmt.Sprintf("given up after %s: the plan is the best until then", t.GiveUp))
		}
		r.Outcome, r.Files = outcome, files
	case errors.As(err, &none) && ctx.Err() != nil:
	case errors.As(err, &none) && patience.Err() != nil:
		r.Failure = Fail(TimedOut, "given up after %s without a plan", t.GiveUp)
	default:
		r.Failure = failure(err)
	}
	return r
}

// failure sorts an error into its kind.
func failure(err error) *Failure {
	var infeasible *nest.Infeasible
	var none *nest.NoPlan
	var faults jobs.Faults
	var inProblem *nest.Fault
	switch {
	case errors.As(err, &infeasible), errors.Is(err, rewind.ErrCannotWind):
		return Fail(Infeasible, "%v", err)
	case errors.As(err, &none):
		return Fail(NotFound, "%v", err)
	case errors.As(err, &faults), errors.As(err, &inProblem), errors.Is(err, errPapers):
		return Fail(BadInput, "%v", err)
	}
	return Fail(Broken, "%v", err)
}

// errPapers marks a gang of which no documents can be made.
var errPapers = errors.New("no documents can be made")

func firstLine(broken any) string {
	text := fmt.Sprint(broken)
	for i, r := range text {
		if r == '\n' {
			return text[:i]
		}
	}
	return text
}

// step is a task under way.
type step struct {
	Task
	engine solver.Solver
	work   float64
	took   time.Duration // of the search
	whole  bool          // nothing was cut short
}

// run plans the gang, and where no plan keeps its dates the one without them.
func (s *step) run(ctx context.Context) (*Outcome, []ticket.File, error) {
	if s.Before == nil {
		outcome, files, err := s.plan(ctx)
		if s.Undated == nil || !noPlan(err) || ctx.Err() != nil {
			return outcome, files, err
		}
	} else if !s.Before.Undated {
		return s.plan(ctx)
	}
	if s.Undated == nil {
		return nil, nil, errors.New("the plan before is of a gang without dates, and the task has none")
	}
	s.Gang, s.Undated = *s.Undated, nil
	outcome, files, err := s.plan(ctx)
	if err == nil {
		outcome.Undated = true
	}
	return outcome, files, err
}

func noPlan(err error) bool {
	var infeasible *nest.Infeasible
	var none *nest.NoPlan
	return errors.As(err, &infeasible) || errors.As(err, &none)
}

func (s *step) plan(ctx context.Context) (*Outcome, []ticket.File, error) {
	g := s.Gang
	problem, err := g.Problem()
	if err != nil {
		return nil, nil, err
	}
	if err := ticket.Check(g); err != nil {
		return nil, nil, fmt.Errorf("%w: %w", errPapers, err)
	}
	outcome := &Outcome{}
	if s.Work == 0 && s.Time == 0 {
		if s.Before == nil {
			return nil, nil, errors.New("the task has neither a limit nor a plan")
		}
		outcome.Plan = s.Before.Plan
	} else if err := s.search(ctx, problem, outcome); err != nil {
		return nil, nil, err
	}
	if s.keeps(outcome) {
		before := *s.Before
		before.Plan = outcome.Plan
		before.Warnings = append(outcome.Warnings, before.Warnings...)
		outcome = &before
	} else if err := s.compare(ctx, outcome); err != nil {
		return nil, nil, err
	}
	job, err := s.job(ctx, problem, outcome)
	if err != nil {
		return nil, nil, err
	}
	s.whole = ctx.Err() == nil
	// What was found is written down even when the time is over.
	files, err := ticket.Documents(context.WithoutCancel(ctx), job)
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", errPapers, err)
	}
	return outcome, files, nil
}

// search plans the gang.
func (s *step) search(ctx context.Context, problem nest.Problem, outcome *Outcome) error {
	options := nest.Options{
		Engine: s.engine, Gap: s.Gap, Work: s.Work, Time: s.Time, Seed: s.Seed, Workers: s.Workers, Unit: compare.Unit(s.Gang),
	}
	if s.Before != nil {
		start, err := s.Before.Plan.Plan(problem)
		if err != nil {
			return fmt.Errorf("the plan of the round before: %w", err)
		}
		options.Start = &start
	}
	result, err := s.solve(ctx, problem, options)
	if err != nil && len(result.Plan.Sections) == 0 {
		return err
	}
	if err != nil {
		// The engine gave up, out of memory say; the plan stands without it.
		outcome.Warnings = append(outcome.Warnings, fmt.Sprintf("planned without the engine: %v", err))
	}
	if err := nest.Check(problem, result.Plan); err != nil {
		return fmt.Errorf("the planner made a plan that does not hold: %w", err)
	}
	if s.Before != nil {
		s.remember(&result)
	}
	outcome.Plan, err = planfile.Describe(s.Gang, problem, result, planfile.Run{
		Engine: s.engine.Name(), Times: !s.NoTimes, Limits: planfile.LimitsOf(s.limit(s.Time.Seconds(), seconds), s.limit(s.Work, work), s.Gap),
	})
	if err != nil {
		return err
	}
	outcome.Cost = decimal.NewFromFloat(result.Plan.Cost.Total - result.Plan.Cost.Elsewhere)
	measures, err := s.Gang.Measure(result.Plan)
	if err != nil {
		return err
	}
	outcome.Minutes = measures.Minutes.Total
	outcome.Finished, err = s.Gang.Finished(result.Plan)
	return err
}

// solve searches. A first plan gets more than its share where that was not
// enough to meet any: a gang with a plan is worth more than a better plan of
// another.
func (s *step) solve(ctx context.Context, problem nest.Problem, options nest.Options) (nest.Result, error) {
	for try := 1; ; try++ {
		result, err := nest.Solve(ctx, problem, options)
		s.work, s.took = s.work+result.Work, s.took+result.Time
		var none *nest.NoPlan
		if !errors.As(err, &none) || s.Before != nil || try == tries || s.Undated != nil || ctx.Err() != nil {
			return result, err
		}
		options.Work *= more
		options.Time *= more
	}
}

// How often a first plan is tried, and how many times as much each try gets.
const tries, more = 4, 4

// limit of all rounds together.
func (s *step) limit(now float64, of func(planfile.Limits) json.Number) float64 {
	if s.Before == nil || s.Before.Plan.Solve == nil || s.Before.Plan.Solve.Limits == nil {
		return now
	}
	return now + planfile.Decimal(of(*s.Before.Plan.Solve.Limits)).InexactFloat64()
}

func seconds(l planfile.Limits) json.Number { return l.Seconds }
func work(l planfile.Limits) json.Number    { return l.Work }

// remember adds to a result what the rounds before proved and took. A bound
// holds whoever found it.
func (s *step) remember(r *nest.Result) {
	before := s.Before.Plan
	if before.Solve != nil {
		r.Work += planfile.Decimal(before.Solve.Work).InexactFloat64()
		r.Time += time.Duration(planfile.Decimal(before.Solve.Seconds).Mul(decimal.NewFromInt(int64(time.Second))).IntPart())
	}
	if before.Bound == nil || r.Proven {
		return
	}
	if bound := planfile.Decimal(before.Bound.Cost).InexactFloat64(); bound > r.Bound {
		r.Bound = math.Min(bound, r.Plan.Cost.Total)
		r.Gap = 0
		if r.Plan.Cost.Total > 0 {
			r.Gap = (r.Plan.Cost.Total - r.Bound) / r.Plan.Cost.Total
		}
		r.Proven = r.Plan.Cost.Total-r.Bound <= compare.Unit(s.Gang)/2
	}
}

// keeps says that the plan is that of the round before, so that what it costs
// alone and in shares is known.
func (s *step) keeps(outcome *Outcome) bool {
	return s.Before != nil && reflect.DeepEqual(s.Before.Plan.Sections, outcome.Plan.Sections)
}

// compare plans every order alone, for the versions that the plan prints.
func (s *step) compare(ctx context.Context, outcome *Outcome) error {
	if len(s.Gang.Orders) == 1 {
		outcome.Alone = &outcome.Cost
		return nil
	}
	if b := s.Before; b != nil && b.Alone != nil && maps.Equal(leftOut(b.Plan), leftOut(outcome.Plan)) {
		outcome.Alone = b.Alone // the same versions
		return nil
	}
	gangs, err := s.printedAlone(outcome.Plan)
	if err != nil {
		return err
	}
	costs, unknown, err := compare.Alone(ctx, gangs)
	if err != nil {
		return err
	}
	if outcome.AloneUnknown = unknown; len(unknown) == 0 {
		sum := decimal.Sum(decimal.Decimal{}, costs...)
		outcome.Alone = &sum
	}
	return nil
}

// leftOut are the versions that a plan does not print.
func leftOut(plan planfile.Gang) map[string]bool {
	out := map[string]bool{}
	for _, v := range plan.Versions {
		if v.LeftOut {
			out[v.ID] = true
		}
	}
	return out
}

// printedAlone are the gangs that the orders would be alone, without versions
// that the plan leaves out. Alone a version may have another id: orders and
// versions are told by their places.
func (s *step) printedAlone(plan planfile.Gang) ([]jobs.Gang, error) {
	if len(s.Alone) != len(s.Gang.Orders) {
		return nil, fmt.Errorf("the task has %d gangs of one order, want %d", len(s.Alone), len(s.Gang.Orders))
	}
	out := leftOut(plan)
	var printed []jobs.Gang
	for i, g := range s.Alone {
		order := g.Orders[0]
		order.Versions = nil
		for j, v := range g.Orders[0].Versions {
			if !out[s.Gang.Orders[i].Versions[j].ID] {
				order.Versions = append(order.Versions, v)
			}
		}
		if g.Orders = []jobs.Order{order}; len(order.Versions) > 0 {
			printed = append(printed, g)
		}
	}
	return printed, nil
}

// exactOrders is the largest number of orders for which the shares of a batch
// rest on plans of every sub-gang: 32 of them, where a dozen orders would take
// thousands.
const exactOrders = 5

// job gathers what the documents say; shares that are known are kept.
func (s *step) job(ctx context.Context, problem nest.Problem, outcome *Outcome) (ticket.Job, error) {
	tell := s.Shares && !outcome.Shared
	job, err := dossier.New(ctx, s.Gang, problem, outcome.Plan,
		dossier.Options{Printed: s.Date, Engine: s.engine, NoSavings: !tell, ExactOrders: exactOrders})
	if err != nil {
		return job, err
	}
	if tell && ctx.Err() == nil {
		outcome.Shared, outcome.Money, outcome.MoneyRule = true, job.Money, job.MoneyRule
	}
	job.Money, job.MoneyRule = outcome.Money, outcome.MoneyRule
	return job, nil
}
