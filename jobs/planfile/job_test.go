package planfile_test

import (
	"bytes"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/jobs/planfile"
)

func TestAPlanGivesItsJobBack(t *testing.T) {
	for _, file := range []string{"demo/spice-mill.yaml", "bare/covers.yaml"} {
		t.Run(filepath.Base(file), func(t *testing.T) {
			gang, err := intake.ReadFile(filepath.Join("../../testdata", file))
			require.NoError(t, err)
			if gang.Bare == nil {
				gang.Chart = &jobs.WindChart{Name: "house", Numbers: map[int]jobs.Wind{1: {Face: jobs.FaceOut, Edge: jobs.EdgeTop}}}
				gang.Papers = jobs.Papers{Inches: true, Letter: true, Tags: jobs.TagSheet{Width: 4 * jobs.Inch, Height: 2 * jobs.Inch}}
			}
			none := 0
			gang.Orders[0].Versions[0].MostSplices = &none
			gang.Orders[0].Versions[0].Name = `quotes " and <b>, 茶, "1.0", null`

			stored := planfile.Gang{ID: gang.ID, Lanes: gang.Die.Lanes, Sections: []planfile.Section{{Number: 1, Rows: 1, Lanes: make([]*string, gang.Die.Lanes)}}}
			require.NoError(t, stored.SetJob(gang))
			var written bytes.Buffer
			require.NoError(t, planfile.Write(&written, planfile.Document{Gangs: []planfile.Gang{stored}}))
			document, err := planfile.Read(written.Bytes(), "plan.json")
			require.NoError(t, err, written.String())
			again, err := document.Stored(document.Gangs[0])
			require.NoError(t, err, written.String())
			assert.Equal(t, gang, again)
		})
	}
}

func TestAFaultyJobIsPlacedInThePlanFile(t *testing.T) {
	plan := `{"laneplan": 1, "gangs": [{
  "id": "G", "lanes": 1, "sections": [{"number": 1, "rows": 5, "lanes": ["A"]}],
  "job": {"laneplan": 1, "lanes": 1, "costs": {"row": 1, "section": 1},
    "versions": [{"id": "A", "quantity": -5}]}}]}`
	document, err := planfile.Read([]byte(plan), "plan.json")
	require.NoError(t, err)
	_, err = document.Stored(document.Gangs[0])
	assert.ErrorContains(t, err, "plan.json:4")
	assert.ErrorContains(t, err, "quantity")

	document.Gangs[0].Job = nil
	_, err = document.Stored(document.Gangs[0])
	assert.EqualError(t, err, `plan.json: the plan of gang "G" does not hold its job: name the file it was made from`)
}
