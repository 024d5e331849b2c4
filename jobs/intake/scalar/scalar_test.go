package scalar_test

import (
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake/scalar"
)

func TestWhole(t *testing.T) {
	got, err := scalar.Whole("1000000000", 1, scalar.MostQuantity)
	require.NoError(t, err)
	assert.Equal(t, 1_000_000_000, got)
	for text, want := range map[string]string{
		"10.5":                    "want a whole number, got 10.5",
		"10,5":                    "want a whole number, got 10,5",
		"010":                     "want a whole number without leading zeros, got 010",
		"":                        "want a whole number, got nothing",
		"1,000":                   "want a whole number without thousands separators, got 1,000",
		"1.000":                   "want a whole number without thousands separators, got 1.000",
		"1'000":                   "want a whole number without thousands separators, got 1'000",
		"1_000":                   "want a whole number without thousands separators, got 1_000",
		"1 000 000":               `want a whole number without thousands separators, got "1 000 000"`,
		"-5":                      "want a whole number from 1 up, got -5",
		"+5":                      "want a whole number without a plus sign, got +5",
		"0":                       "want 1 or more, got 0",
		"1000000000000":           "want 1000000000 or less, got 1000000000000",
		strings.Repeat("9", 1000): "want 1000000000 or less, got " + strings.Repeat("9", 60) + "…",
		"1e3":                     "want a whole number, got 1e3",
		"0x1F":                    "want a whole number, got 0x1F",
		"many":                    "want a whole number, got many",
		".inf":                    "want a whole number, got .inf",
		"१२":                      "want a whole number, got १२",
		"12\n":                    `want a whole number, got "12\n"`,
		"99999999999999999999":    "want 1000000000 or less, got 99999999999999999999",
		"0.0":                     "want a whole number, got 0.0",
		"00":                      "want a whole number without leading zeros, got 00",
	} {
		_, err := scalar.Whole(text, 1, scalar.MostQuantity)
		assert.EqualError(t, err, want, text)
	}
}

func TestDecimal(t *testing.T) {
	got, err := scalar.Decimal("0.450", 0, 100)
	require.NoError(t, err)
	assert.Equal(t, decimal.RequireFromString("0.45"), got, "equal numbers have one form")
	for text, want := range map[string]string{
		"0,45":             "want a decimal point, got the comma in 0,45",
		"1,000.50":         "want a number without thousands separators, got 1,000.50",
		"1.000,50":         "want a number without thousands separators, got 1.000,50",
		"00.5":             "want a number without leading zeros, got 00.5",
		".5":               "want a number, got .5",
		"5.":               "want a number, got 5.",
		"-0.5":             "want a number from 0 up, got -0.5",
		"101":              "want 100 or less, got 101",
		"0.1234567890123":  "want a number with at most 15 digits before and 12 after the point, got 0.1234567890123",
		"1234567890123456": "want 100 or less, got 1234567890123456",
		"1e2":              "want a number, got 1e2",
		"NaN":              "want a number, got NaN",
		"":                 "want a number, got nothing",
		"12 EUR":           `want a number, got "12 EUR"`,
	} {
		_, err := scalar.Decimal(text, 0, 100)
		assert.EqualError(t, err, want, text)
	}
}

func TestPercent(t *testing.T) {
	for text, want := range map[string]string{"0%": "0", "5%": "0.05", "2.5 %": "0.025", "100%": "1"} {
		got, err := scalar.Percent(text, 100)
		require.NoError(t, err)
		assert.Equal(t, want, got.String())
	}
	for text, want := range map[string]string{
		"5":     "want a percentage such as 5% or 2.5%, got 5",
		"0.05":  "want a percentage such as 5% or 2.5%, got 0.05",
		"2,5%":  "want a percentage from 0% to 100% such as 2.5%, got 2,5%",
		"-5%":   "want a percentage from 0% to 100% such as 2.5%, got -5%",
		"101%":  "want a percentage from 0% to 100% such as 2.5%, got 101%",
		"five%": "want a percentage from 0% to 100% such as 2.5%, got five%",
	} {
		_, err := scalar.Percent(text, 100)
		assert.EqualError(t, err, want, text)
	}
}

func TestDates(t *testing.T) {
	day, err := scalar.Date("2026-12-04")
	require.NoError(t, err)
	assert.Equal(t, time.Date(2026, 12, 4, 0, 0, 0, 0, time.UTC), day)
	for _, text := range []string{"2026-12-04 06:00", "2026-12-04T06:00"} {
		moment, err := scalar.Moment(text)
		require.NoError(t, err)
		assert.Equal(t, time.Date(2026, 12, 4, 6, 0, 0, 0, time.UTC), moment)
	}
	for text, want := range map[string]string{
		"4.12.2026":  "want a date such as 2026-12-04, got 4.12.2026",
		"2026-02-30": "want a date such as 2026-12-04, got 2026-02-30",
		"20261-1-1":  "want a date such as 2026-12-04, got 20261-1-1",
		"0206-12-04": "want a year from 2000 to 2099, got 0206-12-04",
	} {
		_, err := scalar.Date(text)
		assert.EqualError(t, err, want, text)
	}
}

func TestWords(t *testing.T) {
	for text, want := range map[string]bool{"true": true, "false": false} {
		got, err := scalar.Flag(text)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	_, err := scalar.Flag("no")
	assert.EqualError(t, err, "want true or false, got no")
	_, err = scalar.Currency("€")
	assert.EqualError(t, err, "want a currency code of three capital letters such as EUR, got €")
	_, err = scalar.Choice("Food", "food", "pharma", "toy")
	assert.EqualError(t, err, "want food, pharma or toy, got Food")
	_, err = scalar.Text("a\nb")
	assert.EqualError(t, err, `want one line of text without control characters, got "a\nb"`)
	_, err = scalar.Text(" \t")
	assert.EqualError(t, err, "want some text, got nothing")
	_, err = scalar.Text(strings.Repeat("ł", 1001))
	assert.EqualError(t, err, "want at most 1000 characters, got 1001")
	name, err := scalar.Text(" Kümmel 茶 ")
	require.NoError(t, err)
	assert.Equal(t, "Kümmel 茶", name)
}
