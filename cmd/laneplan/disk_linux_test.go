package main

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mounted is a folder on a file system of its own.
func mounted(t *testing.T, flags uintptr, options string) string {
	t.Helper()
	folder := t.TempDir()
	err := syscall.Mount("none", folder, "tmpfs", flags, options)
	if errors.Is(err, syscall.EPERM) || errors.Is(err, syscall.EACCES) {
		t.Skip("not allowed to mount a file system (wants root): a real full disk is not tried here")
	}
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(folder, 0)) })
	return folder
}

func TestDocumentsOnADiskThatIsFullOrMayNotBeWritten(t *testing.T) {
	shop := file(t, "shop.yaml", smallShop+"orders: [{id: o, versions: [{id: A, quantity: 800, labels_per_roll: 400, core: 76mm}]}]\n")
	stored := filepath.Join(t.TempDir(), "out")
	require.Equal(t, exitDone, laneplan(t, "plan", shop, "--out", stored).code)
	plan := filepath.Join(stored, "small", "plan.json")

	t.Run("full", func(t *testing.T) {
		folder := mounted(t, 0, "size=64k")
		for name, args := range map[string][]string{
			"plan":    {"plan", shop, "--quiet", "--out", filepath.Join(folder, "deep", "out")},
			"tickets": {"tickets", plan, "--out", filepath.Join(folder, "deep", "out")},
		} {
			t.Run(name, func(t *testing.T) {
				got := laneplan(t, args...)
				assert.Equal(t, exitInput, got.code)
				assert.Equal(t, 1, strings.Count(got.stderr, "\n"), "one sentence: %s", got.stderr)
				assert.Contains(t, got.stderr, "no space left on device")
				left, err := os.ReadDir(folder)
				require.NoError(t, err)
				assert.Empty(t, left, "nothing half-written, not even a folder")
			})
		}
	})
	t.Run("read-only", func(t *testing.T) {
		folder := mounted(t, syscall.MS_RDONLY, "size=64k")
		got := laneplan(t, "plan", shop, "--quiet", "--out", filepath.Join(folder, "out"))
		assert.Equal(t, exitInput, got.code)
		assert.Equal(t, 1, strings.Count(got.stderr, "\n"), "one sentence: %s", got.stderr)
		assert.Contains(t, got.stderr, "read-only file system")
		assert.Empty(t, got.stdout, "refused before the search")
	})
}
