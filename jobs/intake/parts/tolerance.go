package parts

import (
	"github.com/shopspring/decimal"

	"laneplan/jobs/intake/scalar"
	"laneplan/jobs/intake/yamltree"
)

// Overs reads a percentage of overs, or scalar.AnyOvers, which is nil.
func Overs(m *yamltree.Map, key string) *decimal.Decimal {
	return yamltree.Value(m, key, func(text string) (*decimal.Decimal, error) {
		if text == scalar.AnyOvers {
			return nil, nil
		}
		overs, err := scalar.Percent(text, 1000)
		return &overs, err
	})
}
