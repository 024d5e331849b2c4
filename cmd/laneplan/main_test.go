package main

import (
	"bytes"
	"cmp"
	"context"
	"flag"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite golden files, scripts and the README's examples")

// versionOf is the variable that gives the program of a test another version,
// as the linker does.
const versionOf = "LANEPLAN_TEST_VERSION"

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"laneplan": func() {
		version = cmp.Or(os.Getenv(versionOf), version)
		main()
	}})
}

// TestScripts runs what testdata/scripts says that the command does.
func TestScripts(t *testing.T) {
	cache, err := os.UserCacheDir()
	require.NoError(t, err)
	testdata, err := filepath.Abs("../../testdata")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/scripts",
		RequireExplicitExec: true,
		UpdateScripts:       *update,
		Setup: func(e *testscript.Env) error {
			e.Setenv("XDG_CACHE_HOME", cache) // the compiled engine
			e.Setenv("LocalAppData", cache)
			e.Setenv("TESTDATA", testdata)
			return nil
		},
	})
}

// ran is what one run of the program gave.
type ran struct {
	code           int
	stdout, stderr string
}

// laneplan runs the program in this process.
func laneplan(t testing.TB, args ...string) ran {
	t.Helper()
	var stdout, stderr bytes.Buffer
	return ran{run(context.Background(), args, &stdout, &stderr), stdout.String(), stderr.String()}
}

// file writes a file into a folder of the test's own.
func file(t testing.TB, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

const covers = "../../testdata/bare/covers.yaml"
const demo = "../../testdata/demo/spice-mill.yaml"

// brokenPipe fails every write.
type brokenPipe struct{}

func (brokenPipe) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }
