package main

import (
	"time"

	"laneplan/jobs"
	"laneplan/jobs/compare"
	"laneplan/jobs/planfile"
	"laneplan/nest"
)

// Half of the limits is for the plan; what is left of them is shared equally
// by the alternatives.
const planShare = 0.5

// limits are those of the plan itself.
func (f *planFlags) limits() (time.Duration, planfile.Limits) {
	limit, limits := f.search.limits()
	if f.alternatives == 0 {
		return limit, limits
	}
	limit = time.Duration(float64(limit) * planShare)
	return limit, planfile.LimitsOf(limit.Seconds(), float64(f.work)*planShare, float64(f.gap))
}

// options are those of the plan itself.
func (f *planFlags) options() nest.Options {
	o := f.search.options()
	if f.alternatives > 0 {
		o.Time = time.Duration(float64(o.Time) * planShare)
		o.Work *= planShare
	}
	return o
}

// alternatives plans the gang anew with fewer and more sections and puts what
// it finds into described; where one of them is cheaper than the plan so far,
// it takes the plan's place.
func (a *app) alternatives(gang jobs.Gang, problem nest.Problem, options nest.Options, f *planFlags, described *planfile.Gang, found nest.Result) (nest.Result, error) {
	if problem.Limits.Sections > 0 {
		return found, usage("--alternatives: exactly %d sections are asked for", problem.Limits.Sections)
	}
	options.Start, options.Progress, options.Unit = nil, nil, compare.Unit(gang)
	if whole, _ := f.search.limits(); whole > 0 {
		options.Time = max(time.Millisecond, whole-found.Time)
	}
	if f.work > 0 {
		options.Work = max(1e-6, float64(f.work)-found.Work)
	}
	if a.ctx.Err() != nil {
		return found, nil // interrupted: the plan so far is written
	}
	best, list, err := nest.Alternatives(a.ctx, problem, found, int(f.alternatives), options)
	if err != nil {
		return found, err
	}
	run := planfile.Run{Engine: options.Engine.Name(), Times: !f.noTimes}
	_, run.Limits = f.limits()
	if *described, err = planfile.Describe(gang, problem, best, run); err != nil {
		return found, err
	}
	run.Limits = planfile.Limits{}
	described.Alternatives, err = planfile.Alternatives(gang, problem, best.Plan, list, run)
	return best, err
}
