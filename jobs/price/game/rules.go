package game

import (
	"context"
	"fmt"
	"strings"

	"laneplan/solver"
)

// Rule names a way to split a cost.
type Rule string

// The rules. Every one of them shares out exactly the cost of all players.
const (
	// Fair is the default: no player pays more than alone and none less than
	// it adds, wherever such a split exists. It is the nucleolus within those
	// limits, and SCRB where there are too many players to list every
	// coalition.
	Fair Rule = "fair"
	// Proportional to the cost alone.
	Proportional Rule = "proportional"
	// EqualSavings takes the same sum off every player's cost alone.
	EqualSavings Rule = "equal-savings"
	// Separable charges what each player adds and splits the rest in
	// proportion to the benefits that remain (SCRB).
	Separable Rule = "separable"
	// Shapley charges what each player adds, averaged over every order in
	// which the players may come.
	Shapley Rule = "shapley"
	// Nucleolus makes the largest complaint of any coalition as small as
	// can be, then the next largest, and so on.
	Nucleolus Rule = "nucleolus"
)

// Rules lists every rule, the default first.
func Rules() []Rule {
	return []Rule{Fair, Proportional, EqualSavings, Separable, Shapley, Nucleolus}
}

// ParseRule reads a rule's name; the empty name is Fair.
func ParseRule(name string) (Rule, error) {
	if name == "" {
		return Fair, nil
	}
	names := make([]string, 0, len(Rules()))
	for _, rule := range Rules() {
		if string(rule) == name {
			return rule, nil
		}
		names = append(names, string(rule))
	}
	return "", fmt.Errorf("unknown rule %q, want one of %s", name, strings.Join(names, ", "))
}

// Options steer Share. The zero value has no engine, so Fair and Nucleolus
// are refused, and samples nothing.
type Options struct {
	// Engine solves the nucleolus' linear programmes.
	Engine solver.Solver
	// ExactPlayers is the largest number of players for which every
	// coalition is asked for; 0 is DefaultExactPlayers.
	ExactPlayers int
	// Samples is the number of random orders of the players that Shapley
	// draws beyond ExactPlayers; 0 is DefaultSamples.
	Samples int
	// Seed of the random orders.
	Seed int64
}

// Defaults of Options.
const (
	DefaultExactPlayers = 12
	DefaultSamples      = 400
)

func (o Options) withDefaults() Options {
	if o.ExactPlayers == 0 {
		o.ExactPlayers = DefaultExactPlayers
	}
	if o.Samples == 0 {
		o.Samples = DefaultSamples
	}
	return o
}

// Split is one way to share a game's cost.
type Split struct {
	Rule   Rule
	Shares []float64 // a player; they add up to the cost of all
	// Core is what is known about the core; nil where it was not looked at
	// (only Fair and Nucleolus with every coalition listed do).
	Core *Core
	// Fallback says in words what was used where Rule itself does not apply;
	// empty where it does.
	Fallback string
	// Samples is the number of random orders behind sampled shares and
	// StdErr each share's standard error; 0 and nil where shares are exact.
	Samples int
	StdErr  []float64
}

// Share splits the game's cost by a rule. ErrTooManyPlayers is wrapped by
// the error of Nucleolus beyond ExactPlayers.
func Share(ctx context.Context, g Game, rule Rule, o Options) (Split, error) {
	o = o.withDefaults()
	switch rule {
	case Fair:
		return fair(ctx, g, o)
	case Shapley:
		return shapley(ctx, g, o)
	case Nucleolus:
		return nucleolusRule(ctx, g, o)
	case Proportional, EqualSavings, Separable:
		l, err := LimitsOf(ctx, g)
		if err != nil {
			return Split{}, err
		}
		return Split{Rule: rule, Shares: simple(rule, l)}, nil
	}
	_, err := ParseRule(string(rule))
	return Split{}, fmt.Errorf("game: %w", err)
}

// simple computes the rules that need no more than the limits.
func simple(rule Rule, l Limits) []float64 {
	switch rule {
	case Proportional:
		return proportion(l.Total, make([]float64, len(l.Alone)), l.Alone)
	case EqualSavings:
		saving := -l.Total
		for _, alone := range l.Alone {
			saving += alone
		}
		shares := make([]float64, len(l.Alone))
		for i, alone := range l.Alone {
			shares[i] = alone - saving/float64(len(shares))
		}
		return shares
	}
	benefit := make([]float64, len(l.Alone))
	for i := range benefit {
		benefit[i] = l.Alone[i] - l.Added[i]
	}
	return proportion(l.Total, l.Added, benefit)
}

// proportion gives everyone a base and splits what is left of total by
// weight; evenly where the weights add up to nothing.
func proportion(total float64, base, weight []float64) []float64 {
	left, sum := total, 0.0
	for i := range base {
		left -= base[i]
		sum += weight[i]
	}
	shares := make([]float64, len(base))
	for i := range shares {
		part := left / float64(len(shares))
		if sum > tolerance(total) {
			part = left * weight[i] / sum
		}
		shares[i] = base[i] + part
	}
	return shares
}
