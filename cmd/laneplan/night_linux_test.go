package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/batch/summary"
)

// mount puts a small disk at a folder.
func mount(t *testing.T, at, options string) {
	t.Helper()
	require.NoError(t, os.MkdirAll(at, 0o700))
	if err := syscall.Mount("tmpfs", at, "tmpfs", 0, options); err != nil {
		t.Skipf("a small disk cannot be mounted here (that takes root): %v", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(at, syscall.MNT_DETACH) })
}

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
	require.NoError(t, os.RemoveAll(n.out))
	for _, share := range []int{6, 2} { // of what is needed
		mount(t, n.out, fmt.Sprintf("size=%dk", size/share/1024))
		got := n.run(t, "--no-times")
		require.Equal(t, exitFailure, got.code, got.stderr)
		assert.Contains(t, got.stderr, "no space left on device")
		assert.Contains(t, got.stderr, "make room and run the same command again to go on")
		for name := range filesOf(t, n.out) {
			assert.NotContains(t, name, ".part", "nothing half-written is left")
			if text, known := want[name]; known && strings.HasSuffix(name, ".pdf") {
				data, err := os.ReadFile(filepath.Join(n.out, name))
				require.NoError(t, err)
				assert.True(t, len(data) > 0 && data[0] == text[0], name)
			}
		}
		require.NoError(t, syscall.Mount("tmpfs", n.out, "tmpfs", syscall.MS_REMOUNT, "size=64m"))
		again := n.run(t, "--no-times")
		require.Equal(t, exitDone, again.code, again.stderr)
		sameFiles(t, want, filesOf(t, n.out), "with room")
		require.NoError(t, syscall.Unmount(n.out, 0))
	}
}

// A disk that cannot be written to is refused before anything is planned; one
// that becomes so keeps what was done.
func TestAReadOnlyDisk(t *testing.T) {
	n := newNight(t, threeGangs)
	mount(t, n.out, "size=64m")
	require.NoError(t, syscall.Mount("tmpfs", n.out, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	got := n.run(t)
	assert.Equal(t, exitInput, got.code)
	assert.Contains(t, got.stderr, "--out: make the output folder: ")
	assert.Contains(t, got.stderr, "read-only file system")
	require.NoError(t, syscall.Mount("tmpfs", n.out, "tmpfs", syscall.MS_REMOUNT, ""))
	require.Equal(t, exitDone, n.run(t).code)
	assert.Equal(t, summary.Done, n.summary(t).State)
}
