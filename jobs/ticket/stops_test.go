package ticket

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
)

// The stops of the shaft stand on the rewind sheet in order, and the web that
// is taken out is all that is neither rows nor left on.
func TestRewindSheetTellsWhereToStop(t *testing.T) {
	j := spiceJob(t)
	all := pages(t, made(t, RewindSheet, j))
	stop := regexp.MustCompile(`^(\d+) (\d+) (\d+)((?: \d+,?)*)(?: take out ([\d.]+) m of (set-up|changeover|the splice))?(?:,? join lanes 1, 4)?(?:, end of the web)?$`)
	n, waste := 0, 0.0
	for l := range strings.Lines(strings.Join(all, "\n")) {
		m := stop.FindStringSubmatch(squeezed(l))
		if m == nil || n >= len(j.Winding.Stops) || m[1] != strconv.Itoa(n+1) || m[2] != strconv.Itoa(j.Winding.Stops[n].Row) {
			continue
		}
		s := j.Winding.Stops[n]
		assert.Equal(t, strconv.Itoa(s.Since), m[3])
		assert.Equal(t, lanes(s.Cut), strings.TrimSpace(m[4]), l)
		if s.Waste > 0 {
			metres, err := strconv.ParseFloat(m[5], 64)
			require.NoError(t, err, l)
			assert.InDelta(t, s.Waste.Metres(), metres, 0.0051)
			waste += metres
		} else {
			assert.Empty(t, m[5])
		}
		n++
	}
	assert.Equal(t, len(j.Winding.Stops), n, "every stop stands on the sheet once, in order")
	assert.InDelta(t, 0.774+2*15+2, waste, 0.006, "set-up, two changeovers and a splice")
	assert.Contains(t, squeezed(strings.Join(all, " ")), "2.00 m of the splice, join lanes 1, 4")

	// A page that begins inside a table says which.
	continued := 0
	for _, page := range all[1:] {
		lines := strings.Split(strings.TrimSpace(page), "\n")
		for _, l := range lines[1:] {
			if l = squeezed(l); l != "" {
				assert.Regexp(t, `, continued$|^Lane \d+$|^Joined rolls|^What every version|^Stops of`, l)
				if strings.HasSuffix(l, ", continued") {
					continued++
				}
				break
			}
		}
	}
	assert.Positive(t, continued)
}

func TestRunSheetNamesTheArtwork(t *testing.T) {
	g := spiceGang()
	for i, e := range g.Entries() {
		e.Version.Artwork = fmt.Sprintf("art-%c.pdf", 'a'+i)
	}
	g.Orders[0].Rush = true
	j := jobOf(t, g, spicePlan())
	text := whole(t, made(t, RunSheet, j))
	_, table, found := strings.Cut(text, "Artwork of every version")
	require.True(t, found)
	for i, sections := range []string{"1, 2", "1, 2", "1, 2, 3", "1", "2, 3"} {
		v := j.Winding.Versions[i]
		assert.Regexp(t, fmt.Sprintf(`^%s art-%c.pdf .*%s %d %s$`, v.ID, 'a'+i, date(v.Due), v.Planned, sections), line(t, table, v.ID))
	}
	assert.Equal(t, 2, strings.Count(table, "RUSH"), "the two versions of the rush order")
}

// A heavy roll says so on its tag, and no number of a copy position stands
// anywhere without a chart.
func TestHeavyRollsAndNoChart(t *testing.T) {
	g := spiceGang()
	g.Rewinder.MaxWeight = decimal.RequireFromString("0.4")
	g.Chart = nil
	j := jobOf(t, g, spicePlan())
	heavy := 0
	for i, text := range pages(t, made(t, RollTags, j)) {
		r := j.Winding.Rolls[i]
		assert.Equal(t, r.Heavy, strings.Contains(text, "HEAVY "+units{}.weight(r.Kilograms)), r.Key)
		assert.Equal(t, r.Heavy, strings.Contains(text, "two people or a hoist"))
		if r.Heavy {
			heavy++
		}
		assert.NotContains(t, text, "(")
	}
	assert.Greater(t, heavy, 3)
	assert.Less(t, heavy, len(j.Winding.Rolls))
	sheet := whole(t, made(t, RewindSheet, j))
	assert.Contains(t, sheet, "out, top first")
	assert.NotRegexp(t, `first \(\d\)`, sheet)
	assert.NotRegexp(t, `first \(\d\)`, visible(t, j))
	assert.Contains(t, whole(t, made(t, RewindSheet, spiceJob(t))), "first (1)", "with a chart it does")
	assert.Equal(t, jobs.EdgeTop, j.Winding.Versions[0].PressEdge)
}
