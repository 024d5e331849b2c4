package main

import (
	"bytes"
	"context"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/batch"
)

func TestTheLineOfABatch(t *testing.T) {
	s := batch.Status{Gangs: 9, Planned: 4, Doing: "round", Round: 1, Saving: "12.30", Currency: "EUR"}
	assert.Equal(t, "4 of 9 gangs, saving 12.30 EUR, round 1", batchLine(s))
	s.Failed, s.Left = 2, 90*time.Minute
	assert.Equal(t, "4 of 9 gangs, 2 failed, saving 12.30 EUR, round 1, 1h30m0s left", batchLine(s))
	s.Doing, s.Failed, s.Left = "savings", 0, 0
	assert.Equal(t, "4 of 9 gangs, saving 12.30 EUR, savings", batchLine(s))
}

// On a terminal there is a bar in place of events; what needs care stands
// above it.
func TestABatchOnATerminal(t *testing.T) {
	n := newNight(t, threeGangs)
	var stdout, stderr bytes.Buffer
	a := &app{ctx: context.Background(), stdout: &stdout, stderr: &stderr, isTerminal: func(io.Writer) bool { return true }}
	require.Equal(t, exitPartly, a.run(n.args("--give-up", "1ns")))
	assert.Contains(t, stderr.String(), "0 of 3 gangs")
	assert.Contains(t, stderr.String(), `msg="gang failed"`)
	assert.NotContains(t, stderr.String(), "batch begun")
}
