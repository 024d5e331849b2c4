package jobs

import "github.com/shopspring/decimal"

// Area of web in square metres, exactly.
func Area(width, length Length) decimal.Decimal {
	// Both are nanometres: 10⁻⁹ × 10⁻⁹ m.
	return decimal.New(int64(width), -9).Mul(decimal.New(int64(length), -9))
}

// MSI is an area in units of 1,000 square inches, in which the trade prices
// stock, to 12 decimals. Source of the unit: coating and print-media
// suppliers, 'MSI = width in inches × 12 × feet / 1,000'.
func MSI(squareMetres decimal.Decimal) decimal.Decimal {
	return squareMetres.DivRound(SquareInches, 12)
}

// MSF is an area in units of 1,000 square feet (144 MSI), to 12 decimals.
func MSF(squareMetres decimal.Decimal) decimal.Decimal {
	return squareMetres.DivRound(SquareInches.Mul(decimal.NewFromInt(144)), 12)
}
