package report

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"unicode"

	"github.com/shopspring/decimal"

	"laneplan/jobs/planfile"
)

// Verdict says in one or two sentences how good a plan is and what ended the
// search; empty where the plan says neither.
func Verdict(g planfile.Gang, style Style) string {
	var parts []string
	if g.Bound != nil && g.Cost != nil {
		if g.Bound.Proven {
			parts = append(parts, dress(style.Good, "Proven: no plan costs less."))
		} else {
			parts = append(parts, dress(style.Care, fmt.Sprintf("No plan can cost less than %s; this one is within %s.",
				g.Bound.Cost.String()+afterAmount(g.Cost.Currency), Percent(g.Bound.Gap))))
		}
	}
	if g.Solve != nil && g.Solve.Stop != "" {
		parts = append(parts, ending(*g.Solve))
	}
	if g.Solve != nil && g.Solve.Start != nil && g.Cost != nil {
		parts = append(parts, began(*g.Solve.Start, g.Cost.Currency))
	}
	return strings.Join(parts, "\n")
}

// began tells of the plan that the search began from.
func began(s planfile.Start, currency string) string {
	text := "It began from a plan of " + s.Cost.String() + afterAmount(currency)
	if s.Mended {
		text += ", mended since it no longer fitted,"
	}
	if planfile.Decimal(s.Saved).IsZero() {
		return text + " and found none cheaper."
	}
	share := planfile.Decimal(s.Saved).Mul(decimal.NewFromInt(100)).Div(planfile.Decimal(s.Cost))
	return text + fmt.Sprintf(" and made it %s cheaper (%s %%).", s.Saved.String()+afterAmount(currency), share.StringFixed(1))
}

// ending says what ended the search. Its cases are the names of nest.Stop.
func ending(s planfile.Solve) string {
	limits := planfile.Limits{}
	if s.Limits != nil {
		limits = *s.Limits
	}
	seed := fmt.Sprintf(" (seed %d)", s.Seed)
	switch s.Stop {
	case "proven":
		return "The search ended with the proof" + seed + "."
	case "gap":
		return fmt.Sprintf("The search ended at the gap it was to reach, %s%s.", Percent(limits.Gap), seed)
	case "work limit":
		return fmt.Sprintf("The search ended at its work limit, %s%s.", limits.Work, seed)
	case "time limit":
		return fmt.Sprintf("The search ended at its time limit, %s s%s; more time may find a cheaper plan.", limits.Seconds, seed)
	case "interrupted":
		return "The search was interrupted" + seed + "; this is the best plan it had."
	}
	return "The search ended: " + clean(s.Stop) + seed + "."
}

// Percent turns a fraction into percent with two digits that count, rounded
// up: 'within 0.8 %' then holds.
func Percent(fraction json.Number) string {
	percent := planfile.Decimal(fraction).Mul(decimal.NewFromInt(100))
	if percent.IsZero() {
		return "0 %"
	}
	// Digits before the point count too: 12.3 % needs none after it.
	digits := int32(len(percent.Truncate(0).Abs().String()))
	places := int32(0)
	if percent.Abs().LessThan(decimal.NewFromInt(1)) {
		for places = 1; percent.Shift(places).Abs().LessThan(decimal.NewFromInt(1)); places++ {
		}
		places++ // the second digit
	} else if digits < 2 {
		places = 1
	}
	return percent.RoundUp(places).String() + " %"
}

// fixed gives a figure with so many decimals.
func fixed(n json.Number, places int32) string { return planfile.Decimal(n).StringFixed(places) }

func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// clean takes out of a name what a terminal would obey and what would break
// a table: control characters, line ends, marks that turn the direction of
// writing.
func clean(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == '\u2028' || r == '\u2029' {
			return unicode.ReplacementChar
		}
		return r
	}, text)
}

// PercentOf is Percent for a float; a dash where it is not a number.
func PercentOf(fraction float64) string {
	if math.IsNaN(fraction) || math.IsInf(fraction, 0) {
		return "-"
	}
	return Percent(json.Number(decimal.NewFromFloat(fraction).RoundUp(9).String()))
}
