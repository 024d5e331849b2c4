package intake

import (
	"regexp"
	"strings"

	"laneplan/jobs"
	"laneplan/jobs/intake/parts"
	"laneplan/jobs/intake/yamltree"
)

var inVersion = regexp.MustCompile(`^(orders\[[0-9]+\]\.)?versions\[[0-9]+\]\.`)

// locate turns a path of package jobs into one of the file: versions may
// stand there without an order, and what holds for a version may be said of
// its order or of the whole file.
func locate(tree *yamltree.Tree, path string) string {
	if !tree.Has("orders") && tree.Has("versions") {
		path = strings.TrimPrefix(path, "orders[0].")
		if path == "orders" {
			path = "versions"
		}
	}
	if tree.Has(path) {
		return path
	}
	if prefix := inVersion.FindStringSubmatch(path); prefix != nil {
		field := strings.TrimPrefix(path, prefix[0])
		for _, further := range []string{prefix[1] + field, field} {
			if tree.Has(further) && field != "id" && field != "name" {
				return further
			}
		}
	}
	return path
}

// Placed gives faults of a gang that came out of a file their lines in it: as
// ReadFile does for those that it finds itself. What cannot be read any more
// is an error of its own.
func Placed(path string, faults jobs.Faults) error {
	tree, err := yamltree.ReadFile(path, MostBytes)
	if err != nil {
		return err
	}
	if tree.Root() != nil {
		gang(tree.Root()) // what is read is known: the rest would be faults
		parts.Report(tree, faults, func(path string) string { return locate(tree, path) })
	}
	return tree.Err()
}
