package nest

import "math"

// A broken rule and a missing label are penalties in the annealing, and where
// keeping a rule costs more than the penalty the annealing settles for
// breaking it. So where the rules let no start through, the first plan is
// looked for with penalties that grow, and the weight of rules that found one
// stays for the rest of the search.

// penalties that are tried, as multiples of the usual ones: of a broken rule
// and of a missing label.
var penalties = [...]struct{ rule, label float64 }{{1, 1}, {8, 4}, {64, 16}, {512, 64}}

// firstPlan gives the search a plan to begin from where the greedy one keeps
// not every rule. It runs before any other goroutine reads the rules.
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
	usual := 0.0
	if in.rules != nil {
		usual = in.rules.weight
	}
	for n, penalty := range penalties {
		if s.ctx.Err() != nil {
			break
		}
		moves := 2 * firstMoves
		if s.o.Work > 0 {
			moves = min(moves, max(leastMoves, int(s.o.Work*1e6/8)))
		}
		if in.rules != nil {
			in.rules.weight = usual * penalty.rule
		}
		st := newState(in, in.roomFor(start, n))
		st.load(in.short(start, st.sections))
		st.fill()
		st.scale = max(st.scale, in.labelScale()) * penalty.label
		d := st.anneal(s.ctx, annealing{moves: moves, hot: 0.05, cold: 0.0005, phiStart: 0.7, rng: newRandom(s.o.Seed, -100-n)})
		out := outcome{work: float64(moves) / 1e6, by: "first plan"}
		if d != nil {
			in.finish(d)
			out.drafts = append(out.drafts, d)
		}
		s.merge([]outcome{out})
		if s.best != nil {
			return
		}
	}
	if in.rules != nil {
		in.rules.weight = usual
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

// labelScale makes a missing label dearer than the row that prints it, the
// labels of its other lanes included.
func (in *instance) labelScale() float64 {
	label := 0.0
	for v := range in.price {
		label = max(label, in.price[v].label)
	}
	return 1 + float64(in.lanes)*label
}
