package main

import (
	"bytes"
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake"
)

// Every bare problem of up to 6 versions in testdata is proven within a work
// limit.
func TestSmallProblemsAreProven(t *testing.T) {
	paths, err := filepath.Glob("../../testdata/bare/*.yaml")
	require.NoError(t, err)
	small := 0
	for _, path := range paths {
		gang, err := intake.ReadFile(path)
		require.NoError(t, err)
		if len(gang.Entries()) > 6 {
			continue
		}
		small++
		t.Run(filepath.Base(path), func(t *testing.T) {
			var stdout, stderr bytes.Buffer
			code := run(context.Background(), []string{"plan", path, "--work", "20"}, &stdout, &stderr)
			assert.Equal(t, exitDone, code, stderr.String())
			assert.Contains(t, stdout.String(), "Proven: no plan costs less.")
		})
	}
	assert.GreaterOrEqual(t, small, 6)
}
