package game

import (
	"context"
	"math"
	"math/rand"
)

// mostTable is the largest number of players whose coalitions fit a table.
const mostTable = 20

// shapley is exact where every coalition may be asked for, sampled beyond.
func shapley(ctx context.Context, g Game, o Options) (Split, error) {
	if g.Players > min(o.ExactPlayers, mostTable) {
		return sampledShapley(ctx, g, o)
	}
	costs, err := g.all(ctx, mostTable)
	if err != nil {
		return Split{}, err
	}
	return Split{Rule: Shapley, Shares: exactShapley(g.Players, costs)}, nil
}

// exactShapley sums over every coalition S and player i outside it
// |S|! (n−|S|−1)! / n! · (c(S with i) − c(S)), the formula of L. S. Shapley,
// 'A value for n-person games', 1953 (from memory).
func exactShapley(players int, costs []float64) []float64 {
	weight := make([]float64, players)
	weight[0] = 1 / float64(players)
	for size := 1; size < players; size++ {
		weight[size] = weight[size-1] * float64(size) / float64(players-size)
	}
	shares := make([]float64, players)
	for c := Coalition(0); c < Everyone(players); c++ {
		for i := range players {
			if !c.Has(i) {
				shares[i] += weight[c.Size()] * (costs[c.With(i)] - costs[c])
			}
		}
	}
	return shares
}

// sampledShapley averages what each player adds over random orders. Every
// order shares out the whole cost, so the mean does too.
func sampledShapley(ctx context.Context, g Game, o Options) (Split, error) {
	random := rand.New(rand.NewSource(o.Seed))
	orders := make([][]int, o.Samples)
	slot := map[Coalition]int{}
	var ask []Coalition
	for s := range orders {
		orders[s] = random.Perm(g.Players)
		var c Coalition
		for _, i := range orders[s] {
			c = c.With(i)
			if _, known := slot[c]; !known {
				slot[c] = len(ask)
				ask = append(ask, c)
			}
		}
	}
	costs, err := g.ask(ctx, ask)
	if err != nil {
		return Split{}, err
	}
	sum, squares := make([]float64, g.Players), make([]float64, g.Players)
	for _, order := range orders {
		var c Coalition
		before := 0.0
		for _, i := range order {
			c = c.With(i)
			added := costs[slot[c]] - before
			before += added
			sum[i] += added
			squares[i] += added * added
		}
	}
	n := float64(o.Samples)
	split := Split{Rule: Shapley, Samples: o.Samples, Shares: sum, StdErr: squares}
	for i := range sum {
		mean := sum[i] / n
		variance := math.Max(0, squares[i]/n-mean*mean) * n / math.Max(1, n-1)
		split.Shares[i], split.StdErr[i] = mean, math.Sqrt(variance/n)
	}
	return split, nil
}
