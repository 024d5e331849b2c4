package highs

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"sync"
	"time"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/experimental"

	"laneplan/solver"
)

// The package's version is the one that package.json pins; the HiGHS inside is
// older (the package counts its own patches). The module is asked for the
// second at its first start.
const (
	packageVersion  = "1.15.3"
	embeddedVersion = "1.15.1"
)

// embedded runs HiGHS as WebAssembly: one compiled module, and a pool of
// instances of it with memory of their own. An instance does one solve at a
// time and goes back to the pool, unless it was stopped half-way, grew large
// or broke.
type embedded struct {
	options Options
	funcs   map[string]hostFunc

	compileOnce sync.Once
	compiled    chan struct{} // closed when the fields below are set
	runtime     wazero.Runtime
	cache       wazero.CompilationCache
	module      wazero.CompiledModule
	names       names
	compileErr  error

	slots  chan struct{} // one token a running solve
	closed chan struct{}
	mu     sync.Mutex
	idle   []*instance
	done   bool
}

func newEmbedded(o Options, funcs map[string]hostFunc) *embedded {
	return &embedded{options: o, funcs: funcs, compiled: make(chan struct{}), closed: make(chan struct{}),
		slots: make(chan struct{}, o.Solves)}
}

var errClosed = errors.New("the engine is closed")

func (e *embedded) solve(ctx context.Context, m *solver.Model, o *solver.Options) (answer, error) {
	interrupted := answer{status: solver.Interrupted, bound: noBound}
	e.compileOnce.Do(func() { go e.compile() })
	select {
	case <-e.compiled:
	case <-ctx.Done():
		return interrupted, nil
	}
	if e.compileErr != nil {
		return answer{}, e.compileErr
	}
	select {
	case e.slots <- struct{}{}:
	case <-ctx.Done():
		return interrupted, nil
	case <-e.closed:
		return answer{}, errClosed
	}
	in, err := e.take()
	if err != nil {
		<-e.slots
		return answer{}, err
	}
	if err := in.load(m, o); err != nil {
		e.give(in)
		return answer{}, err
	}
	// What follows may be left running, so it touches neither m nor o.
	ran := make(chan error, 1)
	go func() {
		err := in.run()
		ran <- err
	}()
	stop := context.AfterFunc(ctx, in.clock.interrupt)
	select {
	case err = <-ran:
	case <-ctx.Done():
		select {
		case err = <-ran:
		case <-time.After(interruptWait):
			go func() {
				<-ran
				e.give(in)
			}()
			return interrupted, nil
		}
	}
	if !stop() {
		in.spent = true // the interrupt may come late, into the next solve
	}
	if errors.Is(err, errInterrupted) {
		e.give(in)
		return interrupted, nil
	}
	var a answer
	if err == nil {
		a, err = in.read()
	}
	e.give(in)
	return a, err
}

// interruptWait is how long a solve may take to wind up after its context
// ended; then it is left behind and ends when it next reads the clock.
const interruptWait = 800 * time.Millisecond

// keepMemory is the most memory, in bytes, of an instance that goes back to
// the pool: WebAssembly memory never shrinks.
const keepMemory = 64 << 20

func (e *embedded) take() (*instance, error) {
	e.mu.Lock()
	if e.done {
		e.mu.Unlock()
		return nil, errClosed
	}
	if n := len(e.idle); n > 0 {
		in := e.idle[n-1]
		e.idle = e.idle[:n-1]
		e.mu.Unlock()
		return in, nil
	}
	e.mu.Unlock()
	return newInstance(e.runtime, e.module, e.names)
}

// give takes an instance back and frees its slot.
func (e *embedded) give(in *instance) {
	e.mu.Lock()
	keep := !e.done && !in.spent && in.memory.Size() <= keepMemory
	if keep {
		e.idle = append(e.idle, in)
	}
	e.mu.Unlock()
	if !keep {
		in.close()
	}
	<-e.slots
}

func (e *embedded) close() error {
	e.mu.Lock()
	if e.done {
		e.mu.Unlock()
		return nil
	}
	e.done = true
	close(e.closed)
	e.mu.Unlock()
	e.compileOnce.Do(func() {
		e.compileErr = errClosed
		close(e.compiled)
	})
	<-e.compiled
	for range cap(e.slots) { // wait for what still runs
		e.slots <- struct{}{}
	}
	for _, in := range e.idle {
		in.close()
	}
	e.idle = nil
	ctx := context.Background()
	var err error
	if e.runtime != nil {
		err = e.runtime.Close(ctx)
	}
	if e.cache != nil {
		err = errors.Join(err, e.cache.Close(ctx))
	}
	return err
}

// compile makes machine code of the module, or loads it from the cache.
func (e *embedded) compile() {
	defer close(e.compiled)
	if err := e.tryCompile(); err != nil {
		e.compileErr = fmt.Errorf("starting the embedded engine: %w", err)
	}
}

func (e *embedded) tryCompile() error {
	binary, err := engineFile("highs.wasm")
	if err != nil {
		return err
	}
	loader, err := engineFile("highs.mjs")
	if err != nil {
		return err
	}
	if e.names, err = readNames(loader); err != nil {
		return err
	}
	// Compiling makes 300 MB of garbage; collecting it earlier costs nothing
	// that could be measured.
	limit := debug.SetMemoryLimit(-1)
	debug.SetMemoryLimit(min(limit, compileMemory))
	defer debug.SetMemoryLimit(limit)

	ctx := context.Background()
	e.cache = openCache(e.options.CacheFolder)
	err = e.makeRuntime(ctx, binary)
	if err != nil && e.cache != nil {
		// Most likely the cache cannot be written or was damaged.
		_ = e.runtime.Close(ctx)
		_ = e.cache.Close(ctx)
		e.cache = nil
		err = e.makeRuntime(ctx, binary)
	}
	if err != nil {
		return err
	}
	if err := linkHost(ctx, e.runtime, e.module, e.names, e.funcs); err != nil {
		return err
	}
	// A first instance, so that whatever is wrong with module or names is
	// said once, here.
	in, err := newInstance(e.runtime, e.module, e.names)
	if err != nil {
		return err
	}
	if in.version != embeddedVersion {
		return fmt.Errorf("the module is HiGHS %s, want %s", in.version, embeddedVersion)
	}
	e.idle = append(e.idle, in)
	return nil
}

func (e *embedded) makeRuntime(ctx context.Context, binary []byte) error {
	config := wazero.NewRuntimeConfig().WithMemoryLimitPages(uint32(e.options.MemoryMB) << 20 / pageSize)
	if e.cache != nil {
		config = config.WithCompilationCache(e.cache)
	}
	e.runtime = wazero.NewRuntimeWithConfig(ctx, config)
	var err error
	e.module, err = e.runtime.CompileModule(experimental.WithCompilationWorkers(ctx, runtime.GOMAXPROCS(0)), binary)
	return err
}

// compileMemory is the size, in bytes, to which the garbage collector tries to
// keep the process while the engine is compiled.
const compileMemory = 200 << 20

// openCache gives wazero's cache on disk, or nil where folder cannot be used.
func openCache(folder string) wazero.CompilationCache {
	if folder == "" {
		user, err := os.UserCacheDir()
		if err != nil {
			return nil
		}
		folder = filepath.Join(user, "laneplan")
	}
	cache, err := wazero.NewCompilationCacheWithDir(folder)
	if err != nil {
		return nil
	}
	return cache
}
