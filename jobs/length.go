package jobs

import (
	"fmt"
	"math/big"
	"regexp"
	"strings"

	"github.com/shopspring/decimal"
)

// Length in nanometres, so that every inch size with four decimals and every
// metric size is a whole number.
type Length int64

// Units of length. The inch is 25.4 mm exactly (international inch, 1959).
const (
	Nanometre  Length = 1
	Micrometre        = 1000 * Nanometre
	Millimetre        = 1000 * Micrometre
	Centimetre        = 10 * Millimetre
	Metre             = 1000 * Millimetre
	Inch              = 25_400 * Micrometre
	Mil               = Inch / 1000
	Foot              = 12 * Inch
)

var lengthUnits = map[string]Length{
	"um": Micrometre, "µm": Micrometre, "mm": Millimetre, "cm": Centimetre, "m": Metre,
	"mil": Mil, "in": Inch, "ft": Foot,
}

// LengthUnits lists the units that ParseLength knows, for error messages.
const LengthUnits = "um, mm, cm, m, mil, in, ft"

var lengthForm = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?|[0-9]+/[0-9]+) ?([a-zµ]+)$`)

// maxLength keeps sums of lengths far from overflow: 10,000 km.
const maxLength = 10_000_000 * Metre

// ParseLength reads a number with a unit: 105mm, 4.125in, 1/8in, 12ft, 300m.
func ParseLength(text string) (Length, error) {
	parts := lengthForm.FindStringSubmatch(strings.TrimSpace(text))
	if parts == nil {
		return 0, fmt.Errorf("want a length with a unit such as 105mm or 4.125in (units: %s), got %q", LengthUnits, text)
	}
	unit, known := lengthUnits[parts[2]]
	if !known {
		return 0, fmt.Errorf("unknown unit %q in %q (units: %s)", parts[2], text, LengthUnits)
	}
	number, ok := new(big.Rat).SetString(parts[1])
	if !ok {
		return 0, fmt.Errorf("want a number before the unit, got %q", text)
	}
	number.Mul(number, new(big.Rat).SetInt64(int64(unit)))
	nanometres := decimal.NewFromBigRat(number, 0)
	if nanometres.GreaterThan(decimal.NewFromInt(int64(maxLength))) {
		return 0, fmt.Errorf("%s is longer than 10,000 km", text)
	}
	return Length(nanometres.IntPart()), nil
}

// In returns the length in multiples of a unit, exactly to 12 decimals.
func (l Length) In(unit Length) decimal.Decimal {
	return decimal.NewFromInt(int64(l)).DivRound(decimal.NewFromInt(int64(unit)), 12)
}

// Metres as a float, for arithmetic that is an estimate anyway.
func (l Length) Metres() float64 { return float64(l) / float64(Metre) }

// String gives the length in millimetres up to 1 m and in metres above.
func (l Length) String() string {
	if l >= Metre || l <= -Metre {
		return l.In(Metre).Round(3).String() + "m"
	}
	return l.In(Millimetre).Round(6).String() + "mm"
}
