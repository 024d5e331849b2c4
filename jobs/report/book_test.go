package report

import (
	"bytes"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/bookfile"
	"laneplan/jobs/pool"
	"laneplan/jobs/starter"
)

func pooled(t *testing.T) pool.Pooling {
	t.Helper()
	shop, lines, day, err := starter.Book()
	require.NoError(t, err)
	p, err := pool.Pool(shop, lines, day)
	require.NoError(t, err)
	return p
}

// pooledBook is the starter's book, pooled.
func pooledBook(t *testing.T) bookfile.Book {
	t.Helper()
	return bookfile.Describe(pooled(t))
}

// plannedBook has whatever else a book may say; its costs are made up.
func plannedBook(t *testing.T) bookfile.Book {
	t.Helper()
	p := pooled(t)
	p.Gangs = p.Gangs[:3]
	p.Gangs[1].Late = []pool.Late{{Order: p.Gangs[1].Orders[0].ID, Due: p.Date.AddDate(0, 0, -2)}}
	p.Out[0].Must, p.Out[0].Customer = true, "=cmd\x1b[31m"
	one, two := decimal.RequireFromString("100"), decimal.RequireFromString("90.5")
	p.Splits = []pool.Split{
		{Gang: "a", Into: []string{"a-a", "a-b"}, One: &one, Two: two},
		{Gang: "b", One: &two, Two: one},
		{Gang: "c", Into: []string{"c-a", "c-b"}, Two: two},
	}
	b := bookfile.Describe(p)
	for i := range b.Gangs {
		b.Planned(i, two, []decimal.Decimal{one}, nil)
	}
	return b
}

func TestEveryOrderOfABookIsInTheText(t *testing.T) {
	b := pooledBook(t)
	var text strings.Builder
	require.NoError(t, Book(&text, b, Style{}))
	var table bytes.Buffer
	require.NoError(t, BookCSV(&table, b))
	orders := 0
	for _, g := range b.Gangs {
		assert.Contains(t, text.String(), g.ID)
		assert.Contains(t, text.String(), g.Alone)
		for _, o := range g.Orders {
			orders++
			assert.Contains(t, text.String(), o.Order)
			assert.Contains(t, table.String(), o.Order)
		}
	}
	for _, o := range b.Out {
		assert.Contains(t, text.String(), o.Reason)
		assert.Contains(t, table.String(), o.Reason)
	}
	assert.Equal(t, 1+orders+len(b.Out), strings.Count(table.String(), "\r\n"))
}
