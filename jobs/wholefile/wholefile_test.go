package wholefile

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

func names(t *testing.T, folder string) []string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func read(t *testing.T, path string) string {
	t.Helper()
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(content)
}

func TestWriteMakesAndReplacesAFile(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "new", "plan.json")
	require.NoError(t, Write(path, 0o644, text("first")))
	assert.Equal(t, "first", read(t, path))
	require.NoError(t, Write(path, 0o644, text("second")))
	assert.Equal(t, "second", read(t, path))
	assert.Equal(t, []string{"plan.json"}, names(t, filepath.Dir(path)))
}

func TestWriteThatFailsHalfwayLeavesTheOldFileAndNothingElse(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "plan.json")
	require.NoError(t, Write(path, 0o644, text("old")))
	broken := errors.New("out of ink")
	half := func(w io.Writer) error {
		if err := text("half of the new")(w); err != nil {
			return err
		}
		return broken
	}
	require.ErrorIs(t, Write(path, 0o644, half), broken)
	assert.Equal(t, "old", read(t, path))
	assert.Panics(t, func() { _ = Write(path, 0o644, func(io.Writer) error { panic("bug") }) })
	assert.Equal(t, "old", read(t, path))
	assert.Equal(t, []string{"plan.json"}, names(t, folder))
}

func TestWriteRefusesAFolder(t *testing.T) {
	folder := t.TempDir()
	err := Write(folder, 0o644, text("x"))
	require.ErrorContains(t, err, "is a folder, want a file")
	assert.Empty(t, names(t, folder))
}

func TestWriteKeepsPermissionsAndFollowsLinks(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows has neither")
	}
	folder := t.TempDir()
	path, link := filepath.Join(folder, "real"), filepath.Join(folder, "link")
	require.NoError(t, os.WriteFile(path, []byte("old"), 0o600))
	require.NoError(t, os.Symlink("real", link))
	require.NoError(t, Write(link, 0o644, text("new")))
	assert.Equal(t, "new", read(t, path))
	info, err := os.Lstat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode())
	info, err = os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeSymlink)
}

func TestWriteGoesThroughToADevice(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows has no device files")
	}
	require.NoError(t, Write(os.DevNull, 0o644, text("gone")))
	info, err := os.Stat(os.DevNull)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeDevice, "the device is still one")
}

func TestSetPutsNothingInPlaceBeforeCommit(t *testing.T) {
	folder := t.TempDir()
	one, two := filepath.Join(folder, "a", "one"), filepath.Join(folder, "b", "two")
	var s Set
	defer s.Discard()
	require.NoError(t, s.Add(one, 0o644, text("1")))
	require.NoError(t, s.Add(two, 0o644, text("2")))
	assert.NoFileExists(t, one)
	assert.NoFileExists(t, two)
	require.NoError(t, s.Commit())
	assert.Equal(t, "1", read(t, one))
	assert.Equal(t, "2", read(t, two))
	s.Discard()
	assert.FileExists(t, one)
}

func TestSetDiscardLeavesNoFile(t *testing.T) {
	folder := t.TempDir()
	var s Set
	require.NoError(t, s.Add(filepath.Join(folder, "one"), 0o644, text("1")))
	require.Error(t, s.Add(filepath.Join(folder, "two"), 0o644, func(io.Writer) error { return io.ErrUnexpectedEOF }))
	s.Discard()
	assert.Empty(t, names(t, folder))
}

func TestWritableKnowsBeforeAndChangesNothing(t *testing.T) {
	folder := t.TempDir()
	file := filepath.Join(folder, "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	for _, tt := range []struct{ name, path, want string }{
		{"a file that is there", file, ""},
		{"a new file", filepath.Join(folder, "new"), ""},
		{"a new file in new folders", filepath.Join(folder, "a", "b", "new"), ""},
		{"a folder", folder, "is a folder, want a file"},
		{"a file in a file", filepath.Join(file, "x"), "not a directory"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			err := Writable(tt.path)
			if tt.want == "" {
				assert.NoError(t, err)
			} else {
				assert.ErrorContains(t, err, tt.want)
			}
			assert.Equal(t, []string{"file"}, names(t, folder))
		})
	}
}
