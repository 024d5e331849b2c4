//go:build race

package highs

// raceDetector makes everything slower that is not WebAssembly: the compiler
// twenty times, a process of the test program three times.
const raceDetector = true
