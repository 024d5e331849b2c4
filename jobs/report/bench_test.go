package report

import (
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func benchmark() []Benchmark {
	money := func(x float64) *float64 { return &x }
	return []Benchmark{
		{Name: "covers", Versions: 3, Lanes: 4, Sections: 2, Cost: 136472, Bound: 136472, Proven: true, Seed: 1, Stop: "proven",
			Seconds: 0.5, SecondsToOnePercent: 0.1, Alone: money(155148), Blocks: money(139636), Best: money(136472.0001), Places: 2},
		{Name: "large", Versions: 200, Lanes: 5, Sections: 60, Cost: 1000, Bound: 980, Gap: 0.02, Seed: 1, Stop: "time limit",
			Seconds: 10, SecondsToOnePercent: 4.1, Places: 0},
		{Name: "=odd", Versions: 2, Lanes: 1, Failure: "no plan can meet the demands: because", Places: 2},
	}
}

func TestBenchTextIsATable(t *testing.T) {
	var b strings.Builder
	require.NoError(t, BenchText(&b, benchmark(), Style{}))
	lines := strings.Split(b.String(), "\n")
	fields := func(i int) []string { return strings.Fields(lines[i]) }
	assert.Equal(t, []string{"covers", "3", "4", "2", "136472.00", "136472.00", "proven", "0.1", "s", "+13.68", "%", "+2.32", "%", "0.00", "%"}, fields(2))
	assert.Equal(t, []string{"large", "200", "5", "60", "1000", "980", "2.00", "%", "4.1", "s", "-", "-", "-"}, fields(3))
	assert.Equal(t, []string{"mean", "1.00", "%", "2.1", "s", "+13.68", "%", "+2.32", "%", "0.00", "%"}, fields(6))
	assert.Contains(t, b.String(), "=odd: no plan can meet the demands: because\n")
}

func TestBenchCSVAndJSONHaveTheSameLines(t *testing.T) {
	var b strings.Builder
	require.NoError(t, BenchCSV(&b, benchmark()))
	rows, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 4)
	assert.Equal(t, "155148", rows[1][12])
	assert.Equal(t, "", rows[2][12])
	assert.Equal(t, "'=odd", rows[3][0])

	b.Reset()
	require.NoError(t, BenchJSON(&b, benchmark()))
	var got struct {
		Laneplan int
		Bench    []map[string]any
	}
	require.NoError(t, json.Unmarshal([]byte(b.String()), &got))
	assert.Equal(t, 1, got.Laneplan)
	require.Len(t, got.Bench, 3)
	assert.Equal(t, 136472.0, got.Bench[0]["cost"])
	assert.Nil(t, got.Bench[1]["alone"])
	assert.Equal(t, "no plan can meet the demands: because", got.Bench[2]["failure"])
}
