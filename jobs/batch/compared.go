package batch

import (
	"context"

	"laneplan/jobs"
	"laneplan/jobs/batch/folder"
	"laneplan/jobs/compare"
)

// Comparisons remembers, in the output folder, what the gangs cost that are
// planned only to compare presses and set-ups, so that a batch that is run
// again has its gangs at once. It is for one goroutine.
type Comparisons struct {
	folder      *folder.Folder
	program     string
	known, used map[string]float64 // by hash of program and gang
}

const comparedFile = "compared.json"

// NewComparisons reads what an earlier batch set down; what is damaged is
// planned anew.
func NewComparisons(f *folder.Folder, program string) *Comparisons {
	c := &Comparisons{folder: f, program: program, used: map[string]float64{}}
	if _, err := f.State(comparedFile, &c.known); err != nil {
		c.known = nil
	}
	return c
}

// Cost is a pool.Planner: that of package compare, for what is not known yet.
func (c *Comparisons) Cost(ctx context.Context, g jobs.Gang) (float64, error) {
	key, err := Task{Program: c.program, Gang: g}.Input()
	if err != nil {
		return 0, err
	}
	cost, known := c.known[key]
	if !known {
		if cost, err = compare.Cost(ctx, g); err != nil {
			return 0, err
		}
	}
	c.used[key] = cost
	return cost, nil
}

// Keep sets down what was asked for.
func (c *Comparisons) Keep() error {
	if len(c.used) == 0 && len(c.known) == 0 {
		return nil
	}
	return written(c.folder.SetState(comparedFile, c.used))
}
