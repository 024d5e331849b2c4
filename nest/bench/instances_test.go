package bench

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/nest"
)

var update = flag.Bool("update", false, "write the instances of testdata/bench and testdata/twelve anew")

// TestInstanceFiles: the files in testdata/bench and testdata/twelve are what
// the generator draws, all of them and no others.
func TestInstanceFiles(t *testing.T) {
	instanceFiles(t, "../../testdata/bench", Instances())
	instanceFiles(t, "../../testdata/twelve", Twelve())
}

func instanceFiles(t *testing.T, folder string, specs []Spec) {
	t.Helper()
	var names []string
	for _, spec := range specs {
		var want bytes.Buffer
		require.NoError(t, spec.WriteBare(&want))
		name := spec.Name() + ".yaml"
		names = append(names, name)
		path := filepath.Join(folder, name)
		if *update {
			require.NoError(t, os.MkdirAll(folder, 0o777))
			require.NoError(t, os.WriteFile(path, want.Bytes(), 0o666))
		}
		got, err := os.ReadFile(path)
		require.NoError(t, err, "write it with: go test ./nest/bench -update")
		assert.Equal(t, want.String(), string(got), name)
	}
	found, err := filepath.Glob(filepath.Join(folder, "*.yaml"))
	require.NoError(t, err)
	for _, path := range found {
		assert.Contains(t, names, filepath.Base(path), "no instance draws this file")
	}
	slices.Sort(names)
	assert.Len(t, slices.Compact(names), len(specs), "two instances have one name")
}

func TestInstancesCoverWhatTheyClaim(t *testing.T) {
	specs := Instances()
	assert.GreaterOrEqual(t, len(specs), 24)
	versions, lanes := []int{}, []int{}
	for _, spec := range specs {
		p := spec.Problem()
		require.NoError(t, nest.Validate(p), spec.Name())
		require.Len(t, p.Versions, spec.Versions)
		versions, lanes = append(versions, len(p.Versions)), append(lanes, p.Lanes)
	}
	assert.Equal(t, []int{6, 200}, []int{slices.Min(versions), slices.Max(versions)})
	assert.Equal(t, []int{3, 12}, []int{slices.Min(lanes), slices.Max(lanes)})
	for _, spec := range append(Growth(), Twelve()...) {
		require.NoError(t, nest.Validate(spec.Problem()), spec.Name())
	}
}

func TestSameSpecSameInstance(t *testing.T) {
	spec := Spec{Versions: 20, Lanes: 4, Quantities: Lognormal, SectionRows: 300, Seed: 7}
	assert.Equal(t, spec.Problem(), spec.Problem())
	other := spec
	other.Seed = 8
	assert.NotEqual(t, spec.Problem(), other.Problem())
}

func TestWriteBare(t *testing.T) {
	var got bytes.Buffer
	spec := Spec{Versions: 2, Lanes: 3, Quantities: Round, SectionRows: 250, LaneRunRows: 5, Seed: 1}
	require.NoError(t, spec.WriteBare(&got))
	p := spec.Problem()
	want := "# Drawn by nest/bench, seed 1: no orders of anyone.\nlaneplan: 1\nlanes: 3\n" +
		"costs: {row: 1, section: 250, lane_run: 5}\nversions:\n"
	for _, v := range p.Versions {
		want += "  - {id: " + v.ID + ", quantity: " + plain(float64(v.Quantity)) + "}\n"
	}
	assert.Equal(t, want, got.String())
}
