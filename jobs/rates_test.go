package jobs_test

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
)

func TestBudgetedHourlyRate(t *testing.T) {
	// Method and the habit of tabulating at several shares of use: P. K.
	// Ruggles, 'Printing Estimating'. 12,000 a month over 300 hours: Signs of
	// the Times, 'How to bolster your business'. The others are derived.
	tests := []struct{ cost, hours, use, want string }{
		{"12000", "300", "1", "40"},
		{"40000", "2000", "1", "20"}, // 200,000 over 5 years
		{"104000", "2080", "0.8", "62.5"},
		{"104000", "2080", "0.7", "71.43"},
		{"104000", "2080", "0.6", "83.33"},
	}
	for _, tt := range tests {
		budget := jobs.HourlyBudget{YearlyCost: dec(tt.cost), PaidHours: dec(tt.hours), Use: dec(tt.use)}
		assert.Equal(t, tt.want, budget.Rate().Round(2).String(), budget.Text())
	}
	assert.True(t, jobs.HourlyBudget{YearlyCost: dec("1"), Use: dec("1")}.Rate().IsZero(), "no hour is sold")
}

func TestPricePerThousandSquareInches(t *testing.T) {
	// 1 MSI is 0.64516 m² exactly, 1 m² is 1.5500031 MSI.
	assert.Equal(t, "1.5500031", jobs.PerSquareMetre(dec("1")).Round(7).String())
}

func TestLabelInk(t *testing.T) {
	rates := jobs.Rates{Coverage: []jobs.CoverageClass{{ID: "full", PerThousand: dec("4.20")}}}
	tests := []struct {
		name string
		v    jobs.Version
		want string
	}{
		{"its own money goes first", jobs.Version{InkPerLabel: dec("0.01"), Coverage: "full"}, "0.01"},
		{"the class's per thousand", jobs.Version{Coverage: "full"}, "0.0042"},
		{"neither is zero", jobs.Version{}, "0"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := rates.LabelInk(tt.v)
			require.NoError(t, err)
			assert.Equal(t, tt.want, got.String())
		})
	}
	_, err := rates.LabelInk(jobs.Version{ID: "A", Coverage: "half"})
	assert.EqualError(t, err, `version A: unknown coverage class "half"`)
}

func dec(text string) decimal.Decimal { return decimal.RequireFromString(text) }

func TestPricingFaults(t *testing.T) {
	tests := []struct {
		name string
		p    jobs.Pricing
		want string
	}{
		{"nothing set is sound", jobs.Pricing{}, ""},
		{"a margin of 100 %", jobs.Pricing{Margin: ptr("1")}, "margin: want a margin from 0% to less than 100%, got 100%"},
		{"a negative markup", jobs.Pricing{Markup: ptr("-0.1")}, "markup: want a markup of 0% or more, got -10%"},
		{"both", jobs.Pricing{Markup: ptr("0.1"), Margin: ptr("0.1")}, "margin: want a markup or a margin, not both"},
		{"a class without either", jobs.Pricing{Classes: []jobs.PriceClass{{Customer: "Mill"}}}, "classes[0]: want a markup or a margin, got neither"},
		{"a class from minus one", jobs.Pricing{Classes: []jobs.PriceClass{{FromLabels: -1, Markup: ptr("0")}}}, "classes[0].from_labels: want 0 or more, got -1"},
		{"a negative minimum", jobs.Pricing{MinimumPrice: ptr("-5")}, "minimum_price: want 0 or more, got -5"},
		{"an unknown rule", jobs.Pricing{Rule: "fairest"}, `rule: want one of fair, proportional, equal-savings, separable, shapley, nucleolus, got "fairest"`},
		{"rounding to nothing", jobs.Pricing{RoundTo: ptr("0")}, "round_to: want an amount above 0, got 0"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { assert.Equal(t, tt.want, tt.p.Check().Error()) })
	}
}

func TestRatesFaults(t *testing.T) {
	r := jobs.Rates{CorePrice: ptr("-1"), Coverage: []jobs.CoverageClass{{ID: "a"}, {}, {ID: "a", PerThousand: dec("-2")}}}
	assert.Equal(t, `core_price: want 0 or more, got -1
coverage[1].id: want a name for the coverage class, got nothing
coverage[2].id: coverage class a stands here twice: want it once
coverage[2].per_thousand: want 0 or more, got -2`, r.Check().Error())
	assert.Empty(t, jobs.Rates{}.Check())
}

func ptr(text string) *decimal.Decimal {
	d := dec(text)
	return &d
}
