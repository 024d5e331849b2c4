// Package donefile reads what was really printed of a plan: rows of every
// section, spoiled stretches and lanes, where the press stopped. Everything
// wrong with the file is reported at once, with line and field.
//
//	file, err := donefile.ReadFile("done.yaml")
//	err = file.Fits(gang, plan)
//	count, err := rest.Tally(gang, plan, file.Done)
package donefile

import (
	_ "embed"
	"errors"
	"fmt"
	"regexp"

	"laneplan/jobs"
	"laneplan/jobs/intake/parts"
	"laneplan/jobs/intake/scalar"
	"laneplan/jobs/intake/yamltree"
	"laneplan/jobs/rest"
	"laneplan/nest"
)

// MostBytes of a file.
const MostBytes = 1_000_000

// Schema is the JSON Schema of the file, by which editors complete and check
// it. What it cannot say, such as whether the plan has the section, only Fits
// finds.
//
//go:embed done.schema.json
var Schema []byte

// File is a file that was read without fault.
type File struct {
	Done rest.Done
	tree *yamltree.Tree
}

// ReadFile reads the file. On error it is zero; the error is a fault.List
// unless reading itself broke.
func ReadFile(path string) (File, error) {
	tree, err := yamltree.ReadFile(path, MostBytes)
	if err != nil {
		return File{}, err
	}
	return read(tree)
}

// Parse reads the file from memory; name stands for it in messages.
func Parse(name string, data []byte) (File, error) { return read(yamltree.Parse(name, data)) }

// Fits finds what cannot be so, given the plan that was printed. The error is
// a fault.List.
func (f File) Fits(g jobs.Gang, plan nest.Plan) error {
	parts.Report(f.tree, f.Done.Check(g, plan), func(path string) string { return path })
	return f.tree.Err()
}

func read(tree *yamltree.Tree) (File, error) {
	f := File{tree: tree}
	if root := tree.Root(); root != nil {
		f.Done = done(root)
	}
	if err := tree.Err(); err != nil {
		return File{}, err
	}
	return f, nil
}

func done(root *yamltree.Map) rest.Done {
	root.Need("sections", "the sections that ran, such as [{section: 1, rows: 2750}]")
	d := rest.Done{
		Gang:           root.Text("gang"),
		Stopped:        root.Moment("stopped"),
		OffPress:       root.Flag("off_press"),
		RestartWeb:     parts.Length(root, "restart_web"),
		RestartMinutes: root.Decimal("restart_minutes", 0, 100_000),
	}
	if root.Has("roll_left") {
		left := parts.Length(root, "roll_left")
		d.RollLeft = &left
	}
	for _, m := range root.Maps("sections") {
		d.Sections = append(d.Sections, printed(m))
	}
	for _, m := range root.Maps("spoiled") {
		d.Spoiled = append(d.Spoiled, stretch(m))
	}
	for _, m := range root.Maps("spoiled_lanes") {
		d.Lanes = append(d.Lanes, lane(m))
	}
	return d
}

func section(m *yamltree.Map) int {
	m.Need("section", "the number of the section in the plan, such as 1")
	return m.Whole("section", 1, jobs.MostQuantity)
}

func printed(m *yamltree.Map) rest.Printed {
	p := rest.Printed{Section: section(m)}
	if m.Has("rows") && m.Has("web") {
		m.Fault("web", "want what ran in rows or as web, got both", "")
	}
	if !m.Has("web") {
		m.Need("rows", "the rows that ran, such as 2750, or their web, such as 283.2m")
	}
	p.Printed = rest.Mark{Rows: m.Whole("rows", 0, jobs.MostQuantity), Web: parts.Length(m, "web")}
	return p
}

func stretch(m *yamltree.Map) rest.Stretch {
	s := rest.Stretch{
		Section: section(m),
		From:    yamltree.Value(m, "from", mark), To: yamltree.Value(m, "to", mark),
		Reason: m.Text("reason"),
	}
	if m.Has("lanes") {
		s.Lanes = m.Wholes("lanes", 1, jobs.MostLanes)
	}
	return s
}

func lane(m *yamltree.Map) rest.Lane {
	m.Need("lane", "the lane, counted from the operator's left, such as 3")
	return rest.Lane{
		Lane: m.Whole("lane", 1, jobs.MostLanes), Section: section(m), From: yamltree.Value(m, "from", mark),
		Mended: m.Flag("mended"), Reason: m.Text("reason"),
	}
}

var digits = regexp.MustCompile(`^[0-9]+$`)

// mark reads a place in a section: a row, or a length from its start.
func mark(text string) (rest.Mark, error) {
	if digits.MatchString(text) {
		rows, err := scalar.Whole(text, 1, jobs.MostQuantity)
		return rest.Mark{Rows: rows}, err
	}
	web, err := jobs.ParseLength(text)
	switch {
	case err != nil:
		return rest.Mark{}, fmt.Errorf("want a row such as 400 or a length from the section's start such as 41.2m, got %s", scalar.Quote(text))
	case web == 0:
		return rest.Mark{}, errors.New("want a length above 0, or leave this out for the whole section")
	}
	return rest.Mark{Web: web}, nil
}
