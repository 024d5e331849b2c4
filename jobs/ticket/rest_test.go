package ticket

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
	"laneplan/nest"
)

func TestTheSheetsOfARestSayHowItBegins(t *testing.T) {
	for _, tt := range []struct {
		name string
		rest planfile.Rest
		want []string
	}{
		{"going on", planfile.Rest{Gang: "jar", Continues: true, Notes: []string{"Lane 3 is out of use"}},
			[]string{"Go on with the versions that are in the lanes: no changeover. Check every lane again. The restart takes 4.00 m of web.", "This is the rest of gang jar.", "Lane 3 is out of use."}},
		{"a changeover", planfile.Rest{Gang: "jar"}, []string{"Set up all lanes: 4.00 m of web.", "Section 1 begins with a changeover from what is on the press."}},
		{"off the press", planfile.Rest{Gang: "jar", OffPress: true}, []string{"Section 1 takes a set-up from nothing."}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			g := spiceGang()
			g.Press.SetupFrames, g.Press.SetupWeb = nil, 4*jobs.Metre
			j := jobOf(t, g, spicePlan())
			j.Plan.Rest = &tt.rest
			text := squeezed(whole(t, made(t, RunSheet, j)))
			for _, want := range tt.want {
				assert.Contains(t, text, want)
			}
			assert.Contains(t, string(made(t, Report, j)), "This is the rest of gang jar.")
		})
	}
	t.Run("on a roll that is begun", func(t *testing.T) {
		g := spiceGang()
		pitch := g.Die.Pitch()
		web := func(k int) jobs.Length { return jobs.Length(spicePlan().Sections[k].Rows) * pitch }
		g.Press.SetupFrames, g.Press.SetupWeb = nil, 4*jobs.Metre
		total := g.Press.SetupWeb
		for k := range spicePlan().Sections {
			total += web(k)
		}
		// The roll in the press holds the set-up, the first section and the
		// changeover, and half of what comes then.
		g.Stock.RollLength = 2 * total
		used := g.Stock.RollLength - g.Press.SetupWeb - web(0) - g.Press.ChangeoverWeb - web(1)/2
		g.Begun = &jobs.Begun{RollUsed: used}
		p, err := g.Problem()
		require.NoError(t, err)
		plan, err := nest.PlaceRolls(p, spicePlan().Sections)
		require.NoError(t, err)
		j := jobOf(t, g, plan)
		require.Len(t, j.Winding.Stock.Parents, 2)
		assert.Equal(t, 1, j.Winding.Stock.Rolls(), "one is in the press")
		left := j.Winding.Stock.Parents[0].Left
		assert.Less(t, left, web(1))
		assert.Equal(t, g.Stock.RollLength-used-j.Winding.Stock.Parents[0].Used(), left)
		text := squeezed(whole(t, made(t, RunSheet, j)))
		assert.Contains(t, text, "Stock to pull: 1 roll of")
		assert.Contains(t, text, "Parent roll 1 is in the press, with "+j.units().web(used)+" gone and "+j.units().web(g.Stock.RollLength-used)+" on it.")
	})
	plain := squeezed(whole(t, made(t, RunSheet, spiceJob(t))))
	assert.NotContains(t, plain, "rest of gang")
}
