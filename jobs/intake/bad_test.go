package intake_test

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/jobs/intake/fault"
)

var update = flag.Bool("update", false, "write the golden files")

// TestBadFiles reads every file of testdata/bad and compares what is said of
// it with the text file of the same name.
func TestBadFiles(t *testing.T) {
	folder, err := filepath.Abs(filepath.Join(testdata, "bad"))
	require.NoError(t, err)
	t.Chdir(folder)
	bad, err := filepath.Glob("*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, bad)
	goldens, err := filepath.Glob("*.txt")
	require.NoError(t, err)
	if !*update {
		assert.Len(t, goldens, len(bad), "every golden belongs to a file")
	}
	line := regexp.MustCompile(`^[a-z0-9-]+\.yaml(:[0-9]+)*: .+[^.]$|^hint: .+[^.]$|^and [0-9]+ more$`)
	for _, file := range bad {
		t.Run(file, func(t *testing.T) {
			g, err := intake.ReadFile(file)
			assert.Equal(t, jobs.Gang{}, g, "no gang beside an error")
			var faults fault.List
			require.ErrorAs(t, err, &faults)
			got := err.Error() + "\n"
			golden := strings.TrimSuffix(file, ".yaml") + ".txt"
			if *update {
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

func TestWhatIsNoFileAtAll(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, os.Mkdir("folder", 0o755))
	large, err := os.Create("large.yaml")
	require.NoError(t, err)
	require.NoError(t, large.Truncate(50_000_000))
	require.NoError(t, large.Close())
	for path, want := range map[string]string{
		"folder":     "folder: want a file, got a folder",
		"large.yaml": "large.yaml: the file is longer than 2 MB, the most that is read",
		"none.yaml":  "none.yaml: there is no such file",
	} {
		_, err := intake.ReadFile(path)
		var faults fault.List
		require.ErrorAs(t, err, &faults, path)
		assert.EqualError(t, err, want)
	}
}

func TestAFileWithAByteOrderMarkIsRead(t *testing.T) {
	g, err := intake.Parse("bom.yaml", []byte("\ufefflaneplan: 1\r\nlanes: 2\r\ncosts: {row: 1, section: 1}\r\nversions: [{id: Ä, quantity: 5}]\r\n"))
	require.NoError(t, err)
	assert.Equal(t, "Ä", g.Orders[0].Versions[0].ID)
}
