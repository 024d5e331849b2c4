// Package wholefile writes files whole or not at all: into a temporary file
// beside the target, synced to disk, then renamed over it. Whoever reads the
// target sees the old content or the new, never a half.
//
//	err := wholefile.Write("plan.json", 0o644, func(w io.Writer) error {
//		return planfile.Write(w, document)
//	})
//
// A Set does the same for several files: none is put in place before all of
// them are written.
package wholefile

import (
	"bufio"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Write puts what write produces at path. A new file gets perm less the
// umask; one that is there keeps its permissions. A symbolic link is followed,
// and a missing folder is made. Where write or the disk fails, path is as it
// was and no file is left beside it. A target that is no regular file (a
// terminal, a pipe) is written to directly.
func Write(path string, perm fs.FileMode, write func(io.Writer) error) error {
	var s Set
	defer s.Discard()
	if err := s.Add(path, perm, write); err != nil {
		return err
	}
	return s.Commit()
}

// Writable finds out in advance whether Write can put a file at path, as far
// as that can be known. It changes nothing.
func Writable(path string) error {
	target, err := resolve(path)
	if err != nil {
		return err
	}
	switch info, err := os.Stat(target); {
	case err == nil && info.IsDir():
		return fmt.Errorf("%s is a folder, want a file", path)
	case err == nil && !info.Mode().IsRegular():
		return nil
	}
	folder := filepath.Dir(target)
	for {
		info, err := os.Stat(folder)
		if err == nil && !info.IsDir() {
			return fmt.Errorf("%s: %s is a file, want a folder", path, folder)
		}
		if err == nil {
			break
		}
		if !errors.Is(err, fs.ErrNotExist) || filepath.Dir(folder) == folder {
			return err
		}
		folder = filepath.Dir(folder)
	}
	probe, err := os.CreateTemp(folder, ".*.part")
	if err != nil {
		return fmt.Errorf("%s: no file can be made in %s: %w", path, folder, errors.Unwrap(err))
	}
	return errors.Join(probe.Close(), os.Remove(probe.Name()))
}

// Set is a number of files that belong together. The zero value is empty and
// ready. Call Commit to put them in place, and Discard in a defer: it does
// nothing after a Commit.
type Set struct {
	staged []staged
}

type staged struct{ temp, target string }

// Add writes one file of the set beside its target without touching the
// target, as Write describes. After an error the set holds what it held before.
func (s *Set) Add(path string, perm fs.FileMode, write func(io.Writer) error) error {
	target, err := resolve(path)
	if err != nil {
		return err
	}
	switch info, err := os.Stat(target); {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return err
	case info.IsDir():
		return fmt.Errorf("%s is a folder, want a file", path)
	case !info.Mode().IsRegular():
		return writeThrough(target, write)
	default:
		perm = info.Mode().Perm()
	}
	temp, err := stage(target, perm, write)
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	s.staged = append(s.staged, staged{temp, target})
	return nil
}

// Commit puts every file of the set in place, in the order of the Adds. It
// can fail between two files only where the disk or the permissions changed
// since; the files not yet in place are then dropped.
func (s *Set) Commit() error {
	defer s.Discard()
	folders := map[string]bool{}
	for len(s.staged) > 0 {
		f := s.staged[0]
		if err := os.Rename(f.temp, f.target); err != nil {
			return fmt.Errorf("put %s in place: %w", f.target, err)
		}
		s.staged = s.staged[1:]
		folders[filepath.Dir(f.target)] = true
	}
	for folder := range folders {
		SyncFolder(folder)
	}
	return nil
}

// Discard drops what was added and not committed.
func (s *Set) Discard() {
	for _, f := range s.staged {
		_ = os.Remove(f.temp)
	}
	s.staged = nil
}

// resolve follows a symbolic link, so that the rename replaces the file and
// not the link.
func resolve(path string) (string, error) {
	target, err := filepath.EvalSymlinks(path)
	if errors.Is(err, fs.ErrNotExist) {
		return filepath.Clean(path), nil
	}
	if err != nil {
		return "", fmt.Errorf("%s: %w", path, err) // the error may not name it
	}
	return target, nil
}

func writeThrough(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	buffer := bufio.NewWriter(f)
	return errors.Join(write(buffer), buffer.Flush(), f.Close())
}

// stage writes a synced temporary file in the folder of target and returns
// its path; on an error nothing is left.
func stage(target string, perm fs.FileMode, write func(io.Writer) error) (string, error) {
	folder := filepath.Dir(target)
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return "", err
	}
	temp := filepath.Join(folder, "."+filepath.Base(target)+"."+rand.Text()[:10]+".part")
	f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, perm)
	if err != nil {
		return "", err
	}
	done := false
	defer func() { // also when write panics
		if !done {
			_ = f.Close()
			_ = os.Remove(f.Name())
		}
	}()
	buffer := bufio.NewWriter(f)
	if err := write(buffer); err != nil {
		return "", err
	}
	if err := buffer.Flush(); err != nil {
		return "", err
	}
	if err := f.Sync(); err != nil {
		return "", err
	}
	if err := f.Close(); err != nil {
		return "", err
	}
	done = true
	return temp, nil
}

// SyncFolder makes the renames of a folder durable, where the system can:
// Windows has no such call and some network file systems refuse it, and the
// files are in place all the same.
func SyncFolder(folder string) {
	if f, err := os.Open(folder); err == nil {
		_ = f.Sync()
		_ = f.Close()
	}
}
