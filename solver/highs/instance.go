package highs

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
)

const pageSize = 1 << 16

var noBound = math.Inf(-1)

// instance is one copy of the module with memory of its own and one HiGHS
// object in it. One goroutine at a time may use it.
type instance struct {
	module  api.Module
	memory  api.Memory
	clock   clock
	ctx     context.Context // finds this instance again in calls from the module
	said    []byte          // the last that the solver printed
	full    bool            // it asked for more memory than the cap
	version string

	functions map[string]api.Function
	stack     [16]uint64
	strings   map[string]uint32 // addresses of names that the solver is called with
	highs     uint64            // the HiGHS object
	scratch   uint32            // 16 bytes for a value returned by address

	arena     uint32 // one block for all arrays of a model and its solution
	arenaSize uint32
	model     layout

	// err is the first thing that broke; after it calls do nothing.
	err error
	// spent instances are not used again.
	spent bool
}

// exportsUsed are the functions of the C API that an instance calls.
var exportsUsed = []string{
	"_malloc", "_free", "_Highs_version", "_Highs_create", "_Highs_clear",
	"_Highs_setBoolOptionValue", "_Highs_setIntOptionValue", "_Highs_setDoubleOptionValue", "_Highs_setStringOptionValue",
	"_Highs_passLp", "_Highs_passMip", "_Highs_setSolution", "_Highs_setBasis", "_Highs_run", "_Highs_zeroAllClocks",
	"_Highs_getModelStatus", "_Highs_getSolution", "_Highs_getBasis",
	"_Highs_getIntInfoValue", "_Highs_getInt64InfoValue", "_Highs_getDoubleInfoValue",
}

func newInstance(rt wazero.Runtime, m wazero.CompiledModule, n names) (*instance, error) {
	in := &instance{functions: map[string]api.Function{}, strings: map[string]uint32{}}
	in.ctx = context.WithValue(context.Background(), instanceKey{}, in)
	in.clock.start(0, 0)
	// Without a name there may be many at a time.
	module, err := rt.InstantiateModule(in.ctx, m, wazero.NewModuleConfig().WithName("").WithStartFunctions())
	if err != nil {
		return nil, in.explain("starting the engine", err)
	}
	in.module = module
	if err := in.init(n); err != nil {
		in.close()
		return nil, err
	}
	return in, nil
}

func (in *instance) init(n names) error {
	if in.memory = in.module.ExportedMemory(n.exports[memoryName]); in.memory == nil {
		return errors.New("highs.wasm exports no memory under the name that highs.mjs gives")
	}
	start := in.module.ExportedFunction(n.start)
	if start == nil {
		return errors.New("highs.wasm lacks the start-up call that highs.mjs names")
	}
	if _, err := start.Call(in.ctx); err != nil {
		return in.explain("starting the engine", err)
	}
	if err := in.link(n, exportsUsed); err != nil {
		return err
	}
	in.version = in.text(uint32(in.call("_Highs_version")))
	in.scratch = in.alloc(16)
	in.highs = in.call("_Highs_create")
	if in.err == nil && in.highs == 0 {
		in.err = errors.New("the engine has no memory for a solver")
	}
	return in.err
}

// link finds functions of the C API under the short names that they have.
func (in *instance) link(n names, functions []string) error {
	for _, long := range functions {
		short, err := n.export(long)
		if err != nil {
			return err
		}
		f := in.module.ExportedFunction(short)
		if f == nil {
			return fmt.Errorf("highs.wasm lacks export %q, which highs.mjs names as %s", short, long)
		}
		in.functions[long] = f
	}
	return nil
}

func (in *instance) close() { _ = in.module.Close(in.ctx) }

// call calls a function of the C API. After the first call that trapped it
// does nothing and in.err tells why.
func (in *instance) call(name string, args ...uint64) uint64 {
	if in.err != nil {
		return 0
	}
	copy(in.stack[:], args)
	if err := in.functions[name].CallWithStack(in.ctx, in.stack[:max(len(args), 1)]); err != nil {
		in.spent = true
		in.err = in.explain(strings.TrimPrefix(name, "_"), err)
		return 0
	}
	return in.stack[0]
}

// must is call for functions that return a HighsStatus: an error is kept.
func (in *instance) must(name string, args ...uint64) {
	const highsError = -1
	if s := int32(in.call(name, args...)); s == highsError && in.err == nil {
		in.spent = true
		in.err = fmt.Errorf("%s was refused%s", strings.TrimPrefix(name, "_"), in.lastWords())
	}
}

// explain makes one sentence of what wazero says about a trap, which is
// otherwise a page with a stack trace.
func (in *instance) explain(doing string, err error) error {
	if errors.Is(err, errInterrupted) {
		return errInterrupted
	}
	first, _, _ := strings.Cut(err.Error(), "\n")
	first = strings.TrimSuffix(first, " (recovered by wazero)")
	return fmt.Errorf("%s: the engine trapped: %s%s", doing, first, in.lastWords())
}

// lastWords is the last line that the solver printed, to be added to an error.
func (in *instance) lastWords() string {
	text := strings.TrimSpace(string(in.said))
	if text == "" {
		return ""
	}
	return fmt.Sprintf(" (it said: %s)", text[strings.LastIndexByte(text, '\n')+1:])
}

// grow enlarges the memory to at least want bytes, and by a fifth, so that
// growing does not become a habit. It tells whether that was within the cap.
func (in *instance) grow(want uint32) bool {
	size := in.memory.Size()
	if want <= size {
		return true
	}
	for _, target := range []uint64{max(uint64(want), uint64(size)+uint64(size)/5), uint64(want)} {
		pages := (target - uint64(size) + pageSize - 1) / pageSize
		if _, ok := in.memory.Grow(uint32(pages)); ok {
			return true
		}
	}
	in.full = true
	return false
}

func (in *instance) alloc(size uint32) uint32 {
	at := uint32(in.call("_malloc", uint64(size)))
	if in.err == nil && at == 0 {
		in.spent = true
		in.err = fmt.Errorf("the engine has no memory for %d more bytes", size)
	}
	return at
}

// name gives the address of a zero-terminated string that stays.
func (in *instance) name(s string) uint64 {
	at, ok := in.strings[s]
	if !ok {
		at = in.alloc(uint32(len(s)) + 1)
		in.memory.WriteString(at, s+"\x00")
		in.strings[s] = at
	}
	return uint64(at)
}

func (in *instance) text(at uint32) string {
	b, _ := in.memory.Read(at, 64)
	s, _, _ := strings.Cut(string(b), "\x00")
	return s
}

func (in *instance) setBool(option string, v bool) {
	n := uint64(0)
	if v {
		n = 1
	}
	in.must("_Highs_setBoolOptionValue", in.highs, in.name(option), n)
}

func (in *instance) setInt(option string, v int) {
	in.must("_Highs_setIntOptionValue", in.highs, in.name(option), api.EncodeI32(int32(v)))
}

func (in *instance) setDouble(option string, v float64) {
	in.must("_Highs_setDoubleOptionValue", in.highs, in.name(option), api.EncodeF64(v))
}

func (in *instance) setString(option, v string) {
	in.must("_Highs_setStringOptionValue", in.highs, in.name(option), in.name(v))
}

func (in *instance) intInfo(info string) int {
	in.must("_Highs_getIntInfoValue", in.highs, in.name(info), uint64(in.scratch))
	v, _ := in.memory.ReadUint32Le(in.scratch)
	return int(int32(v))
}

func (in *instance) int64Info(info string) int {
	in.must("_Highs_getInt64InfoValue", in.highs, in.name(info), uint64(in.scratch))
	v, _ := in.memory.ReadUint64Le(in.scratch)
	return int(int64(v))
}

func (in *instance) doubleInfo(info string) float64 {
	in.must("_Highs_getDoubleInfoValue", in.highs, in.name(info), uint64(in.scratch))
	v, _ := in.memory.ReadFloat64Le(in.scratch)
	return v
}
