package orderbook

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"

	"laneplan/jobs"
	"laneplan/jobs/intake/scalar"
)

// mostTotal bounds the labels of a whole book, far from where sums overflow.
const mostTotal = 1_000_000_000_000

// notation is how one file writes numbers and dates.
type notation struct {
	mark     rune   // decimal mark
	dates    string // layout of a date in text
	workbook bool   // numbers may be number cells: plain numbers with a point, dates as serial days, percentages as fractions
	date1904 bool   // serial days count from 1904
}

// isoNotation is that of YAML books, whatever the office uses elsewhere.
var isoNotation = notation{mark: '.', dates: time.DateOnly}

func notationOf(b jobs.BookFormat) notation {
	return notation{mark: b.DecimalMarkOrDefault(), dates: b.DateLayoutOrDefault()}
}

var (
	groupedForm = regexp.MustCompile(`^[1-9][0-9]{0,2}(\.[0-9]{3})+$`)
	cellNumber  = regexp.MustCompile(`^[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?$`)
)

func text(value string) (string, error) {
	if !utf8.ValidString(value) {
		return "", errors.New("want text in UTF-8; save the file as UTF-8")
	}
	return scalar.Text(value)
}

// whole reads a whole number between two bounds.
func (n notation) whole(value string, least, most int) (int, error) {
	return scalar.Whole(n.plain(value), least, most)
}

// number reads a decimal number that is not negative.
func (n notation) number(value string) (decimal.Decimal, error) {
	const most = 1_000_000_000_000
	if n.mark == '.' {
		number, err := scalar.Decimal(n.plain(value), 0, most)
		return oneZero(number), err
	}
	// A workbook's number cells have a point whatever the office writes; in
	// text the point would separate thousands, which 1.250 may mean.
	if strings.Contains(value, ".") && (!n.workbook || groupedForm.MatchString(value)) {
		return decimal.Decimal{}, fmt.Errorf("want a number with a decimal comma and no other separators, as the shop file says, got %s", scalar.Quote(value))
	}
	number, err := scalar.Decimal(strings.Replace(n.plain(value), ",", ".", 1), 0, most)
	if err != nil {
		err = fmt.Errorf("want a number such as 0,045, got %s", scalar.Quote(value))
	}
	return oneZero(number), err
}

// oneZero gives nothing one form, so that plain comparison of data works.
func oneZero(d decimal.Decimal) decimal.Decimal {
	if d.IsZero() {
		return decimal.Decimal{}
	}
	return d
}

// plain undoes the way workbooks store numbers: 1.25E4 and
// 0.10000000000000001 are 12500 and 0.1. Any other text stays as it is.
func (n notation) plain(value string) string {
	if !n.workbook || !cellNumber.MatchString(value) || !strings.ContainsAny(value, "eE") && len(value) < 16 {
		return value
	}
	number, err := strconv.ParseFloat(value, 64)
	if err != nil || math.Abs(number) > 1e15 {
		return value
	}
	return strconv.FormatFloat(number, 'f', -1, 64)
}

// percent reads a percentage into a fraction. In a workbook a bare number
// below 1 is a fraction, since that is how a number cell holds 5 %.
func (n notation) percent(value string) (decimal.Decimal, error) {
	if n.workbook && cellNumber.MatchString(value) {
		if number, err := n.number(value); err == nil && number.LessThan(decimal.NewFromInt(1)) {
			return number, nil
		}
	}
	digits := value
	if n.mark == ',' {
		if strings.Contains(value, ".") {
			return decimal.Decimal{}, fmt.Errorf("want a percentage with a decimal comma such as 2,5%%, as the shop file says, got %s", scalar.Quote(value))
		}
		digits = strings.Replace(value, ",", ".", 1)
	}
	fraction, err := scalar.Percent(digits, 100)
	if err != nil && n.mark == ',' {
		err = fmt.Errorf("want a percentage from 0%% to 100%% such as 2,5%%, got %s", scalar.Quote(value))
	}
	return oneZero(fraction), err
}

// length reads a length with its unit.
func (n notation) length(value string) (jobs.Length, error) {
	if n.mark == ',' {
		if strings.Contains(value, ".") {
			return 0, fmt.Errorf("want a length with a decimal comma, as the shop file says, got %s", scalar.Quote(value))
		}
		value = strings.Replace(value, ",", ".", 1)
	}
	length, err := jobs.ParseLength(value)
	if err == nil && length == 0 {
		err = fmt.Errorf("want a length above zero, got %s", scalar.Quote(value))
	}
	return length, err
}

// date reads a date without a time.
func (n notation) date(value string) (time.Time, error) {
	if n.workbook && cellNumber.MatchString(value) {
		serial, err := strconv.ParseFloat(value, 64)
		if err != nil || serial > 3_000_000 {
			return time.Time{}, fmt.Errorf("want a date, got the number %s", scalar.Quote(value))
		}
		day, err := excelize.ExcelDateToTime(math.Floor(serial), n.date1904)
		if err != nil {
			return time.Time{}, fmt.Errorf("want a date, got the number %s", scalar.Quote(value))
		}
		return scalar.Date(day.Format(time.DateOnly))
	}
	if n.dates == time.DateOnly {
		return scalar.Date(value)
	}
	// A day and a month may have one digit.
	day, err := time.Parse(strings.NewReplacer("02", "2", "01", "1").Replace(n.dates), value)
	if err != nil {
		return time.Time{}, fmt.Errorf("want a date as %s, got %s", jobs.DateForm(n.dates), scalar.Quote(value))
	}
	return scalar.Date(day.Format(time.DateOnly))
}

// yes reads yes or no.
func yes(value string) (bool, error) {
	switch strings.ToLower(value) {
	case "yes", "true", "1":
		return true, nil
	case "no", "false", "0":
		return false, nil
	}
	return false, fmt.Errorf("want yes or no, got %s", scalar.Quote(value))
}

// list reads words joined by + or a comma.
func list(value string) ([]string, error) {
	value, err := text(value)
	if err != nil {
		return nil, err
	}
	words := strings.FieldsFunc(value, func(r rune) bool { return r == '+' || r == ',' || r == ';' })
	for i := range words {
		words[i] = strings.TrimSpace(words[i])
		if slices.Contains(words[:i], words[i]) {
			return nil, fmt.Errorf("want every word once, got %s twice in %s", scalar.Quote(words[i]), scalar.Quote(value))
		}
	}
	return words, nil
}

func (n notation) writeNumber(d decimal.Decimal) string {
	if d.IsZero() {
		return ""
	}
	return n.marked(d)
}

func (n notation) writePercent(d *decimal.Decimal) string {
	if d == nil {
		return ""
	}
	return n.marked(d.Shift(2)) + "%"
}

// writeLength is in millimetres, which hold a nanometre in six decimals.
func (n notation) writeLength(l jobs.Length) string {
	if l == 0 {
		return ""
	}
	return n.marked(l.In(jobs.Millimetre)) + "mm"
}

func (n notation) marked(d decimal.Decimal) string {
	return strings.Replace(d.String(), ".", string(n.mark), 1)
}

func (n notation) writeDate(day time.Time) string {
	if day.IsZero() {
		return ""
	}
	return day.Format(n.dates)
}

func writeWhole(number int) string {
	if number == 0 {
		return ""
	}
	return strconv.Itoa(number)
}

func writeYes(is bool) string {
	if is {
		return "yes"
	}
	return ""
}
