package nest

import "math"

// mostCuts of one draft at the ends of parent rolls.
const mostCuts = 64

// reel adds the cost of splices to a draft that is laid out. Where a splice
// inside a section costs more than a changeover, or no way of winding keeps
// the customers' limits on splices, sections are cut in two where a parent
// roll ends, as long as that makes the plan cheaper.
func (in *instance) reel(d *draft) {
	in.splice(d)
	for range mostCuts {
		cut := in.cutAtRollEnd(d)
		if cut == nil {
			return
		}
		*d = *cut
	}
}

// splice counts the cost of a draft with its splices; +Inf where there is no
// way to wind it.
func (in *instance) splice(d *draft) {
	d.cost = in.costOf(d)
	w, ok := in.reels(d)
	if !ok {
		d.cost = math.Inf(1)
	}
	d.cost += in.p.Stock.SpliceCost / in.rowMoney * float64(len(w.splices))
}

// cutAtRollEnd cuts one section, or where no way of winding is left all that
// are longer than a parent roll; nil where that is no gain.
func (in *instance) cutAtRollEnd(d *draft) *draft {
	w, ok := in.reels(d)
	if !ok {
		if cut := in.cutToRolls(d); cut != nil && !math.IsInf(cut.cost, 1) {
			return cut
		}
		return nil
	}
	if in.section >= in.p.Stock.SpliceCost/in.rowMoney {
		return nil // a changeover is no cheaper
	}
	for _, row := range w.splices {
		k, start := 0, 0
		for start+d.rows[k] <= row {
			start += d.rows[k]
			k++
		}
		cut := d.clone()
		if !in.cut(cut, k, row-start) {
			continue
		}
		if in.splice(cut); cut.cost < d.cost-1e-9*(1+math.Abs(d.cost)) {
			return cut
		}
	}
	return nil
}

// cutToRolls cuts sections so short that each has a parent roll of its own.
func (in *instance) cutToRolls(d *draft) *draft {
	stock := &in.p.Stock
	cut := d.clone()
	for k := 0; k < len(cut.rows); k++ {
		lost := stock.ChangeoverRows
		if k == 0 {
			lost = stock.SetupRows
		}
		longest := int(stock.RollRows - lost)
		if cut.rows[k] <= longest {
			continue
		}
		if len(cut.rows) >= mostCuts || !in.cut(cut, k, longest) {
			return nil
		}
	}
	if len(cut.rows) == len(d.rows) {
		return nil
	}
	in.splice(cut)
	return cut
}

// cut makes two sections of section k, the first of at most so many rows and
// of whole frames, and of whole customer rolls where they count. False where
// one of them would be too short.
func (in *instance) cut(d *draft, k, rows int) bool {
	L := in.lanes
	lanes := d.lanes[k*L : k*L+L]
	step := in.frame
	if r := in.rules; r != nil && (r.requireRolls || r.rollSaving > 0) {
		for _, v := range lanes {
			if n := r.perRoll[v]; n > 0 && step <= maxQuantity {
				step = lcm(step, n)
			}
		}
	}
	rows = rows / step * step
	if rows < in.least || d.rows[k]-rows < in.least {
		return false
	}
	rest := d.rows[k] - rows
	both := append(append([]int16(nil), lanes...), d.lanes[k*L:]...)
	d.lanes = append(d.lanes[:k*L:k*L], both...)
	d.rows = append(d.rows[:k:k], append([]int{rows, rest}, d.rows[k+1:]...)...)
	return true
}
