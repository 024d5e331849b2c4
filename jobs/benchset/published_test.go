package benchset

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake"
	"laneplan/jobs/planfile"
	"laneplan/nest"
)

// TestKeptPlansAreBetterThanPublished recounts the plans that are kept
// because they cost less than what the source of their instance printed or
// stored. nest.Check shares no code with the planner.
func TestKeptPlansAreBetterThanPublished(t *testing.T) {
	instances, err := Read(testdata + "/published")
	require.NoError(t, err)
	paths, err := filepath.Glob(testdata + "/published/plans/*.json")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	for _, path := range paths {
		name := strings.TrimSuffix(filepath.Base(path), ".json")
		t.Run(name, func(t *testing.T) {
			var instance *Instance
			for i := range instances {
				if instances[i].Name == name {
					instance = &instances[i]
				}
			}
			require.NotNil(t, instance, "no published instance has this name")
			require.NotNil(t, instance.Published, "its source has no plan")
			listed, err := instance.Gang.Problem()
			require.NoError(t, err)

			d, err := planfile.ReadFile(path)
			require.NoError(t, err)
			gang, err := intake.ReadFile(filepath.Join(testdata, "bare", name+".yaml"))
			require.NoError(t, err)
			problem, err := gang.Problem()
			require.NoError(t, err)
			require.Len(t, problem.Versions, len(listed.Versions))
			for i, v := range listed.Versions {
				require.Equal(t, v.Quantity, problem.Versions[i].Quantity, "the file and the list are one problem")
			}
			require.Equal(t, listed.Costs, problem.Costs)

			plan, err := d.Gangs[0].Plan(problem)
			require.NoError(t, err)
			plan.Cost = nest.Recount(problem, plan).Cost
			require.NoError(t, nest.Check(problem, plan))
			assert.Less(t, plan.Cost.Total, instance.Published.InexactFloat64())
			assert.InDelta(t, instance.Best.InexactFloat64(), plan.Cost.Total, 1e-6, "the list has it as the best known")
			_, err = planfile.Verify(d, gang, problem)
			assert.NoError(t, err, "every figure that it states")
		})
	}
}
