// Package game splits a cost that several players share. A game says what
// every coalition of players would pay on its own; a rule turns that into one
// share a player. The package knows nothing of labels, orders or currencies,
// and decides nothing about where the costs come from.
//
//	g := game.Table(2, []float64{0, 11, 7, 15}) // nobody, town A, town B, both
//	s, err := game.Share(ctx, g, game.EqualSavings, game.Options{})
//	// s.Shares == [9.5 5.5]
//
// Costs are floats in any one unit of money; ToMinor rounds shares so that
// they add up exactly.
package game

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/bits"
)

// Coalition is a set of players: bit i stands for player i.
type Coalition uint64

// MostPlayers of any game: a coalition has to fit its bits.
const MostPlayers = 63

// Has tells whether player i is in the coalition.
func (c Coalition) Has(i int) bool { return c>>uint(i)&1 == 1 }

// With adds player i.
func (c Coalition) With(i int) Coalition { return c | 1<<uint(i) }

// Without removes player i.
func (c Coalition) Without(i int) Coalition { return c &^ (1 << uint(i)) }

// Size is the number of players.
func (c Coalition) Size() int { return bits.OnesCount64(uint64(c)) }

// Players lists the players in order.
func (c Coalition) Players() []int {
	list := make([]int, 0, c.Size())
	for rest := c; rest != 0; rest &= rest - 1 {
		list = append(list, bits.TrailingZeros64(uint64(rest)))
	}
	return list
}

// Everyone is the coalition of the first n players.
func Everyone(n int) Coalition { return Coalition(1)<<uint(n) - 1 }

// Game is a cost game. Costs answers for many coalitions at once, so that an
// expensive one can work in parallel; it is never asked about the empty
// coalition, which costs nothing, and must give the same answer each time.
type Game struct {
	Players int
	Costs   func(ctx context.Context, ask []Coalition) ([]float64, error)
}

// Table is a game whose costs are all known: costs[c] is the cost of
// coalition c, so there are 2^players of them and costs[0] is 0.
func Table(players int, costs []float64) Game {
	return Game{Players: players, Costs: func(_ context.Context, ask []Coalition) ([]float64, error) {
		if len(costs) != 1<<uint(players) {
			return nil, fmt.Errorf("game: %d costs for %d players, want %d", len(costs), players, 1<<uint(players))
		}
		answer := make([]float64, len(ask))
		for i, c := range ask {
			answer[i] = costs[c]
		}
		return answer, nil
	}}
}

// ErrTooManyPlayers is returned by rules that need every coalition's cost
// when there are more players than they can list.
var ErrTooManyPlayers = errors.New("too many players for this rule")

// all returns the cost of every coalition, indexed by coalition.
func (g Game) all(ctx context.Context, most int) ([]float64, error) {
	if g.Players > most {
		return nil, fmt.Errorf("game: %d players, at most %d: %w", g.Players, most, ErrTooManyPlayers)
	}
	ask := make([]Coalition, 0, 1<<uint(g.Players)-1)
	for c := Coalition(1); c <= Everyone(g.Players); c++ {
		ask = append(ask, c)
	}
	costs, err := g.ask(ctx, ask)
	if err != nil {
		return nil, err
	}
	return append([]float64{0}, costs...), nil
}

// ask calls Costs and checks what comes back.
func (g Game) ask(ctx context.Context, ask []Coalition) ([]float64, error) {
	if g.Players < 1 || g.Players > MostPlayers {
		return nil, fmt.Errorf("game: %d players, want 1 to %d", g.Players, MostPlayers)
	}
	costs, err := g.Costs(ctx, ask)
	if err != nil {
		return nil, err
	}
	if len(costs) != len(ask) {
		return nil, fmt.Errorf("game: %d costs for %d coalitions", len(costs), len(ask))
	}
	for i, cost := range costs {
		if math.IsNaN(cost) || math.IsInf(cost, 0) {
			return nil, fmt.Errorf("game: the cost of coalition %v is %v", ask[i].Players(), cost)
		}
	}
	return costs, nil
}

// Limits of a player's share that everybody can check.
type Limits struct {
	Total float64   // cost of all players together
	Alone []float64 // c(i): what each would pay alone
	Added []float64 // c(N) − c(N without i): what each adds to the others
}

// LimitsOf asks for the 2n+1 costs that Limits needs.
func LimitsOf(ctx context.Context, g Game) (Limits, error) {
	everyone := Everyone(g.Players)
	ask := []Coalition{everyone}
	for i := range g.Players {
		ask = append(ask, Coalition(0).With(i))
	}
	if g.Players > 1 {
		for i := range g.Players {
			ask = append(ask, everyone.Without(i))
		}
	}
	costs, err := g.ask(ctx, ask)
	if err != nil {
		return Limits{}, err
	}
	l := Limits{Total: costs[0], Alone: costs[1 : 1+g.Players], Added: make([]float64, g.Players)}
	for i := range l.Added {
		l.Added[i] = l.Total
		if g.Players > 1 {
			l.Added[i] -= costs[1+g.Players+i]
		}
	}
	return l, nil
}

// Fit tells whether any split keeps every player between Added and Alone.
func (l Limits) Fit() bool {
	tolerance := tolerance(l.Total)
	var least, most float64
	for i := range l.Alone {
		if l.Added[i] > l.Alone[i]+tolerance {
			return false
		}
		least += l.Added[i]
		most += l.Alone[i]
	}
	return least <= l.Total+tolerance && l.Total <= most+tolerance
}

// Breach is a player whose share passes one of the limits.
type Breach struct {
	Player int
	Above  bool    // more than alone; otherwise less than what it adds
	By     float64 // money
}

// Breaches lists the players that a split charges more than alone or less
// than they add, by more than slack.
func (l Limits) Breaches(shares []float64, slack float64) []Breach {
	var list []Breach
	for i, share := range shares {
		if by := share - l.Alone[i]; by > slack {
			list = append(list, Breach{Player: i, Above: true, By: by})
		}
		if by := l.Added[i] - share; by > slack {
			list = append(list, Breach{Player: i, By: by})
		}
	}
	return list
}

// tolerance for comparing sums of money of about this size.
func tolerance(size float64) float64 { return 1e-9 * math.Max(1, math.Abs(size)) }
