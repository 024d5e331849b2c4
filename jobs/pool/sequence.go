package pool

import (
	"cmp"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
)

// sequence gives every gang its turn on its press: by the earliest date of
// the orders in it that must run, which keeps the largest lateness smallest
// (J. R. Jackson 1955, from memory), rush before others of the same day. Each
// gang waits for those before it, by their estimates.
func (p *Pooling) sequence() {
	byPress := map[string][]*Gang{}
	for i := range p.Gangs {
		g := &p.Gangs[i]
		byPress[g.Press.ID] = append(byPress[g.Press.ID], g)
	}
	for _, gangs := range byPress {
		slices.SortStableFunc(gangs, func(a, b *Gang) int {
			return cmp.Or(a.first(*p).Compare(b.first(*p)), cmp.Compare(b.rushing(), a.rushing()), cmp.Compare(a.ID, b.ID))
		})
		var busy decimal.Decimal
		for i, g := range gangs {
			g.Turn = i + 1
			g.after(busy, p.Date)
			busy = busy.Add(g.Minutes)
		}
	}
}

// first date that binds a gang; the end of the window where none does.
func (g *Gang) first(p Pooling) time.Time {
	first := p.Until
	for _, one := range g.parts {
		if p.due(one) && !one.due.IsZero() && one.due.Before(first) {
			first = one.due
		}
	}
	return first
}

func (g *Gang) rushing() int {
	if slices.ContainsFunc(g.parts, func(one part) bool { return one.rush }) {
		return 1
	}
	return 0
}

// after lets a gang wait until others have taken so many working minutes of
// its press, and finds out which of its orders cannot be in time then,
// whatever the plan: those are late. They run in the first sections, and
// their dates bind the plan no more. Fillers keep their dates: they may stay
// out.
func (g *Gang) after(busy decimal.Decimal, date time.Time) {
	g.Press.Busy = g.ownBusy.Add(busy).Round(6)
	g.Orders, g.Late = slices.Clone(g.Orders), nil
	var needs leastTime
	for i, one := range g.parts {
		o := &g.Orders[i]
		o.Due, o.Rush = one.due, one.rush
		if o.Filler {
			continue
		}
		needs.add(g.Gang, *o)
		if one.due.IsZero() {
			continue
		}
		past := one.due.Before(date)
		if past || !g.Press.Start.IsZero() && g.MinutesUntil(one.due).LessThan(needs.minutes(g.Gang)) {
			g.Late = append(g.Late, Late{Order: one.order, Due: one.due, Rush: one.rush})
			o.Due, o.Rush = time.Time{}, true
		}
	}
}

// leastTime is the least that some versions take on a press, by their fewest
// labels in full rows.
type leastTime struct{ versions, labels int }

func (t *leastTime) add(g jobs.Gang, o jobs.Order) {
	for _, v := range o.Versions {
		if fewest := g.Tolerance(v).Fewest(v.Quantity); fewest > 0 {
			t.versions++
			t.labels += fewest
		}
	}
}

func (t *leastTime) minutes(g jobs.Gang) decimal.Decimal {
	lanes := len(g.Die.OpenLanes())
	return pressMinutes(g, (t.labels+lanes-1)/lanes, max(1, (t.versions+lanes-1)/lanes))
}

// pressMinutes of so many rows in so many sections, set-up included.
func pressMinutes(g jobs.Gang, rows, sections int) decimal.Decimal {
	return g.Press.SetupMinutes.Add(g.Press.RunMinutes(jobs.Length(rows) * g.Die.Pitch())).
		Add(g.Press.ChangeoverMin.Mul(decimal.NewFromInt(int64(sections - 1))))
}

// WithoutDates is the gang with no date that binds its plan: the orders that
// are due first are rush instead. false where none binds it.
func (g Gang) WithoutDates() (Gang, bool) {
	g.Orders = slices.Clone(g.Orders)
	var first time.Time
	for _, o := range g.Orders {
		if !o.Filler && !o.Due.IsZero() && (first.IsZero() || o.Due.Before(first)) {
			first = o.Due
		}
	}
	for i := range g.Orders {
		o := &g.Orders[i]
		o.Rush = o.Rush || !first.IsZero() && o.Due.Equal(first)
		o.Due = time.Time{}
	}
	return g, !first.IsZero() && !g.Press.Start.IsZero()
}
