package price

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"

	"laneplan/jobs/price/game"
)

// Mended costs against every division of every coalition, found by brute
// force.
func TestMendAgainstEveryDivision(t *testing.T) {
	random := rand.New(rand.NewSource(3))
	const players = 5
	everyone := game.Everyone(players)
	for range 20 {
		raw := make([]float64, everyone+1)
		for c := range raw[1:] {
			raw[c+1] = float64(1 + random.Intn(100))
		}
		// Monotone first: a larger coalition's plan serves a smaller one.
		monotone := make([]float64, len(raw))
		for c := range raw {
			monotone[c] = math.Inf(1)
			for larger := range raw {
				if larger&c == c {
					monotone[c] = math.Min(monotone[c], raw[larger])
				}
			}
		}
		var divided func(c game.Coalition) float64
		divided = func(c game.Coalition) float64 {
			if c == 0 {
				return 0
			}
			least := math.Inf(1)
			first := c & -c
			for part := c; part > 0; part = (part - 1) & c {
				if part&first != 0 {
					if part == everyone {
						continue // apart means in two set-ups or more
					}
					least = math.Min(least, monotone[part]+divided(c&^part))
				}
			}
			return least
		}
		table := append([]float64{0}, raw[1:]...)
		apart := mend(table, players)
		assert.Equal(t, raw[everyone], table[everyone], "the gang's own plan stays")
		assert.Equal(t, divided(everyone), apart)
		for c := game.Coalition(1); c < everyone; c++ {
			assert.Equal(t, divided(c), table[c], "coalition %b", c)
		}
	}
}
