package price

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"strings"
	"sync/atomic"

	"laneplan/jobs"
	"laneplan/jobs/price/game"
	"laneplan/nest"
	"laneplan/solver"
)

// Options steer how gangs are planned for comparison and how shares are
// found. Only Engine has to be set.
type Options struct {
	// Engine of the nucleolus' linear programmes.
	Engine solver.Solver
	// Work limit of a sub-gang's plan, in nest's units for each of its
	// versions; 0 is DefaultWork. Single orders and all orders but one get
	// ten times that, since most rules rest on them. There is no time
	// limit, so the same input gives the same shares.
	Work float64
	// Seed of the planner and of sampled rules.
	Seed int64
	// Workers plan at a time; 0 is the number of cores.
	Workers int
	// ExactOrders is the largest number of orders for which every sub-gang
	// is planned; 0 is game.DefaultExactPlayers.
	ExactOrders int
	// Samples as in game.Options.
	Samples int
	// Apart holds, by order id, the gang that an order would be by itself on
	// another die or press where that may cost less; nil is none.
	Apart map[string]jobs.Gang
	// GangWork limits the plan of a whole gang (one order more, another
	// quantity, another rate), in nest's units; 0 is DefaultGangWork.
	GangWork float64
	// Progress, if not nil, is called after every sub-gang, from several
	// goroutines, with how many of this batch are planned.
	Progress func(done, all int)
}

// DefaultWork of a sub-gang's plan for each of its versions: about 1 ms of
// one core, so that twelve orders of two versions take well under a minute.
const DefaultWork = 0.0025

// DefaultGangWork of a whole gang's plan.
const DefaultGangWork = 5

// closely is how many times DefaultWork the sub-gangs get on which most rules
// rest.
const closely = 10

func (o Options) withDefaults() Options {
	if o.Work == 0 {
		o.Work = DefaultWork
	}
	if o.GangWork == 0 {
		o.GangWork = DefaultGangWork
	}
	if o.Workers == 0 {
		o.Workers = runtime.NumCPU()
	}
	if o.ExactOrders == 0 {
		o.ExactOrders = game.DefaultExactPlayers
	}
	return o
}

// Coalitions is the cost game of a gang's orders: the players are the orders
// that the gang's plan prints, and a coalition costs what the cheapest plan
// of its orders costs, on the same cost sheet as the gang. Plans are kept, so
// several rules can share one Coalitions. It may be used from one goroutine
// at a time.
//
// The planner is not always at its optimum, so costs are mended by what must
// hold: a coalition costs no more than what is left of the gang's plan without
// the others' lanes, and no more than its orders apart, each alone. Where
// every sub-gang is planned, it also costs no more than any larger coalition
// and no more than any of its divisions into several set-ups. All orders
// together always cost what the gang's plan costs.
type Coalitions struct {
	gang    jobs.Gang
	orders  []jobs.Order
	whole   Sheet
	plan    nest.Plan // of the whole gang
	leftOut []string
	o       Options

	raw   map[game.Coalition]planned
	table []float64 // mended costs of every coalition, once computed
	apart float64   // cheapest division of all orders, once table is
}

// planned is one sub-gang as the planner left it.
type planned struct {
	cost   float64 // +Inf where no plan meets the demands
	gap    float64
	proven bool
	noPlan bool
}

// NewCoalitions prepares the game of a gang whose plan is given. It plans
// nothing yet.
func NewCoalitions(g jobs.Gang, plan nest.Plan, o Options) (*Coalitions, error) {
	sheet, err := NewSheet(g, plan)
	if err != nil {
		return nil, err
	}
	printed, leftOut, err := ordersOf(g, plan)
	if err != nil {
		return nil, err
	}
	if len(printed) == 0 {
		return nil, errors.New("the plan prints no order, so there is nothing to share")
	}
	if len(printed) > game.MostPlayers {
		return nil, fmt.Errorf("%d orders in one gang, shares can be told for at most %d", len(printed), game.MostPlayers)
	}
	return &Coalitions{gang: g, orders: printed, leftOut: leftOut, whole: sheet, plan: plan, o: o.withDefaults(), raw: map[game.Coalition]planned{}}, nil
}

// ordersOf divides a gang's orders into those that the plan prints, without
// versions that it leaves out, and the ids of those that it leaves out
// entirely.
func ordersOf(g jobs.Gang, plan nest.Plan) (printed []jobs.Order, leftOut []string, err error) {
	problem, err := g.Problem()
	if err != nil {
		return nil, nil, err
	}
	out := map[string]bool{}
	for _, n := range nest.Recount(problem, plan).Versions {
		out[n.ID] = n.LeftOut
	}
	for _, order := range g.Orders {
		kept := order
		kept.Filler, kept.Versions = false, nil
		for _, version := range order.Versions {
			if !out[version.ID] {
				kept.Versions = append(kept.Versions, version)
			}
		}
		if len(kept.Versions) == 0 {
			leftOut = append(leftOut, order.ID)
			continue
		}
		if kept.ID != "" {
			printed = append(printed, kept)
			continue
		}
		// Versions of a bare problem stand in no order: each is one.
		for _, version := range kept.Versions {
			one := kept
			one.ID, one.Versions = version.ID, []jobs.Version{version}
			printed = append(printed, one)
		}
	}
	return printed, leftOut, nil
}

// Game is the cost game over the printed orders, in the gang's order. full
// says that every sub-gang is planned and mended as a whole; otherwise only
// what is asked for.
func (c *Coalitions) Game(full bool) game.Game {
	return game.Game{Players: len(c.orders), Costs: func(ctx context.Context, ask []game.Coalition) ([]float64, error) {
		if full {
			return c.fromTable(ctx, ask)
		}
		return c.asAsked(ctx, ask)
	}}
}

// fromTable plans every sub-gang once and mends the costs.
func (c *Coalitions) fromTable(ctx context.Context, ask []game.Coalition) ([]float64, error) {
	if c.table == nil {
		n := len(c.orders)
		var all []game.Coalition
		for s := game.Coalition(1); s < game.Everyone(n); s++ {
			all = append(all, s)
		}
		if err := c.planAll(ctx, all); err != nil {
			return nil, err
		}
		table := make([]float64, len(all)+2)
		for _, s := range all {
			table[s] = c.raw[s].cost
		}
		table[game.Everyone(n)] = c.whole.Total.InexactFloat64()
		c.apart = mend(table, n)
		c.table = table
	}
	answer := make([]float64, len(ask))
	for i, s := range ask {
		answer[i] = c.table[s]
	}
	return answer, nil
}

// mend lowers costs to what a larger coalition costs (its plan prints more
// than is needed) and then to what the parts cost in several set-ups. The
// cost of everyone stays; its cheapest division is returned.
func mend(table []float64, players int) float64 {
	everyone := game.Everyone(players)
	for s := everyone - 1; s > 0; s-- {
		for i := range players {
			if !s.Has(i) {
				table[s] = math.Min(table[s], table[s.With(i)])
			}
		}
	}
	apart := math.Inf(1)
	for s := game.Coalition(1); s <= everyone; s++ {
		least := table[s]
		if s == everyone {
			least = math.Inf(1)
		}
		// Each division once: the part that holds the first player.
		first := s & -s
		rest := s &^ first
		for part := rest; ; {
			part = (part - 1) & rest
			if part == rest {
				break
			}
			least = math.Min(least, table[first|part]+table[rest&^part])
			if part == 0 {
				break
			}
		}
		if s == everyone {
			apart = least
			break
		}
		table[s] = least
	}
	return apart
}

// asAsked plans what is asked for and mends it by the costs alone.
func (c *Coalitions) asAsked(ctx context.Context, ask []game.Coalition) ([]float64, error) {
	n := len(c.orders)
	plan := make([]game.Coalition, 0, len(ask)+n)
	for i := range n {
		plan = append(plan, game.Coalition(0).With(i))
	}
	plan = append(plan, ask...)
	if err := c.planAll(ctx, plan); err != nil {
		return nil, err
	}
	whole := c.whole.Total.InexactFloat64()
	answer := make([]float64, len(ask))
	for k, s := range ask {
		if s == game.Everyone(n) {
			answer[k] = whole
			continue
		}
		apart := 0.0
		for _, i := range s.Players() {
			apart += math.Min(whole, c.raw[game.Coalition(0).With(i)].cost)
		}
		answer[k] = math.Min(whole, math.Min(apart, c.raw[s].cost))
	}
	return answer, nil
}

// planAll plans the sub-gangs that are not known yet, several at a time. Every
// plan has its own seed and work limit, so the number of workers changes
// nothing.
func (c *Coalitions) planAll(ctx context.Context, list []game.Coalition) error {
	var todo []game.Coalition
	seen := map[game.Coalition]bool{game.Everyone(len(c.orders)): true}
	for _, s := range list {
		if _, known := c.raw[s]; !known && !seen[s] {
			seen[s] = true
			todo = append(todo, s)
		}
	}
	results := make([]planned, len(todo))
	var done atomic.Int64
	err := inParallel(ctx, c.o.Workers, len(todo), func(k int) error {
		var err error
		if results[k], err = c.one(ctx, todo[k]); err != nil {
			return fmt.Errorf("planning orders %s: %w", strings.Join(c.names(todo[k]), ", "), err)
		}
		if c.o.Progress != nil {
			c.o.Progress(int(done.Add(1)), len(todo))
		}
		return nil
	})
	if err != nil {
		return err
	}
	for k, s := range todo {
		c.raw[s] = results[k]
	}
	return nil
}

func (c *Coalitions) names(s game.Coalition) []string {
	var list []string
	for _, i := range s.Players() {
		list = append(list, c.orders[i].ID)
	}
	return list
}

// one plans one sub-gang.
func (c *Coalitions) one(ctx context.Context, s game.Coalition) (planned, error) {
	var keep []jobs.Order
	for _, i := range s.Players() {
		keep = append(keep, c.orders[i])
	}
	sub := withOrders(c.gang, keep)
	work := c.o.Work * float64(len(sub.Entries()))
	if n := s.Size(); n == 1 || n == len(c.orders)-1 {
		work *= closely
	}
	sheet, result, err := planGang(ctx, sub, nest.Options{Work: work, Seed: c.o.Seed, Workers: 1})
	p := planned{cost: sheet.Total.InexactFloat64(), gap: result.Gap, proven: result.Proven}
	var infeasible *nest.Infeasible
	var none *nest.NoPlan
	switch {
	case errors.As(err, &infeasible), errors.As(err, &none) && ctx.Err() == nil:
		p = planned{cost: math.Inf(1), noPlan: true}
	case err != nil:
		return planned{}, err
	}
	if own, has := c.o.Apart[keep[0].ID]; has && len(keep) == 1 {
		other, _, err := planGang(ctx, own, nest.Options{Work: work, Seed: c.o.Seed, Workers: 1})
		if err == nil {
			p.cost = math.Min(p.cost, other.Total.InexactFloat64())
		} else if !errors.As(err, &infeasible) && !errors.As(err, &none) {
			return planned{}, err
		}
	}
	if _, left, ok := restricted(c.gang, c.plan, sub); ok {
		p.cost = math.Min(p.cost, left.Total.InexactFloat64())
	}
	return p, nil
}

// Effort says how well the sub-gangs were planned so far.
type Effort struct {
	Planned  int     // sub-gangs
	Proven   int     // of them, at a proven optimum
	NoBound  int     // for which the work did not reach any bound
	WorstGap float64 // of the others, a fraction
	Work     float64 // limit of each
	NoPlan   int     // for which no plan was found on their own
}

// Effort so far.
func (c *Coalitions) Effort() Effort {
	e := Effort{Planned: len(c.raw), Work: c.o.Work}
	for _, p := range c.raw {
		switch {
		case p.noPlan:
			e.NoPlan++
		case p.proven:
			e.Proven++
		case p.gap >= 1:
			e.NoBound++
		default:
			e.WorstGap = math.Max(e.WorstGap, p.gap)
		}
	}
	return e
}
