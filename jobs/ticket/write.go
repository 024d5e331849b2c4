package ticket

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"laneplan/jobs/planfile"
	"laneplan/jobs/report"
	"laneplan/jobs/wholefile"
)

// Options of WriteAll and WriteFiles. The zero value never touches a folder
// that is there.
type Options struct {
	// Replace puts the new documents in the place of those that an earlier
	// call made. A folder with anything else in it is refused all the same.
	Replace bool
	// Also names further files of a folder that may be replaced.
	Also []string
}

// File is one document of a gang's folder.
type File struct {
	Name string
	Data []byte
}

// maker makes one document of a gang's folder.
type maker struct {
	name  string
	write func(io.Writer, Job) error
}

var makers = []maker{
	{"plan.json", planJSON},
	{"report.html", Report},
	{"run-sheet.pdf", RunSheet},
	{"rewind-sheet.pdf", RewindSheet},
	{"roll-tags.pdf", RollTags},
	{"sections.csv", func(w io.Writer, j Job) error { return report.SectionsCSV(w, []planfile.Gang{j.Plan}) }},
	{"versions.csv", func(w io.Writer, j Job) error { return report.VersionsCSV(w, []planfile.Gang{j.Plan}) }},
	{"rolls.csv", RollsCSV},
	{"rolls.json", RollsJSON},
}

// FileNames of a gang's folder, in the order in which they are written.
func FileNames() []string {
	names := make([]string, len(makers))
	for i, f := range makers {
		names[i] = f.name
	}
	return names
}

// planJSON is the plan with the job in it, so that the folder stands alone.
func planJSON(w io.Writer, j Job) error {
	if j.Plan.Job == nil {
		if err := j.Plan.SetJob(j.Gang); err != nil {
			return err
		}
	}
	return planfile.Write(w, planfile.Document{Gangs: []planfile.Gang{j.Plan}})
}

// Documents makes every document of a job, in the order of FileNames. It fails
// where one cannot be made, and when ctx ends.
func Documents(ctx context.Context, j Job) ([]File, error) {
	files := make([]File, len(makers))
	for i, f := range makers {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var b bytes.Buffer
		if err := f.write(&b, j); err != nil {
			return nil, fmt.Errorf("%s: %w", f.name, err)
		}
		files[i] = File{f.name, b.Bytes()}
	}
	return files, nil
}

// WriteAll makes every document of a job and writes them into the folder dir
// as WriteFiles does.
func WriteAll(ctx context.Context, dir string, j Job, o Options) error {
	if _, err := o.check(filepath.Clean(dir)); err != nil {
		return err
	}
	files, err := Documents(ctx, j)
	if err != nil {
		return err
	}
	return WriteFiles(dir, files, o)
}

// WriteFiles writes documents into the folder dir, all of them or none: into a
// folder beside it that takes its name when everything is on the disk. Missing
// folders above it are made. Where it fails, nothing new is left and what was
// there is as it was.
func WriteFiles(dir string, files []File, o Options) (err error) {
	dir = filepath.Clean(dir)
	old, err := o.check(dir)
	if err != nil {
		return err
	}
	made, err := makeParents(filepath.Dir(dir))
	if err != nil {
		return err
	}
	temp := beside(dir, "part")
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(temp))
			for _, folder := range made { // only what is still empty
				_ = os.Remove(folder)
			}
		}
	}()
	if err := os.Mkdir(temp, 0o777); err != nil {
		return fmt.Errorf("make a folder for the documents: %w", err)
	}
	for _, f := range files {
		write := func(w io.Writer) error {
			_, err := w.Write(f.Data)
			return err
		}
		if err := wholefile.Write(filepath.Join(temp, f.Name), 0o644, write); err != nil {
			return err
		}
	}
	return putInPlace(temp, dir, old)
}

// check says whether dir is there; it refuses one that may not be replaced.
func (o Options) check(dir string) (old bool, err error) {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, fmt.Errorf("the folder for the documents: %w", err)
	case len(entries) == 0:
		return true, nil
	case !o.Replace:
		return false, fmt.Errorf("%s is there already: %w", dir, ErrThere)
	}
	for _, e := range entries {
		if e.IsDir() || !slices.Contains(FileNames(), e.Name()) && !slices.Contains(o.Also, e.Name()) {
			return false, fmt.Errorf("%s holds %s, which is %w: take it out before the folder is replaced", dir, e.Name(), ErrForeign)
		}
	}
	return true, nil
}

// ErrThere marks a folder that is not overwritten because nobody asked for it.
var ErrThere = errors.New("documents are only replaced when asked to")

// ErrForeign marks a folder with files that are not ours.
var ErrForeign = errors.New("none of our documents")

// Ready finds out in advance whether WriteAll can write to dir, as far as that
// can be known. It changes nothing.
func (o Options) Ready(dir string) error {
	dir = filepath.Clean(dir)
	if _, err := o.check(dir); err != nil {
		return err
	}
	return wholefile.Writable(filepath.Join(filepath.Dir(dir), "documents"))
}

// makeParents makes a folder and those above it, and lists the new ones from
// the innermost out.
func makeParents(folder string) (made []string, err error) {
	for at := folder; ; at = filepath.Dir(at) {
		if _, err := os.Stat(at); !errors.Is(err, fs.ErrNotExist) || at == filepath.Dir(at) {
			break
		}
		made = append(made, at)
	}
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return nil, fmt.Errorf("make the folder for the documents: %w", err)
	}
	return made, nil
}

// beside names a hidden folder next to dir that nobody else uses.
func beside(dir, ending string) string {
	return filepath.Join(filepath.Dir(dir), "."+filepath.Base(dir)+"."+rand.Text()[:10]+"."+ending)
}

// putInPlace gives temp the name dir. An old folder steps aside first and
// comes back if that fails.
func putInPlace(temp, dir string, old bool) error {
	aside := beside(dir, "old")
	if old {
		if err := os.Rename(dir, aside); err != nil {
			return fmt.Errorf("replace the documents: %w", err)
		}
	}
	if err := os.Rename(temp, dir); err != nil {
		if old {
			err = errors.Join(err, os.Rename(aside, dir))
		}
		return fmt.Errorf("put the documents in place: %w", err)
	}
	wholefile.SyncFolder(filepath.Dir(dir))
	if old {
		if err := os.RemoveAll(aside); err != nil {
			return fmt.Errorf("the documents are in place, but the old ones are still in %s: %w", aside, err)
		}
	}
	return nil
}

// longestFolder keeps paths short enough for every system.
const longestFolder = 60

// FolderName for a gang: its id, with whatever could mean something in a path
// replaced. An id that had to be changed carries a check of the whole id, so
// that two ids still make two folders.
func FolderName(id string) string {
	name := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || r == '-' || r == '_' {
			return r
		}
		return '-'
	}, id)
	if letters := []rune(name); len(letters) > longestFolder {
		name = string(letters[:longestFolder])
	}
	if name == "" || name != id || reserved[strings.ToUpper(name)] {
		name = fmt.Sprintf("%s-%08x", strings.Trim(name, "-"), crc32.ChecksumIEEE([]byte(id)))
	}
	if strings.HasPrefix(name, "-") {
		name = "gang" + name // a command would take it for an option
	}
	return name
}

// reserved names mean a device on Windows (from memory).
var reserved = func() map[string]bool {
	all := map[string]bool{"CON": true, "PRN": true, "AUX": true, "NUL": true}
	for n := '0'; n <= '9'; n++ {
		all["COM"+string(n)], all["LPT"+string(n)] = true, true
	}
	return all
}()
