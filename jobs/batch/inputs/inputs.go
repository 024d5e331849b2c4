// Package inputs tells whether somebody writes to files while they are read:
// their hashes before and after are compared. No clock counts.
//
//	taken, err := inputs.Steady(ctx, []string{"shop.yaml", "orders"}, inputs.Patience{}, read)
//	... hours later
//	changed, err := inputs.Changed(taken, []string{"shop.yaml", "orders"})
package inputs

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// Print is the hash of every file, by its path.
type Print map[string]string

// Take prints files and all files in folders. A file that goes away between
// two looks is left out.
func Take(paths []string) (Print, error) {
	p := Print{}
	for _, path := range paths {
		info, err := os.Stat(path)
		if err != nil {
			return nil, err
		}
		if !info.IsDir() {
			if err := p.add(path); err != nil {
				return nil, err
			}
			continue
		}
		err = filepath.WalkDir(path, func(path string, entry fs.DirEntry, err error) error {
			if errors.Is(err, fs.ErrNotExist) {
				return nil
			}
			if err != nil || !entry.Type().IsRegular() {
				return err
			}
			if err := p.add(path); !errors.Is(err, fs.ErrNotExist) {
				return err
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return p, nil
}

func (p Print) add(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return fmt.Errorf("read %s: %w", path, err)
	}
	p[path] = hex.EncodeToString(h.Sum(nil))
	return nil
}

// Changed lists the files that are not as they were, new and lost ones too,
// sorted.
func Changed(before Print, paths []string) ([]string, error) {
	now, err := Take(paths)
	if err != nil {
		return nil, err
	}
	all := maps.Clone(before)
	maps.Copy(all, now)
	var changed []string
	for path := range all {
		if before[path] != now[path] {
			changed = append(changed, path)
		}
	}
	slices.Sort(changed)
	return changed, nil
}

// Patience is how often files are read again that somebody wrote to meanwhile,
// and after which pause. The zero value is ten readings, three seconds apart.
type Patience struct {
	Readings int
	Pause    time.Duration
}

// ErrWritten says that files were still being written when patience was over.
var ErrWritten = errors.New("is being written: run this again when it is whole")

// Steady calls read, and calls it again where the files changed meanwhile: a
// reading counts, with its error, only if they did not. It fails with
// ErrWritten, naming a file, where they never stop changing, and with ctx.
func Steady(ctx context.Context, paths []string, p Patience, read func() error) (Print, error) {
	p.Readings, p.Pause = cmp.Or(p.Readings, 10), cmp.Or(p.Pause, 3*time.Second)
	for reading := 1; ; reading++ {
		before, err := Take(paths)
		if err != nil {
			return nil, err
		}
		fault := read()
		changed, err := Changed(before, paths)
		switch {
		case err == nil && len(changed) == 0:
			return before, fault
		case err == nil:
			err = fmt.Errorf("%s %w", changed[0], ErrWritten)
		}
		if reading == p.Readings {
			return nil, err
		}
		select {
		case <-time.After(p.Pause):
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}
