package price_test

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/price"
)

func TestQuoteFor(t *testing.T) {
	classes := []jobs.PriceClass{
		{Customer: "Mill", FromLabels: 5000, Margin: ptr("0.2")},
		{Customer: "Mill", Margin: ptr("0.25")},
		{FromLabels: 5000, Markup: ptr("0.5")},
	}
	tests := []struct {
		name     string
		p        jobs.Pricing
		customer string
		labels   int
		cost     string
		price    string
		thousand string
		basis    string
	}{
		{"markup is on the cost", jobs.Pricing{Markup: ptr("0.4")}, "", 1000, "100", "140", "140", "40 % markup"},
		{"margin is on the price", jobs.Pricing{Margin: ptr("0.4")}, "", 2000, "60", "100", "50", "40 % margin"},
		{"a cost goes to the minor unit", jobs.Pricing{Margin: ptr("0.3")}, "", 700, "10", "14.29", "20.41", "30 % margin"},
		{"the first class that fits: customer and quantity", jobs.Pricing{Markup: ptr("1"), Classes: classes}, "Mill", 5000, "80", "100", "20", "Mill from 5000 labels: 20 % margin"},
		{"the customer's class", jobs.Pricing{Markup: ptr("1"), Classes: classes}, "Mill", 4999, "75", "100", "20", "Mill: 25 % margin"},
		{"the quantity's class", jobs.Pricing{Markup: ptr("1"), Classes: classes}, "Shop", 5000, "80", "120", "24", "from 5000 labels: 50 % markup"},
		{"no class fits", jobs.Pricing{Markup: ptr("1"), Classes: classes}, "Shop", 100, "80", "160", "1600", "100 % markup"},
		{"minimum price", jobs.Pricing{Markup: ptr("1"), MinimumPrice: ptr("45")}, "", 250, "20", "45", "180", "100 % markup, minimum price"},
		{"rounded to 5", jobs.Pricing{Markup: ptr("0"), RoundTo: ptr("5")}, "", 1000, "102.49", "100", "100", "0 % markup, rounded to 5"},
		{"rounded up to 0.50", jobs.Pricing{Markup: ptr("0"), RoundTo: ptr("0.50"), RoundUp: true}, "", 1000, "102.01", "102.5", "102.5", "0 % markup, rounded up to 0.5"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			q, err := price.QuoteFor(tt.p, 2, tt.customer, tt.labels, dec(tt.cost))
			require.NoError(t, err)
			assert.Equal(t, tt.price, q.Price.String())
			assert.Equal(t, tt.thousand, q.PerThousand.Truncate(2).String())
			assert.Equal(t, tt.basis, q.Basis)
		})
	}
}

func TestNoPriceFromARateThatTheShopDidNotSet(t *testing.T) {
	_, err := price.QuoteFor(jobs.Pricing{}, 2, "", 1000, dec("10"))
	assert.ErrorIs(t, err, price.ErrNoPricing)
	_, err = price.QuoteFor(jobs.Pricing{Classes: []jobs.PriceClass{{Customer: "Mill", Markup: ptr("1")}}}, 2, "Shop", 1000, dec("10"))
	assert.ErrorIs(t, err, price.ErrNoPricing)
}

func TestWarningWhereTheGapIsWiderThanTheMargin(t *testing.T) {
	cost, asked := dec("100"), dec("104")
	assert.Empty(t, price.Warning("order o1", 2, cost, asked, 0.03))
	assert.Empty(t, price.Warning("order o1", 2, cost, cost, 0), "a proven plan")
	assert.Equal(t, "order o1: the plan may cost up to 5.00 more than need be, and the price leaves only 4.00 above cost",
		price.Warning("order o1", 2, cost, asked, 0.05))
	assert.NotEmpty(t, price.Warning("order o1", 2, cost, decimal.NewFromInt(90), 0.001), "below cost")
}
