package intake_test

import (
	"errors"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/jobs/intake/fault"
)

// FuzzRead wants no panic, no gang beside an error, faults that have a place,
// and of a good file a gang that has a problem and is read again as written.
// The corpus in testdata/fuzz holds the corners of the format.
func FuzzRead(f *testing.F) {
	for _, path := range files(f, "demo", "bare", "rules", "jobfile", "bad") {
		data, err := os.ReadFile(path)
		require.NoError(f, err)
		if len(data) < 10_000 {
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		g, err := intake.Parse("fuzz.yaml", data)
		if err != nil {
			assert.Equal(t, jobs.Gang{}, g)
			var faults fault.List
			require.True(t, errors.As(err, &faults), "%v", err)
			for _, one := range faults {
				assert.Equal(t, "fuzz.yaml", one.File)
				assert.NotEmpty(t, one.Message)
			}
			return
		}
		_, err = g.Problem()
		require.NoError(t, err)
		written, err := intake.Format(g)
		require.NoError(t, err)
		again, err := intake.Parse("written.yaml", written)
		require.NoError(t, err, "%s", written)
		require.Equal(t, g, again, "%s", written)
	})
}
