package price_test

import (
	"context"
	"fmt"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/price"
	"laneplan/jobs/price/game"
)

// bigMill is the mill with n orders of one or two versions, drawn with a seed.
func bigMill(n int) jobs.Gang {
	random := rand.New(rand.NewSource(8))
	g := spiceMill()
	g.Orders = nil
	for i := range n {
		order := jobs.Order{ID: fmt.Sprintf("o%02d", i+1)}
		for v := range 1 + random.Intn(2) {
			order.Versions = append(order.Versions, jobs.Version{
				ID: fmt.Sprintf("v%02d%c", i+1, 'a'+v), Quantity: 250 * (1 + random.Intn(24)), LabelsPerRoll: 1000})
		}
		g.Orders = append(g.Orders, order)
	}
	return g
}

// BenchmarkTwelveOrdersByEveryRule plans all 4,095 sub-gangs of a gang of
// twelve orders and shares its cost by every rule.
func BenchmarkTwelveOrdersByEveryRule(b *testing.B) {
	engine := newEngine(b)
	g := bigMill(12)
	plan := planned(b, g)
	for b.Loop() {
		c, err := price.NewCoalitions(g, plan, price.Options{Engine: engine})
		require.NoError(b, err)
		for _, rule := range game.Rules() {
			s, err := c.Share(context.Background(), rule)
			require.NoError(b, err)
			b.Logf("%s: %v", rule, s.Notes)
		}
	}
}
