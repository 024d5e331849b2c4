package ticket

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"laneplan/jobs/report"
	"laneplan/nest"
)

// page is a parsed report.
type page struct{ root *html.Node }

func parsed(t *testing.T, j Job) page {
	t.Helper()
	root, err := html.Parse(strings.NewReader(string(made(t, Report, j))))
	require.NoError(t, err)
	return page{root}
}

func (p page) all(tag string) []*html.Node {
	var found []*html.Node
	for n := range p.root.Descendants() {
		if n.Type == html.ElementNode && n.Data == tag {
			found = append(found, n)
		}
	}
	return found
}

func attribute(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func words(n *html.Node) string {
	var b strings.Builder
	for inner := range n.Descendants() {
		if inner.Type == html.TextNode {
			b.WriteString(inner.Data)
		}
		if inner.Type == html.ElementNode && slices.Contains([]string{"dd", "dt", "p", "li", "tr", "td", "th"}, inner.Data) {
			b.WriteByte(' ')
		}
	}
	return squeezed(strings.ReplaceAll(strings.ReplaceAll(b.String(), report.Thousands, ""), "\u00a0", " "))
}

// table gives the cells of the body and foot of a table.
func (p page) table(t *testing.T, id string) [][]string {
	t.Helper()
	for _, table := range p.all("table") {
		if attribute(table, "id") != id {
			continue
		}
		var rows [][]string
		for _, tr := range (page{table}).all("tr") {
			if tr.Parent.Data == "thead" {
				continue
			}
			var row []string
			for _, tag := range []string{"th", "td"} {
				for _, cell := range (page{tr}).all(tag) {
					row = append(row, words(cell))
				}
			}
			rows = append(rows, row)
		}
		return rows
	}
	require.Fail(t, "no table "+id)
	return nil
}

func TestReportSaysWhatThePlanSays(t *testing.T) {
	j, plan, g := spiceJob(t), spicePlan(), spiceGang()
	p := parsed(t, j)
	l := layoutOf(g, plan)
	entries := g.Entries()

	t.Run("sections", func(t *testing.T) {
		rows := p.table(t, "sections")
		require.Len(t, rows, len(plan.Sections))
		row := 0
		for k, s := range plan.Sections {
			want := []string{strconv.Itoa(k + 1), strconv.Itoa(s.Rows), strconv.Itoa(row), strconv.Itoa(row + s.Rows),
				fmt.Sprintf("%.2f m", l.from[k]), fmt.Sprintf("%.2f m", l.to[k]), fmt.Sprintf("%.1f", float64(s.Rows)*0.043/30)}
			for lane, i := range s.Lanes {
				switch {
				case lane == 5:
					want = append(want, "closed")
				case i == nest.Empty:
					want = append(want, "empty")
				case k > 0 && plan.Sections[k-1].Lanes[lane] == i:
					want = append(want, "= "+entries[i].Version.ID)
				default:
					want = append(want, entries[i].Version.ID)
				}
			}
			assert.Equal(t, want, rows[k])
			row += s.Rows
		}
	})
	t.Run("versions", func(t *testing.T) {
		rows := p.table(t, "versions")
		require.Len(t, rows, len(entries)+1)
		ordered, planned, overs := 0, 0, 0
		for i, e := range entries {
			v := j.Plan.Versions[i]
			share := float64(v.Overs) / float64(v.Ordered) * 100
			assert.Equal(t, []string{v.ID, e.Version.Name, e.Order.ID, squeezed(e.Order.Customer), e.Order.Due.Format(time.DateOnly), strconv.Itoa(v.Ordered), strconv.Itoa(v.Planned),
				strconv.Itoa(v.Overs), strconv.FormatFloat(round(share, 2), 'f', -1, 64) + " %", strconv.Itoa(v.Unders), strconv.Itoa(v.Scrap)}, rows[i])
			ordered += v.Ordered
			planned += v.Planned
			overs += v.Overs
		}
		foot := rows[len(rows)-1]
		assert.Equal(t, []string{"All", strconv.Itoa(ordered), strconv.Itoa(planned), strconv.Itoa(overs)}, foot[:4])
	})
	t.Run("winding", func(t *testing.T) {
		rows := p.table(t, "winding")
		require.Len(t, rows, len(entries)+1)
		for i, e := range entries {
			perRoll, wound := e.Version.LabelsPerRoll, j.Plan.Versions[i].Planned-j.Plan.Versions[i].Scrap
			assert.Equal(t, []string{e.Version.ID, strconv.Itoa(perRoll), strconv.Itoa(wound / perRoll), strconv.Itoa(min(wound%perRoll, 1)),
				fmt.Sprintf("%d mm", e.Version.Core/mm), j.windWords(e.Version.Wind), e.Version.Wind.Edge.String()}, rows[i], "two windings leave the edge as it was")
		}
	})
	t.Run("costs", func(t *testing.T) {
		rows := p.table(t, "costs")
		require.Len(t, rows, len(j.Plan.Cost.Kinds)+1)
		for i, k := range j.Plan.Cost.Kinds {
			assert.Equal(t, []string{k.Kind, k.Cost.String() + " EUR"}, rows[i][:2])
		}
		assert.Equal(t, j.Plan.Cost.Total.String()+" EUR", rows[len(rows)-1][1])
	})
	t.Run("savings", func(t *testing.T) {
		assert.Equal(t, [][]string{
			{"2041", "310.20 EUR", "221.05 EUR", "89.15 EUR", "28.7 %"},
			{"2043", "290.00 EUR", "206.60 EUR", "83.40 EUR", "28.8 %"},
			{"2047", "175.00 EUR", "124.70 EUR", "50.30 EUR", "28.7 %"},
			{"All", "775.20 EUR", "552.35 EUR", "222.85 EUR", "28.7 %"},
		}, p.table(t, "money"))
	})
	t.Run("web, parent rolls and cores", func(t *testing.T) {
		assert.Equal(t, [][]string{{"set-up", "0.77 m"}, {"sections", "371.95 m"}, {"changeovers", "30.00 m"}, {"splices", "2.00 m"},
			{"in all", fmt.Sprintf("%.2f m", l.to[2])}}, p.table(t, "web"))
		first := l.from[2] + float64(7900-4550)*0.043 + 2
		assert.Equal(t, [][]string{
			{"1", "0.00", fmt.Sprintf("%.2f", first), fmt.Sprintf("%.2f", first), fmt.Sprintf("%.2f", 400-first)},
			{"2", fmt.Sprintf("%.2f", first), fmt.Sprintf("%.2f", l.to[2]), fmt.Sprintf("%.2f", l.to[2]-first), fmt.Sprintf("%.2f", 400-l.to[2]+first)},
		}, p.table(t, "parents"))
		assert.Equal(t, [][]string{{"40 mm", "6"}, {"76 mm", "26"}}, p.table(t, "cores"))
	})
	t.Run("rolls", func(t *testing.T) {
		rows := p.table(t, "rolls")
		require.Len(t, rows, len(j.Winding.Rolls))
		sums := map[string]int{}
		for i, r := range j.Winding.Rolls {
			e := entries[r.Version]
			assert.Equal(t, []string{r.Key, e.Version.ID, e.Order.ID, fmt.Sprintf("%d of %d", r.Number, r.Of), strconv.Itoa(r.Labels),
				strconv.Itoa(r.Overs)}, rows[i][:6])
			diameter, kilograms := measured(r.Labels, e.Version.Core)
			assert.Equal(t, []string{fmt.Sprintf("%d mm", e.Version.Core/mm), j.windWords(e.Version.Wind), fmt.Sprintf("%.0f mm", diameter*1000)}, rows[i][7:10])
			weight, err := strconv.ParseFloat(strings.TrimSuffix(rows[i][10], " kg"), 64)
			require.NoError(t, err)
			assert.InDelta(t, kilograms, weight, 0.0051)
			assert.Equal(t, strconv.Itoa(r.Splices), rows[i][11])
			for _, piece := range r.Pieces {
				assert.Contains(t, rows[i][6], fmt.Sprintf("lane %d, %d to %d", piece.Lane, piece.From, piece.To))
			}
			sums[e.Version.ID] += r.Labels
		}
		for _, v := range j.Plan.Versions {
			assert.Equal(t, v.Planned-v.Scrap, sums[v.ID], v.ID)
		}
	})
	t.Run("the figures at the top", func(t *testing.T) {
		var figures []string
		for _, dl := range p.all("dl") {
			figures = append(figures, words(dl))
		}
		text := strings.Join(figures, " ")
		for _, want := range []string{"Cost " + j.Plan.Cost.Total.String() + " EUR", "At least " + j.Plan.Bound.Cost.String() + " EUR", "Gap 3 %",
			"Saved 222.85 EUR 28.7 % against every order alone, rewinding and packing counted", "Press time " + minutes(j.Plan.Totals.Minutes) + " min",
			"Labels ordered 29500", "Labels printed 30950", "Sections 3 8650 rows", fmt.Sprintf("Web %.2f m", l.to[2]), "Customer rolls 32"} {
			assert.Contains(t, squeezed(text), want)
		}
	})
}

func round(x float64, places int) float64 {
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'f', places, 64), 64)
	return y
}

// The drawing is in proportion: a box is as long as its section's web.
func TestReportDrawsTheWebInProportion(t *testing.T) {
	j := spiceJob(t)
	l := layoutOf(spiceGang(), spicePlan())
	boxes := j.chart().Boxes
	require.Len(t, boxes, 5+5+2)
	pixels := func(text string) float64 {
		x, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		return x
	}
	perMetre := pixels(boxes[0].Width) / (l.to[0] - l.from[0])
	assert.InDelta(t, perMetre*(l.to[1]-l.from[1]), pixels(boxes[5].Width), 0.2)
	assert.InDelta(t, perMetre*(l.to[2]-l.from[2]), pixels(boxes[10].Width), 0.2)
	assert.InDelta(t, perMetre*(l.from[1]-l.from[0]), pixels(boxes[5].X)-pixels(boxes[0].X), 0.2)
}

func TestReportVerdict(t *testing.T) {
	j := spiceJob(t)
	assert.Contains(t, j.verdict(), "at most 3 % of this one's cost could be saved. The search was ended by: work limit.")
	j.Plan.Bound.Proven, j.Plan.Bound.Gap, j.Plan.Bound.Cost = true, "0.0", j.Plan.Cost.Total
	assert.Equal(t, "No plan costs less: that is proven.", j.verdict())
	j.Plan.Bound, j.Plan.Solve = nil, nil
	assert.Contains(t, j.verdict(), "was not worked out")
	j.Plan.Cost = nil
	p := parsed(t, j)
	for _, table := range p.all("table") {
		assert.NotEqual(t, "costs", attribute(table, "id"))
	}
}

func TestReportIsSelfContainedAndMarkedUp(t *testing.T) {
	for name, j := range map[string]Job{"plain": spiceJob(t), "hostile": hostileJob(t)} {
		t.Run(name, func(t *testing.T) {
			p := parsed(t, j)
			assert.Empty(t, p.all("script"))
			assert.Empty(t, p.all("img"))
			assert.Empty(t, p.all("link"))
			assert.Empty(t, p.all("iframe"))
			for n := range p.root.Descendants() {
				for _, a := range n.Attr {
					assert.False(t, strings.HasPrefix(a.Key, "on"), "%s has %s", n.Data, a.Key)
					assert.NotRegexp(t, `^(https?:)?//|^javascript:`, a.Val)
				}
			}
			for _, table := range p.all("table") {
				assert.NotEmpty(t, (page{table}).all("caption"))
				for _, th := range (page{table}).all("th") {
					assert.NotEmpty(t, attribute(th, "scope"))
				}
			}
			assert.Equal(t, "en", attribute(p.all("html")[0], "lang"))
			assert.Len(t, p.all("h1"), 1)
			assert.Len(t, p.all("main"), 1)
			for _, svg := range p.all("svg") {
				assert.True(t, attribute(svg, "aria-hidden") == "true" || attribute(svg, "aria-label") != "", "a drawing is hidden or described")
			}
		})
	}
}

func TestReportKeepsLongNamesWhole(t *testing.T) {
	j := hostileJob(t)
	text := words(parsed(t, j).root)
	assert.Contains(t, text, hostile[0])
	assert.Contains(t, text, squeezed(hostile[2]))
}

func TestRollsCSVAndJSON(t *testing.T) {
	j := spiceJob(t)
	lines := strings.Split(strings.TrimSpace(string(made(t, RollsCSV, j))), "\r\n")
	require.Len(t, lines, len(j.Winding.Rolls)+1)
	assert.Equal(t, "gang,roll,order,customer,version,name,number,of,labels,overs,full,joins,splices,core_mm,diameter_mm,length_m,weight_kg,face,first_edge,position,pieces", lines[0])
	assert.Equal(t, `G7,G7-01-004,2041,Mühle Süd,CUMIN-100,Kreuzkümmel gemahlen 100 g,4,5,1000,0,yes,1,1,76,121.77,43.6,0.434,out,top,1,lane 1 rows 3900-4000; lane 1 rows 2000-2900`, lines[4])

	data := made(t, RollsJSON, j)
	validate(t, RollsSchema, data)
	var file rollsFile
	require.NoError(t, json.Unmarshal(data, &file))
	require.Len(t, file.Rolls, len(j.Winding.Rolls))
	sum, cores := 0, 0
	for i, r := range file.Rolls {
		assert.Equal(t, j.Winding.Rolls[i].Key, r.Key)
		assert.Equal(t, j.Winding.Rolls[i].Labels, r.Labels)
		pieces := 0
		for _, p := range r.Pieces {
			pieces += p.To - p.From
		}
		assert.Equal(t, r.Labels, pieces)
		sum += r.Labels
	}
	for _, c := range file.Cores {
		cores += c.Count
	}
	left := 0
	for _, p := range file.LeftOff {
		left += p.To - p.From
	}
	assert.Equal(t, len(file.Rolls), cores)
	assert.Equal(t, j.Plan.Totals.LabelsPlanned, sum+left)
	assert.Equal(t, "404.724", file.Web.Total.String())

	hostileData := made(t, RollsJSON, hostileJob(t))
	validate(t, RollsSchema, hostileData)
	assert.True(t, strings.Contains(string(made(t, RollsCSV, hostileJob(t))), `,'=HYPERLINK(1),`), "no formula")
}
