package ticket

import (
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/report"
)

// unknown stands where a figure is not known.
const unknown = "–"

// units write lengths, weights and counts for people.
type units struct{ inches bool }

func (j Job) units() units { return units{j.Gang.Papers.Inches} }

// size of a label, die or core: millimetres to a micrometre, inches to a
// tenth of a thousandth, without idle zeros.
func (u units) size(l jobs.Length) string {
	if l == 0 {
		return unknown
	}
	if u.inches {
		return l.In(jobs.Inch).Round(4).String() + " in"
	}
	return l.In(jobs.Millimetre).Round(3).String() + " mm"
}

// diameter of a roll, an estimate: whole millimetres or tenths of an inch.
func (u units) diameter(l jobs.Length) string {
	if l == 0 {
		return unknown
	}
	if u.inches {
		return l.In(jobs.Inch).StringFixed(1) + " in"
	}
	return l.In(jobs.Millimetre).StringFixed(0) + " mm"
}

// web is a length of web: metres to a centimetre, feet to a tenth.
func (u units) web(l jobs.Length) string {
	return u.webNumber(l) + " " + u.webUnit()
}

func (u units) webNumber(l jobs.Length) string {
	if u.inches {
		return report.Grouped(l.In(jobs.Foot).StringFixed(1))
	}
	return report.Grouped(l.In(jobs.Metre).StringFixed(2))
}

func (u units) webUnit() string {
	if u.inches {
		return "ft"
	}
	return "m"
}

// kilogramsPerPound exactly (international pound, 1959).
const kilogramsPerPound = 0.45359237

// weight in kilograms or pounds, to a tenth, below 1 to a hundredth.
func (u units) weight(kilograms float64) string {
	if kilograms == 0 {
		return unknown
	}
	amount, unit := kilograms, " kg"
	if u.inches {
		amount, unit = kilograms/kilogramsPerPound, " lb"
	}
	places := 1
	if amount < 1 {
		places = 2
	}
	return strconv.FormatFloat(amount, 'f', places, 64) + unit
}

// count with a narrow space between thousands.
func count(n int) string { return report.Grouped(strconv.Itoa(n)) }

// money with the decimals of the plan file.
func (j Job) money(amount string) string {
	text := report.Grouped(amount)
	if j.Gang.Currency != "" {
		text += " " + j.Gang.Currency
	}
	return text
}

func percent(fraction decimal.Decimal) string {
	return fraction.Shift(2).Round(4).String() + " %"
}

func date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

// lanes as people list them: 1, 2, 3.
func lanes(numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = strconv.Itoa(n)
	}
	return strings.Join(words, ", ")
}

// laneWords starts a sentence about lanes: lane 3, lanes 1, 2.
func laneWords(numbers []int) string {
	if len(numbers) == 1 {
		return "lane " + lanes(numbers)
	}
	return "lanes " + lanes(numbers)
}
