package highs

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
)

// hostFunc is the Go side of one function that the module imports.
type hostFunc struct {
	params, results []api.ValueType
	// call reads its arguments from stack and leaves its result in stack[0].
	call func(in *instance, stack []uint64)
}

const (
	i32 = api.ValueTypeI32
	i64 = api.ValueTypeI64
	f64 = api.ValueTypeF64
)

// Error numbers as the module's C library counts them.
const (
	errnoBadFile   = 8
	errnoNoFile    = 44
	errnoBadSyscal = 52
)

// hostFuncs are all functions that the module may import, by their C names.
// The solver is given a clock and a place for its messages, and nothing else:
// no file, no environment, no random numbers.
func hostFuncs() map[string]hostFunc {
	fail := func(errno int32) func(*instance, []uint64) {
		return func(_ *instance, stack []uint64) { stack[0] = api.EncodeI32(errno) }
	}
	trap := func(what string) func(*instance, []uint64) {
		return func(in *instance, _ []uint64) {
			if in.full {
				panic(fmt.Errorf("the solver ran out of memory at %d MiB", in.memory.Size()>>20))
			}
			panic(fmt.Errorf("the solver %s", what))
		}
	}
	vals := func(v ...api.ValueType) []api.ValueType { return v }
	return map[string]hostFunc{
		// The module is built without exceptions that could be caught: what
		// throws ends it.
		"___cxa_throw": {vals(i32, i32, i32), nil, trap("threw an exception")},
		"__abort_js":   {nil, nil, trap("aborted")},
		"_exit":        {vals(i32), nil, trap("exited")},
		"_proc_exit":   {vals(i32), nil, trap("exited")},

		"_emscripten_resize_heap": {vals(i32), vals(i32), func(in *instance, stack []uint64) {
			grown := in.grow(uint32(stack[0]))
			stack[0] = 0
			if grown {
				stack[0] = 1
			}
		}},

		"_clock_time_get": {vals(i32, i64, i32), vals(i32), func(in *instance, stack []uint64) {
			in.memory.WriteUint64Le(uint32(stack[2]), uint64(in.clock.now()))
			stack[0] = 0
		}},
		"_emscripten_get_now": {nil, vals(f64), func(in *instance, stack []uint64) {
			stack[0] = math.Float64bits(float64(in.clock.now()) / 1e6)
		}},
		"_emscripten_date_now": {nil, vals(f64), func(in *instance, stack []uint64) {
			stack[0] = math.Float64bits(float64(in.clock.now()) / 1e6)
		}},
		"__tzset_js":                           {vals(i32, i32, i32, i32), nil, func(*instance, []uint64) {}},
		"__setitimer_js":                       {vals(i32, f64), vals(i32), fail(0)},
		"__emscripten_runtime_keepalive_clear": {nil, nil, func(*instance, []uint64) {}},

		"_environ_sizes_get": {vals(i32, i32), vals(i32), func(in *instance, stack []uint64) {
			in.memory.WriteUint32Le(uint32(stack[0]), 0)
			in.memory.WriteUint32Le(uint32(stack[1]), 0)
			stack[0] = 0
		}},
		"_environ_get": {vals(i32, i32), vals(i32), fail(0)},

		"___syscall_openat":  {vals(i32, i32, i32, i32), vals(i32), fail(-errnoNoFile)},
		"___syscall_fcntl64": {vals(i32, i32, i32), vals(i32), fail(-errnoBadSyscal)},
		"___syscall_ioctl":   {vals(i32, i32, i32), vals(i32), fail(-errnoBadSyscal)},
		"_fd_close":          {vals(i32), vals(i32), fail(errnoBadFile)},
		"_fd_read":           {vals(i32, i32, i32, i32), vals(i32), fail(errnoBadFile)},
		"_fd_seek":           {vals(i32, i64, i32, i32), vals(i32), fail(errnoBadFile)},
		"_fd_write":          {vals(i32, i32, i32, i32), vals(i32), writeMessage},
	}
}

// writeMessage takes what the solver prints to its standard streams; the tail
// of it is added to the error where the solver breaks.
func writeMessage(in *instance, stack []uint64) {
	pieces, count, written := uint32(stack[1]), uint32(stack[2]), uint32(stack[3])
	var total uint32
	for k := range count {
		at, _ := in.memory.ReadUint32Le(pieces + 8*k)
		size, _ := in.memory.ReadUint32Le(pieces + 8*k + 4)
		if text, ok := in.memory.Read(at, size); ok {
			in.said = append(in.said, text...)
		}
		total += size
	}
	const keep = 4096
	if len(in.said) > keep {
		in.said = append(in.said[:0], in.said[len(in.said)-keep:]...)
	}
	in.memory.WriteUint32Le(written, total)
	stack[0] = 0
}

type instanceKey struct{}

// linkHost gives the runtime the functions that the module imports, under the
// short names that the module uses.
func linkHost(ctx context.Context, rt wazero.Runtime, m wazero.CompiledModule, n names, funcs map[string]hostFunc) error {
	hosts := map[string]wazero.HostModuleBuilder{}
	for _, def := range m.ImportedFunctions() {
		module, short, _ := def.Import()
		long, ok := n.imports[short]
		if !ok {
			return fmt.Errorf("highs.mjs does not name import %q of highs.wasm: the two do not belong together", short)
		}
		f, ok := funcs[long]
		if !ok {
			return fmt.Errorf("highs.wasm imports %s: this version of the package is not one that we know", long)
		}
		if !slices.Equal(f.params, def.ParamTypes()) || !slices.Equal(f.results, def.ResultTypes()) {
			return fmt.Errorf("highs.wasm imports %s with other types than we know", long)
		}
		if hosts[module] == nil {
			hosts[module] = rt.NewHostModuleBuilder(module)
		}
		call := f.call
		hosts[module].NewFunctionBuilder().
			WithGoFunction(api.GoFunc(func(ctx context.Context, stack []uint64) {
				call(ctx.Value(instanceKey{}).(*instance), stack)
			}), f.params, f.results).Export(short)
	}
	for module, b := range hosts {
		if _, err := b.Instantiate(ctx); err != nil {
			return fmt.Errorf("linking %q: %w", module, err)
		}
	}
	return nil
}
