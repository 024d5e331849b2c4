package nest

import "math"

// price works on the prices of the lanes until the Lagrangian (see box.go) is
// beyond the budget, which it then says, or its steps are spent. Covers that no
// plan within the budget has are dropped on the way; 'least' is the least waste
// of all versions. At the end the covers are priced at the best prices, which
// stay in the box.
//
// A section is full where no listed cover can have another lane of it within the
// budget: a plan then has just the listed lanes there, and a lane without any
// is idle. Its price may be below 0, down to what the web of the idle lane is
// worth.
func (b *boxSearch) price(n *box, least float64) bool {
	K := b.sections
	floor := b.floors(n, least)
	bounded := func(k int, price float64) float64 {
		return math.Min(math.Max(floor[k], price), float64(n.high))
	}
	mu := n.mu
	for k := range K {
		mu[k] = bounded(k, mu[k])
	}
	var gradient, priced [boxSections]float64 // of and at the prices last looked at
	best := math.Inf(-1)
	step := 1.0
	for t := range subgradient {
		value := b.lagrangian(&mu, &gradient)
		priced = mu
		if value > b.budget {
			return true
		}
		switch {
		case value > best:
			best, n.mu = value, mu
			b.thin(b.budget - value)
		case t > 2:
			step *= 0.7
		}
		norm := 0.0
		for k := range K {
			if gradient[k] < 0 && mu[k] == floor[k] {
				gradient[k] = 0
			}
			norm += gradient[k] * gradient[k]
		}
		if norm == 0 {
			break
		}
		length := step * (b.budget - value + 1 + 0.05*b.budget) / norm
		for k := range K {
			mu[k] = bounded(k, math.Round((mu[k]+length*gradient[k])*(1/coarsest))*coarsest)
		}
	}
	if priced != n.mu { // fewer covers are left than when it was looked at
		best = math.Max(best, b.lagrangian(&n.mu, &gradient))
	}
	b.value = best
	return best > b.budget
}

// floors are the least prices that lanes may have.
func (b *boxSearch) floors(n *box, least float64) (floor [boxSections]float64) {
	room := 0
	for i := range b.demand {
		room = max(room, b.atMost(i, b.budget-least+b.low[i])-b.fewest[i])
	}
	for k := range b.sections {
		if n.l[k] > room {
			floor[k] = -float64(n.l[k])
		}
	}
	return floor
}

// atMost is how many units demand i has at most where it may waste so much.
func (b *boxSearch) atMost(i int, waste float64) int {
	if d := &b.demand[i]; d.whole() {
		return d.peak + int(waste)
	}
	return b.limit[i]
}

// lagrangian prices the covers and returns Σ_v min_a (waste(a) + μ·a) - L·Σμ and
// its gradient.
func (b *boxSearch) lagrangian(mu, gradient *[boxSections]float64) float64 {
	value := 0.0
	for k := range b.sections {
		value -= float64(b.lanes) * mu[k]
		gradient[k] = -float64(b.lanes)
	}
	prices := &b.prices
	var none [boxSections]float64
	fill(b, prices, &none, mu, mu)
	G := b.groups
	b.priced = b.priced[:len(b.waste)]
	b.cheap = b.cheap[:0]
	for i := range b.demand {
		from, end := b.from[i], b.from[i+1]
		waste, priced, codes := b.waste[from:end], b.priced[from:end], b.codes[from*G:end*G]
		low, at := math.Inf(1), 0
		for c, w := range waste {
			var cost float64
			switch G {
			case 1:
				cost = w + prices[0][codes[c]&(codeSize-1)]
			case 2:
				two := codes[2*c : 2*c+2]
				cost = w + prices[0][two[0]&(codeSize-1)] + prices[1][two[1]&(codeSize-1)]
			case 3:
				three := codes[3*c : 3*c+3]
				cost = w + prices[0][three[0]&(codeSize-1)] + prices[1][three[1]&(codeSize-1)] + prices[2][three[2]&(codeSize-1)]
			default:
				cost = w + prices.of(codes[G*c:G*c+G])
			}
			priced[c] = cost
			if cost < low {
				low, at = cost, c
			}
		}
		b.cheap = append(b.cheap, low)
		times := float64(b.times[i])
		value += times * low
		for k := range b.sections {
			gradient[k] += times * float64(b.count(from+at, k))
		}
	}
	b.steps += len(b.waste)
	return value
}

// thin drops the covers that no plan within the budget has: those priced
// above the lowest of their demand by more than the slack.
func (b *boxSearch) thin(slack float64) {
	to := 0
	for i := range b.demand {
		from, end := b.from[i], b.from[i+1]
		b.from[i] = to
		for c := from; c < end; c++ {
			if b.priced[c]-b.cheap[i] > slack {
				continue
			}
			to = b.keep(c, to)
		}
	}
	b.from[len(b.demand)] = to
	b.drop(to)
}

// keep moves cover c to place 'to', after those that are kept already, and
// returns the next place.
func (b *boxSearch) keep(c, to int) int {
	if to < c {
		G := b.groups
		b.waste[to], b.priced[to] = b.waste[c], b.priced[c]
		copy(b.codes[to*G:to*G+G], b.codes[c*G:c*G+G])
	}
	return to + 1
}

// drop cuts the list off after so many covers.
func (b *boxSearch) drop(to int) {
	b.waste, b.priced, b.codes = b.waste[:to], b.priced[:to], b.codes[:to*b.groups]
}

// fillers is the least that versions which need not run cost under the prices.
func (b *boxSearch) fillers() float64 {
	sum := 0.0
	for i := range b.demand {
		if b.demand[i].optional() {
			sum += b.cheap[i] * float64(b.times[i])
		}
	}
	return sum
}
