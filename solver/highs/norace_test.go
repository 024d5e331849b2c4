//go:build !race

package highs

const raceDetector = false
