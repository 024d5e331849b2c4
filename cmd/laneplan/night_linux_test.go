package main

import (
	"fmt"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/batch/summary"
)

// A disk that is full ends the batch with one sentence. What is there is
// whole, and with room the same command comes to the undisturbed result.
func TestAFullDisk(t *testing.T) {
	n := newNight(t, sixGangs)
	require.Equal(t, exitDone, n.run(t, "--no-times").code)
	want := filesOf(t, n.out)
	size := 0
	for _, text := range want {
		size += len(text)
	}
	for _, share := range []int{6, 2} { // of what is needed
		t.Run(fmt.Sprintf("1/%d of the room", share), func(t *testing.T) {
			n := n
			n.out = mounted(t, 0, fmt.Sprintf("size=%dk", size/share/1024))
			got := n.run(t, "--no-times")
			require.Equal(t, exitFailure, got.code, got.stderr)
			assert.Contains(t, got.stderr, "no space left on device")
			assert.Contains(t, got.stderr, "make room and run the same command again to go on")
			for name, text := range filesOf(t, n.out) {
				assert.NotContains(t, name, ".part", "nothing half-written is left")
				assert.NotEmpty(t, text, name)
			}
			require.NoError(t, syscall.Mount("none", n.out, "tmpfs", syscall.MS_REMOUNT, "size=64m"))
			again := n.run(t, "--no-times")
			require.Equal(t, exitDone, again.code, again.stderr)
			sameFiles(t, want, filesOf(t, n.out), "with room")
		})
	}
}

// A disk that cannot be written to is refused before anything is planned; one
// that becomes so keeps what was done.
func TestAReadOnlyDisk(t *testing.T) {
	n := newNight(t, threeGangs)
	n.out = mounted(t, 0, "size=64m")
	require.NoError(t, syscall.Mount("none", n.out, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	got := n.run(t)
	assert.Equal(t, exitInput, got.code)
	assert.Contains(t, got.stderr, "--out: make the output folder: ")
	assert.Contains(t, got.stderr, "read-only file system")
	require.NoError(t, syscall.Mount("none", n.out, "tmpfs", syscall.MS_REMOUNT, ""))
	require.Equal(t, exitDone, n.run(t).code)
	assert.Equal(t, summary.Done, n.summary(t).State)
}
