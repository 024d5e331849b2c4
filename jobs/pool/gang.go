package pool

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
)

// pooler turns groups of parts that may share a set-up into gangs.
type pooler struct {
	shop *jobs.Shop
	into *Pooling
	// kept are the ways to run a die and stock, which many groups share.
	kept map[string]ways
}

// ways are the set-ups that can run something, or why there are none.
type ways struct {
	options []option
	why     string
}

// option is one die on one press.
type option struct {
	die   jobs.Die
	press jobs.Press
}

func newPooler(shop *jobs.Shop, into *Pooling) *pooler {
	return &pooler{shop: shop, into: into, kept: map[string]ways{}}
}

// pool makes gangs of parts with one key, which are sorted by due date.
func (p *pooler) pool(parts []part) {
	first := parts[0].lines[0]
	w := p.ways(first)
	if w.why != "" {
		p.into.out(w.why, parts...)
		return
	}
	var must, later []part
	for _, one := range parts {
		switch why := p.fault(one, w.options[0]); {
		case why != "":
			p.into.out(why, one)
		case p.into.due(one):
			must = append(must, one)
		default:
			later = append(later, one)
		}
	}
	if len(must) == 0 {
		for _, one := range later {
			p.into.out(fmt.Sprintf("due %s, after the gang window (until %s), and nothing due within it could share its set-up",
				one.due.Format(time.DateOnly), p.into.Until.Format(time.DateOnly)), one)
		}
		return
	}
	for _, same := range p.byRewinder(must, later) {
		p.gangs(same.must, same.later, w.options)
	}
}

// gangs fills gangs up to the most versions that the shop allows. An order is
// never cut: one with more versions than that has a gang of its own.
func (p *pooler) gangs(must, later []part, options []option) {
	most := p.shop.Pooling.MostVersions
	var gang []part
	size := 0
	room := func(one part) bool { return most == 0 || size == 0 || size+len(one.lines) <= most }
	take := func(one part) {
		gang = append(gang, one)
		size += len(one.lines)
	}
	for _, one := range must {
		if !room(one) {
			p.gang(gang, options)
			gang, size = nil, 0
		}
		take(one)
	}
	for _, one := range later {
		if room(one) {
			take(one)
			continue
		}
		p.into.out(fmt.Sprintf("due %s, after the gang window, and its gang is full at %d versions, the most that the shop file allows",
			one.due.Format(time.DateOnly), most), one)
	}
	p.gang(gang, options)
}

// gang sets one gang down, on the die and press that make it cheapest by
// estimate.
func (p *pooler) gang(parts []part, options []option) {
	g := p.best(parts, options)
	if faults := g.Check(); len(faults) > 0 {
		// Each order is sound alone, so what is wrong is their sum.
		p.into.out(faults[0].Message, parts...)
		return
	}
	p.into.Gangs = append(p.into.Gangs, g)
}

// best is the gang on the die and press that make it cheapest by estimate; of
// equal ones the first in the shop file.
func (p *pooler) best(parts []part, options []option) Gang {
	var best Gang
	for i, o := range options {
		g := p.build(parts, o, options)
		if i == 0 || g.Estimate.LessThan(best.Estimate) {
			best = g
		}
	}
	return best
}

// build makes the gang of some parts on one die and press.
func (p *pooler) build(parts []part, on option, options []option) Gang {
	shop, first := p.shop, parts[0].lines[0]
	press := p.today(on.press)
	g := Gang{parts: parts, options: options, ownBusy: press.Busy}
	g.Gang = jobs.Gang{
		Currency: shop.Currency, Die: on.die, Press: press, Policy: shop.Policy,
		Chart: shop.Chart, Papers: shop.Papers, Rates: shop.Rates, Pricing: shop.Pricing,
		Rewinder: p.rewinder(parts),
	}
	g.Stock, _ = shop.Stock(first.Stock)
	for _, id := range first.Finishes {
		finish, _ := shop.Finish(id)
		g.Finishes = append(g.Finishes, finish)
	}
	names := versionIDs(parts)
	for i, one := range parts {
		order := jobs.Order{ID: one.order, Customer: one.customer, Due: one.due, Rush: one.rush, Flags: slices.Clone(one.lines[0].Flags)}
		order.Filler = !p.into.due(one)
		for j, line := range one.lines {
			order.Versions = append(order.Versions, versionOf(line, names[i][j]))
		}
		g.Orders = append(g.Orders, order)
	}
	p.elsewhere(&g)
	g.Estimate, g.Minutes = estimate(g.Gang)
	g.after(decimal.Zero, p.into.Date)
	return g
}

// today is the press as it starts on the planning date, where the shop file's
// start has passed.
func (p *pooler) today(press jobs.Press) jobs.Press {
	if start := press.Start; !start.IsZero() && day(start).Before(p.into.Date) {
		press.Start, press.Busy = p.into.Date.Add(start.Sub(day(start))), decimal.Zero
	}
	return press
}

func versionOf(line jobs.OrderLine, id string) jobs.Version {
	v := jobs.Version{
		ID: id, Name: line.Name, Artwork: line.Artwork, Quantity: line.Quantity,
		Unders: line.Unders, Overs: line.Overs, AllOvers: line.AllOvers,
		UnitPrice: line.UnitPrice, Coverage: line.Coverage,
		LabelsPerRoll: line.LabelsPerRoll, MaxDiameter: line.MaxDiameter, Core: line.Core,
		MostSplices: line.MostSplices, Wind: line.Wind, LeaveOvers: line.LeaveOvers,
	}
	if line.BillOvers != nil {
		v.BillOvers, v.FreeOvers = *line.BillOvers, !*line.BillOvers
	}
	return v
}

// versionIDs gives every version of a gang an id of its own: its name in the
// order book, with the order before it where two orders use the same name.
func versionIDs(parts []part) [][]string {
	uses := map[string]int{}
	for _, one := range parts {
		for _, line := range one.lines {
			uses[line.Version]++
		}
	}
	taken := map[string]bool{}
	all := make([][]string, len(parts))
	for i, one := range parts {
		for _, line := range one.lines {
			id := line.Version
			if uses[id] > 1 {
				id = line.Order + "/" + line.Version
			}
			// A version may itself be named like that.
			for taken[id] || id != line.Version && uses[id] > 0 {
				id += "'"
			}
			taken[id] = true
			all[i] = append(all[i], id)
		}
	}
	return all
}

// elsewhere states what fillers cost on another day: the least that it can be,
// their web and press time in a full web and their share of one changeover,
// with the set-up paid by others. So a filler runs today only where it costs
// less than in a good gang of another day. Every version costs something.
func (p *pooler) elsewhere(g *Gang) {
	if !slices.ContainsFunc(g.Orders, func(o jobs.Order) bool { return o.Filler }) {
		return
	}
	var row, changeover decimal.Decimal // for one lane, the cheapest of the options
	for i, o := range g.options {
		on := g.Gang
		on.Die, on.Press = o.die, o.press
		costs, lanes := on.UnitCosts(), decimal.NewFromInt(int64(len(o.die.OpenLanes())))
		r, c := costs.Row.DivRound(lanes, 12), costs.Changeover.DivRound(lanes, 12)
		if i == 0 || r.LessThan(row) {
			row, changeover = r, c
		}
	}
	least := decimal.New(1, -6)
	for i := range g.Orders {
		for j := range g.Orders[i].Versions {
			if v := &g.Orders[i].Versions[j]; g.Orders[i].Filler {
				ink, _ := g.Rates.LabelInk(*v) // an unknown class is found by Check
				quantity := decimal.NewFromInt(int64(v.Quantity))
				v.ElsewhereCost = decimal.Max(least, quantity.Mul(row.Add(ink)).Add(changeover).Round(6))
			}
		}
	}
}

// ways finds every die of the shape on every press that can run it with the
// stock, in the order of the shop file.
func (p *pooler) ways(line jobs.OrderLine) ways {
	k := line.Die + "\x00" + line.Stock
	if w, known := p.kept[k]; known {
		return w
	}
	w := p.findWays(line)
	p.kept[k] = w
	return w
}

func (p *pooler) findWays(line jobs.OrderLine) ways {
	if _, known := p.shop.Die(line.Die); !known {
		return ways{why: fmt.Sprintf("no die %s in the shop file", line.Die)}
	}
	stock, known := p.shop.Stock(line.Stock)
	if !known {
		return ways{why: fmt.Sprintf("no stock %s in the shop file", line.Stock)}
	}
	var w ways
	var reasons []string
	for _, die := range p.shop.AlikeDies(line.Die) {
		for _, press := range p.shop.Presses {
			if why := unfit(die, press, stock); why != "" {
				reasons = append(reasons, fmt.Sprintf("die %s on press %s: %s", die.ID, press.ID, why))
			} else {
				w.options = append(w.options, option{die, press})
			}
		}
	}
	if len(w.options) == 0 {
		const most = 3
		if more := len(reasons) - most; more > 0 {
			reasons = append(reasons[:most], fmt.Sprintf("and %d more", more))
		}
		w.why = "no press can run it: " + strings.Join(reasons, "; ")
	}
	return w
}

// unfit is why a press cannot run a die with a stock; empty where it can.
func unfit(die jobs.Die, press jobs.Press, stock jobs.Stock) string {
	g := jobs.Gang{Die: die, Press: press, Stock: stock, Orders: []jobs.Order{{Versions: []jobs.Version{{ID: "any", Quantity: 1}}}}}
	if faults := g.Check(); len(faults) > 0 {
		return faults[0].Message
	}
	return ""
}

// fault is what is wrong with one order whatever it runs with.
func (p *pooler) fault(one part, on option) string {
	for _, id := range one.lines[0].Finishes {
		if _, known := p.shop.Finish(id); !known {
			return fmt.Sprintf("no finish %s in the shop file", id)
		}
	}
	if len(p.rewinders(one)) == 0 && len(p.shop.Rewinders) > 0 {
		return fmt.Sprintf("no rewinder takes its cores: %s", coresOf(one))
	}
	g := p.build([]part{one}, on, []option{on})
	if faults := g.Check(); len(faults) > 0 {
		return faults[0].Message
	}
	return ""
}

// name gives gangs their ids, by what they have in common, and sorts them.
func (p *Pooling) name() {
	slices.SortStableFunc(p.Gangs, func(a, b Gang) int {
		return cmp.Or(cmp.Compare(stem(a), stem(b)), a.parts[0].due.Compare(b.parts[0].due), cmp.Compare(a.parts[0].order, b.parts[0].order))
	})
	// To many file systems A and a are one folder.
	taken, last := map[string]bool{}, map[string]int{}
	for i := range p.Gangs {
		base := stem(p.Gangs[i])
		id, small := base, strings.ToLower(base)
		for taken[strings.ToLower(id)] {
			last[small] = max(last[small], 1) + 1
			id = fmt.Sprintf("%s-%d", base, last[small])
		}
		taken[strings.ToLower(id)] = true
		p.Gangs[i].ID = id
	}
	slices.SortFunc(p.Gangs, func(a, b Gang) int { return cmp.Compare(a.ID, b.ID) })
}

// stem joins what a gang has in common, in signs that suit the name of a
// folder: ink sets are whatever an order book says.
func stem(g Gang) string {
	// Of dies that stand in for each other the first that can run, so that the
	// choice of one does not change the id.
	words := []string{g.options[0].die.ID, g.Stock.ID}
	for _, f := range g.Finishes {
		words = append(words, f.ID)
	}
	words = append(words, g.parts[0].inkSet, g.parts[0].flags)
	if g.parts[0].axis == sideways {
		words = append(words, "sideways")
	}
	words = slices.DeleteFunc(words, func(w string) bool { return w == "" })
	const most = 100
	id := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '.' || r == '_' {
			return r
		}
		return '-'
	}, strings.Join(words, "-"))
	return strings.TrimLeft(id[:min(most, len(id))], "-.")
}
