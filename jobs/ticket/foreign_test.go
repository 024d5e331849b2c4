package ticket

import (
	"encoding/json"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"laneplan/jobs/report"
)

var numeral = regexp.MustCompile(`\d+(?:\.\d+)?`)

// known collects how a document may write the numbers of its data: those of
// the plan and of the rolls as JSON, and what follows from them.
type known map[string]bool

func (k known) add(values ...float64) {
	for _, x := range values {
		for places := range 3 {
			k[strconv.FormatFloat(x, 'f', places, 64)] = true
		}
		k[strconv.FormatFloat(x, 'f', -1, 64)] = true
	}
}

func (k known) count(values ...int) {
	for _, n := range values {
		k[strconv.Itoa(n)] = true
	}
}

// text allows the numbers in an id, a name, a date or a sentence.
func (k known) text(words string) {
	for _, n := range numeral.FindAllString(words, -1) {
		k[n] = true
	}
}

func (k known) json(value any) {
	switch v := value.(type) {
	case float64:
		k.add(v)
	case string:
		k.text(v)
	case []any:
		for _, inner := range v {
			k.json(inner)
		}
	case map[string]any:
		for _, inner := range v {
			k.json(inner)
		}
	}
}

func knownOf(t *testing.T, j Job) known {
	t.Helper()
	k := known{}
	for _, write := range []func(io.Writer, Job) error{planJSON, RollsJSON} {
		var value any
		require.NoError(t, json.Unmarshal(made(t, write, j), &value))
		k.json(value)
	}
	w := j.Winding
	// Lists that number what they list.
	for n := range max(len(j.Lanes), j.Plan.Lanes, len(w.Stops), 12) + 1 {
		k.count(n)
	}
	k.count(len(w.Rolls))
	row, overs, left, full, part := 0, 0, 0, 0, 0
	for _, s := range j.Plan.Sections {
		row += s.Rows
		k.count(row)
	}
	for _, s := range w.Web.Sections {
		k.add(s.WebFrom.Metres(), s.WebTo.Metres(), (s.WebFrom - s.ChangeoverFrom).Metres())
		for _, splice := range s.Splices {
			k.add(splice.WebFrom.Metres())
		}
	}
	for _, r := range w.Rolls {
		for _, p := range r.Pieces {
			k.count(p.Labels())
		}
	}
	for _, p := range w.LeftOff {
		k.count(p.Labels())
	}
	for i, v := range w.Versions {
		overs += v.Overs
		left += v.LeftOff
		full += v.FullRolls
		part += v.PartRolls
		k.add(round(100*float64(v.Overs)/float64(j.Gang.Entries()[i].Version.Quantity), 2))
	}
	k.count(overs, left, full, part, w.Web.SetupRows, j.Gang.Press.SetupFrames.FrameRows(w.Web.Pitch))
	for _, p := range w.Stock.Parents {
		k.add(p.Used().Metres())
	}
	total := decimalOf(j.Plan.Cost.Total.String())
	for _, c := range j.Plan.Cost.Kinds {
		k.add(decimalOf(c.Cost.String()).DivRound(total, 3).Shift(2).InexactFloat64())
	}
	strip := j.Gang.Die.Across + j.Gang.Die.GapAcross
	k.add(float64(strip) / float64(mm))
	k.add(3) // gap, %
	alone, share := 0.0, 0.0
	for _, m := range j.Money {
		a, s := m.Alone.InexactFloat64(), m.Share.InexactFloat64()
		k.add(a, s, a-s, round(100*(a-s)/a, 1))
		alone, share = alone+a, share+s
	}
	k.add(alone, share, alone-share, round(100*(alone-share)/alone, 1))
	k.text(date(j.Printed))
	for number := range j.Gang.Chart.Numbers {
		k.count(number)
	}
	return k
}

// foreign lists the numbers of a text that its data do not hold.
func (k known) foreign(text string) []string {
	// Our own examples and a code point.
	for _, ours := range []string{"1 @7900: one, at counter 7900", "01-001", "[U+1F9C2]"} {
		text = strings.ReplaceAll(text, ours, "")
	}
	var found []string
	for _, n := range numeral.FindAllString(text, -1) {
		if plain := strings.TrimLeft(n, "0"); !k[n] && !k[plain] {
			found = append(found, n)
		}
	}
	slices.Sort(found)
	return slices.Compact(found)
}

// No number stands on a document that the plan, the rolls and what follows
// from them do not hold; and a wrong one would be found.
func TestNoOtherNumberStandsOnADocument(t *testing.T) {
	right := spiceJob(t)
	k := knownOf(t, right)
	wrong := spiceJob(t)
	for i := range wrong.Winding.Rolls {
		wrong.Winding.Rolls[i].Labels += 7
	}
	wrong.Winding.Stops[0].Row += 7
	for i := range wrong.Winding.Web.Sections {
		wrong.Winding.Web.Sections[i].WebTo += 77777 * mm
	}
	texts := map[string]func(*testing.T, Job) string{
		"run sheet":    func(t *testing.T, j Job) string { return whole(t, made(t, RunSheet, j)) },
		"rewind sheet": func(t *testing.T, j Job) string { return whole(t, made(t, RewindSheet, j)) },
		"roll tags":    func(t *testing.T, j Job) string { return whole(t, made(t, RollTags, j)) },
		"report":       visible,
	}
	for name, of := range texts {
		t.Run(name, func(t *testing.T) {
			text := of(t, right)
			require.Greater(t, len(numeral.FindAllString(text, -1)), 100)
			assert.Empty(t, k.foreign(text))
			assert.NotEmpty(t, k.foreign(of(t, wrong)), "the check can fail")
		})
	}
}

// visible is the text of a report, its drawing included.
func visible(t *testing.T, j Job) string {
	t.Helper()
	p := parsed(t, j)
	var all []string
	for _, body := range p.all("body") {
		for n := range body.Descendants() {
			if n.Type == html.TextNode {
				all = append(all, n.Data)
			}
		}
	}
	return strings.ReplaceAll(strings.Join(all, " "), report.Thousands, "")
}
