package highs

import (
	"os"
	"os/exec"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// shared is one embedded engine for all tests that only solve.
var shared struct {
	once   sync.Once
	engine *Engine
}

func embeddedEngine(t testing.TB) *Engine {
	t.Helper()
	shared.once.Do(func() {
		var err error
		shared.engine, err = New(Options{Solves: 2, CacheFolder: os.Getenv(cacheVariable)})
		require.NoError(t, err)
	})
	return shared.engine
}

func closeShared() {
	if shared.engine != nil {
		shared.engine.Close()
	}
}

// freshEngine has nothing in common with the shared one but the compiled code.
func freshEngine(t testing.TB, o Options) *Engine {
	t.Helper()
	o.CacheFolder = os.Getenv(cacheVariable)
	e, err := New(o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, e.Close()) })
	return e
}

// engineWith is an embedded engine whose module gets other functions for some
// of those that it imports.
func engineWith(t testing.TB, o Options, replace map[string]func(in *instance, stack []uint64)) (*Engine, *embedded) {
	t.Helper()
	funcs := hostFuncs()
	for name, call := range replace {
		f, ok := funcs[name]
		require.True(t, ok, name)
		f.call = call
		funcs[name] = f
	}
	if o.Solves == 0 {
		o.Solves = 1
	}
	if o.MemoryMB == 0 {
		o.MemoryMB = defaultMemoryMB
	}
	o.CacheFolder = os.Getenv(cacheVariable)
	backend := newEmbedded(o, funcs)
	t.Cleanup(func() { require.NoError(t, backend.close()) })
	return &Engine{backend: backend, name: embeddedName}, backend
}

// realVariable in the environment names a highs executable to test with.
const realVariable = "LANEPLAN_HIGHS"

// eachEngine runs a test on the embedded engine, on a real highs executable
// where there is one, and through the files of the second engine with the test
// program as the executable.
func eachEngine(t *testing.T, test func(t *testing.T, e *Engine)) {
	t.Run("embedded", func(t *testing.T) { test(t, embeddedEngine(t)) })
	t.Run("executable", func(t *testing.T) {
		path := os.Getenv(realVariable)
		if path == "" {
			var err error
			if path, err = exec.LookPath("highs"); err != nil {
				t.Skipf("skipped: no highs executable on PATH and none named by %s", realVariable)
			}
		}
		e, err := New(Options{Executable: path})
		require.NoError(t, err)
		t.Log(e.Name())
		test(t, e)
	})
	t.Run("files", func(t *testing.T) {
		notUnderRace(t)
		e, err := New(Options{Executable: asHighs(t, "1")})
		require.NoError(t, err)
		test(t, e)
	})
}

// notUnderRace skips what has no goroutines of its own and takes minutes under
// the race detector.
func notUnderRace(t *testing.T) {
	if raceDetector {
		t.Skip("skipped under the race detector: slow, and without goroutines of its own")
	}
}
