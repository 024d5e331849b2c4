package benchset

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake/fault"
)

const testdata = "../../testdata"

func TestReadTakesAFolderOfProblems(t *testing.T) {
	instances, err := Read(testdata + "/bench")
	require.NoError(t, err)
	assert.Greater(t, len(instances), 10)
	for i, in := range instances {
		_, err := in.Gang.Problem()
		require.NoError(t, err, in.Name)
		assert.NotEmpty(t, in.Name)
		if i > 0 {
			assert.Less(t, instances[i-1].Name, in.Name, "by name")
		}
	}
}

func TestReadTakesPublishedInstances(t *testing.T) {
	instances, err := Read(testdata + "/published")
	require.NoError(t, err)
	require.Len(t, instances, 11)
	for _, in := range instances {
		_, err := in.Gang.Problem()
		require.NoError(t, err, in.Name)
		require.NotNil(t, in.Best, in.Name)
		assert.NotEmpty(t, in.Source)
	}
	cat := instances[1] // CSPLib prob002, two templates: optimum 418
	assert.Equal(t, "catfood-2", cat.Name)
	assert.Equal(t, "418", cat.Best.String())
	assert.Equal(t, 2, cat.Gang.Rules.Sections)
	assert.Len(t, cat.Gang.Entries(), 7)
	assert.Equal(t, "418", cat.Published.String())
	assert.Nil(t, instances[3].Published, "herbs-1: its source printed no plan")
	large := instances[10]
	assert.Equal(t, []string{"cover-I013", "1745800", "1759240"}, []string{large.Name, large.Best.String(), large.Published.String()})
}

func TestReadReportsTheFaultsOfAllFiles(t *testing.T) {
	folder := t.TempDir()
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600))
	}
	_, err := Read(folder)
	require.ErrorContains(t, err, "want a folder with instances")
	write("a.yaml", "laneplan: 1\nlanes: 0\ncosts: {row: 1, section: 1}\nversions: [{id: A, quantity: 1}]\n")
	write("b.json", "[\n{\"name\": \"b\", \"lanes\": 2, \"demand\": [1], \"row_cost\": 1, \"section_cost\": 1, \"colour\": 3}]")
	write("c.json", `[{"name": "c", "lanes": 2, "demand": [0], "row_cost": 1, "section_cost": 1}]`)
	write("notes.txt", "not an instance")
	_, err = Read(folder)
	var faults fault.List
	require.ErrorAs(t, err, &faults)
	assert.Len(t, faults, 3)
	assert.Contains(t, err.Error(), "a.yaml:2:")
	assert.Contains(t, err.Error(), `b.json:2: want a list of published instances: json: unknown field "colour"`)
	assert.Contains(t, err.Error(), "quantity")
}

func TestReadSaysWhatIsNotThere(t *testing.T) {
	_, err := Read(filepath.Join(t.TempDir(), "nothing"))
	assert.ErrorContains(t, err, "there is no such file or folder")
}
