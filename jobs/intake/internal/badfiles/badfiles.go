// Package badfiles compares in tests what a reader says of bad files with
// golden texts beside them.
package badfiles

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake/fault"
)

var line = regexp.MustCompile(`^[a-z0-9-]+\.yaml(:[0-9]+)*: .+[^.]$|^hint: .+[^.]$|^and [0-9]+ more$`)

// Compare reads every YAML file of a folder, which becomes the working folder
// of the test, and compares its faults with the text file of the same name;
// update writes those. Every fault is one sentence with its place, and every
// text belongs to a file.
func Compare(t *testing.T, folder string, update bool, read func(t *testing.T, file string) error) {
	t.Helper()
	t.Chdir(folder)
	bad, err := filepath.Glob("*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, bad)
	goldens, err := filepath.Glob("*.txt")
	require.NoError(t, err)
	if !update {
		assert.Len(t, goldens, len(bad), "every golden belongs to a file")
	}
	for _, file := range bad {
		t.Run(file, func(t *testing.T) {
			err := read(t, file)
			var faults fault.List
			require.ErrorAs(t, err, &faults)
			got := err.Error() + "\n"
			golden := strings.TrimSuffix(file, ".yaml") + ".txt"
			if update {
				require.NoError(t, os.WriteFile(golden, []byte(got), 0o644))
			}
			want, err := os.ReadFile(golden)
			require.NoError(t, err)
			assert.Equal(t, string(want), got)
			for _, text := range strings.Split(strings.TrimSpace(got), "\n") {
				assert.Regexp(t, line, text, "one sentence a line")
			}
		})
	}
}
