package planfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake/fault"
)

func TestVerifyFindsEveryWrongFigure(t *testing.T) {
	g, p, r := crowded(t)
	text := string(written(t, described(t, g, p, r, cases[1].run)))
	for _, tt := range []struct {
		name, old, new string
		want           []string
	}{
		{"a demand not met", `"rows": 500`, `"rows": 300`, []string{
			`demand: version "mace" gets 950 labels, want at least 1000`,
			`gangs[0].versions[0].planned: states 1150, recounted 950`,
			`gangs[0].totals.rows: states 1540, recounted 1340`,
		}},
		{"a closed lane", `["mace", null, "cumin"]`, `["mace", "mace", "cumin"]`, []string{`closed lane: section 1: version "mace" runs in lane 2, which is closed`}},
		{"a version that is not ordered", `["cumin", null, null]`, `["clove", null, null]`, []string{`gangs[0].sections: section 3, lane 1: the problem has no version "clove"`}},
		{"a cost", `"total": `, `"total": 1`, []string{`gangs[0].cost.total: states 1`}},
		{"a currency", `"EUR"`, `"USD"`, []string{`gangs[0].cost.currency: states USD, recounted EUR`}},
		{"scrap called overs", `"overs": 100, "unders": 0, "scrap": 50`, `"overs": 150, "unders": 0, "scrap": 0`, []string{`versions[0].overs: states 150, recounted 100`, `versions[0].scrap: states 0, recounted 50`}},
		{"a carried lane", `"carried_lanes": [1]`, `"carried_lanes": [3]`, []string{`gangs[0].sections[1].carried_lanes: states [3], recounted [1]`}},
		{"a bound above the cost", `"bound": { "cost": `, `"bound": { "cost": 9`, []string{`gangs[0].bound.cost: states that no plan costs less than 9`}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			changed := strings.Replace(text, tt.old, tt.new, 1)
			require.NotEqual(t, text, changed)
			d, err := Read([]byte(changed), "edited.json")
			require.NoError(t, err)
			_, err = Verify(d, g, p)
			var faults fault.List
			require.ErrorAs(t, err, &faults)
			for _, want := range tt.want {
				assert.Contains(t, err.Error(), want)
			}
		})
	}
}

func TestVerifyTakesSectionsWithoutFigures(t *testing.T) {
	g, p, _ := bare(t)
	d, err := Read([]byte(`{"laneplan": 1, "gangs": [{"lanes": 4, "sections": [
		{"number": 1, "rows": 9000, "lanes": ["A", "B", "C", "C"]}]}]}`), "hand.json")
	require.NoError(t, err)
	counted, err := Verify(d, g, p)
	require.NoError(t, err)
	assert.Equal(t, "139636.00", counted.Cost.Total.String()) // one grid of the cover example: (1,1,2) x 9000
	assert.Equal(t, 6500, counted.Totals.Overs)
	assert.Nil(t, counted.Bound)
}

func TestVerifyPutsALineToABrokenRule(t *testing.T) {
	g, p, _ := bare(t)
	p.Limits.LeastRows = 500
	d, err := Read([]byte("{\"laneplan\": 1, \"gangs\": [{\"lanes\": 4, \"sections\": [\n{\"number\": 1, \"rows\": 9000, \"lanes\": [\"A\", \"B\", \"C\", \"C\"]},\n{\"number\": 2, \"rows\": 3, \"lanes\": [\"A\", null, null, null]}]}]}"), "hand.json")
	require.NoError(t, err)
	_, err = Verify(d, g, p)
	assert.EqualError(t, err, "hand.json:3: gangs[0].sections[1]: least rows: section 2: 3 rows, want at least 500")
}
