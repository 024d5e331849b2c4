// Package scalar turns the text of one value of an input file into a number, a
// percentage, a date and so on, strictly: nothing is guessed, rounded or
// dropped. Every error is a sentence that says what would be right:
//
//	q, err := scalar.Whole("10.5", 1, 1_000_000_000)
//	// err: want a whole number, got 10.5
//
// Readers of YAML, CSV and spreadsheets share it.
package scalar

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/shopspring/decimal"
)

// MostQuantity is the highest number of labels of one version.
const MostQuantity = 1_000_000_000

// AnyOvers is what overs says where the customer takes all of them.
const AnyOvers = "any"

// mostText is the highest number of characters of a text.
const mostText = 1000

var (
	wholeForm     = regexp.MustCompile(`^(0|[1-9][0-9]{0,17})$`)
	decimalForm   = regexp.MustCompile(`^(0|[1-9][0-9]{0,14})(\.[0-9]{1,12})?$`)
	zeroForm      = regexp.MustCompile(`^0[0-9]+(\.[0-9]*)?$`)
	commaForm     = regexp.MustCompile(`^[0-9]+,[0-9]+$`)
	thousandsForm = regexp.MustCompile(`^[0-9]{1,3}([ _'’.,  ][0-9]{3})+([.,][0-9]+)?$`)
	pointForm     = regexp.MustCompile(`^[0-9]+\.[0-9]+$`)
	digitsForm    = regexp.MustCompile(`^[0-9]+$`)
	minusForm     = regexp.MustCompile(`^[-−][0-9]`)
	plusForm      = regexp.MustCompile(`^\+[0-9]`)
)

// Whole reads a whole number from least to most, in digits alone.
func Whole(text string, least, most int) (int, error) {
	if wholeForm.MatchString(text) {
		number, err := strconv.Atoi(text)
		if err != nil {
			return 0, fmt.Errorf("want a whole number, got %s", Quote(text))
		}
		return number, inRange(number >= least, number <= most, least, most, text)
	}
	switch {
	case zeroForm.MatchString(text) && !strings.Contains(text, "."):
		return 0, fmt.Errorf("want a whole number without leading zeros, got %s", Quote(text))
	case digitsForm.MatchString(text):
		return 0, inRange(true, false, least, most, Quote(text))
	case pointForm.MatchString(text) && !thousandsForm.MatchString(text), commaForm.MatchString(text) && !thousandsForm.MatchString(text):
		return 0, fmt.Errorf("want a whole number, got %s", Quote(text))
	}
	return 0, numberError("a whole number", text, strconv.Itoa(least))
}

// Decimal reads a number from least to most with a decimal point and at most
// 12 decimals.
func Decimal(text string, least, most int64) (decimal.Decimal, error) {
	if !decimalForm.MatchString(text) {
		return decimal.Zero, decimalError(text, least, most)
	}
	number, err := decimal.NewFromString(text)
	if err != nil {
		return decimal.Zero, fmt.Errorf("want a number, got %s", Quote(text))
	}
	number = Trim(number)
	return number, inRange(number.GreaterThanOrEqual(decimal.NewFromInt(least)),
		number.LessThanOrEqual(decimal.NewFromInt(most)), least, most, text)
}

// Trim drops zeros after the last decimal, so that equal numbers are equal
// data; zero is the zero value.
func Trim(number decimal.Decimal) decimal.Decimal {
	if number.IsZero() {
		return decimal.Decimal{}
	}
	return decimal.RequireFromString(number.String())
}

func decimalError(text string, least, most int64) error {
	switch {
	case zeroForm.MatchString(text):
		return fmt.Errorf("want a number without leading zeros, got %s", Quote(text))
	case digitsForm.MatchString(text):
		return inRange(true, false, least, most, Quote(text))
	case pointForm.MatchString(text):
		return fmt.Errorf("want a number with at most 15 digits before and 12 after the point, got %s", Quote(text))
	case commaForm.MatchString(text) && !thousandsForm.MatchString(text):
		return fmt.Errorf("want a decimal point, got the comma in %s", Quote(text))
	}
	return numberError("a number", text, strconv.FormatInt(least, 10))
}

// numberError names the usual ways in which a number goes wrong.
func numberError(what, text, least string) error {
	switch {
	case thousandsForm.MatchString(text):
		return fmt.Errorf("want %s without thousands separators, got %s", what, Quote(text))
	case minusForm.MatchString(text):
		return fmt.Errorf("want %s from %s up, got %s", what, least, Quote(text))
	case plusForm.MatchString(text):
		return fmt.Errorf("want %s without a plus sign, got %s", what, Quote(text))
	case text == "":
		return fmt.Errorf("want %s, got nothing", what)
	}
	return fmt.Errorf("want %s, got %s", what, Quote(text))
}

func inRange[N int | int64](above, below bool, least, most N, text string) error {
	switch {
	case !above:
		return fmt.Errorf("want %d or more, got %s", least, text)
	case !below:
		return fmt.Errorf("want %d or less, got %s", most, text)
	}
	return nil
}

// Percent reads a percentage such as 2.5% from 0 to most and returns it as a
// fraction (0.025).
func Percent(text string, most int64) (decimal.Decimal, error) {
	number, found := strings.CutSuffix(text, "%")
	if !found {
		return decimal.Zero, fmt.Errorf("want a percentage such as 5%% or 2.5%%, got %s", Quote(text))
	}
	percent, err := Decimal(strings.TrimSuffix(number, " "), 0, most)
	if err != nil {
		return decimal.Zero, fmt.Errorf("want a percentage from 0%% to %d%% such as 2.5%%, got %s", most, Quote(text))
	}
	return Trim(percent.Shift(-2)), nil
}

// Flag reads true or false.
func Flag(text string) (bool, error) {
	switch text {
	case "true":
		return true, nil
	case "false":
		return false, nil
	}
	return false, fmt.Errorf("want true or false, got %s", Quote(text))
}

// Years outside of which a date is a slip of the pen.
const firstYear, lastYear = 2000, 2099

// Date reads a day as year-month-day (ISO 8601).
func Date(text string) (time.Time, error) {
	return date(text, "a date such as 2026-12-04", time.DateOnly)
}

// Moment reads a day and the time of day on a clock of 24 hours.
func Moment(text string) (time.Time, error) {
	return date(text, "a date and time such as 2026-12-04 06:00", "2006-01-02 15:04", "2006-01-02T15:04")
}

func date(text, what string, layouts ...string) (time.Time, error) {
	for _, layout := range layouts {
		day, err := time.Parse(layout, text)
		if err != nil {
			continue
		}
		if day.Year() < firstYear || day.Year() > lastYear {
			return time.Time{}, fmt.Errorf("want a year from %d to %d, got %s", firstYear, lastYear, Quote(text))
		}
		return day, nil
	}
	return time.Time{}, fmt.Errorf("want %s, got %s", what, Quote(text))
}

// Text reads one line of text: not empty, at most 1000 characters, without
// control characters.
func Text(text string) (string, error) {
	switch {
	case strings.TrimSpace(text) == "":
		return "", errors.New("want some text, got nothing")
	case utf8.RuneCountInString(text) > mostText:
		return "", fmt.Errorf("want at most %d characters, got %d", mostText, utf8.RuneCountInString(text))
	case strings.ContainsFunc(text, unicode.IsControl):
		return "", fmt.Errorf("want one line of text without control characters, got %s", Quote(text))
	}
	return strings.TrimSpace(text), nil
}

var currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)

// Currency reads an alphabetic currency code (ISO 4217). Whether such a
// currency exists is not looked up.
func Currency(text string) (string, error) {
	if !currencyForm.MatchString(text) {
		return "", fmt.Errorf("want a currency code of three capital letters such as EUR, got %s", Quote(text))
	}
	return text, nil
}

// Choice reads one of a few words.
func Choice(text string, words ...string) (string, error) {
	for _, word := range words {
		if text == word {
			return word, nil
		}
	}
	return "", fmt.Errorf("want %s, got %s", Alternatives(words), Quote(text))
}

// Alternatives joins words as 'a, b or c'.
func Alternatives(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// Quote shows a value in a message: as it is where it is plain and short, cut
// and quoted otherwise.
func Quote(text string) string {
	const most = 60
	if text == "" {
		return "nothing"
	}
	if runes := []rune(text[:min(len(text), 4*(most+1))]); len(runes) > most {
		text = string(runes[:most]) + "…"
	}
	if strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) || unicode.IsSpace(r) || r == '"' }) {
		return strconv.Quote(text)
	}
	return text
}
