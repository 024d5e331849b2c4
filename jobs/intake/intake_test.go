package intake_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/nest"
)

const testdata = "../../testdata"

// files are the good job files of the folders.
func files(t testing.TB, folders ...string) []string {
	var all []string
	for _, folder := range folders {
		found, err := filepath.Glob(filepath.Join(testdata, folder, "*.yaml"))
		require.NoError(t, err)
		require.NotEmpty(t, found, folder)
		all = append(all, found...)
	}
	return all
}

func read(t *testing.T, path string) (jobs.Gang, nest.Problem) {
	t.Helper()
	g, err := intake.ReadFile(path)
	require.NoError(t, err)
	p, err := g.Problem()
	require.NoError(t, err, path)
	require.NoError(t, nest.Validate(p), path)
	return g, p
}

func TestEveryGoodFileIsAProblemAndReadsBackAsWritten(t *testing.T) {
	for _, path := range files(t, "demo", "bare", "rules", "jobfile") {
		t.Run(filepath.Base(path), func(t *testing.T) {
			g, _ := read(t, path)
			written, err := intake.Format(g)
			require.NoError(t, err)
			again, err := intake.Parse("written.yaml", written)
			require.NoError(t, err, string(written))
			assert.Equal(t, g, again, string(written))
		})
	}
}

func TestTheDemoIsARealGang(t *testing.T) {
	g, p := read(t, testdata+"/demo/spice-mill.yaml")
	assert.Equal(t, "spice-mill", g.ID)
	assert.GreaterOrEqual(t, len(p.Versions), 14)
	assert.Greater(t, len(g.Orders), 2)
	assert.Equal(t, 4, p.Lanes)
	for _, v := range p.Versions {
		assert.GreaterOrEqual(t, v.Quantity, 250, v.ID)
		assert.LessOrEqual(t, v.Quantity, 6000, v.ID)
	}
}

func TestTheBareProblem(t *testing.T) {
	g, p := read(t, testdata+"/bare/covers.yaml")
	assert.Equal(t, nest.Problem{
		Lanes: 4, Costs: nest.Costs{Row: 13.44, Section: 18676},
		Versions: []nest.Version{{ID: "A", Quantity: 4500, Fewest: 4500}, {ID: "B", Quantity: 9000, Fewest: 9000}, {ID: "C", Quantity: 16000, Fewest: 16000}},
	}, p)
	assert.Equal(t, "covers", g.ID, "the file's name where it gives the gang none")
}

func TestThePublishedInstancesAreAsPublished(t *testing.T) {
	data, err := os.ReadFile(testdata + "/published/published.json")
	require.NoError(t, err)
	var published []struct {
		Name        string  `json:"name"`
		Lanes       int     `json:"lanes"`
		Demand      []int   `json:"demand"`
		RowCost     float64 `json:"row_cost"`
		SectionCost float64 `json:"section_cost"`
		Sections    int     `json:"sections"`
	}
	require.NoError(t, json.Unmarshal(data, &published))
	require.NotEmpty(t, published)
	for _, want := range published {
		_, got := read(t, filepath.Join(testdata, "bare", want.Name+".yaml"))
		var demand []int
		for _, v := range got.Versions {
			demand = append(demand, v.Quantity)
		}
		assert.Equal(t, want.Demand, demand, want.Name)
		assert.Equal(t, want.Lanes, got.Lanes, want.Name)
		assert.Equal(t, nest.Costs{Row: want.RowCost, Section: want.SectionCost}, got.Costs, want.Name)
		assert.Equal(t, nest.Limits{Sections: want.Sections}, got.Limits, want.Name)
	}
}

// TestEveryRuleReachesThePlanner reads the example of each rule.
func TestEveryRuleReachesThePlanner(t *testing.T) {
	rule := func(name string) nest.Problem {
		_, p := read(t, filepath.Join(testdata, "rules", name+".yaml"))
		return p
	}
	version := func(p nest.Problem, id string) nest.Version {
		for _, v := range p.Versions {
			if v.ID == id {
				return v
			}
		}
		require.Fail(t, "no version "+id)
		return nest.Version{}
	}

	t.Run("unders and overs for file, order and version", func(t *testing.T) {
		p := rule("tolerance")
		assert.Equal(t, nest.Version{ID: "dill", Quantity: 900, Fewest: 882, Most: 990, ShortCost: 0.03}, version(p, "dill"))
		assert.Equal(t, nest.Version{ID: "fennel", Quantity: 1000, Fewest: 1000, ShortCost: 0.03}, version(p, "fennel"))
		assert.Equal(t, nest.Version{ID: "sumac", Quantity: 470, Fewest: 461, Most: 493, ShortCost: 0.04, OverPrice: 0.04, LabelCost: 0.002}, version(p, "sumac"))
		assert.Equal(t, nest.Version{ID: "thyme", Quantity: 480, Fewest: 471, Most: 504, ShortCost: 0.04, LabelCost: 0.002}, version(p, "thyme"))
	})
	t.Run("lanes", func(t *testing.T) {
		p := rule("lanes")
		assert.Equal(t, []int{3}, p.Closed)
		assert.Equal(t, []int{1}, version(p, "dill").OnlyLanes)
		assert.Equal(t, []int{1, 2, 3}, version(p, "fennel").OnlyLanes)
		assert.Equal(t, 2, version(p, "sumac").LeastLanes)
		assert.Equal(t, 1, version(p, "thyme").MostLanes)
	})
	t.Run("together and apart", func(t *testing.T) {
		p := rule("together")
		assert.True(t, version(p, "dill").OnePiece)
		assert.False(t, version(p, "fennel").OnePiece)
		assert.Equal(t, [][]int{{1, 2}}, p.Together)
		assert.Equal(t, [][]int{{2, 3}}, p.Apart)
		assert.Equal(t, nest.Limits{VersionsPerSection: 3}, p.Limits)
	})
	t.Run("lengths", func(t *testing.T) {
		p := rule("lengths")
		assert.Equal(t, nest.Limits{Frame: 10, LeastRows: 120}, p.Limits)
		assert.Equal(t, 1.5, p.Costs.WholeRollSaving)
		assert.Equal(t, 250, version(p, "dill").LabelsPerRoll)
		assert.Equal(t, 500, version(p, "sumac").LabelsPerRoll)
	})
	t.Run("order of sections", func(t *testing.T) {
		p := rule("order")
		assert.True(t, version(p, "dill").Rush)
		assert.Zero(t, version(p, "dill").Deadline)
		assert.Equal(t, 960.0, version(p, "fennel").Deadline, "two days of eight hours")
		assert.Equal(t, nest.Limits{LeastRows: 150}, p.Limits, "15 m of 100 mm")
		assert.Equal(t, nest.Press{SetupMinutes: 15, RowMinutes: 0.005, ChangeoverMinutes: 3}, p.Press)
		assert.Equal(t, 0.4, p.Costs.LaneRun)
		// 0.26 m × 0.1 m at 0.29 for 0.64516 m², and 0.1/20 min at 72/h.
		assert.InDelta(t, 0.026*0.29/0.64516+0.006, p.Costs.Row, 1e-12)
	})
	t.Run("parent rolls", func(t *testing.T) {
		p := rule("stock-rolls")
		assert.InDelta(t, 0.2*2*0.7+4*1.2, p.Stock.SpliceCost, 1e-12)
		p.Stock.SpliceCost = 0
		assert.Equal(t, nest.Stock{RollRows: 1000, SetupRows: 200, ChangeoverRows: 50, SpliceRows: 20}, p.Stock)
		assert.Equal(t, -1, version(p, "dill").MostSplices)
		assert.Equal(t, 1, version(p, "fennel").MostSplices)
	})
	t.Run("fillers", func(t *testing.T) {
		p := rule("fillers")
		assert.False(t, version(p, "dill").Filler)
		assert.True(t, version(p, "thyme").Filler)
		assert.Equal(t, 14.0, version(p, "thyme").ElsewhereCost)
	})
}
