package highs

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"laneplan/solver"
)

// executable is HiGHS as a program of its own. A solve is a temporary folder
// with a model file, an options file and, where there is a start, a solution
// file; the program adds a solution file, and its log has the rest.
type executable struct {
	path  string
	slots chan struct{}
}

// Files in the temporary folder, which is the program's working folder.
const (
	modelFile    = "model.mps"
	optionsFile  = "options.txt"
	startFile    = "start.sol"
	solutionFile = "solution.sol"
)

var versionLine = regexp.MustCompile(`HiGHS version (\S+)`)

// versionWait is more than any program takes that only prints its version.
const versionWait = 10 * time.Second

// newExecutable finds the program and asks for its version, and returns the
// engine's name too.
func newExecutable(o Options) (*executable, string, error) {
	path, err := exec.LookPath(o.Executable)
	if err == nil {
		path, err = filepath.Abs(path)
	}
	if err != nil {
		return nil, "", fmt.Errorf("highs: the executable %q: %w", o.Executable, err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), versionWait)
	defer cancel()
	cmd := exec.CommandContext(ctx, path, "--version")
	cmd.WaitDelay = time.Second
	out, err := cmd.Output()
	version := versionLine.FindSubmatch(out)
	if version == nil {
		return nil, "", fmt.Errorf("highs: %s is not a HiGHS executable: to --version it answers %q%s", path, firstLine(out), because(err))
	}
	e := &executable{path: path, slots: make(chan struct{}, o.Solves)}
	return e, fmt.Sprintf("HiGHS %s (%s)", version[1], path), nil
}

func because(err error) string {
	if err == nil {
		return ""
	}
	return " (" + err.Error() + ")"
}

func firstLine(b []byte) string {
	line, _, _ := bytes.Cut(bytes.TrimSpace(b), []byte("\n"))
	return string(line[:min(len(line), 200)])
}

func (e *executable) close() error { return nil }

func (e *executable) solve(ctx context.Context, m *solver.Model, o *solver.Options) (answer, error) {
	interrupted := answer{status: solver.Interrupted, bound: noBound}
	select {
	case e.slots <- struct{}{}:
		defer func() { <-e.slots }()
	case <-ctx.Done():
		return interrupted, nil
	}
	folder, err := os.MkdirTemp("", "laneplan-highs-")
	if err != nil {
		return answer{}, fmt.Errorf("making a folder for the executable: %w", err)
	}
	defer os.RemoveAll(folder)
	args, err := writeQuestion(folder, m, o)
	if err != nil {
		return answer{}, err
	}

	cmd := exec.CommandContext(ctx, e.path, args...)
	cmd.Dir = folder
	cmd.WaitDelay = interruptWait / 2
	var log tail
	cmd.Stdout, cmd.Stderr = &log, &log
	began := time.Now()
	err = cmd.Run()
	if ctx.Err() != nil {
		return interrupted, nil
	}
	// The exit code is no status: 1 also stands for a good point at a limit.
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		return answer{}, fmt.Errorf("running %s: %w", e.path, err)
	}
	text, err := os.ReadFile(filepath.Join(folder, solutionFile))
	if err != nil {
		if bytes.Contains(log.text, []byte(readTimeout)) {
			return outOfTime(answer{status: solver.TimeLimit, bound: noBound}, o), nil
		}
		if errors.Is(err, fs.ErrNotExist) {
			return answer{}, fmt.Errorf("%s wrote no solution%s; its log ends: %s", e.path, because(exitError(exit)), log.lastLine())
		}
		return answer{}, fmt.Errorf("reading the solution of %s: %w", e.path, err)
	}
	a, err := readSolution(text, len(m.Columns), len(m.Rows))
	if err != nil {
		return answer{}, fmt.Errorf("the solution of %s: %w", e.path, err)
	}
	a.work = time.Since(began).Seconds()
	readLog(&a, log.text, m.HasIntegers())
	return outOfTime(a, o), nil
}

// readTimeout is what the log says where the time limit passed before the model
// was read; there is no solution file then.
const readTimeout = "Parser reached timeout"

// outOfTime tells the two limits apart that the program gets as one.
func outOfTime(a answer, o *solver.Options) answer {
	if a.status == solver.TimeLimit && o.WorkLimit > 0 && shorter(o.TimeLimit, o.WorkLimit) == o.WorkLimit {
		a.status = solver.WorkLimit
	}
	return a
}

func exitError(exit *exec.ExitError) error {
	if exit == nil {
		return nil
	}
	return exit
}

// writeQuestion writes the files of one solve and returns the arguments.
func writeQuestion(folder string, m *solver.Model, o *solver.Options) ([]string, error) {
	args := []string{"--options_file", optionsFile, "--solution_file", solutionFile}
	files := map[string][]byte{modelFile: writeMPS(m), optionsFile: writeOptions(m, o)}
	if o.Start != nil {
		files[startFile] = writeStart(m, o.Start)
		args = append(args, "--read_solution_file", startFile)
	}
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(folder, name), text, 0o600); err != nil {
			return nil, fmt.Errorf("writing a file for the executable: %w", err)
		}
	}
	return append(args, modelFile), nil
}

// writeOptions names only options that executables of all recent versions know.
func writeOptions(m *solver.Model, o *solver.Options) []byte {
	var b bytes.Buffer
	set := func(name string, v any) { fmt.Fprintf(&b, "%s = %v\n", name, v) }
	set("threads", 1)
	set("parallel", "off")
	set("random_seed", seedOf(o.Seed))
	if limit := shorter(o.TimeLimit, o.WorkLimit); limit > 0 {
		set("time_limit", number(limit))
	}
	if o.Gap > 0 {
		set("mip_rel_gap", number(o.Gap))
	}
	if o.NodeLimit > 0 {
		set("mip_max_nodes", o.NodeLimit)
	}
	if o.IterationLimit > 0 {
		set("simplex_iteration_limit", o.IterationLimit)
	}
	if o.Cutoff != nil {
		set("objective_bound", number(sense(m)**o.Cutoff))
	}
	return b.Bytes()
}

// shorter of two limits, of which 0 is none.
func shorter(a, b float64) float64 {
	if a == 0 || b > 0 && b < a {
		return b
	}
	return a
}

// number in the shortest form that reads back as the same.
func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// tail keeps the last part of what is written to it: a log may be long, and
// what we need stands at its end.
type tail struct{ text []byte }

func (t *tail) Write(b []byte) (int, error) {
	const keep = 1 << 16
	t.text = append(t.text, b...)
	if len(t.text) > 2*keep {
		t.text = append(t.text[:0], t.text[len(t.text)-keep:]...)
	}
	return len(b), nil
}

func (t *tail) lastLine() string {
	text := strings.TrimSpace(string(t.text))
	return text[strings.LastIndexByte(text, '\n')+1:]
}
