package fault

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"unicode/utf8"
)

// ReadFile reads a regular file of at most so many bytes. A folder, a device,
// a pipe, an empty or an over-long file is refused before anything is read.
// The error is a List where the file is at fault.
func ReadFile(path string, most int64) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, Of(path, "there is no such file")
	case err != nil:
		return nil, Of(path, "cannot be read: %v", reason(err))
	case info.IsDir():
		return nil, Of(path, "want a file, got a folder")
	case !info.Mode().IsRegular():
		return nil, Of(path, "want a regular file, got a device or a pipe")
	case info.Size() == 0:
		return nil, Of(path, "the file is empty")
	case info.Size() > most:
		return nil, tooLong(path, most)
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, Of(path, "cannot be read: %v", reason(err))
	}
	defer file.Close()
	// The file may have grown since: never read more than the limit.
	data, err := io.ReadAll(io.LimitReader(file, most+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: %w", path, err)
	case int64(len(data)) > most:
		return nil, tooLong(path, most)
	}
	return data, nil
}

func tooLong(path string, most int64) List {
	return Of(path, "the file is longer than %d MB, the most that is read", most/1_000_000)
}

// reason drops what a path error repeats.
func reason(err error) error {
	var inPath *fs.PathError
	if errors.As(err, &inPath) {
		return inPath.Err
	}
	return err
}

// CheckText finds out whether data is text in UTF-8 without control bytes;
// the fault names the line and column of the first byte that is not.
func CheckText(path string, data []byte) List {
	for at := 0; at < len(data); {
		r, size := rune(data[at]), 1
		if r >= utf8.RuneSelf {
			r, size = utf8.DecodeRune(data[at:])
		}
		switch {
		case r == utf8.RuneError && size == 1:
			return List{place(path, data, at, fmt.Sprintf("want text in UTF-8, got the byte 0x%02X", data[at]), "save the file as UTF-8")}
		case r < ' ' && r != '\n' && r != '\r' && r != '\t' || r == 0x7F:
			return List{place(path, data, at, fmt.Sprintf("want text, got the control byte 0x%02X", data[at]), "this may not be a text file")}
		}
		at += size
	}
	return nil
}

func place(path string, data []byte, at int, message, hint string) Fault {
	before := data[:at]
	lineStart := bytes.LastIndexByte(before, '\n') + 1
	return Fault{
		File: path, Line: bytes.Count(before, []byte("\n")) + 1,
		Column: utf8.RuneCount(before[lineStart:]) + 1, Message: message, Hint: hint,
	}
}
