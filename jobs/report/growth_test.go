package report

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// grown has whatever a measurement of growth may say; its figures are made up.
func grown() []Growth {
	of := func(name string, versions, lanes int, gap, seconds float64, stop string) Growth {
		return GrowthOf(Benchmark{Name: name, Versions: versions, Lanes: lanes, Sections: versions / lanes,
			Cost: 1000, Bound: 1000 * (1 - gap), Gap: gap, Seconds: seconds, Seed: 1, Stop: stop}, 0.02)
	}
	none := GrowthOf(Benchmark{Name: "=odd", Versions: 400, Lanes: 4, Failure: "no plan within the limits"}, 0.02)
	return []Growth{
		of("a", 10, 4, 0, 0, "proven"), of("b", 10, 8, 0.0199, 0.25, "gap"),
		of("c", 40, 4, 0.02, 3.04, "gap"), of("d", 40, 8, 0.0512, 60.01, "time limit"),
		none,
	}
}

func TestGrowthTellsWhatWasNotReached(t *testing.T) {
	var b strings.Builder
	require.NoError(t, GrowthText(&b, grown(), Style{}))
	lines := strings.Split(b.String(), "\n")
	assert.Equal(t, []string{"versions", "4", "lanes", "8", "lanes"}, strings.Fields(lines[0]))
	assert.Equal(t, []string{"10", "0.00", "s", "0.25", "s"}, strings.Fields(lines[2]))
	assert.Equal(t, []string{"40", "3.04", "s", "more", "than", "60.0", "s", "(5.2", "%)"}, strings.Fields(lines[3]), "a gap of just 2 % is reached")
	assert.Equal(t, []string{"400", "no", "plan", "-"}, strings.Fields(lines[4]))
	assert.Contains(t, b.String(), "=odd: no plan within the limits\n")
}

func TestGrowthPlotIsAPictureOfEveryLine(t *testing.T) {
	var b strings.Builder
	require.NoError(t, GrowthPlot(&b, grown()))
	d := xml.NewDecoder(strings.NewReader(b.String()))
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
	}
	for _, want := range []string{"4 lanes", "8 lanes", "open: not reached in that time", "Time to a gap of 2 %", "seconds"} {
		assert.Contains(t, b.String(), ">"+want+"<")
	}
	assert.NotContains(t, b.String(), ">400<", "what has no plan is not drawn")

	b.Reset()
	require.NoError(t, GrowthPlot(&b, grown()[:1]), "a single point")
	assert.NotContains(t, b.String(), "not reached")
	assert.ErrorIs(t, GrowthPlot(io.Discard, grown()[4:]), ErrNothingToDraw)
}
