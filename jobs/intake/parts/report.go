package parts

import (
	"fmt"

	"laneplan/jobs"
	"laneplan/jobs/intake/yamltree"
)

// Report places what package jobs finds wrong in the file that it was read
// from; locate turns its paths into those of the file. A value that could not
// be read at all has its fault already.
func Report(tree *yamltree.Tree, faults jobs.Faults, locate func(path string) string) {
	for _, fault := range faults {
		path := locate(fault.Path)
		if tree.Full() {
			return
		}
		if tree.Faulted(path) {
			continue
		}
		message := fault.Message
		if other := locate(fault.Other); fault.Other != "" && tree.Has(other) {
			message += fmt.Sprintf(" (see line %d)", tree.Line(other))
		}
		tree.At(path, message, "")
	}
}
