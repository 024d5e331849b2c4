package bookfile_test

import (
	"bytes"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
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

func valid(t *testing.T, b bookfile.Book) error {
	t.Helper()
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(bookfile.Schema))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("book.schema.json", document))
	schema, err := c.Compile("book.schema.json")
	require.NoError(t, err)
	var text bytes.Buffer
	require.NoError(t, bookfile.Write(&text, b))
	instance, err := jsonschema.UnmarshalJSON(&text)
	require.NoError(t, err)
	return schema.Validate(instance)
}

func TestABookIsValidByItsSchema(t *testing.T) {
	p := pooled(t)
	one := decimal.New(100, 0)
	p.Splits = []pool.Split{
		{Gang: "a", Into: []string{"a-a", "a-b"}, One: &one, Two: decimal.New(90, 0)},
		{Gang: "b", One: &one, Two: decimal.New(110, 0)},
		{Gang: "c", Into: []string{"c-a", "c-b"}, Two: decimal.New(1, 0)},
	}
	p.Gangs[1].Late = []pool.Late{{Order: p.Gangs[1].Orders[0].ID, Due: p.Date.AddDate(0, 0, -2)}}
	p.Out[0].Must = true
	b := bookfile.Describe(p)
	assert.NoError(t, valid(t, b))
	b.Planned(0, one, []decimal.Decimal{one}, nil)
	b.Planned(1, one, nil, []string{"2026-118"})
	assert.NoError(t, valid(t, b))
	assert.Equal(t, "10.00", b.Splits[0].Saves.String())
	assert.Equal(t, "-10.00", b.Splits[1].Saves.String())
	assert.Empty(t, b.Splits[2].Saves)
	assert.True(t, b.Gangs[1].Orders[0].Late)
	assert.Equal(t, "2026-11-28", b.Gangs[1].Orders[0].Due)
	assert.NoError(t, valid(t, bookfile.Describe(pool.Pooling{Date: p.Date, Until: p.Until})))

	b.Gangs[0].Press = ""
	b.Gangs[0].Orders = nil
	assert.Error(t, valid(t, b))
}

func TestTotalsStandOnceEveryGangHasOne(t *testing.T) {
	b := bookfile.Describe(pooled(t))
	assert.Equal(t, 43, b.Totals.Versions)
	cent := decimal.RequireFromString("10.004")
	for i := range b.Gangs {
		assert.Empty(t, b.Totals.Cost)
		b.Planned(i, cent, []decimal.Decimal{cent, cent}, nil)
	}
	// Seven gangs: the total is the sum of what stands beside them, to the
	// cent.
	require.Len(t, b.Gangs, 7)
	assert.Equal(t, "70.00", b.Totals.Cost.String())
	assert.Equal(t, "140.07", b.Totals.CostAlone.String())
	assert.Equal(t, "70.07", b.Totals.Saving.String())

	b.Planned(3, cent, nil, []string{"2026-130"})
	assert.Equal(t, "70.00", b.Totals.Cost.String())
	assert.NotEmpty(t, b.Gangs[3].AloneUnknown)
	assert.Empty(t, b.Gangs[3].CostAlone)
	assert.Empty(t, b.Totals.CostAlone)
	assert.Empty(t, b.Totals.Saving)
}
