package folder

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/ticket"
)

func opened(t *testing.T, path string) *Folder {
	t.Helper()
	f, err := Open(path)
	require.NoError(t, err)
	t.Cleanup(func() { _ = f.Close() })
	return f
}

func TestOneBatchAtATime(t *testing.T) {
	path := t.TempDir()
	f := opened(t, path)
	assert.Nil(t, f.Stale)
	_, err := Open(path)
	require.ErrorIs(t, err, ErrBusy)
	assert.Regexp(t, `another batch works in this folder: process \d+ on .+, since \d{4}-.+ ago\)`, err.Error())
	require.NoError(t, f.Close())
	opened(t, path)
}

// The system frees the lock of a process that dies; what it wrote of itself
// stays.
func TestAStaleLock(t *testing.T) {
	path := t.TempDir()
	f := opened(t, path)
	require.NoError(t, f.lock.Close()) // as the end of a process does
	again := opened(t, path)
	require.NotNil(t, again.Stale)
	assert.Equal(t, os.Getpid(), again.Stale.Process)

	require.NoError(t, again.lock.Close())
	require.NoError(t, os.WriteFile(filepath.Join(path, StateFolder, ownerFile), []byte("{half"), 0o600))
	assert.Nil(t, opened(t, path).Stale, "an owner that cannot be read does not lock anybody out")
}

func TestAnOwner(t *testing.T) {
	past := Owner{Host: "press-room", Process: 7, Since: time.Now().Add(-3 * time.Hour)}
	assert.Contains(t, past.String(), "process 7 on press-room, since ")
	assert.Contains(t, past.String(), "(3h0m0s ago)")
	future := Owner{Host: "press-room", Process: 7, Since: time.Now().Add(time.Hour)}
	assert.Equal(t, "process 7 on press-room", future.String(), "a clock was put back")
}

var files = []ticket.File{{Name: "plan.json", Data: []byte("{}")}, {Name: "report.html", Data: []byte("<p>")}}

type value struct{ Cost int }

func TestPutAndGet(t *testing.T) {
	path := t.TempDir()
	f := opened(t, path)
	require.NoError(t, f.Put("gang", files, value{3}))
	var v value
	got, err := f.Get("gang", &v)
	require.NoError(t, err)
	assert.Equal(t, Whole, got)
	assert.Equal(t, value{3}, v)
	names, err := f.Names()
	require.NoError(t, err)
	assert.Equal(t, []string{"gang"}, names)

	for name, tt := range map[string]struct {
		damage func() error
		want   Got
	}{
		"a document is gone":    {func() error { return os.Remove(filepath.Join(path, "gang", "report.html")) }, Damaged},
		"a document is changed": {func() error { return os.WriteFile(filepath.Join(path, "gang", "plan.json"), []byte("{"), 0o600) }, Damaged},
		"the record is cut":     {func() error { return os.Truncate(filepath.Join(path, "gang", RecordFile), 9) }, Nothing},
		"the record is gone":    {func() error { return os.Remove(filepath.Join(path, "gang", RecordFile)) }, Nothing},
		"all is gone":           {func() error { return os.RemoveAll(filepath.Join(path, "gang")) }, Nothing},
		"a file stands there": {func() error {
			if err := os.RemoveAll(filepath.Join(path, "gang")); err != nil {
				return err
			}
			return os.WriteFile(filepath.Join(path, "gang"), nil, 0o600)
		}, Nothing},
	} {
		require.NoError(t, os.RemoveAll(filepath.Join(path, "gang")))
		require.NoError(t, f.Put("gang", files, value{4}), name)
		require.NoError(t, tt.damage())
		got, err := f.Get("gang", &v)
		require.NoError(t, err, name)
		assert.Equal(t, tt.want, got, name)
	}
}

// What a kill leaves half-written is cleared away; an old folder whose new one
// never came is put back.
func TestWhatAKillLeaves(t *testing.T) {
	path := t.TempDir()
	f := opened(t, path)
	require.NoError(t, f.Put("kept", files, value{1}))
	require.NoError(t, f.Put("back", files, value{2}))
	require.NoError(t, f.Close())
	require.NoError(t, os.Rename(filepath.Join(path, "back"), filepath.Join(path, ".back.ABCDEFGH23.old")))
	require.NoError(t, os.Mkdir(filepath.Join(path, ".back.ABCDEFGH24.part"), 0o700))
	require.NoError(t, os.Mkdir(filepath.Join(path, ".kept.ABCDEFGH25.old"), 0o700))
	for _, name := range []string{".index.html.ABCDEFGH26.part", ".laneplan/.memory.json.ABCDEFGH27.part", ".hidden", "notes.part", ".gitignore"} {
		require.NoError(t, os.WriteFile(filepath.Join(path, name), nil, 0o600))
	}
	f = opened(t, path)
	var v value
	got, err := f.Get("back", &v)
	require.NoError(t, err)
	assert.Equal(t, Whole, got)
	assert.Equal(t, value{2}, v)
	entries, err := os.ReadDir(path)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	assert.Equal(t, []string{".gitignore", ".hidden", ".laneplan", "back", "kept", "notes.part"}, names, "nothing of others goes")
	assert.NoFileExists(t, filepath.Join(path, ".laneplan", ".memory.json.ABCDEFGH27.part"))
}

func TestEarlierNights(t *testing.T) {
	path := t.TempDir()
	f := opened(t, path)
	for range 3 {
		require.NoError(t, f.Put("gang", files, value{1}))
		require.NoError(t, f.Retire("gang", "2026-11-30"))
	}
	require.NoError(t, f.Retire("gang", "2026-11-30"), "nothing there, nothing done")
	for _, name := range []string{"gang", "gang-2", "gang-3"} {
		assert.FileExists(t, filepath.Join(path, Earlier, "2026-11-30", name, "plan.json"))
	}
	require.NoError(t, f.Put("gang", files, value{1}))
	require.NoError(t, os.WriteFile(filepath.Join(path, "gang", "notes.txt"), []byte("ask Ida"), 0o600))
	require.NoError(t, f.Put("gang", files, value{2}))
	assert.FileExists(t, filepath.Join(path, Earlier, "kept", "gang", "notes.txt"))
	var v value
	_, err := f.Get("gang", &v)
	require.NoError(t, err)
	assert.Equal(t, value{2}, v)
}

func TestAFolderThatCannotBe(t *testing.T) {
	wall := filepath.Join(t.TempDir(), "wall")
	require.NoError(t, os.WriteFile(wall, nil, 0o600))
	_, err := Open(wall)
	assert.ErrorContains(t, err, "make the output folder")
}
