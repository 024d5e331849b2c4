//go:build unix

package intake_test

import (
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake"
)

func TestAPipeIsNotWaitedFor(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, syscall.Mkfifo("pipe", 0o644))
	_, err := intake.ReadFile("pipe")
	assert.EqualError(t, err, "pipe: want a regular file, got a device or a pipe")
}
