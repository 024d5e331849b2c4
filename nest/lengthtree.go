package nest

import (
	"context"
	"fmt"
	"math"
	"sort"

	"laneplan/solver"
)

// Branching on lengths. The programme of bound.go has sections of every length
// by fractions; a plan has K lengths. Where Σ λ over the columns that are at
// least T long is no whole number n.f, every plan has at most n sections so long,
// or at least n+1: two programmes with one row more, whose multiplier τ a column
// earns or pays by its length alone, so that pricing stays what it is. The lowest
// bound of the open nodes is the bound for K. (Branching on a quantity that the
// pricing keeps is the usual way of branch and price; this quantity is ours.)

// lengthLimit says how many sections are at least so long.
type lengthLimit struct {
	from        int
	least, most float64
}

// lengthNode is a part of the plans with so many sections.
type lengthNode struct {
	sections int
	limits   []lengthLimit
	bound    float64 // on the cost without that of sections, in rows
	center   *multipliers
	basis    *columnBasis // of its programme or that of its parent
	precise  bool         // its programme is to be solved to the end
}

// columnBasis is a basis of a programme whose columns come and go.
type columnBasis struct {
	fixed, rows []solver.BasisStatus
	columns     []*column // those that are basic
}

// lengthTree is what is known of one number of sections.
type lengthTree struct {
	open   []*lengthNode
	closed float64 // the lowest bound of nodes that need no branching or allow none
	solved bool    // the programme without limits was
}

// stuck says that branching cannot raise the bound any more.
func (t *lengthTree) stuck() bool {
	n := t.next()
	return n == nil || t.closed <= n.bound
}

func (t *lengthTree) lowest() float64 {
	if n := t.next(); n != nil {
		return math.Min(t.closed, n.bound)
	}
	return t.closed
}

// next is the open node with the lowest bound, the first of equal ones.
func (t *lengthTree) next() *lengthNode {
	var low *lengthNode
	for _, n := range t.open {
		if low == nil || n.bound < low.bound {
			low = n
		}
	}
	return low
}

// close takes a node out of the open ones.
func (t *lengthTree) close(n *lengthNode) {
	for i, o := range t.open {
		if o == n {
			t.open = append(t.open[:i], t.open[i+1:]...)
			return
		}
	}
}

// solved says that the programme without limits is, for so many sections.
func (b *bounder) solved(sections int) bool {
	t := b.trees[sections]
	return t != nil && t.solved
}

// improve works on the bound for K sections: it solves the programme without
// limits and, if it may branch, one after the other of those that follow, until
// about so much work is done or the bound reaches the cost of a plan; a later call
// goes on from there. It returns the work done.
func (b *bounder) improve(ctx context.Context, engine solver.Solver, sections int, enough, grant float64, branches bool) (work float64, err error) {
	if len(b.columns) == 0 {
		b.seed()
	}
	t := b.trees[sections]
	if t == nil {
		t = &lengthTree{closed: math.Inf(1), open: []*lengthNode{{sections: sections, bound: math.Inf(-1)}}}
		b.trees[sections] = t
	}
	for work < grant && !t.stuck() && (branches || !t.solved) {
		n := b.current
		if n == nil || n.sections != sections {
			n = t.next()
		}
		if b.total(t.lowest(), sections) >= enough {
			break
		}
		b.current = n
		masses, done, err := b.solveNode(ctx, engine, n, enough, grant, &work)
		if err != nil || !done {
			return work, err
		}
		b.current, t.solved = nil, true
		var children []*lengthNode
		if b.total(n.bound, sections) < enough {
			if children = b.branch(n, masses); children == nil && !n.precise {
				n.precise = true
				continue
			}
		}
		if children == nil {
			t.closed = math.Min(t.closed, n.bound)
		}
		t.close(n)
		t.open = append(t.open, children...)
	}
	return work, nil
}

// mass is what the columns of a length add up to.
type mass struct {
	x     int
	share float64 // Σ λ
}

// branch divides a node where the number of sections so long is furthest from
// a whole one and lengths are far apart; nil where all are whole.
func (b *bounder) branch(n *lengthNode, masses []mass) []*lengthNode {
	const tolerance = 1e-3
	best, sum, limit := 0.0, 0.0, lengthLimit{}
	for i, m := range masses {
		if i > 0 {
			above, below := float64(masses[i-1].x), float64(m.x)
			part := sum - math.Floor(sum)
			part = math.Min(part, 1-part)
			if score := part * (math.Log(above/below) + 0.02); part > tolerance && score > best {
				best = score
				limit.from = min(masses[i-1].x, b.in.roundUp(int(math.Sqrt(above*below))+1))
				limit.most = math.Floor(sum)
			}
		}
		sum += m.share
	}
	if best == 0 {
		return nil
	}
	other := limit
	other.least, other.most = limit.most+1, math.Inf(1)
	return []*lengthNode{n.child(limit), n.child(other)}
}

// child is the node with one limit more.
func (n *lengthNode) child(l lengthLimit) *lengthNode {
	c := &lengthNode{sections: n.sections, bound: n.bound, basis: n.basis}
	c.limits = append(append(c.limits, n.limits...), l)
	center := *n.center
	center.tau = append(append([]float64(nil), center.tau...), 0)
	c.center = &center
	return c
}

// lengthsOf the columns that a node needs: where a limit begins, too, and just
// below.
func (b *bounder) lengthsOf(n *lengthNode) []int {
	out := b.lengths[:len(b.lengths):len(b.lengths)]
	for _, l := range n.limits {
		out = append(out, l.from)
		if short := l.from - b.in.frame; short >= b.in.least {
			out = append(out, short)
		}
	}
	return out
}

// solveNode solves the programme of a node by column generation, until it is
// done, its bound reaches 'enough' or the grant is spent. It returns the masses
// of the lengths, the longest first. Multipliers are smoothed towards the best
// ones so far (Wentges 1997, from memory): they swing less, and any point
// between is a bound too.
func (b *bounder) solveNode(ctx context.Context, engine solver.Solver, n *lengthNode, enough, grant float64, work *float64) (masses []mass, done bool, err error) {
	const smooth, precise, part = 0.9, 1e-4, 0.1
	want := 2 * (1 + b.in.count)
	// Empty sections of these lengths keep the programme feasible.
	b.put(b.column(b.in.least, nil))
	for _, l := range n.limits {
		b.put(b.column(l.from, nil))
	}
	for *work < grant {
		b.keepBasis(n.basis)
		r, err := engine.Solve(ctx, b.master(n), solver.Options{Basis: b.basisOf(n.basis)})
		if err != nil {
			return nil, false, fmt.Errorf("solving the configuration programme: %w", err)
		}
		*work += 0.01 + float64(r.Iterations)*float64(len(r.Values)+len(r.RowDuals))*2e-6
		if r.Status == solver.Interrupted {
			return nil, false, nil
		}
		if r.Status != solver.Optimal {
			return nil, false, fmt.Errorf("the configuration programme is %s, want optimal", r.Status)
		}
		columns := len(b.columns)
		values := r.Values[len(r.Values)-columns:]
		n.basis = b.newBasis(r.Basis)
		duals, sigma := b.duals(n, r.RowDuals)
		limit := sigma - 1e-8*(1+math.Abs(sigma))
		fresh := 0
		weights := [2]float64{smooth, 0}
		if len(n.limits) > 0 {
			// What is known is from a node without the last limit: not near enough.
			weights[0] = smooth / 2
		}
		for _, weight := range weights {
			if fresh > 2 && len(n.limits) == 0 {
				break
			}
			at := duals
			if weight > 0 && n.center != nil {
				at = duals.between(weight, *n.center)
			} else if weight > 0 {
				continue
			}
			least, found := b.price(n, at, duals, limit, want)
			*work += float64(len(b.lengths)*b.in.count) * 2e-7
			if value := b.evaluate(n, at, least); value > n.bound || n.center == nil {
				n.bound, n.center = math.Max(n.bound, value), &at
			}
			for _, c := range found {
				if b.put(c) {
					fresh++
				}
			}
		}
		slack := precise * math.Abs(r.Objective)
		missing := enough - b.total(n.bound, n.sections)
		if len(n.limits) > 0 && !n.precise && !math.IsInf(missing, 1) {
			slack = math.Max(slack, part*missing) // its children go on from there
		}
		if fresh == 0 || r.Objective-n.bound < slack || missing <= 0 {
			return b.masses(values), true, nil
		}
		b.forget(values, n, duals, sigma)
	}
	return nil, false, nil
}

// duals are the multipliers that the programme proposes, and that of its number
// of sections.
func (b *bounder) duals(n *lengthNode, rows []float64) (at multipliers, sigma float64) {
	at = multipliers{pi: make([]float64, b.in.count), rho: make([]float64, len(b.cuts)), tau: make([]float64, len(n.limits))}
	for v := range at.pi {
		at.pi[v] = math.Max(0, rows[v]) / float64(b.target[v])
	}
	rows = rows[b.in.count:]
	sigma, rows = rows[0], rows[1:]
	for c := range at.rho {
		at.rho[c] = math.Max(0, rows[c])
	}
	for i, l := range n.limits {
		if at.tau[i] = rows[len(at.rho)+i]; at.tau[i] < 0 && math.IsInf(l.most, 1) {
			at.tau[i] = 0
		}
	}
	return at, sigma
}

// masses of the lengths, the longest first.
func (b *bounder) masses(values []float64) []mass {
	sum := map[int]float64{}
	for i, share := range values {
		if share > 1e-9 {
			sum[b.columns[i].x] += share
		}
	}
	var out []mass
	for x, share := range sum {
		out = append(out, mass{x, share})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].x > out[j].x })
	return out
}

// newBasis notes which of the columns are basic.
func (b *bounder) newBasis(from *solver.Basis) *columnBasis {
	if from == nil { // not every engine tells it
		return nil
	}
	fixed := len(from.Columns) - len(b.columns)
	out := &columnBasis{fixed: from.Columns[:fixed:fixed], rows: from.Rows}
	for i, c := range b.columns {
		if from.Columns[fixed+i] == solver.Basic {
			out.columns = append(out.columns, c)
		}
	}
	return out
}

// mark adds the columns that are basic to a set.
func (basis *columnBasis) mark(set map[*column]bool) {
	if basis == nil {
		return
	}
	for _, c := range basis.columns {
		set[c] = true
	}
}

// keepBasis puts columns that a basis needs among the others.
func (b *bounder) keepBasis(basis *columnBasis) {
	if basis == nil {
		return
	}
	for _, c := range basis.columns {
		b.put(c)
	}
}

// basisOf is the basis for the columns as they are now.
func (b *bounder) basisOf(basis *columnBasis) *solver.Basis {
	if basis == nil {
		return nil
	}
	out := &solver.Basis{Columns: append([]solver.BasisStatus(nil), basis.fixed...), Rows: basis.rows}
	basic := map[*column]bool{}
	basis.mark(basic)
	for _, c := range b.columns {
		status := solver.AtLower
		if basic[c] {
			status = solver.Basic
		}
		out.Columns = append(out.Columns, status)
	}
	return out
}
