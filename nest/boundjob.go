package nest

import (
	"context"
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
	spare    map[int]float64 // what it found of prover.spare
	branches bool            // and does not only solve programmes without limits
	cancel   context.CancelFunc
}

// open gives the job a context of its own.
func (j *boundJob) open(parent context.Context) context.Context {
	ctx, cancel := context.WithCancel(parent)
	j.cancel = cancel
	return ctx
}

// lowBounds are those of the numbers of sections that may be better than the
// incumbent, by what is proven so far.
func (s *search) lowBounds() map[int]float64 {
	low := map[int]float64{}
	first, last := s.sectionRange(s.cost())
	for k := first; k <= last; k++ {
		if c := s.prover.bound(s.bounds, k); c < s.cost()-s.unit(s.cost()) {
			low[k] = c
		}
	}
	return low
}

// weakest is the number of sections whose bound is lowest, the fewest of equal
// ones: it decides the overall bound. 0 where there is none.
func weakest(low map[int]float64) int {
	sections := 0
	for k, c := range low {
		if sections == 0 || c < low[sections] || c == low[sections] && k < sections {
			sections = k
		}
	}
	return sections
}

// startBound begins the next job of the bound, for the number of sections whose
// bound is lowest: spare lanes first, which take least, then the linear
// programme.
func (s *search) startBound() {
	if s.best == nil || s.job != nil || s.ctx.Err() != nil {
		return
	}
	low := s.lowBounds()
	sections := weakest(low)
	if sections == 0 {
		return
	}
	if _, ok := s.prover.spare[sections]; !ok && s.spares != nil {
		s.startSpare(low)
		return
	}
	if s.o.Engine == nil || s.engineErr != nil {
		return
	}
	if len(s.bounds.trees) == 0 && s.spares == nil {
		sections = len(s.best.rows)
		low = map[int]float64{sections: low[sections]}
	}
	job := &boundJob{branches: s.bounds.solved(sections)}
	limit := float64(boundWork)
	if job.branches {
		limit = math.Min(limit, s.work/branchPart-s.branchWork)
		if limit < leastBranch {
			return
		}
	}
	ctx := job.open(s.ctx)
	size := float64(s.in.count) * float64(s.in.count) * float64(s.in.lanes)
	job.joinWork = s.work + math.Min(boundWork, size/1e4)
	for _, d := range s.pool {
		s.bounds.add(d)
	}
	s.job = job
	// The bounder belongs to the job until it is joined; what the rounds need
	// of it meanwhile they read from a copy of what is proven.
	s.bounds.freeze()
	spare, enough := s.prover.spare, s.cost()-s.unit(s.cost())
	job.done.Go(func() {
		for job.work < limit && job.err == nil && ctx.Err() == nil {
			k := weakest(low)
			if at := s.bounds.current; at != nil && at.sections != k && job.work == 0 {
				if _, ok := low[at.sections]; ok {
					k = at.sections // what is begun is brought to an end
				}
			}
			if _, ok := spare[k]; k == 0 || !ok && s.spares != nil || s.bounds.solved(k) && !job.branches {
				break
			}
			var work float64
			work, job.err = s.bounds.improve(ctx, s.o.Engine, k, enough, limit-job.work, job.branches)
			job.work += work
			low[k] = math.Max(low[k], s.bounds.costNow(k))
			if low[k] >= enough || s.bounds.trees[k].stuck() {
				delete(low, k)
			}
		}
	})
}

// startSpare bounds number after number of sections, the lowest bound first, by
// their spare lanes.
func (s *search) startSpare(low map[int]float64) {
	job := &boundJob{spare: map[int]float64{}}
	ctx := job.open(s.ctx)
	job.joinWork = s.work
	for k, rest := range s.prover.spare {
		job.spare[k] = rest
	}
	s.job = job
	cost, unit := s.cost(), s.unit(s.cost())
	job.done.Go(func() {
		for job.work < spareWork && ctx.Err() == nil {
			k := weakest(low)
			if _, known := job.spare[k]; known || k == 0 {
				break
			}
			s.spares.work = 0
			beside := s.prover.sections(s.bounds, k)
			job.spare[k] = s.spares.rest(k, cost-beside)
			if low[k] = math.Max(low[k], job.spare[k]+beside); low[k] >= cost-unit {
				delete(low, k)
			}
			job.work += float64(s.spares.work) / cellsOfUnit
		}
	})
}

func (s *search) joinBound() {
	if s.job == nil || s.work < s.job.joinWork && !s.limitNear() {
		return
	}
	s.job.done.Wait()
	s.job.cancel()
	s.work += s.job.work
	if s.job.err != nil {
		s.engineErr = fmt.Errorf("proving a bound: %w", s.job.err)
	}
	job := s.job
	s.job = nil
	if job.spare != nil {
		s.prover.spare = job.spare
	} else {
		s.bounds.thaw()
	}
	if job.branches {
		s.branchWork += job.work
	}
	if k := weakest(s.lowBounds()); k > 0 && s.in.exact == 0 && (s.guess == 0 && job.spare != nil || s.bounds.solved(k)) {
		s.guess = int(math.Ceil(1.35*float64(k))) + 1
	}
}
