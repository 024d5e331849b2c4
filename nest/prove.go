package nest

import "math"

// prover closes numbers of sections one by one with the box search: for the K
// with the lowest bound it asks for a plan with the most rows that would still
// be cheaper than the incumbent. 'No' lifts the bound of K to the incumbent
// and, where sections may be of any length, of every smaller K too; 'yes' is
// a better plan. Where a question is not answered within the effort of the
// day, easier ones (fewer rows, by bisection) lift the bound part of the way,
// and the effort grows.
type prover struct {
	in      *instance
	closing map[int]*closing
	refused map[int]int // K -> most rows that were refuted
	blocked map[int]int // K -> rows at which the plain relaxation has a plan that breaks a rule
	base    float64     // least cost of labels and lane runs beside rows and sections
	need    []int
	most    int // largest K that the box search may be asked
}

// closing is the state of the work on one number of sections.
type closing struct {
	effort   int // steps for one question
	ceiling  int // rows that were too hard at this effort; 0 is none
	question *question
	paused   *question // the hardest one, to be taken up again
}

type question struct {
	search   *boxSearch
	versions []int
	rows     int
	grant    int // steps left
}

func newProver(in *instance, b *bounder) *prover {
	p := &prover{in: in, closing: map[int]*closing{}, refused: map[int]int{}, blocked: map[int]int{}, base: b.extra, most: boxSections}
	p.need = append([]int(nil), in.need[:in.count]...)
	for v := range p.need {
		p.base += b.leastLabels(v, 0)
		if in.price[v].filler {
			p.need[v] = 0
		}
	}
	return p
}

// bound of plans with K sections, in rows.
func (p *prover) bound(b *bounder, sections int) float64 {
	low := b.cost(sections)
	if rows, ok := p.refused[sections]; ok && p.in.row > 0 {
		lifted := float64(rows+p.in.frame) + p.in.section*float64(sections) + p.base - b.rolls*float64(max(0, sections-1))
		low = math.Max(low, lifted)
	}
	return low
}

// target is the most rows at which a plan with K sections would cost less
// than the incumbent.
func (p *prover) target(b *bounder, sections int, incumbent float64) int {
	rest := incumbent - p.in.section*float64(sections) - p.base + b.rolls*float64(max(0, sections-1))
	rows := int(math.Ceil(rest-1e-7*(1+math.Abs(incumbent)))) - 1
	return rows / p.in.frame * p.in.frame
}

// refute notes that no plan of K sections has so few rows.
func (p *prover) refute(sections, rows int) {
	p.refused[sections] = max(rows, p.refused[sections])
	if p.in.least > p.in.frame || p.in.exact > 0 {
		return
	}
	for k := sections - 1; k >= 1; k-- {
		if p.refused[k] >= rows {
			break
		}
		p.refused[k] = rows
	}
}

// work asks the question whose answer raises the overall bound and spends
// about so many steps. It returns the plans that it met; only the last may be
// better than the incumbent, but the others are good ones to search from.
func (p *prover) work(b *bounder, incumbent float64, first, last, steps int) (found []*draft, spent int) {
	if p.in.row == 0 {
		return nil, 0
	}
	for spent < steps {
		k := p.choose(b, incumbent, first, last)
		if k == 0 {
			break
		}
		q := p.next(b, k, incumbent)
		if q == nil {
			p.most = k - 1
			continue
		}
		c := p.closing[k]
		before := q.search.steps
		answer := q.search.run(min(q.grant, max(steps-spent, 10_000)))
		used := q.search.steps - before
		spent += used + 100
		q.grant -= used
		switch {
		case answer == refuted:
			p.refute(k, q.rows)
			c.question = nil
		case answer == feasible:
			c.question, c.paused = nil, nil
			d := p.in.fromBox(q.search, q.versions)
			p.in.finish(d)
			found = append(found, d)
			if d.cost < incumbent-1e-9 {
				return found, spent
			}
			p.blocked[k] = q.rows
		case used == 0: // a point with too many states for the dynamic programme
			p.most = k - 1
		case q.grant <= 0:
			c.ceiling, c.question = q.rows, nil
			if c.paused == nil || c.paused.rows <= q.rows {
				c.paused = q
			}
		}
	}
	return found, spent
}

// next is the question to work on for K sections; nil where the method does
// not reach so far.
func (p *prover) next(b *bounder, k int, incumbent float64) *question {
	low := p.leastRows(b, k)
	target := p.target(b, k, incumbent)
	if rows, ok := p.blocked[k]; ok && rows <= target {
		// In rows alone there is such a plan, only not in money: the least
		// that rows alone allow is somewhere below.
		target = low + (rows-low)/2/p.in.frame*p.in.frame
	}
	c := p.closing[k]
	if c == nil {
		c = &closing{effort: 200_000}
		p.closing[k] = c
	}
	if c.question != nil && c.question.rows <= target {
		return c.question
	}
	rows := target
	if c.ceiling > 0 && c.ceiling <= target {
		rows = low + (c.ceiling-low)/2/p.in.frame*p.in.frame
		if rows >= c.ceiling || rows < low {
			c.effort *= 4
			c.ceiling = 0
			rows = target
		}
	}
	if c.paused != nil && c.paused.rows > target {
		c.paused = nil
	}
	if c.paused != nil && c.paused.rows == rows {
		c.question = c.paused
		c.question.grant = c.effort
		return c.question
	}
	search, versions, ok := p.in.newBox(p.need, k, rows)
	if !ok {
		return nil
	}
	c.question = &question{search: search, versions: versions, rows: rows, grant: c.effort}
	return c.question
}

// leastRows is the fewest rows that a plan of K sections may still have.
func (p *prover) leastRows(b *bounder, k int) int {
	rest := p.bound(b, k) - p.in.section*float64(k) - p.base + b.rolls*float64(max(0, k-1))
	rows := int(math.Ceil(rest - 1e-6*(1+math.Abs(rest))))
	return max(p.in.roundUp(rows), p.refused[k]+p.in.frame)
}

// choose picks the number of sections with the lowest bound; 0 when none is
// below the incumbent and within the method's reach.
func (p *prover) choose(b *bounder, incumbent float64, first, last int) int {
	best, low := 0, incumbent-1e-7*(1+math.Abs(incumbent))
	for k := first; k <= min(last, p.most); k++ {
		if rows, ok := p.blocked[k]; ok && rows-p.in.frame <= p.refused[k] {
			continue
		}
		if c := p.bound(b, k); c < low {
			best, low = k, c
		}
	}
	return best
}

// startsVersions is the most versions for which proveStarts is tried.
const startsVersions = 16

// proveStarts tries to prove that no plan is cheaper than the incumbent where
// lane runs cost money: for every number of sections and of lane starts it
// asks the box search for the most rows that would still be cheaper. False
// where one of the questions is not refused within the steps.
func (p *prover) proveStarts(b *bounder, incumbent float64, first, last, steps int) (proven bool, spent int) {
	must := 0
	for v := range p.need {
		if !p.in.price[v].filler {
			must++
		}
	}
	for k := first; k <= last; k++ {
		for starts := must; ; starts++ {
			rows := p.target(b, k, incumbent-p.in.laneRun*float64(starts-must))
			if rows < p.leastRows(b, k) {
				break // closed: more starts leave fewer rows still
			}
			search, _, ok := p.in.newBox(p.need, k, rows)
			if !ok || !search.limitStarts(starts) {
				return false, spent
			}
			answer := search.run(steps - spent)
			spent += search.steps + 100
			if answer != refuted {
				return false, spent
			}
		}
	}
	return true, spent
}
