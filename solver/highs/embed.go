package highs

import "embed"

// The folder is filled by 'make engine' and is not in the repository; its name
// is the message that a build without it shows.
//
//go:embed run-make-engine-to-fetch-this
var engineFiles embed.FS

const engineFolder = "run-make-engine-to-fetch-this/"

// engineFile reads one embedded file: highs.wasm (the solver), highs.mjs (the
// package's own loader, of which only the name table is used) or LICENSE.
func engineFile(name string) ([]byte, error) {
	return engineFiles.ReadFile(engineFolder + name)
}
