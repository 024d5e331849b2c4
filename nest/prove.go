package nest

import (
	"context"
	"math"
)

// prover closes numbers of sections one by one with the box search: for the K
// with the lowest bound it asks for any plan that would still be cheaper than
// the incumbent. 'No' lifts the bound of K to the incumbent and, where
// sections may be cut into so many, of every smaller K too; 'yes' is a better
// plan. Where a question is not answered within the effort of the day, easier
// ones (lower costs, by bisection) lift the bound part of the way, and the
// effort grows.
//
// All costs here are the rest beside the sections' own: web, labels and lane
// starts less what whole rolls may save, in rows.
type prover struct {
	in      *instance
	box     *boxed
	closing map[int]*closing
	refused map[int]float64 // K -> no plan has a rest so low or lower
	blocked map[int]float64 // K -> rest of a plan that is one to the box search, but breaks a rule or costs more than it knows
	spare   map[int]float64 // K -> rest of any plan, by its spare lanes
	floor   float64         // rest of any plan
	most    int             // largest K that the box search may be asked
}

// closing is the state of the work on one number of sections.
type closing struct {
	effort   int       // steps for one question
	ceiling  float64   // rest that was too hard at this effort; 0 is none
	question *question // to work on
	hardest  *question // the one that settles this number of sections, worked on in turns
}

type question struct {
	search *boxSearch
	rest   float64
	grant  int // steps left
}

func newProver(in *instance) *prover {
	p := &prover{in: in, box: in.newBox(nil), closing: map[int]*closing{}, refused: map[int]float64{}, blocked: map[int]float64{}, spare: map[int]float64{}, most: boxSections}
	p.floor = p.box.least()
	if in.row == 0 {
		p.floor = p.box.labels
	}
	return p
}

// sections is what K sections cost at least beside the rest, in rows.
func (p *prover) sections(b *bounder, k int) float64 {
	return p.in.section*float64(k) - b.rolls*float64(max(0, k-1))
}

// bound of plans with K sections, in rows.
func (p *prover) bound(b *bounder, k int) float64 {
	low := math.Max(b.cost(k), p.floor+p.sections(b, k))
	if rest, ok := p.spare[k]; ok { // a rest may be below 0
		low = math.Max(low, rest+p.sections(b, k))
	}
	if rest, ok := p.refused[k]; ok && p.in.row > 0 {
		low = math.Max(low, p.above(rest)+p.sections(b, k))
	}
	return low
}

// above is the least that a rest above a refused one can be.
func (p *prover) above(rest float64) float64 {
	if p.box.plain {
		return rest + float64(p.in.frame)
	}
	return rest
}

// step is the difference between two rests that counts.
func (p *prover) step(unit float64) float64 {
	if p.box.plain {
		return float64(p.in.frame)
	}
	return unit
}

// round gives a rest that a plan can have: in rows alone whole frames.
func (p *prover) round(rest float64) float64 {
	if p.box.plain {
		frame := float64(p.in.frame)
		return math.Floor(rest/frame+1e-9) * frame
	}
	return rest
}

// target is the highest rest at which a plan with K sections would cost less
// than the incumbent by more than the unit.
func (p *prover) target(b *bounder, k int, incumbent, unit float64) float64 {
	rest := incumbent - p.sections(b, k)
	if p.box.plain {
		frame := float64(p.in.frame)
		return (math.Ceil((rest-1e-7*(1+math.Abs(incumbent)))/frame) - 1) * frame
	}
	return rest - 0.9*unit
}

// refute notes that no plan of K sections has so low a rest. A plan of fewer
// sections becomes one of K where a section may be cut anywhere, no version is to
// stay in one piece, and there are frames enough for so many.
func (p *prover) refute(k int, rest float64) {
	lift := func(k int) bool {
		if old, ok := p.refused[k]; ok && old >= rest {
			return false
		}
		p.refused[k] = rest
		return true
	}
	lift(k)
	frames := (p.in.target + p.in.frame - 1) / p.in.frame // of any plan
	if p.in.least > p.in.frame || p.in.exact > 0 || frames < k || p.box.onePiece() {
		return
	}
	for k--; k >= 1 && lift(k); k-- {
	}
}

// work asks the question whose answer raises the overall bound and spends
// about so many steps. It returns the plans that it met: those better than the
// incumbent, and others that are good ones to search from.
func (p *prover) work(ctx context.Context, b *bounder, incumbent, unit float64, first, last, steps int) (found []*draft, spent int) {
	if p.in.row == 0 {
		return nil, 0
	}
	for spent < steps && ctx.Err() == nil {
		k := p.choose(b, incumbent, unit, first, last)
		if k == 0 {
			break
		}
		q := p.next(b, k, incumbent, unit)
		if q == nil {
			p.most = k - 1
			continue
		}
		c := p.closing[k]
		before := q.search.steps
		answer := q.search.runTwice(min(q.grant, max(steps-spent, 10_000), patience))
		used := q.search.steps - before
		spent += used + 100
		q.grant -= used
		switch {
		case answer == refuted:
			p.refute(k, q.rest)
			c.question = nil
			if q == c.hardest {
				c.hardest = nil
			}
		case answer == feasible:
			c.question, c.hardest, c.ceiling = nil, q, 0
			d := p.box.draft(q.search)
			p.in.finish(d)
			found = append(found, d)
			if d.cost < incumbent-1e-9 {
				incumbent = d.cost
			} else {
				p.blocked[k] = p.box.rest(q.search, q.rest)
			}
		case q.search.stuck:
			p.most = k - 1
		case q.grant <= 0:
			c.ceiling, c.question = q.rest, nil
		}
	}
	return found, spent
}

// lowest is a rest that no plan of K sections is below.
func (p *prover) lowest(b *bounder, k int) float64 {
	low := p.bound(b, k) - p.sections(b, k)
	if p.box.plain {
		frame := float64(p.in.frame)
		low = math.Ceil((low-1e-6*(1+math.Abs(low)))/frame) * frame
	}
	return low
}

// easier is how much less an easier question gets than the one that settles a
// number of sections: there are several of them to every one of those.
const easier = 16

// patience is how many steps are made before a limit of time is looked at.
const patience = 2_000_000

// finest is the part of what is open of a number of sections that is worth a
// question of its own.
const finest = 32

// next is the question to work on for K sections; nil where the method does
// not reach so far.
func (p *prover) next(b *bounder, k int, incumbent, unit float64) *question {
	low := p.lowest(b, k)
	target := p.target(b, k, incumbent, unit)
	blocked := false
	if rest, ok := p.blocked[k]; ok && rest <= target {
		blocked = true
		// The box search has such a plan: the least that it has is below.
		target = rest - p.step(unit)
		if p.box.plain {
			target = p.round(low + (rest-low)/2)
		}
	}
	c := p.closing[k]
	if c == nil {
		c = &closing{effort: 200_000}
		p.closing[k] = c
	}
	if h := c.hardest; h != nil && h.search.answer == undecided && h.rest < target && h.rest >= low &&
		(blocked || h.rest >= target-0.1*unit) {
		target = h.rest // what is begun is brought to an end
	}
	if h := c.hardest; h != nil && h.rest > target { // the incumbent has become cheaper
		if c.question == h {
			c.question = nil
		}
		c.hardest = &question{search: p.box.askLess(h.search, target), rest: target}
	}
	if h := c.hardest; h == nil || h.rest < target || h.search.answer != undecided {
		search, ok := p.box.ask(k, target)
		if !ok {
			return nil
		}
		c.hardest, c.question, c.ceiling = &question{search: search, rest: target}, nil, 0
	}
	if c.question != nil && c.question.rest <= target {
		return c.question
	}
	rest := target
	if c.ceiling > 0 && c.ceiling <= target {
		rest = p.round(low + (c.ceiling-low)/2)
		if c.ceiling-rest < math.Max(p.step(unit), (target-low)/finest) || rest < low {
			c.effort *= 4
			c.ceiling = 0
			rest = target
		}
	}
	if rest == target {
		c.question = c.hardest
		c.question.grant = c.effort
	} else {
		c.question = &question{search: p.box.askLess(c.hardest.search, rest), rest: rest, grant: c.effort / easier}
	}
	return c.question
}

// choose picks the number of sections with the lowest bound; 0 when none is
// below the incumbent and within the method's reach.
func (p *prover) choose(b *bounder, incumbent, unit float64, first, last int) int {
	best, low := 0, incumbent-math.Max(unit, 1e-7*(1+math.Abs(incumbent)))
	if !p.box.plain {
		low = incumbent - unit
	}
	for k := first; k <= min(last, p.most); k++ {
		if rest, ok := p.blocked[k]; ok {
			below, lowest := rest-p.step(unit), p.lowest(b, k)
			if below < lowest || below == lowest && !p.box.plain {
				continue
			}
		}
		if c := p.bound(b, k); c < low {
			best, low = k, c
		}
	}
	return best
}
