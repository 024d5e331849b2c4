package nest

import (
	"fmt"
	"math"

	"github.com/sourcegraph/conc"
)

// boundJob is one improvement of the bound, under way beside the rounds.
type boundJob struct {
	joinWork float64 // of the search
	done     conc.WaitGroup
	work     float64
	err      error
}

// weakest is the number of sections whose bound is lowest, and which decides
// the overall bound: 0 where that is as high as the incumbent.
func (s *search) weakest() int {
	if s.best == nil {
		return 0
	}
	if at := s.bounds.sections; at > 0 && !s.bounds.solved[at] {
		return at // what is begun is brought to an end
	}
	if len(s.bounds.solved) == 0 {
		return len(s.best.rows)
	}
	first, last := s.sectionRange(s.cost())
	sections, low := 0, s.cost()-s.unit(s.cost())
	for k := first; k <= last; k++ {
		if c := s.prover.bound(s.bounds, k); c < low {
			low, sections = c, k
		}
	}
	return sections
}

// startBound begins the next linear programme of the bound: for the number
// of sections whose bound is lowest.
func (s *search) startBound() {
	if s.o.Engine == nil || s.job != nil || s.engineErr != nil || s.ctx.Err() != nil {
		return
	}
	sections := s.weakest()
	if sections == 0 || s.bounds.solved[sections] {
		return
	}
	job := &boundJob{}
	size := float64(s.in.count) * float64(s.in.count) * float64(s.in.lanes)
	job.joinWork = s.work + math.Min(boundWork, size/1e4)
	for _, d := range s.pool {
		s.bounds.add(d)
	}
	s.job = job
	// The bounder belongs to the job until it is joined; what the rounds need
	// of it meanwhile they read from a copy of its lines.
	s.bounds.freeze()
	job.done.Go(func() { job.work, job.err = s.bounds.improve(s.ctx, s.o.Engine, sections, boundWork) })
}

func (s *search) joinBound() {
	if s.job == nil || s.work < s.job.joinWork && !s.limitNear() {
		return
	}
	s.job.done.Wait()
	s.bounds.thaw()
	s.work += s.job.work
	if s.job.err != nil {
		s.engineErr = fmt.Errorf("proving a bound: %w", s.job.err)
	}
	s.job = nil
	if k := s.weakest(); k > 0 && s.in.exact == 0 && s.bounds.solved[s.bounds.sections] {
		s.guess = int(math.Ceil(1.35*float64(k))) + 1
	}
}
