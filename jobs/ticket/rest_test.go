package ticket

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
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
	plain := squeezed(whole(t, made(t, RunSheet, spiceJob(t))))
	assert.NotContains(t, plain, "rest of gang")
}
