package main

import (
	"errors"
	"fmt"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/jobs/intake/fault"
	"laneplan/nest"
)

// mostClashLines are written of rules that clash.
const mostClashLines = 20

// clash puts to a problem without a plan where in its file the rules stand
// that clash; any other error it leaves as it is. What a flag says instead of
// the file is told as the flag's.
func (f *planFlags) clash(file string, gang jobs.Gang, problem nest.Problem, err error) error {
	var e *nest.Infeasible
	if !errors.As(err, &e) || len(e.Terms) == 0 {
		return err
	}
	var inFile jobs.Faults
	var lines []string
	for _, one := range gang.Clash(problem, e) {
		flag := map[string]bool{"rules.sections": f.sections > 0, "rules.most_sections": f.mostSection > 0}
		if flag[one.Path] {
			name := map[string]string{"rules.sections": "--sections", "rules.most_sections": "--max-sections"}[one.Path]
			lines = append(lines, fmt.Sprintf("%s: %s", name, one.Message))
		} else {
			inFile = append(inFile, one)
		}
	}
	var placed fault.List
	if errors.As(intake.Placed(file, inFile), &placed) {
		for _, one := range placed {
			lines = append(lines, one.Error())
		}
	}
	if len(lines) == 0 {
		return err
	}
	if more := len(lines) - mostClashLines; more > 0 {
		lines = append(lines[:mostClashLines], fmt.Sprintf("and %d more", more))
	}
	heading := "These rules clash:"
	switch {
	case e.Smallest:
		heading = "These rules clash, and no fewer of the file do:"
	case e.Irreducible:
		heading = "These rules clash; without any one of them there is a plan that keeps the others:"
	}
	return &coded{exitInfeasible, fmt.Errorf("%w\n%s\n  %s", err, heading, strings.Join(lines, "\n  "))}
}
