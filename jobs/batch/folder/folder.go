// Package folder is the output folder of a batch: one batch at a time writes
// to it, every gang has a folder in it that is there whole or not at all, and
// nothing that an earlier night made is thrown away. It knows nothing of plans.
//
//	f, err := folder.Open("out")
//	defer f.Close()
//	err = f.Put("lid-48", files)
package folder

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/gofrs/flock"

	"laneplan/jobs/ticket"
	"laneplan/jobs/wholefile"
)

// Names in the output folder that are not gangs'.
const (
	StateFolder = ".laneplan" // what a batch must remember
	Earlier     = "earlier"   // what earlier nights made, by date
	lockFile    = "lock"
	ownerFile   = "owner.json"
	// RecordFile stands beside a gang's documents.
	RecordFile = "batch.json"
)

// Owner of the lock of an output folder.
type Owner struct {
	Host    string    `json:"host"`
	Process int       `json:"process"`
	Since   time.Time `json:"since"`
}

// String names the owner and how long it has been there.
func (o Owner) String() string {
	text := fmt.Sprintf("process %d on %s", o.Process, o.Host)
	if age := time.Since(o.Since).Round(time.Second); age >= 0 {
		text += fmt.Sprintf(", since %s (%s ago)", o.Since.Local().Format(time.DateTime), age)
	}
	return text
}

// ErrBusy says that another batch works in the folder.
var ErrBusy = errors.New("another batch works in this folder")

// Folder is an output folder that is ours until Close.
type Folder struct {
	path string
	lock *flock.Flock
	// Stale is the owner who left its lock behind: killed, or its machine
	// went down. Nil where there was none.
	Stale *Owner
}

// Open takes the folder, makes it where it is not there, and clears away what
// a killed batch left half-written. The system frees the lock of a process
// that dies, so a lock that is left behind is known to be stale. It fails with
// ErrBusy, naming the owner, where another batch works there.
func Open(path string) (*Folder, error) {
	state := filepath.Join(path, StateFolder)
	if err := os.MkdirAll(state, 0o777); err != nil {
		return nil, fmt.Errorf("make the output folder: %w", err)
	}
	f := &Folder{path: path, lock: flock.New(filepath.Join(state, lockFile))}
	taken, err := f.lock.TryLock()
	if err != nil {
		return nil, fmt.Errorf("lock the output folder: %w", err)
	}
	if !taken {
		_ = f.lock.Close()
		by := ""
		if owner := f.owner(); owner != nil {
			by = ": " + owner.String()
		}
		return nil, fmt.Errorf("%s: %w%s", path, ErrBusy, by)
	}
	f.Stale = f.owner()
	if err := f.begin(); err != nil {
		return nil, errors.Join(err, f.lock.Close())
	}
	return f, nil
}

func (f *Folder) begin() error {
	host, err := os.Hostname()
	if err != nil {
		host = "this machine"
	}
	if err := f.SetState(ownerFile, Owner{Host: host, Process: os.Getpid(), Since: time.Now().UTC().Truncate(time.Second)}); err != nil {
		return err
	}
	return f.sweep()
}

// owner who wrote itself down; nil for none.
func (f *Folder) owner() *Owner {
	var o Owner
	if found, err := f.State(ownerFile, &o); err != nil || !found {
		return nil
	}
	return &o
}

// Close gives the folder back.
func (f *Folder) Close() error {
	err := os.Remove(filepath.Join(f.path, StateFolder, ownerFile))
	if errors.Is(err, fs.ErrNotExist) {
		err = nil // the folder was taken away
	}
	return errors.Join(err, f.lock.Close())
}

// Path of the folder.
func (f *Folder) Path() string { return f.path }

// sweep clears away what a killed batch left: folders and files that were
// being written go, an old folder whose new one never came comes back.
func (f *Folder) sweep() error {
	for _, folder := range []string{f.path, filepath.Join(f.path, StateFolder)} {
		entries, err := os.ReadDir(folder)
		if err != nil {
			return fmt.Errorf("look through the output folder: %w", err)
		}
		for _, e := range entries {
			name, ending, ours := unfinished(e.Name())
			if !ours {
				continue
			}
			path := filepath.Join(folder, e.Name())
			if ending == "old" {
				if _, err := os.Lstat(filepath.Join(folder, name)); errors.Is(err, fs.ErrNotExist) {
					if err := os.Rename(path, filepath.Join(folder, name)); err != nil {
						return fmt.Errorf("put the documents of %s back: %w", name, err)
					}
					continue
				}
			}
			if err := os.RemoveAll(path); err != nil {
				return fmt.Errorf("clear away a half-written file: %w", err)
			}
		}
	}
	return nil
}

// unfinished tells the hidden names under which wholefile and ticket write,
// .NAME.TENLETTERS.part and .NAME.TENLETTERS.old, from all others.
func unfinished(name string) (of, ending string, is bool) {
	rest, hidden := strings.CutPrefix(name, ".")
	ending = strings.TrimPrefix(filepath.Ext(rest), ".")
	rest = strings.TrimSuffix(rest, "."+ending)
	mark := strings.TrimPrefix(filepath.Ext(rest), ".")
	of = strings.TrimSuffix(rest, "."+mark)
	return of, ending, hidden && (ending == "part" || ending == "old") && len(mark) == 10 && of != "" && strings.ToUpper(mark) == mark
}

// State reads what SetState wrote; false where it is not there.
func (f *Folder) State(name string, into any) (bool, error) {
	path := filepath.Join(f.path, StateFolder, name)
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	if err := json.Unmarshal(data, into); err != nil {
		return false, fmt.Errorf("%s: %w", path, err)
	}
	return true, nil
}

// SetState keeps a value as JSON for a later batch.
func (f *Folder) SetState(name string, value any) error {
	return persist(func() error { return writeJSON(filepath.Join(f.path, StateFolder, name), value) })
}

// WriteFile writes a file into the folder, whole or not at all.
func (f *Folder) WriteFile(name string, write func(io.Writer) error) error {
	return persist(func() error { return wholefile.Write(filepath.Join(f.path, name), 0o644, write) })
}

// persist writes again where somebody took folders away beneath the write,
// which makes them anew; not for ever, since he may do it on purpose.
func persist(write func() error) (err error) {
	for range 20 {
		if err = write(); !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return err
}

func writeJSON(path string, value any) error {
	return wholefile.Write(path, 0o644, func(w io.Writer) error {
		e := json.NewEncoder(w)
		e.SetEscapeHTML(false)
		e.SetIndent("", " ")
		return e.Encode(value)
	})
}

// record is what stands beside a gang's documents.
type record struct {
	// Files are the hashes of the documents.
	Files map[string]string `json:"files"`
	Value json.RawMessage   `json:"gang"`
}

// Put writes a gang's documents and a value to remember, all or nothing, in
// the place of what Put wrote there before. A folder with anything else in it
// is kept among the earlier ones.
func (f *Folder) Put(name string, files []ticket.File, value any) error {
	data, err := json.Marshal(value)
	if err != nil {
		return err
	}
	r := record{Files: map[string]string{}, Value: data}
	for _, one := range files {
		r.Files[one.Name] = hash(one.Data)
	}
	if data, err = json.MarshalIndent(r, "", " "); err != nil {
		return err
	}
	path := filepath.Join(f.path, name)
	all := append(append([]ticket.File{}, files...), ticket.File{Name: RecordFile, Data: append(data, '\n')})
	return persist(func() error {
		err := ticket.WriteFiles(path, all, ticket.Options{Replace: true, Also: []string{RecordFile}})
		if errors.Is(err, ticket.ErrForeign) {
			if err := f.Retire(name, "kept"); err != nil {
				return err
			}
			err = ticket.WriteFiles(path, all, ticket.Options{})
		}
		return err
	})
}

func hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// Got says what there is of a gang's folder.
type Got int

// What Get may find.
const (
	Nothing Got = iota
	Damaged     // the value, but documents are missing or changed
	Whole
)

// Get reads the value that Put wrote beside a gang's documents.
func (f *Folder) Get(name string, into any) (Got, error) {
	folder := filepath.Join(f.path, name)
	if info, err := os.Stat(folder); err == nil && !info.IsDir() {
		return Nothing, nil
	}
	data, err := os.ReadFile(filepath.Join(folder, RecordFile))
	if errors.Is(err, fs.ErrNotExist) {
		return Nothing, nil
	}
	if err != nil {
		return Nothing, err
	}
	var r record
	if json.Unmarshal(data, &r) != nil || json.Unmarshal(r.Value, into) != nil {
		return Nothing, nil // damaged beyond use: made anew
	}
	for name, want := range r.Files {
		if data, err := os.ReadFile(filepath.Join(folder, name)); err != nil || hash(data) != want {
			return Damaged, nil
		}
	}
	return Whole, nil
}

// Names of the gangs' folders that are there.
func (f *Folder) Names() ([]string, error) {
	entries, err := os.ReadDir(f.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") || !e.IsDir() {
			continue
		}
		if _, err := os.Stat(filepath.Join(f.path, e.Name(), RecordFile)); err == nil {
			names = append(names, e.Name())
		}
	}
	return names, nil
}

// Retire moves a gang's folder to those of an earlier night, where somebody
// may still need its tickets; nothing where it is not there.
func (f *Folder) Retire(name, night string) error {
	from := filepath.Join(f.path, name)
	if _, err := os.Lstat(from); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	into := filepath.Join(f.path, Earlier, night)
	if err := os.MkdirAll(into, 0o777); err != nil {
		return fmt.Errorf("keep the documents of %s: %w", name, err)
	}
	to := filepath.Join(into, name)
	for n := 2; ; n++ {
		if _, err := os.Lstat(to); errors.Is(err, fs.ErrNotExist) {
			break
		}
		to = filepath.Join(into, fmt.Sprintf("%s-%d", name, n))
	}
	if err := os.Rename(from, to); err != nil {
		return fmt.Errorf("keep the documents of %s: %w", name, err)
	}
	wholefile.SyncFolder(into)
	wholefile.SyncFolder(f.path)
	return nil
}
