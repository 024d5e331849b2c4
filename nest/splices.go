package nest

import "sort"

// web is where parent rolls end in a plan: Plan.Splices and RollChanges.
type web struct {
	splices, changes []int
}

// reel is one way to have come to the start of a section.
type reel struct {
	used float64 // of the roll in the press, rows
	web
}

// reels places the ends of the parent rolls in a draft whose sections are in
// running order, with the fewest splices and then the fewest changes: section
// by section it keeps every way that no other beats in these and in the web
// that is left on the roll. Inside a
// section a splice comes as late as the roll and the customers' limits allow.
// False where no way keeps those limits.
func (in *instance) reels(d *draft) (web, bool) {
	stock := &in.p.Stock
	if stock.RollRows == 0 {
		return web{}, true
	}
	ways := []reel{{used: stock.SetupRows}}
	start := 0
	for k, rows := range d.rows {
		var next []reel
		for _, w := range ways {
			on := w
			if k > 0 {
				changed := w.fresh(stock.RollRows, stock.ChangeoverRows)
				changed.changes = append(append([]int(nil), w.changes...), k)
				if r, ok := in.unwind(d, k, start, rows, changed); ok {
					next = append(next, r)
				}
				on.used += stock.ChangeoverRows
			}
			if r, ok := in.unwind(d, k, start, rows, on); ok {
				next = append(next, r)
			}
		}
		sort.SliceStable(next, func(i, j int) bool {
			a, b := &next[i], &next[j]
			if len(a.splices) != len(b.splices) {
				return len(a.splices) < len(b.splices)
			}
			if len(a.changes) != len(b.changes) {
				return len(a.changes) < len(b.changes)
			}
			return a.used < b.used
		})
		ways = ways[:0]
		for _, r := range next {
			if len(ways) == 0 || r.used < ways[len(ways)-1].used {
				ways = append(ways, r)
			}
		}
		if len(ways) == 0 {
			return web{}, false
		}
		start += rows
	}
	return ways[0].web, true
}

// fresh puts the next parent roll into the press; what is lost comes off the
// old one where it has that much left.
func (r reel) fresh(holds, lost float64) reel {
	if r.used+lost <= holds {
		r.used = 0
	} else {
		r.used = lost
	}
	return r
}

// unwind runs section k, splicing where a roll ends.
func (in *instance) unwind(d *draft, k, start, rows int, r reel) (reel, bool) {
	stock := &in.p.Stock
	lane := d.lanes[k*in.lanes : (k+1)*in.lanes]
	done := 0 // rows of this section
	r.splices = r.splices[:len(r.splices):len(r.splices)]
	first := len(r.splices)
	for {
		left := stock.RollRows - r.used
		if left < 0 {
			return r, false
		}
		if float64(rows-done) <= left {
			r.used += float64(rows - done)
			return r, true
		}
		// A bound on the search: the steps that customers ask for are short.
		at := done + int(left)
		for at > done && !in.mayWind(lane, r.splices[first:], start, at) {
			at--
		}
		if at <= done || at <= 0 {
			return r, false
		}
		r.used += float64(at - done)
		r = r.fresh(stock.RollRows, stock.SpliceRows)
		r.splices = append(r.splices, start+at)
		done = at
	}
}

// mayWind says whether a splice 'at' rows into a section keeps the limits of
// every customer roll that it would fall into; earlier are the section's
// splices so far.
func (in *instance) mayWind(lane []int16, earlier []int, start, at int) bool {
	for _, v := range lane {
		if int(v) == in.count {
			continue
		}
		c := &in.p.Versions[v]
		if c.LabelsPerRoll == 0 || c.MostSplices == 0 || at%c.LabelsPerRoll == 0 {
			continue
		}
		n := 1
		for _, s := range earlier {
			if wound := s - start; wound%c.LabelsPerRoll != 0 && wound/c.LabelsPerRoll == at/c.LabelsPerRoll {
				n++
			}
		}
		if n > max(0, c.MostSplices) {
			return false
		}
	}
	return true
}
