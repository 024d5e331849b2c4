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

// rivalled has whatever else a benchmark may say; its figures are made up.
func rivalled() []Benchmark {
	money := func(x float64) *float64 { return &x }
	lines := benchmark()
	lines[0].Published = money(139280.96)
	lines[0].Rivals = []Rival{
		{Method: "alone", Cost: money(155148), EqualSeconds: money(0.01)},
		{Method: "textbook", Cost: money(136472), Seconds: money(0.4), EqualSeconds: money(0.1)},
		{Method: "annealing", Cost: money(136471.99), Seconds: money(10)},
	}
	lines[1].Published = money(1000)
	lines[1].Rivals = []Rival{
		{Method: "alone", Failure: "each version alone: no plan by this method: =rule"},
		{Method: "textbook", Seconds: money(0), Failure: "textbook programme: no plan by this method: 84084 columns, at most 60000 are tried"},
		{Method: "annealing", Cost: money(1500), Seconds: money(10.02), EqualSeconds: money(0.3)},
	}
	return lines
}

func TestBenchTextTellsOfRivalsAndPublishedPlans(t *testing.T) {
	var b strings.Builder
	require.NoError(t, BenchText(&b, rivalled(), Style{}))
	var first, second [][]string
	for _, line := range strings.Split(b.String(), "\n") {
		switch {
		case strings.HasPrefix(line, "  covers"), strings.HasPrefix(line, "  large"), strings.HasPrefix(line, "  mean"):
			if len(first) < 3 {
				first = append(first, strings.Fields(line))
			} else {
				second = append(second, strings.Fields(line))
			}
		}
	}
	assert.Equal(t, []string{"better,", "+2.06", "%"}, first[0][15:])
	assert.Equal(t, []string{"0.00", "%"}, first[1][len(first[1])-2:], "as cheap as published is no better")
	assert.Contains(t, b.String(), "\ncovers: better than published, 136472.00 against 139280.96\n")
	assert.NotContains(t, b.String(), "large: better")
	assert.Equal(t, [][]string{
		{"covers", "136472.00", "+13.68", "%", "0.01", "s", "0.00", "%", "0.10", "s", "0.00", "%", "never"},
		{"large", "1000", "-", "-", "-", "-", "+50.00", "%", "0.30", "s"},
		{"mean", "+13.68", "%", "0.01", "s", "0.00", "%", "0.10", "s", "+25.00", "%", "0.30", "s"},
	}, second)
	assert.Contains(t, b.String(), "\nlarge: textbook programme: no plan by this method: 84084 columns, at most 60000 are tried\n")
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
