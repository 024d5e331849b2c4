package nest

import (
	"context"
	"math"
	"runtime"
	"sort"
	"time"

	"github.com/sourcegraph/conc"
)

// The search runs in rounds. Every round has the same few tasks whatever the
// number of cores; each task draws from its own stream of random numbers and
// stops by work, not by the clock; results are merged in the order of the
// tasks. So the same seed and work limit give the same plan on any number of
// cores. The bound's linear programmes run beside the rounds and are joined
// after so much work of the rounds as their size, not their speed, decides.
type search struct {
	in      *instance
	o       Options
	ctx     context.Context
	started time.Time

	bounds *bounder
	prover *prover
	spares *spareBound // nil where it says nothing
	pool   []*draft    // best first
	best   *draft

	round  int
	work   float64
	effort float64 // grows when nothing gets better
	idle   int     // rounds without a better plan
	guess  int     // sections to start an annealing with

	job        *boundJob
	branchWork float64 // of jobs that branch
	proofWork  float64 // of the box search
	engineErr  error   // the first; the search goes on without the engine

	foundBy   string
	lastCost  float64
	lastBound float64
	stop      Stop
}

const (
	tasks      = 4 // of one round
	poolSize   = 8
	firstMoves = 100_000
	leastMoves = 1_000
	// boundWork is what one job of the bound may do.
	boundWork = 10
	// branchPart keeps branching to an eighth of the work.
	branchPart = 8
	// leastBranch is the work that is worth a job of branching.
	leastBranch = 0.5
	// spareWork ends a job of the bound by spare lanes.
	spareWork = 3
	// polishPart keeps one integer programme, in the engine's measure, to a
	// tenth of the work so far: the round waits for it.
	polishPart = 100
	// provable sections are few enough for the box search to settle most
	// problems soon.
	provable = 7
	// hopeful is the work of the proof by which most of them are settled; what
	// is open then stays so for long.
	hopeful = 60
	// firstPlanWork is spent beyond a work limit that came before any plan.
	firstPlanWork = 1
	// stepsPerUnit are the box-search steps that take as long as a million
	// annealing moves, measured by BenchmarkAnneal and BenchmarkBox.
	stepsPerUnit = 10_000_000
)

// proofFound says of a plan that a question of the proof came upon it.
const proofFound = "box search"

type outcome struct {
	drafts []*draft
	work   float64
	by     string
	err    error // of the engine
}

func newSearch(ctx context.Context, in *instance, o Options) *search {
	s := &search{in: in, o: o, ctx: ctx, started: time.Now(), effort: 1, lastCost: math.Inf(1), lastBound: math.Inf(-1)}
	s.bounds = newBounder(in)
	s.prover = newProver(in)
	if in.row > 0 {
		s.spares = newSpareBound(s.prover.box)
	}
	return s
}

// run searches until a limit or the proof stops it.
func (s *search) run() {
	if s.ctx.Err() == nil {
		s.begin()
	}
	for {
		s.startBound()
		s.merge(s.runRound())
		s.joinBound()
		s.report(false)
		if s.finished() {
			break
		}
		s.round++
	}
	if s.job != nil { // nobody waits for its bound any more
		s.job.cancel()
		s.job.done.Wait()
	}
	s.report(true)
}

// begin gives the search plans to start from, in no time: greedy ones and,
// where there are lanes enough, the shortest single section.
func (s *search) begin() {
	in := s.in
	out := outcome{by: "greedy"}
	var wanted, which []int
	for v := 0; v < in.count; v++ {
		if !in.price[v].filler {
			wanted, which = append(wanted, in.need[v]), append(which, v)
		}
	}
	if rows, each, ok := OneSection(wanted, in.lanes); ok && in.exact <= 1 {
		d := &draft{rows: []int{in.length(rows)}}
		for i, n := range each {
			for ; n > 0; n-- {
				d.lanes = append(d.lanes, int16(which[i]))
			}
		}
		for len(d.lanes) < in.lanes {
			d.lanes = append(d.lanes, int16(in.count))
		}
		out.drafts = append(out.drafts, d)
	}
	for n := 0; n < tasks && len(wanted) > 0; n++ {
		out.drafts = append(out.drafts, in.greedy(newRandom(s.o.Seed, -1-n)))
	}
	for _, d := range out.drafts {
		in.finish(d)
	}
	s.merge([]outcome{out})
}

func (s *search) finished() bool {
	cost, bound := s.cost(), s.bound()
	switch {
	case s.best != nil && bound >= cost-s.unit(cost):
		s.stop = StopProven
	case s.ctx.Err() == context.Canceled:
		s.stop = StopContext
	case s.ctx.Err() != nil:
		s.stop = StopTime
	case s.best != nil && s.o.Gap > 0 && gap(cost, bound) <= s.o.Gap:
		s.stop = StopGap
	case s.o.Work > 0 && s.work >= s.o.Work && (s.best != nil || s.work >= s.o.Work+firstPlanWork):
		s.stop = StopWork
	default:
		return false
	}
	return true
}

// unit is the difference in cost, in rows, that counts as none.
func (s *search) unit(cost float64) float64 {
	return math.Max(s.o.Unit/s.in.rowMoney*0.5, 1e-9*(1+math.Abs(cost)))
}

func (s *search) cost() float64 {
	if s.best == nil {
		return math.Inf(1)
	}
	return s.best.cost
}

// bound is proven, in rows, without the fixed cost.
func (s *search) bound() float64 {
	cost := s.cost()
	first, last := s.sectionRange(cost)
	low := math.Inf(1)
	for k := first; k <= last; k++ {
		low = math.Min(low, s.prover.bound(s.bounds, k))
	}
	if s.in.exact == 0 && s.in.atMost == 0 && s.in.section == 0 {
		low = math.Min(low, s.in.row*float64(s.in.target)+s.prover.box.labels-s.bounds.rolls*float64(s.in.target))
	}
	low = math.Max(low, s.lastBound)
	return math.Min(low, cost)
}

// sectionRange gives the numbers of sections that a plan no dearer than
// 'cost' may have.
func (s *search) sectionRange(cost float64) (first, last int) {
	in := s.in
	if in.exact > 0 {
		return in.exact, in.exact
	}
	must := 0
	for v := 0; v < in.count; v++ {
		if !in.price[v].filler {
			must++
		}
	}
	each := in.lanes
	if in.rules != nil && in.rules.versionsPerSection > 0 {
		each = min(each, in.rules.versionsPerSection)
	}
	first = max(1, (must+each-1)/each)
	last = first + 4*in.count + 16
	if in.atMost > 0 {
		last = min(last, in.atMost)
	}
	if net := in.section - s.bounds.rolls; net > 0 && !math.IsInf(cost, 1) {
		most := (cost - s.prover.box.labels - in.row*float64(in.target) - s.bounds.rolls) / net
		last = min(last, max(first, int(math.Floor(most+1e-9))))
	}
	return first, max(first, last)
}

// limitNear says that this is the last round, so that nothing is left
// unjoined.
func (s *search) limitNear() bool {
	return s.ctx.Err() != nil || s.o.Work > 0 && s.work >= s.o.Work
}

// runRound runs the tasks of one round.
func (s *search) runRound() []outcome {
	results := make([]outcome, tasks)
	jobs := make([]func() outcome, tasks)
	for slot := range jobs {
		rng := newRandom(s.o.Seed, s.round*tasks+slot)
		switch {
		case slot == 0 && s.best != nil && s.in.row > 0:
			jobs[slot] = s.proofTask
		case slot == 1 && s.polishes():
			jobs[slot] = s.polishTask
		case s.best == nil || s.round < 2 || len(s.pool) < 3 || s.idle > 6 && slot == 1 || s.round%3 == 2 && slot == 1:
			jobs[slot] = func() outcome { return s.freshTask(rng, slot) }
		default:
			from := s.pool[0]
			if rng.below(2) == 0 {
				from = s.pool[rng.below(len(s.pool))]
			}
			jobs[slot] = func() outcome { return s.improveTask(rng, from) }
		}
	}
	workers := s.o.Workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var wg conc.WaitGroup // a panic comes out at Wait, where a caller can catch it
	next := make(chan int, tasks)
	for slot := range jobs {
		next <- slot
	}
	close(next)
	for range min(workers, tasks) {
		wg.Go(func() {
			for slot := range next {
				results[slot] = jobs[slot]()
			}
		})
	}
	wg.Wait()
	return results
}

// units of work that one task of this round may spend.
func (s *search) share() float64 {
	return math.Min(0.05*float64(1+s.round), 0.5) * math.Min(s.effort, 4)
}

// polishes says that this round has a turn of the integer programmes: rarely,
// since they are slow, and where they model the problem.
func (s *search) polishes() bool {
	r := s.round
	return s.o.Engine != nil && s.engineErr == nil && s.best != nil && s.in.row > 0 && r >= 3 && r&(r+1) == 0
}

// polishTask lets the engine choose the lengths of the best plan, then lanes
// and sections over the lengths of the pool, under the rules if there are any.
func (s *search) polishTask() outcome {
	out := outcome{by: "integer programme"}
	assign := s.in.reassign
	if s.in.loose() {
		assign = s.in.reindex
	}
	for _, polish := range []func() (*draft, float64, error){
		func() (*draft, float64, error) { return s.in.resize(s.ctx, s.o.Engine, s.pool[0]) },
		func() (*draft, float64, error) { return assign(s.ctx, s.o.Engine, s.pool, s.work/polishPart) },
	} {
		d, work, err := polish()
		out.work += work
		if err != nil {
			out.err = err
			return out
		}
		if d != nil {
			out.drafts = append(out.drafts, d)
		}
	}
	return out
}

// freshTask anneals from a greedy start.
func (s *search) freshTask(rng *random, slot int) outcome {
	in := s.in
	start := in.greedy(rng)
	sections := s.guess
	if sections == 0 {
		sections = len(start.rows)*(3+slot)/6 + 2
	} else {
		sections += rng.below(1+sections/4) - sections/8
	}
	if first, _ := s.sectionRange(math.Inf(1)); sections < first {
		sections = first
	}
	if in.exact > 0 {
		sections = in.exact
	} else if in.atMost > 0 {
		sections = min(sections, in.atMost)
	}
	if len(start.rows) > sections {
		start.rows, start.lanes = start.rows[:sections], start.lanes[:sections*in.lanes]
	}
	st := newState(in, sections)
	st.load(start)
	st.fill()
	moves := int(float64(firstMoves) * math.Min(8, 1+0.5*float64(s.round)) * s.effort)
	if s.o.Work > s.work { // the tasks of the round share the limit
		moves = min(moves, max(leastMoves, int(s.o.Work*1e6/tasks)+1))
	}
	strict := 1.0
	if s.best == nil {
		// Leaving labels out, or a rule, must have been cheaper than a section.
		strict = float64(int(1) << min(s.round, 8))
	}
	d := st.anneal(s.ctx, annealing{moves: moves, hot: 0.05 * strict, cold: 0.0005, phiStart: 0.5, strict: strict, rng: rng})
	out := outcome{work: float64(moves) / 1e6, by: "annealing"}
	if d != nil {
		in.finish(d)
		out.drafts = append(out.drafts, d)
	}
	return out
}

// improveTask takes neighbourhoods of one plan until its share is spent.
func (s *search) improveTask(rng *random, from *draft) outcome {
	in := s.in
	out := outcome{by: "neighbourhood"}
	d := from
	limit := s.share()
	for out.work < limit && s.ctx.Err() == nil {
		var found *draft
		if in.row > 0 && rng.below(2) == 0 {
			steps := int(2_000_000 * s.effort)
			var spent int
			found, spent = in.rebox(d, rng, steps)
			out.work += float64(spent+2000) / stepsPerUnit
			if found != nil {
				out.by = "box neighbourhood"
			}
		} else {
			moves := int(20_000 * s.effort)
			found = in.reanneal(s.ctx, d, rng, moves)
			out.work += float64(moves) / 1e6
			if found != nil {
				out.by = "neighbourhood"
			}
		}
		if found != nil {
			d = found
		}
	}
	if d != from {
		out.drafts = append(out.drafts, d)
	}
	return out
}

// proofTask closes numbers of sections.
func (s *search) proofTask() outcome {
	first, last := s.sectionRange(s.cost())
	// The other tasks keep the other core busy about so long; under rules
	// their moves are slower.
	share := 2 * s.share()
	if s.in.rules != nil {
		share *= 2
	}
	if len(s.best.rows) <= provable { // it may well be the best already, or the proof finds that sooner
		switch {
		case s.proofWork < hopeful && (s.idle > 4 || s.foundBy == proofFound && s.round > 4):
			share = math.Min(16*share, math.Max(4*share, hopeful-s.proofWork))
		case s.idle > 1:
			share *= 4
		}
	}
	if s.o.Work > 0 { // a limit below one round's work is kept
		share = math.Min(share, math.Max(s.o.Work-s.work, 0.001))
	}
	found, steps := s.prover.work(s.ctx, s.bounds, s.cost(), s.unit(s.cost()), first, last, int(share*stepsPerUnit))
	s.proofWork += float64(steps) / stepsPerUnit
	return outcome{drafts: found, work: float64(steps) / stepsPerUnit, by: proofFound}
}

// merge takes the results in the order of the tasks.
func (s *search) merge(results []outcome) {
	better := false
	for _, r := range results {
		s.work += r.work
		if r.err != nil && s.engineErr == nil {
			s.engineErr = r.err
		}
		for _, d := range r.drafts {
			if math.IsInf(d.cost, 1) {
				continue
			}
			if s.in.less(d, s.best) {
				if d.cost < s.cost()-1e-9 {
					better = true
					s.foundBy = r.by
				}
				s.best = d
			}
			s.keep(d)
		}
	}
	if better {
		s.idle, s.effort = 0, math.Max(1, s.effort/1.3)
	} else if s.idle++; s.idle%4 == 0 {
		s.effort = math.Min(s.effort*1.3, 20)
	}
}

// keep puts a draft into the pool: one plan a cost, the best few.
func (s *search) keep(d *draft) {
	for i, other := range s.pool {
		if math.Abs(other.cost-d.cost) < 1e-9*(1+math.Abs(d.cost)) {
			if s.in.less(d, other) {
				s.pool[i] = d
			}
			return
		}
	}
	s.pool = append(s.pool, d)
	sort.SliceStable(s.pool, func(i, j int) bool { return s.in.less(s.pool[i], s.pool[j]) })
	if len(s.pool) > poolSize {
		s.pool = s.pool[:poolSize]
	}
}

// report tells of what got better.
func (s *search) report(last bool) {
	cost, bound := s.cost(), s.bound()
	better := cost < s.lastCost-1e-9 || bound > s.lastBound+1e-9
	s.lastCost, s.lastBound = cost, math.Max(bound, s.lastBound)
	if s.o.Progress == nil || !better && !last {
		return
	}
	in := s.in
	p := Progress{Elapsed: time.Since(s.started), Work: s.work, Cost: in.money(cost), Bound: in.money(bound),
		FoundBy: s.foundBy, Completed: last}
	if s.best != nil {
		p.Gap, p.Sections = gap(p.Cost, p.Bound), len(s.best.rows)
	} else {
		p.Gap = math.Inf(1)
	}
	s.o.Progress(p)
}

// money turns rows into money, the fixed cost included.
func (in *instance) money(rows float64) float64 { return rows*in.rowMoney + in.p.Costs.Fixed }

// gap is (cost - bound) / cost, never negative.
func gap(cost, bound float64) float64 {
	if bound >= cost {
		return 0
	}
	if cost == 0 {
		return math.Inf(1)
	}
	return math.Abs((cost - bound) / cost)
}
