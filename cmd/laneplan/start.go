package main

import (
	"fmt"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
	"laneplan/nest"
)

// startFrom reads the plan to begin from. Where it does not hold for what is
// planned now it is mended, and standard error says so; nil where that does
// not help. A plan of which the problem knows no version is another file's.
func (a *app) startFrom(document planfile.Document, f *planFlags, gang jobs.Gang, problem nest.Problem) (start *nest.Plan, mended bool, err error) {
	described, err := document.Find(gang.ID)
	if err != nil {
		return nil, false, err
	}
	plan, unknown := described.Loosely(problem)
	faults := nest.Check(problem, plan)
	if len(unknown) == 0 && faults == nil {
		return &plan, false, nil
	}
	if !prints(plan) {
		return nil, false, usage("--start: %s: it holds no version of the file: want the plan of this gang", f.start)
	}
	var why []string
	if len(unknown) > 0 {
		why = append(why, "not in the file: "+strings.Join(unknown, ", "))
	}
	if faults != nil {
		lines := strings.Split(faults.Error(), "\n")
		why = append(why, lines[0])
		if len(lines) > 1 {
			why = append(why, fmt.Sprintf("%d more", len(lines)-1))
		}
	}
	mendedPlan, ok := nest.Mend(a.ctx, problem, plan, f.seed)
	outcome := fmt.Sprintf("mended, it costs %.*f", gang.Places(), mendedPlan.Cost.Total)
	if !ok {
		outcome = "it could not be mended, so the search begins without it"
	}
	_, err = fmt.Fprintf(a.stderr, "laneplan: --start: %s does not hold for the file (%s): %s\n", f.start, strings.Join(why, "; "), outcome)
	if !ok || err != nil {
		return nil, false, err
	}
	return &mendedPlan, true, nil
}

// prints says that some lane holds a version.
func prints(plan nest.Plan) bool {
	for _, s := range plan.Sections {
		for _, v := range s.Lanes {
			if v != nest.Empty {
				return true
			}
		}
	}
	return false
}
