package starter

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/intake/orderbook"
	"laneplan/jobs/intake/shopfile"
)

func TestTheExampleIsBigEnoughAndReadsAlikeInBothFormats(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "new", "shop")
	paths, err := Write(folder, false)
	require.NoError(t, err)
	assert.Len(t, paths, 4)
	shop, err := shopfile.ReadFile(filepath.Join(folder, ShopFile))
	require.NoError(t, err)
	fromCSV, err := orderbook.Read([]string{filepath.Join(folder, CSVFile)}, shop, orderbook.Options{})
	require.NoError(t, err)
	fromXLSX, err := orderbook.Read([]string{filepath.Join(folder, XLSXFile)}, shop, orderbook.Options{})
	require.NoError(t, err)

	dies, stocks, customers := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for i := range fromCSV.Lines {
		line := &fromCSV.Lines[i]
		dies[line.Die], stocks[line.Stock], customers[line.Customer] = true, true, true
		line.Source, fromXLSX.Lines[i].Source = jobs.Source{}, jobs.Source{}
	}
	assert.Equal(t, fromCSV.Lines, fromXLSX.Lines)
	assert.GreaterOrEqual(t, len(fromCSV.Lines), 40)
	assert.GreaterOrEqual(t, len(dies), 3)
	assert.GreaterOrEqual(t, len(stocks), 2)
	assert.GreaterOrEqual(t, len(customers), 4)
}

func TestWhatIsThereIsKept(t *testing.T) {
	folder := t.TempDir()
	mine := filepath.Join(folder, CSVFile)
	require.NoError(t, os.WriteFile(mine, []byte("mine"), 0o644))
	_, err := Write(folder, false)
	require.ErrorIs(t, err, ErrThere)
	assert.ErrorContains(t, err, mine)
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "nothing else was written")

	_, err = Write(folder, true)
	require.NoError(t, err)
	data, err := os.ReadFile(mine)
	require.NoError(t, err)
	assert.Equal(t, ordersText, data)
}
