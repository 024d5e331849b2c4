package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/report"
	"laneplan/nest"
)

// rivalsOf benches one file with rivals under a work limit, and takes the
// times out of what it gives.
func rivalsOf(t *testing.T, path, work string) report.Benchmark {
	t.Helper()
	got := laneplan(t, "bench", path, "--rivals", "--work", work, "-f", "json")
	require.Equal(t, exitDone, got.code, got.stderr)
	var result struct{ Bench []report.Benchmark }
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &result))
	require.Len(t, result.Bench, 1)
	line := result.Bench[0]
	line.Seconds, line.SecondsToOnePercent = 0, 0
	for i := range line.Rivals {
		r := &line.Rivals[i]
		if r.Cost != nil && *r.Cost >= line.Cost {
			assert.NotNil(t, r.EqualSeconds, "%s costs %v, our plan %v", r.Method, *r.Cost, line.Cost)
		} else {
			assert.Nil(t, r.EqualSeconds, r.Method)
		}
		r.Seconds, r.EqualSeconds = nil, nil
	}
	return line
}

func costs(line report.Benchmark) map[string]float64 {
	out := map[string]float64{}
	for _, r := range line.Rivals {
		if r.Cost != nil {
			out[r.Method] = *r.Cost
		}
	}
	return out
}

// TestRivalsOnTheCovers has the optimum of the collection of D. Romero, UNAM
// (136472.00, by enumeration), and the costs of the two ways of people, which
// nest/bench has by hand.
func TestRivalsOnTheCovers(t *testing.T) {
	line := rivalsOf(t, covers, "20")
	assert.Equal(t, map[string]float64{"alone": 155148, "blocks": 139636, "textbook": 136472, "annealing": 136472}, costs(line))
}

// TestRivalsAreCountedNotTimed: a work limit gives the same costs again.
func TestRivalsAreCountedNotTimed(t *testing.T) {
	const path = "../../testdata/bench/v012-l08-spread-s0300.yaml"
	one := rivalsOf(t, path, "2")
	assert.Equal(t, one, rivalsOf(t, path, "2"))
	assert.Contains(t, costs(one), "annealing")
	assert.Less(t, one.Cost, costs(one)["annealing"])
}

// TestRivalsSayWhatTheyCannot: the blocks do not know the rule.
func TestRivalsSayWhatTheyCannot(t *testing.T) {
	text, err := os.ReadFile(covers)
	require.NoError(t, err)
	path := file(t, "one.yaml", string(text)+"rules: {sections: 2}\n")
	line := rivalsOf(t, filepath.Dir(path), "5")
	byMethod := map[string]report.Rival{}
	for _, r := range line.Rivals {
		byMethod[r.Method] = r
	}
	assert.Nil(t, byMethod["blocks"].Cost)
	assert.Contains(t, byMethod["blocks"].Failure, "sorted blocks: no plan by this method: ")
	assert.Empty(t, byMethod["textbook"].Failure)
}

func TestEqualSeconds(t *testing.T) {
	better := []nest.Progress{
		{Elapsed: time.Second, Cost: 120}, {Elapsed: 2 * time.Second, Cost: 100}, {Elapsed: 3 * time.Second, Cost: 90},
	}
	cost := func(x float64) *float64 { return &x }
	assert.Equal(t, cost(1), equalSeconds(better, cost(150)))
	assert.Equal(t, cost(2), equalSeconds(better, cost(100-1e-9)), "two sums of the same costs")
	assert.Equal(t, cost(3), equalSeconds(better, cost(99)))
	assert.Nil(t, equalSeconds(better, cost(89)))
	assert.Nil(t, equalSeconds(better, nil))
}
