package intake

import (
	"regexp"
	"strings"

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
