package intake_test

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/jobs/intake/fault"
	"laneplan/jobs/intake/internal/badfiles"
)

var update = flag.Bool("update", false, "write the golden files")

// TestBadFiles reads every file of testdata/bad and compares what is said of
// it with the text file of the same name.
func TestBadFiles(t *testing.T) {
	badfiles.Compare(t, filepath.Join(testdata, "bad"), *update, func(t *testing.T, file string) error {
		g, err := intake.ReadFile(file)
		assert.Equal(t, jobs.Gang{}, g, "no gang beside an error")
		return err
	})
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
