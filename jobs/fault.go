package jobs

import "strings"

// Fault is one thing that is wrong with a gang itself, whatever the plan.
type Fault struct {
	// Path of the value in the words of a job file, such as
	// orders[0].versions[2].quantity; indices count from 0.
	Path string
	// Message says what is wrong and what would be right, in one sentence
	// without a full stop; it names the version or order concerned.
	Message string
	// Other is the path of the value that this one clashes with; empty for
	// none.
	Other string
}

// Error gives path and message.
func (f Fault) Error() string { return f.Path + ": " + f.Message }

// Faults is all that is wrong with a gang. As an error it prints one fault a
// line.
type Faults []Fault

// Error lists the faults, one a line.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, one := range f {
		lines[i] = one.Error()
	}
	return strings.Join(lines, "\n")
}
