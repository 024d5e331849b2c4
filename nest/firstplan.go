package nest

import "math"

// A broken rule and a missing label are penalties in the annealing, and where
// keeping a rule costs more than the penalty the annealing settles for
// breaking it. So where the greedy start keeps not every rule, the first plan
// is looked for with penalties that grow, before the rounds begin: on 1,000
// tiny problems with rules that took the proofs within the smallest work limit
// from 504 to 574 of 777.

// strictness is tried in this order; see annealing.
var strictness = [...]float64{1, 8, 64, 512}

// firstPlan gives the search a plan to begin from.
func (s *search) firstPlan() {
	in := s.in
	if s.best != nil || in.rules == nil && !in.priced || in.needed == 0 {
		return
	}
	start := in.greedy(newRandom(s.o.Seed, -1))
	done := start.clone()
	if in.finish(done); !math.IsInf(done.cost, 1) {
		return // the search finds it itself
	}
	for n, strict := range strictness {
		if s.ctx.Err() != nil || s.best != nil {
			return
		}
		moves := 2 * firstMoves
		if s.o.Work > 0 {
			moves = min(moves, max(leastMoves, int(s.o.Work*1e6/8)))
		}
		st := newState(in, in.roomFor(start, n))
		st.load(in.short(start, st.sections))
		st.fill()
		d := st.anneal(s.ctx, annealing{
			moves: moves, hot: 0.05, cold: 0.0005, phiStart: 0.7, strict: strict, rng: newRandom(s.o.Seed, -100-n),
		})
		out := outcome{work: float64(moves) / 1e6, by: "first plan"}
		if d != nil {
			in.finish(d)
			out.drafts = append(out.drafts, d)
		}
		s.merge([]outcome{out})
	}
}

// roomFor is the number of sections of the n-th try.
func (in *instance) roomFor(d *draft, n int) int {
	if in.exact > 0 {
		return in.exact
	}
	sections := len(d.rows) + 2*n
	if n > 1 {
		sections = max(sections, in.count)
	}
	if in.atMost > 0 {
		sections = min(sections, in.atMost)
	}
	return max(1, sections)
}

// short is a draft of no more than so many sections.
func (in *instance) short(d *draft, sections int) *draft {
	d = d.clone()
	if len(d.rows) > sections {
		d.rows, d.lanes = d.rows[:sections], d.lanes[:sections*in.lanes]
	}
	return d
}
