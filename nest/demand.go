package nest

import "math"

// demand is what one version asks of a box search. Labels are counted in
// units, a unit being one lane of one frame: a lane in a section of x frames
// prints x units. What p units cost is their share of the web, their labels
// and the version's lane starts. The excess is how much that is above the
// least that this version can cost, in units too: one unit is worth the web
// of one lane of one frame. So a plan costs the least of every version by
// itself, and beside the sections just the excess of all versions and the web
// of the idle lanes.
//
// A demand is comparable: versions with equal demands share their covers.
type demand struct {
	// Units: fewer than fewest are not allowed, peak is the cheapest number,
	// and useful the cheapest where the web is there in any case.
	fewest, peak, useful int
	cap                  int // lanes in one section
	onePiece             bool
	plain                bool    // every unit above peak is an excess of 1, and none below is allowed
	flat                 bool    // labels count as free: their money has no one valley
	start                float64 // rows of a lane start
	skip                 float64 // excess where nothing is printed; +Inf where it must be
	base                 float64 // rows: the least cost

	before, quantity, most int // labels
	price                  pricing
	frame, lanes           int
}

// demandOf is what version v asks where 'before' of its labels are printed
// already.
func (in *instance) demandOf(v, before int) demand {
	d := demand{cap: in.lanes, skip: math.Inf(1), plain: in.price[v] == pricing{}, frame: in.frame, lanes: in.lanes}
	toUnits := func(labels int) int { return max(0, (labels-before+in.frame-1)/in.frame) }
	d.fewest = toUnits(in.need[v])
	d.peak = d.fewest
	if in.rules != nil {
		d.cap, d.onePiece = min(d.cap, in.rules.mostLane[v]), in.rules.onePiece[v]
	}
	if before == 0 {
		d.start = in.laneRun
	}
	if !d.plain {
		d.before, d.quantity, d.most, d.price = before, in.quantity[v], in.most[v], in.price[v]
		if d.price.over == 0 {
			d.most = d.quantity // beyond it all is the same
		}
		d.flat = d.price.over > d.price.short
	}
	d.useful = d.peak
	d.base = d.cost(d.fewest)
	if !d.plain {
		for _, labels := range [2]int{d.quantity, d.most} {
			for p := toUnits(labels) - 1; p <= toUnits(labels); p++ {
				if p < d.fewest {
					continue
				}
				if d.cost(p) < d.base {
					d.base, d.peak = d.cost(p), p
				}
				if d.labels(p) < d.labels(d.useful) {
					d.useful = p
				}
			}
		}
	}
	if d.flat {
		d.peak = d.fewest
	}
	d.base += d.start
	if d.price.filler && before == 0 {
		least := math.Min(d.base, d.price.elsewhere)
		d.skip, d.base = d.units(d.price.elsewhere-least), least
	}
	return d
}

// cost of p units, at least fewest, in rows, without lane starts.
func (d *demand) cost(p int) float64 {
	cost := float64(p) * float64(d.frame) / float64(d.lanes)
	if d.plain {
		return cost
	}
	return cost + d.labels(p)
}

// labels is what p units cost beside web and lane starts, in rows.
func (d *demand) labels(p int) float64 {
	return d.price.labels(d.before+p*d.frame, d.quantity, d.most)
}

// excess of p units, at least fewest, of which the section with the most has
// so many lanes, at least one. In floating point: see boxSearch.round.
func (d *demand) excess(p, lanes int) float64 {
	if d.whole() {
		return float64(p - d.peak)
	}
	if d.flat {
		return d.units(d.start * float64(lanes-1))
	}
	return d.units(d.cost(p) + d.start*float64(lanes) - d.base)
}

// whole says that an excess is just the units above the peak.
func (d *demand) whole() bool { return d.plain && d.start == 0 }

// optional says that nothing need be printed.
func (d *demand) optional() bool { return !math.IsInf(d.skip, 1) || d.fewest == 0 }

// units turns rows of web into lanes of frames.
func (d *demand) units(rows float64) float64 {
	return rows * float64(d.lanes) / float64(d.frame)
}

// leastLabels is the least that labels and lane starts can cost, in rows.
func (d *demand) leastLabels() float64 {
	low := math.Inf(1)
	for _, labels := range [3]int{d.before + d.fewest*d.frame, d.quantity, d.most} {
		units := max(d.fewest, (labels-d.before)/d.frame)
		for p := units; p <= units+1; p++ {
			low = math.Min(low, d.labels(p)+d.start)
		}
	}
	if !math.IsInf(d.skip, 1) {
		low = math.Min(low, d.price.elsewhere)
	}
	return low
}

// larger orders demands: those that fill the most web first, and equal ones
// side by side.
func (d *demand) larger(e *demand) bool {
	if d.peak != e.peak {
		return d.peak > e.peak
	}
	if d.fewest != e.fewest {
		return d.fewest > e.fewest
	}
	if d.cap != e.cap {
		return d.cap < e.cap
	}
	return d.base > e.base
}

// wasteRates are what a unit above and below the cheapest number wastes at least,
// over all versions that share them.
type wasteRates struct{ over, under float64 }

// wasteAt is the waste of x units where d are the cheapest.
func (r wasteRates) wasteAt(x, d int) float64 {
	if x >= d {
		return r.over * float64(x-d)
	}
	return r.under * float64(d-x)
}

// lower takes in a version's rates, as 'round' has the difference of two
// excesses.
func (r *wasteRates) lower(d *demand, round func(difference float64) float64) {
	at := d.excess(d.peak, 1)
	r.over = math.Min(r.over, round(d.excess(d.peak+1, 1)-at))
	if d.peak > d.fewest && !d.optional() {
		r.under = math.Min(r.under, round(d.excess(d.peak-1, 1)-at))
	}
}
