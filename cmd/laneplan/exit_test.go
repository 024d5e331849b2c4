package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
)

const tiny = "laneplan: 1\nlanes: 2\ncosts: {row: 1, section: 10}\nversions:\n  - {id: A, quantity: 10}\n"

func TestExitCodes(t *testing.T) {
	good := file(t, "good.yaml", tiny)
	bad := file(t, "bad.yaml", strings.Replace(tiny, "10}\n", "10.5}\n", 2))
	short := file(t, "plan.json", `{"laneplan": 1, "gangs": [{"lanes": 2, "sections": [{"number": 1, "rows": 1, "lanes": ["A", "A"]}]}]}`)
	foreign := file(t, "plan.json", `{"laneplan": 1, "gangs": [{"lanes": 2, "sections": [{"number": 1, "rows": 1, "lanes": ["Z", "Z"]}]}]}`)
	holds := file(t, "plan.json", `{"laneplan": 1, "gangs": [{"lanes": 2, "sections": [{"number": 1, "rows": 5, "lanes": ["A", "A"]}]}]}`)
	impossible := file(t, "impossible.yaml", strings.Replace(tiny, "quantity: 10}", "quantity: 10}\n  - {id: B, quantity: 10}\n  - {id: C, quantity: 10}\nrules: {versions_per_section: 1, most_sections: 2}", 1))
	for _, tt := range []struct {
		name string
		want int
		args []string
	}{
		{"a plan", exitDone, []string{"plan", good}},
		{"help", exitDone, []string{"--help"}},
		{"nothing asked", exitDone, nil},
		{"a check", exitDone, []string{"check", good}},
		{"a plan that holds", exitDone, []string{"verify", holds, good}},
		{"an unknown command", exitInput, []string{"plot"}},
		{"an unknown flag", exitInput, []string{"plan", good, "--fast"}},
		{"a file too few", exitInput, []string{"plan"}},
		{"a flag's value", exitInput, []string{"plan", good, "--time", "soon"}},
		{"flags that clash", exitInput, []string{"plan", good, "--sections", "1", "--max-sections", "2"}},
		{"a file that is not there", exitInput, []string{"plan", good + ".not"}},
		{"a file with a fault", exitInput, []string{"plan", bad}},
		{"a check of a file with a fault", exitInput, []string{"check", bad}},
		{"a plan that does not hold", exitInput, []string{"verify", short, good}},
		{"a start from another file", exitInput, []string{"plan", good, "--start", foreign}},
		{"an engine that is not there", exitInput, []string{"plan", good, "--engine", filepath.Join(t.TempDir(), "highs")}},
		{"more versions than sections hold", exitInfeasible, []string{"plan", impossible}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := laneplan(t, tt.args...)
			assert.Equal(t, tt.want, got.code, got.stderr)
			if tt.want == exitDone {
				assert.Empty(t, got.stderr)
			} else {
				assert.Empty(t, got.stdout)
				assert.NotEmpty(t, got.stderr)
			}
		})
	}
}

func TestExitCodeOfErrors(t *testing.T) {
	for _, tt := range []struct {
		name    string
		started bool
		err     error
		want    int
	}{
		{"none", true, nil, 0},
		{"something broke", true, errors.New("out of paper"), 1},
		{"a limit before the first plan", true, fmt.Errorf("x: %w", &nest.NoPlan{Stop: nest.StopTime}), 1},
		{"cobra refused", false, errors.New("unknown flag"), 2},
		{"no plan possible", true, fmt.Errorf("x: %w", &nest.Infeasible{Reasons: []string{"because"}}), 3},
		{"interrupted before the first plan", true, fmt.Errorf("x: %w", &nest.NoPlan{Stop: nest.StopContext}), 130},
		{"interrupted elsewhere", true, fmt.Errorf("x: %w", context.Canceled), 130},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := &app{started: tt.started, stderr: &bytes.Buffer{}}
			assert.Equal(t, tt.want, a.end(tt.err))
		})
	}
}

func TestInfeasibleNamesTheDemand(t *testing.T) {
	text, err := os.ReadFile(demo)
	require.NoError(t, err)
	late := file(t, "late.yaml", strings.Replace(string(text), "due: 2026-12-03", "due: 2026-11-29", 1))
	got := laneplan(t, "plan", late)
	assert.Equal(t, exitInfeasible, got.code)
	assert.Contains(t, got.stderr, "late.yaml: no plan can meet the demands: version cinnamon is due")
}

// cancelAt cancels a context when something is written that holds a word.
type cancelAt struct {
	bytes.Buffer
	word   string
	cancel context.CancelFunc
}

func (c *cancelAt) Write(p []byte) (int, error) {
	if bytes.Contains(p, []byte(c.word)) {
		c.cancel()
	}
	return c.Buffer.Write(p)
}

func TestInterruptedSearchWritesItsBestPlan(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	out := filepath.Join(t.TempDir(), "plan.json")
	stderr := &cancelAt{word: "cost", cancel: cancel}
	var stdout bytes.Buffer
	code := run(ctx, []string{"plan", demo, "--time", "0", "--progress", "--out", out}, &stdout, stderr)
	assert.Equal(t, exitInterrupted, code, stderr.String())
	assert.Empty(t, stdout.String())
	assert.Contains(t, stderr.String(), "laneplan: interrupted; the best plan so far is written\n")
	got := laneplan(t, "verify", out, demo)
	assert.Equal(t, exitDone, got.code, got.stderr)
}

func TestInterruptedBeforeAPlanWritesNothing(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	out := filepath.Join(t.TempDir(), "plan.json")
	var stdout, stderr bytes.Buffer
	code := run(ctx, []string{"plan", demo, "--out", out}, &stdout, &stderr)
	assert.Equal(t, exitInterrupted, code, stderr.String())
	if _, err := planIn(out); err != nil {
		assert.NoFileExists(t, out, "either a whole plan or none")
	}
}

func TestFailureToWriteIsOurs(t *testing.T) {
	var stderr bytes.Buffer
	for _, args := range [][]string{{"plan", covers}, {"check", covers}, {"schema", "plan"}, {"licences"}} {
		code := run(context.Background(), args, brokenPipe{}, &stderr)
		assert.Equal(t, exitFailure, code, args)
	}
	require.Contains(t, stderr.String(), "closed pipe")
}
