package game

import (
	"fmt"
	"sort"

	"github.com/shopspring/decimal"
)

// ToMinor rounds shares to a currency's minor unit (places decimals) so that
// they add up to total exactly: every share is rounded down, and the units
// that are then missing go to the largest remainders, the earlier player
// first among equals. A share moves by less than one minor unit, so it does
// not cross a limit that is itself whole minor units.
func ToMinor(total decimal.Decimal, shares []float64, places int32) ([]decimal.Decimal, error) {
	unit := decimal.New(1, -places)
	rounded := make([]decimal.Decimal, len(shares))
	remainder := make([]float64, len(shares))
	left := total
	for i, share := range shares {
		exact := decimal.NewFromFloat(share)
		rounded[i] = exact.RoundFloor(places)
		remainder[i] = exact.Sub(rounded[i]).InexactFloat64()
		left = left.Sub(rounded[i])
	}
	missing := left.Div(unit)
	if !missing.IsInteger() || missing.IsNegative() || missing.GreaterThan(decimal.NewFromInt(int64(len(shares)))) {
		return nil, fmt.Errorf("game: the shares miss the total %s by %s", total, left)
	}
	order := make([]int, len(shares))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return remainder[order[a]] > remainder[order[b]] })
	for _, i := range order[:missing.IntPart()] {
		rounded[i] = rounded[i].Add(unit)
	}
	return rounded, nil
}
