package nest

import (
	"fmt"
	"math"
	"testing"
)

// drawn is a problem of lognormal quantities, as label work has them.
func drawn(versions, lanes int, section float64) Problem {
	p := Problem{Lanes: lanes, Costs: Costs{Row: 1, Section: section}}
	rng := newRandom(1, versions*100+lanes)
	for v := range versions {
		normal := -6.0 // the sum of twelve draws is nearly normal
		for range 12 {
			normal += rng.unit()
		}
		p.Versions = append(p.Versions, Version{ID: fmt.Sprint(v), Quantity: 10 * int(200*math.Exp(0.9*normal)+5)})
	}
	return p
}

// BenchmarkAnneal makes a million moves.
func BenchmarkAnneal(b *testing.B) {
	p := drawn(24, 4, 300)
	in := compile(&p)
	for i := range b.N {
		rng := newRandom(1, i)
		start := in.greedy(rng)
		s := newState(in, len(start.rows)+2)
		s.load(start)
		s.fill()
		s.anneal(b.Context(), annealing{moves: 1_000_000, hot: 0.05, cold: 0.0005, phiStart: 0.5, strict: 1, rng: rng})
	}
}

// BenchmarkBox spends ten million steps on a question that is not answered
// sooner.
func BenchmarkBox(b *testing.B) {
	p := drawn(20, 4, 300)
	in := compile(&p)
	for range b.N {
		q, ok := in.newBox(nil).ask(7, float64(in.target)*1.02)
		if !ok {
			b.Fatal("too large")
		}
		q.run(10_000_000)
		b.ReportMetric(float64(q.steps), "steps")
		b.ReportMetric(float64(q.nodes), "nodes")
	}
}

// BenchmarkBoxRefusal refuses the row that would be better than the best plan of
// two problems in testdata/twelve, on one core.
func BenchmarkBoxRefusal(b *testing.B) {
	for _, question := range []struct {
		name           string
		sections, rows int
		quantities     []int
	}{
		{"round-s1000", 5, 18499, []int{10000, 2500, 250, 4000, 6000, 2500, 5000, 1000, 8000, 10000, 750, 2000}},
		{"lognormal-s0100", 7, 9846, []int{340, 2890, 1860, 720, 3070, 4300, 4430, 1790, 3480, 3040, 1930, 1680}},
	} {
		b.Run(question.name, func(b *testing.B) {
			p := Problem{Lanes: 3, Costs: Costs{Row: 1, Section: 100}}
			for v, quantity := range question.quantities {
				p.Versions = append(p.Versions, Version{ID: fmt.Sprint(v), Quantity: quantity})
			}
			in := compile(&p)
			for range b.N {
				q, ok := in.newBox(nil).ask(question.sections, float64(question.rows))
				if !ok || q.run(math.MaxInt/2) != refuted {
					b.Fatal("not refused")
				}
				b.ReportMetric(float64(q.nodes), "boxes")
			}
		})
	}
}

// BenchmarkBound solves the configuration programme to its end.
func BenchmarkBound(b *testing.B) {
	for _, size := range []struct{ versions, lanes, sections int }{{24, 4, 8}, {60, 8, 11}} {
		b.Run(fmt.Sprintf("%d-versions", size.versions), func(b *testing.B) {
			p := drawn(size.versions, size.lanes, 300)
			in := compile(&p)
			engine := testEngine(b)
			for range b.N {
				bounds := newBounder(in)
				for !bounds.solved(size.sections) {
					if _, err := bounds.improve(b.Context(), engine, size.sections, math.Inf(1), 1, false); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(bounds.cost(size.sections), "bound")
			}
		})
	}
}
