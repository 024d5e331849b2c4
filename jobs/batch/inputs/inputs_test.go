package inputs

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// write writes a file into a folder and gives its path.
func write(t *testing.T, folder, name, text string) string {
	t.Helper()
	path := filepath.Join(folder, name)
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

func TestChanged(t *testing.T) {
	folder := t.TempDir()
	shop := write(t, folder, "shop.yaml", "a")
	write(t, folder, "orders/1.csv", "b")
	write(t, folder, "orders/deep/2.csv", "c")
	paths := []string{shop, filepath.Join(folder, "orders")}
	before, err := Take(paths)
	require.NoError(t, err)
	assert.Len(t, before, 3)
	changed, err := Changed(before, paths)
	require.NoError(t, err)
	assert.Empty(t, changed)

	// Back to the same time stamp and size: only what is in it tells.
	info, err := os.Stat(shop)
	require.NoError(t, err)
	write(t, folder, "shop.yaml", "A")
	require.NoError(t, os.Chtimes(shop, info.ModTime(), info.ModTime()))
	more := write(t, folder, "orders/3.csv", "d")
	gone := filepath.Join(folder, "orders", "1.csv")
	require.NoError(t, os.Remove(gone))
	changed, err = Changed(before, paths)
	require.NoError(t, err)
	assert.Equal(t, []string{gone, more, shop}, changed)

	require.NoError(t, os.Remove(shop))
	_, err = Changed(before, paths)
	assert.ErrorIs(t, err, os.ErrNotExist)
}

func TestAnOrderBookThatIsBeingWritten(t *testing.T) {
	for name, tt := range map[string]struct {
		writes int // readings during which somebody writes
		fault  error
		want   error
		read   int
	}{
		"nobody writes":                         {0, nil, nil, 1},
		"half a file is read again":             {2, nil, nil, 3},
		"a fault in a whole file is its own":    {0, os.ErrInvalid, os.ErrInvalid, 1},
		"a fault in half a file does not count": {1, os.ErrInvalid, os.ErrInvalid, 2},
		"who never stops writing":               {9, nil, ErrWritten, 3},
	} {
		path := write(t, t.TempDir(), "orders.csv", "")
		read := 0
		taken, err := Steady(context.Background(), []string{path}, Patience{Readings: 3, Pause: 1}, func() error {
			read++
			if read <= tt.writes {
				write(t, filepath.Dir(path), "orders.csv", string(rune('a'+read)))
				return errors.New("half a row")
			}
			return tt.fault
		})
		assert.ErrorIs(t, err, tt.want, name)
		assert.Equal(t, tt.read, read, name)
		if tt.want == nil {
			assert.Len(t, taken, 1, name)
		}
	}
}

func TestSteadyEndsWhenToldTo(t *testing.T) {
	path := write(t, t.TempDir(), "orders.csv", "")
	ctx, cancel := context.WithCancel(context.Background())
	_, err := Steady(ctx, []string{path}, Patience{Pause: time.Hour}, func() error {
		cancel()
		write(t, filepath.Dir(path), "orders.csv", "more")
		return nil
	})
	assert.ErrorIs(t, err, context.Canceled)
	_, err = Steady(ctx, []string{path + ".not"}, Patience{}, func() error { return nil })
	assert.ErrorIs(t, err, os.ErrNotExist)
}
