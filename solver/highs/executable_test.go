package highs

import (
	"context"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/solver"
)

func TestAnExecutableTellsItsNameAndVersion(t *testing.T) {
	path := asHighs(t, "1")
	e, err := New(Options{Executable: path})
	require.NoError(t, err)
	assert.Equal(t, "HiGHS 1.15.1 ("+path+")", e.Name())
	assert.Equal(t, "HiGHS 1.15.1 (embedded, package 1.15.3)", embeddedEngine(t).Name())
}

func TestAnExecutableIsFoundOnPath(t *testing.T) {
	path := asHighs(t, "1")
	folder := t.TempDir()
	require.NoError(t, os.Symlink(path, filepath.Join(folder, "highs")))
	t.Setenv("PATH", folder)
	e, err := New(Options{Executable: "highs"})
	require.NoError(t, err)
	assert.InDelta(t, 36, solve(t, e, wyndor(), solver.Options{}).Objective, 1e-9)
}

func TestWhatIsNoHighsExecutableIsRefused(t *testing.T) {
	_, err := New(Options{Executable: "no-such-highs"})
	assert.ErrorIs(t, err, exec.ErrNotFound)
	assert.EqualError(t, err, `highs: the executable "no-such-highs": exec: "no-such-highs": executable file not found in $PATH`)

	script := filepath.Join(t.TempDir(), "highs")
	require.NoError(t, os.WriteFile(script, []byte("#!/bin/sh\necho I am a teapot\n"), 0o700))
	_, err = New(Options{Executable: script})
	assert.EqualError(t, err, "highs: "+script+` is not a HiGHS executable: to --version it answers "I am a teapot"`)
}

func TestAnExecutableThatFailsIsAnErrorWithItsLastWords(t *testing.T) {
	path := asHighs(t, "broken")
	e, err := New(Options{Executable: path})
	require.NoError(t, err)
	_, err = e.Solve(context.Background(), wyndor(), solver.Options{})
	assert.EqualError(t, err, "highs: solving the model: "+path+
		" wrote no solution (exit status 1); its log ends: ERROR: the licence of the moon has expired")

	silent, err := New(Options{Executable: asHighs(t, "silent")})
	require.NoError(t, err)
	_, err = silent.Solve(context.Background(), wyndor(), solver.Options{})
	assert.EqualError(t, err, "highs: solving the model: "+path+" wrote no solution; its log ends: ")
}

func TestAnExecutableIsKilledWhenItsContextEnds(t *testing.T) {
	e, err := New(Options{Executable: asHighs(t, "hanging"), Solves: 1})
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	r, err := e.Solve(ctx, wyndor(), solver.Options{})
	require.NoError(t, err)
	assert.Equal(t, solver.Interrupted, r.Status)
	assert.Empty(t, e.backend.(*executable).slots)
}

func TestNothingIsLeftInTheTemporaryFolder(t *testing.T) {
	for _, how := range []string{"1", "broken", "hanging"} {
		e, err := New(Options{Executable: asHighs(t, how)})
		require.NoError(t, err)
		folder := t.TempDir()
		t.Setenv("TMPDIR", folder)
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		_, _ = e.Solve(ctx, integers(wyndor(), 0), solver.Options{Start: []float64{0, 0}})
		cancel()
		left, err := os.ReadDir(folder)
		require.NoError(t, err)
		assert.Empty(t, left, how)
	}
}

func TestTheModelFileSaysEverythingOnce(t *testing.T) {
	m := &solver.Model{
		Maximize: true, Offset: 10,
		Columns: []solver.Column{
			{Name: "a name with blanks", Cost: 1, Upper: 4},
			{Cost: 2.5, Lower: -inf, Upper: inf},
			{Cost: 0, Lower: -2, Upper: inf, Integer: true},
			{Cost: -1e-7, Lower: -inf, Upper: -1, Integer: true},
			{Cost: 3, Lower: 6, Upper: 6},
		},
		Rows: []solver.Row{
			row(-inf, 7.25, 1, 2), row(3, inf, 0, 0, 1), row(5, 5, 0, 0, 0, 1.5), row(-1, 2, 1, 0, 0, 0, 1), row(-inf, inf, 1, 1),
		},
	}
	assert.Equal(t, `NAME model
ROWS
 N obj
 L r0
 G r1
 E r2
 G r3
COLUMNS
 c0 obj -1
 c0 r0 1
 c0 r3 1
 c1 obj -2.5
 c1 r0 2
 M2 'MARKER' 'INTORG'
 c2 obj 0
 c2 r1 1
 c3 obj 1e-07
 c3 r2 1.5
 M4 'MARKER' 'INTEND'
 c4 obj -3
 c4 r3 1
RHS
 RHS obj 10
 RHS r0 7.25
 RHS r1 3
 RHS r2 5
 RHS r3 -1
RANGES
 RNG r3 3
BOUNDS
 LO BND c0 0
 UP BND c0 4
 FR BND c1
 LO BND c2 -2
 PL BND c2
 MI BND c3
 UP BND c3 -1
 FX BND c4 6
ENDATA
`, string(writeMPS(m)))
}

// As the executable of HiGHS 1.15.1 wrote it for max 3x + 5y of Wyndor Glass.
const wyndorSolution = `Model status
Optimal

# Primal solution values
Feasible
Objective -36
# Columns 2
c0 2
c1 6
# Rows 3
r0 2
r1 12
r2 18

# Dual solution values
Feasible
# Columns 2
c0 -0
c1 0
# Rows 3
r0 0
r1 -1.5
r2 -1

# Basis
HiGHS_basis_file v2
Valid
# Columns 2
c0 1
c1 1
# Rows 3
r0 1
r1 2
r2 2
`

func TestASolutionFileIsRead(t *testing.T) {
	a, err := readSolution([]byte(wyndorSolution), 2, 3)
	require.NoError(t, err)
	assert.Equal(t, solver.Optimal, a.status)
	assert.Equal(t, []float64{2, 6}, a.values)
	assert.InDeltaSlice(t, []float64{0, 0}, a.reducedCosts, 0)
	assert.Equal(t, []float64{0, -1.5, -1}, a.rowDuals)
}

func TestADamagedSolutionFileIsRefused(t *testing.T) {
	for _, tt := range []struct{ name, from, to, want string }{
		{"empty", "(?s).*", "", "no model status in it"},
		{"unknown status", "Optimal", "Splendid", `model status "Splendid" is not one that we know`},
		{"a status that means trouble", "Optimal", "Solve error", "the engine ended with model status 'Solve error'"},
		{"cut short", "(?s)c1 6.*", "", `"# Primal solution values" has 1 columns, want 2`},
		{"no number", "c1 6", "c1 six", `line 9: "six" is not a number`},
		{"no number at all", "c1 6", "c1 nan", `line 9: "nan" is not a number`},
		{"a column too many", "c1 6", "c1 6\nc2 7", `line 10: "c2 7" is not a name of ours and a value`},
		{"another name", "c1 6", "height 6", `line 9: "height 6" is not a name of ours and a value`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			text := regexp.MustCompile(tt.from).ReplaceAllString(wyndorSolution, tt.to)
			_, err := readSolution([]byte(text), 2, 3)
			assert.EqualError(t, err, tt.want)
		})
	}
}

func TestBoundNodesAndIterationsComeFromTheLog(t *testing.T) {
	a := answer{}
	readLog(&a, []byte("Solving report\n  Status            Time limit reached\n  Primal bound      41.5\n"+
		"  Dual bound        40.123456789\n  Nodes             17\n  Repair LPs        0\n  LP iterations     423\n"), true)
	assert.Equal(t, 17, a.nodes)
	assert.Equal(t, 423, a.iterations)
	assert.InDelta(t, 40.123456789, a.bound, 1e-9)
	assert.Less(t, a.bound, 40.123456789, "printed digits are not to be trusted to the last")
	readLog(&a, []byte("  Dual bound        -inf\n"), true)
	assert.Equal(t, math.Inf(-1), a.bound)
	readLog(&a, []byte("Model status        : Optimal\nSimplex   iterations: 26\n"), false)
	assert.Equal(t, 26, a.iterations)
}
