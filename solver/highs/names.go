package highs

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
)

// names maps the short names that the WebAssembly module carries to those of
// the C source. The module was minified: Highs_run, say, is exported as "N" in
// one version of the package and may be "P" in the next.
type names struct {
	imports map[string]string // "a" is "___cxa_throw"
	exports map[string]string // "_Highs_run" is "N"
	start   string            // the export that runs the C++ constructors
}

var (
	importTable = regexp.MustCompile(`wasmImports=\{([^}]*)\}`)
	exportLine  = regexp.MustCompile(`Module\["(_\w+)"\]=wasmExports\["([^"]+)"\]`)
	memoryLine  = regexp.MustCompile(`wasmMemory=wasmExports\["([^"]+)"\]`)
	startLine   = regexp.MustCompile(`TTY\.init\(\);wasmExports\["([^"]+)"\]\(\)`)
)

// memoryName is the key in names.exports of the module's memory.
const memoryName = "memory"

// readNames reads the tables from the package's loader, so that they always
// belong to the module beside it. It fails where the loader has another shape
// than we know: then the package changed and this file must follow.
func readNames(loader []byte) (names, error) {
	n := names{imports: map[string]string{}, exports: map[string]string{}}
	table := importTable.FindSubmatch(loader)
	if table == nil {
		return names{}, errors.New("highs.mjs: no wasmImports table")
	}
	for pair := range strings.SplitSeq(string(table[1]), ",") {
		short, long, ok := strings.Cut(pair, ":")
		if !ok || short == "" || long == "" {
			return names{}, fmt.Errorf("highs.mjs: wasmImports has %q, want short:long", pair)
		}
		n.imports[short] = long
	}
	for _, m := range exportLine.FindAllSubmatch(loader, -1) {
		n.exports[string(m[1])] = string(m[2])
	}
	if len(n.exports) == 0 {
		return names{}, errors.New("highs.mjs: no table of exports")
	}
	memory := memoryLine.FindSubmatch(loader)
	if memory == nil {
		return names{}, errors.New("highs.mjs: the memory's name is missing")
	}
	n.exports[memoryName] = string(memory[1])
	start := startLine.FindSubmatch(loader)
	if start == nil {
		return names{}, errors.New("highs.mjs: the start-up call's name is missing")
	}
	n.start = string(start[1])
	return n, nil
}

// export gives the short name of an exported function.
func (n names) export(long string) (string, error) {
	short, ok := n.exports[long]
	if !ok {
		return "", fmt.Errorf("highs.mjs names no export %s: this version of the package is not one that we know", long)
	}
	return short, nil
}
