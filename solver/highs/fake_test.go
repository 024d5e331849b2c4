package highs

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/tetratelabs/wazero/api"
)

// The second engine talks to a highs executable. Where none is installed the
// tests still go through every byte of the protocol: the test program starts
// itself as that executable. What then reads the model file and the options
// file, solves, and writes the log and the solution file is HiGHS's own code,
// of the embedded module, which is given real files for this. Only the command
// line is imitated, as the executable's --help describes it.

// fakeVariable in the environment makes the test program a highs executable.
const fakeVariable = "LANEPLAN_TEST_AS_HIGHS"

// cacheVariable is where the tests, and the test program as an executable,
// keep the compiled engine.
const cacheVariable = "LANEPLAN_TEST_CACHE"

func TestMain(m *testing.M) {
	as := os.Getenv(fakeVariable)
	if as != "" && slices.Contains(os.Args, "--version") {
		fmt.Println(fakeBanner)
		return
	}
	switch as {
	case "":
		os.Exit(runTests(m))
	case "1":
		os.Exit(fakeHighs(os.Args[1:]))
	case "silent": // one that answers nothing
		os.Exit(0)
	case "broken": // one that fails
		fmt.Println("ERROR: the licence of the moon has expired")
		os.Exit(1)
	case "hanging": // one that does not end
		time.Sleep(time.Hour)
	}
}

func runTests(m *testing.M) int {
	folder, err := os.MkdirTemp("", "laneplan-test-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(folder)
	os.Setenv(cacheVariable, folder)
	defer closeShared()
	return m.Run()
}

const fakeBanner = "HiGHS version 1.15.1 Githash n/a. Copyright (c) 2026 under MIT licence terms"

// asHighs is the path of this test program, and has it act as told.
func asHighs(t testing.TB, how string) string {
	t.Helper()
	t.Setenv(fakeVariable, how)
	path, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	return path
}

func fakeHighs(args []string) int {
	var model, options, solution, start string
	for k := 0; k < len(args); k++ {
		take := func(into *string) { k++; *into = args[k] }
		switch args[k] {
		case "--options_file":
			take(&options)
		case "--solution_file":
			take(&solution)
		case "--read_solution_file":
			take(&start)
		default:
			if model != "" || strings.HasPrefix(args[k], "-") {
				fmt.Println("the following argument was not expected:", args[k])
				return 1
			}
			model = args[k]
		}
	}
	e := newEmbedded(Options{Solves: 1, MemoryMB: defaultMemoryMB, CacheFolder: os.Getenv(cacheVariable)}, withFiles(hostFuncs()))
	defer e.close()
	e.compileOnce.Do(e.compile)
	if e.compileErr != nil {
		fmt.Println(e.compileErr)
		return 1
	}
	in := e.idle[0]
	if err := in.link(e.names, []string{"_Highs_readOptions", "_Highs_readModel", "_Highs_writeSolution"}); err != nil {
		fmt.Println(err)
		return 1
	}
	const loadError = -1
	readOptions := func(name, value string) {
		if int32(in.call("_Highs_setStringOptionValue", in.highs, in.name(name), in.name(value))) == loadError {
			panic("refused " + name)
		}
	}
	if options != "" && int32(in.call("_Highs_readOptions", in.highs, in.name(options))) == loadError {
		return 1
	}
	if start != "" {
		readOptions("read_solution_file", start)
	}
	if int32(in.call("_Highs_readModel", in.highs, in.name(model))) == loadError {
		return 1
	}
	if int32(in.call("_Highs_run", in.highs)) == loadError {
		return 1
	}
	if solution != "" && int32(in.call("_Highs_writeSolution", in.highs, in.name(solution))) == loadError {
		return 1
	}
	if in.err != nil {
		fmt.Println(in.err)
		return 1
	}
	return 0
}

// withFiles lets the module open, read, write and close real files, and gives
// it the real time.
func withFiles(funcs map[string]hostFunc) map[string]hostFunc {
	open := map[uint32]*os.File{0: os.Stdin, 1: os.Stdout, 2: os.Stderr}
	next := uint32(3)
	override := func(name string, call func(in *instance, stack []uint64)) {
		f := funcs[name]
		f.call = call
		funcs[name] = f
	}
	pieces := func(in *instance, stack []uint64, do func(f *os.File, b []byte) (int, error)) {
		f := open[uint32(stack[0])]
		if f == nil {
			stack[0] = errnoBadFile
			return
		}
		total := 0
		for k := range uint32(stack[2]) {
			at, _ := in.memory.ReadUint32Le(uint32(stack[1]) + 8*k)
			size, _ := in.memory.ReadUint32Le(uint32(stack[1]) + 8*k + 4)
			b, _ := in.memory.Read(at, size)
			n, err := do(f, b)
			total += n
			if err != nil && !errors.Is(err, io.EOF) {
				stack[0] = api.EncodeI32(29) // EIO
				return
			}
			if n < len(b) {
				break
			}
		}
		in.memory.WriteUint32Le(uint32(stack[3]), uint32(total))
		stack[0] = 0
	}
	override("_fd_read", func(in *instance, stack []uint64) {
		pieces(in, stack, (*os.File).Read)
	})
	override("_fd_write", func(in *instance, stack []uint64) {
		pieces(in, stack, (*os.File).Write)
	})
	override("_fd_close", func(_ *instance, stack []uint64) {
		f := open[uint32(stack[0])]
		delete(open, uint32(stack[0]))
		if f == nil || f.Close() != nil {
			stack[0] = errnoBadFile
			return
		}
		stack[0] = 0
	})
	override("_fd_seek", func(in *instance, stack []uint64) {
		f := open[uint32(stack[0])]
		if f == nil {
			stack[0] = errnoBadFile
			return
		}
		at, err := f.Seek(int64(stack[1]), int(int32(stack[2])))
		if err != nil {
			stack[0] = 70 // ESPIPE
			return
		}
		in.memory.WriteUint64Le(uint32(stack[3]), uint64(at))
		stack[0] = 0
	})
	override("___syscall_openat", func(in *instance, stack []uint64) {
		b, _ := in.memory.Read(uint32(stack[1]), 4096)
		path, _, _ := strings.Cut(string(b), "\x00")
		flags := int(int32(stack[2]))
		mode := os.O_RDONLY
		const writeOnly, readWrite, create, truncate, appending = 1, 2, 0o100, 0o1000, 0o2000
		for from, to := range map[int]int{writeOnly: os.O_WRONLY, readWrite: os.O_RDWR, create: os.O_CREATE, truncate: os.O_TRUNC, appending: os.O_APPEND} {
			if flags&from != 0 {
				mode |= to
			}
		}
		f, err := os.OpenFile(path, mode, 0o600)
		if err != nil {
			stack[0] = api.EncodeI32(-errnoNoFile)
			return
		}
		open[next] = f
		stack[0] = uint64(next)
		next++
	})
	started := time.Now()
	override("_clock_time_get", func(in *instance, stack []uint64) {
		in.memory.WriteUint64Le(uint32(stack[2]), uint64(time.Since(started)))
		stack[0] = 0
	})
	return funcs
}
