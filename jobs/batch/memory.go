package batch

import (
	"errors"
	"fmt"
	"maps"
	"syscall"
	"time"

	"laneplan/jobs/batch/folder"
)

// memory is what a batch sets down before it begins, for one that comes after
// it, in the state folder.
type memory struct {
	Program string            `json:"program"`
	Date    time.Time         `json:"date"`
	Begun   time.Time         `json:"begun"`
	Budget  time.Duration     `json:"budget"`
	Work    float64           `json:"work"`
	Inputs  map[string]string `json:"inputs"` // hashes of what is planned, by gang
	// Kept are gangs that were whole before it began and are left as they are.
	Kept     []string `json:"kept"`
	Finished bool     `json:"finished"`
}

// same says that both are of the same batch.
func (m memory) same(other memory) bool {
	return m.Program == other.Program && m.Budget == other.Budget && m.Work == other.Work && maps.Equal(m.Inputs, other.Inputs)
}

const memoryFile = "memory.json"

// longestNight is how old an unfinished batch may be for the next run to go on
// with its planning date.
const longestNight = 12 * time.Hour

// Resumes gives the planning date of an unfinished batch that the folder
// holds, so that a batch that is run again after midnight plans the same day.
// False where there is none, or where it began more than twelve hours before
// now; one that began after now goes on, since a clock was put back.
func Resumes(f *folder.Folder, now time.Time) (date, begun time.Time, resumes bool, err error) {
	var m memory
	found, err := f.State(memoryFile, &m)
	if err != nil || !found || m.Finished || now.Sub(m.Begun) > longestNight {
		return time.Time{}, time.Time{}, false, err
	}
	return m.Date, m.Begun, true, nil
}

// Record is what stands beside a gang's documents: how the batch came to
// them.
type Record struct {
	Gang  string    `json:"gang"`
	Input string    `json:"input"` // hash of what was planned, see Task.Input
	Date  time.Time `json:"date"`
	// Rounds that are whole, and what they came to.
	Rounds  []Round `json:"rounds"`
	Outcome Outcome `json:"outcome"`
	// CutShort says that Outcome came out of a round that did not end; Before
	// is what to do that round again from, nil in the first.
	CutShort bool     `json:"cut_short,omitempty"`
	Before   *Outcome `json:"before,omitempty"`
}

// before is what round n of a gang goes on from.
func (r *Record) before() *Outcome {
	switch {
	case r == nil:
		return nil
	case r.CutShort:
		return r.Before
	}
	return &r.Outcome
}

// until are the rounds before n.
func (r *Record) until(n int) []Round {
	if r == nil {
		return nil
	}
	for i, one := range r.Rounds {
		if one.Round >= n {
			return r.Rounds[:i]
		}
	}
	return r.Rounds
}

// has says that round n, or a later one, is whole.
func (r *Record) has(n int) bool { return r != nil && len(r.until(n)) < len(r.Rounds) }

// ErrDisk marks an error after which nothing more can be written.
var ErrDisk = errors.New("nothing more can be written")

// written sorts errors of writing: those after which no gang can be written
// end the batch.
func written(err error) error {
	for _, full := range []error{syscall.ENOSPC, syscall.EDQUOT, syscall.EROFS} {
		if errors.Is(err, full) {
			return fmt.Errorf("%w: %w", ErrDisk, err)
		}
	}
	return err
}
