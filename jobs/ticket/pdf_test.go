package ticket

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"

	"laneplan/jobs"
	"laneplan/jobs/report"
	"laneplan/nest"
)

// tool skips a test where a programme that it needs is not installed.
func tool(t testing.TB, name, pack string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed (Debian package %s): what it would check is not checked here", name, pack)
	}
	return path
}

func made(t testing.TB, write func(io.Writer, Job) error, j Job) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, write(&out, j))
	return out.Bytes()
}

// pages gives the text of every page, laid out as on paper.
func pages(t *testing.T, pdf []byte) []string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "document.pdf")
	require.NoError(t, os.WriteFile(path, pdf, 0o600))
	text, err := exec.Command(tool(t, "pdftotext", "poppler-utils"), "-layout", "-enc", "UTF-8", path, "-").Output()
	require.NoError(t, err)
	all := strings.Split(strings.ReplaceAll(norm.NFKC.String(string(text)), "\u202f", ""), "\f")
	return all[:len(all)-1]
}

func whole(t *testing.T, pdf []byte) string { return strings.Join(pages(t, pdf), "\n") }

// picture of one page, in greys.
func picture(t *testing.T, pdf []byte, page, dpi int) image.Image {
	t.Helper()
	folder := t.TempDir()
	path := filepath.Join(folder, "document.pdf")
	require.NoError(t, os.WriteFile(path, pdf, 0o600))
	n := strconv.Itoa(page)
	require.NoError(t, exec.Command(tool(t, "pdftoppm", "poppler-utils"), "-gray", "-png", "-singlefile", "-r", strconv.Itoa(dpi), "-f", n, "-l", n,
		path, filepath.Join(folder, "page")).Run())
	f, err := os.Open(filepath.Join(folder, "page.png"))
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	return img
}

// squeezed is a text with one space between words.
func squeezed(text string) string { return strings.Join(strings.Fields(text), " ") }

// line of a text that starts with these words.
func line(t *testing.T, text, start string) string {
	t.Helper()
	for l := range strings.Lines(text) {
		if l = squeezed(l); strings.HasPrefix(l, start+" ") {
			return l
		}
	}
	require.Fail(t, "no such line", "%q in\n%s", start, text)
	return ""
}

// layout is where sections lie, worked out here once more from the gang and
// the plan alone, in metres.
type layout struct{ from, to []float64 }

func layoutOf(g jobs.Gang, plan nest.Plan) layout {
	metres := func(l jobs.Length) float64 { return float64(l) / float64(jobs.Metre) }
	pitch := metres(g.Die.Around + g.Die.GapAround)
	var l layout
	at, row := metres(g.Press.SetupLength(g.Die.Around+g.Die.GapAround)), 0
	for k, s := range plan.Sections {
		if k > 0 {
			at += metres(g.Press.ChangeoverWeb)
		}
		l.from = append(l.from, at)
		at += pitch * float64(s.Rows)
		for _, splice := range plan.Splices {
			if splice > row && splice < row+s.Rows {
				at += metres(g.Stock.SpliceWeb)
			}
		}
		l.to = append(l.to, at)
		row += s.Rows
	}
	return l
}

func TestRunSheetSaysWhatThePlanSays(t *testing.T) {
	g, plan := spiceGang(), spicePlan()
	text := whole(t, made(t, RunSheet, spiceJob(t)))
	flat := squeezed(text)
	l := layoutOf(g, plan)
	entries := g.Entries()

	row := 0
	blocks := regexp.MustCompile(`Section \d+ of \d+: \d+ rows`).Split(text, -1)[1:]
	require.Len(t, blocks, len(plan.Sections))
	for k, s := range plan.Sections {
		assert.Contains(t, flat, fmt.Sprintf("Section %d of %d: %d rows counter %d to %d · web %.2f to %.2f m",
			k+1, len(plan.Sections), s.Rows, row, row+s.Rows, l.from[k], l.to[k]))
		for lane, i := range s.Lanes {
			start := strconv.Itoa(lane + 1)
			if i == nest.Empty {
				want := "empty"
				if lane == 5 {
					want = "closed"
				}
				assert.Equal(t, start+" – "+want, line(t, blocks[k], start))
				continue
			}
			v, o := entries[i].Version, entries[i].Order
			state := "new"
			if k > 0 && plan.Sections[k-1].Lanes[lane] == i {
				state = "carries on"
			}
			got := line(t, blocks[k], start+" "+v.ID)
			assert.True(t, strings.HasSuffix(got, fmt.Sprintf("%s %s %s", o.ID, v.Wind.Edge, state)), "%s", got)
		}
		row += s.Rows
	}
	assert.Regexp(t, `1\s+2\s+3\s+4\s+5\s+6\s.*CUMIN-100\s+PEPPER-50\s+PEPPER-50\s+TEA-MIX\s+CLOVE-20`, squeezed(blocks[0]), "the drawing names its lanes from the operator's left")
	assert.Contains(t, flat, "Discard 3 frames of 6 rows (18 rows) before anything is measured.", "6 rows of 43 mm are the first to reach 254 mm")
	assert.Contains(t, flat, "Changeover (15.00 m of web): change lane 5; lanes 1, 2, 3, 4 carry on, leave them as they are.")
	assert.Contains(t, flat, "At counter 2900 comes section 2: change lane 5; lanes 1, 2, 3, 4 carry on")
	assert.Contains(t, flat, "change lane 1; lanes 2, 3, 5 stop printing; lane 4 carries on, leave it as it is.")
	assert.Contains(t, flat, "End of the run at counter 8650.")
	splice := l.from[2] + float64(7900-4550)*0.043
	assert.Contains(t, flat, fmt.Sprintf("Splice at counter 7900, %.2f m: re-check lane 1 4", splice))

	// Web: 8650 rows of 43 mm, 18 rows of set-up, two changeovers of 15 m, a
	// splice of 2 m.
	printed, setup := 8650*0.043, 18*0.043
	for name, metres := range map[string]float64{"Set-up web": setup, "Printed web": printed, "Changeover web": 30, "Splice web": 2, "Web in all": printed + setup + 32} {
		assert.Contains(t, flat, fmt.Sprintf("%s %.2f m", name, metres))
	}
	assert.InDelta(t, printed+setup+32, l.to[2], 1e-9)
	assert.Contains(t, flat, "Stock to pull: 2 rolls of PP-WHITE, 400 mm wide, 400.00 m each")
	first := splice + 2
	assert.Equal(t, fmt.Sprintf("1 0.00 %.2f %.2f %.2f splice inside a section", first, first, 400-first), line(t, text, "1 0.00"))
	assert.Equal(t, fmt.Sprintf("2 %.2f %.2f %.2f %.2f end of the run", first, l.to[2], l.to[2]-first, 400-(l.to[2]-first)), line(t, text, fmt.Sprintf("2 %.2f", first)))
	assert.Contains(t, flat, fmt.Sprintf("Reserve for running waste: %.2f m", printed*0.03))
	assert.Contains(t, flat, fmt.Sprintf("Left over without waste: %.2f m", 800-l.to[2]))
	assert.Contains(t, flat, "FOOD: ink, adhesive and varnish")
}

func TestRewindSheetSaysWhatThePlanSays(t *testing.T) {
	j, plan := spiceJob(t), spicePlan()
	text := whole(t, made(t, RewindSheet, j))
	flat := squeezed(text)
	assert.Contains(t, flat, "Customer rolls "+strconv.Itoa(len(j.Winding.Rolls)))
	assert.Contains(t, flat, "Slit width 63 mm, knives mid-gap")
	assert.Contains(t, flat, "Cores to pull 6 × 40 mm, 26 × 76 mm")

	for _, want := range []string{"1 1, 2, 3 76 mm out 1000", "1, 2, 3 4 76 mm out 2000", "1 5 40 mm out 500", "2 1, 2, 3, 5 76 mm out 1000", "3 1 76 mm out 1000"} {
		assert.Contains(t, flat, want)
	}

	printed := map[string]int{}
	for _, s := range plan.Sections {
		for _, i := range s.Lanes {
			if i != nest.Empty {
				printed[j.Gang.Entries()[i].Version.ID] += s.Rows
			}
		}
	}
	wound := map[string]int{}
	rollLine := regexp.MustCompile(`^(\d\d-\d\d\d) (\S+) (\d+)/(\d+) (\d+) (\d+|–) (\d+|–) (\d+) mm out, (\S+) first \((\d)\) (\d+) mm (\d+\.\d+) kg (\d+)(.*)$`)
	piece := regexp.MustCompile(`^(piece \d+: lane \d+|left off: do not wind) (\S+) (\d+) (\d+) (\d+)$`)
	rolls, left, pieces := 0, 0, 0
	for l := range strings.Lines(text) {
		l = squeezed(l)
		if p := piece.FindStringSubmatch(l); p != nil {
			labels := number(t, p[5]) - number(t, p[4])
			assert.Equal(t, number(t, p[3]), labels, l)
			if strings.HasPrefix(l, "left off") {
				left += labels
			} else {
				pieces += labels
			}
		}
		m := rollLine.FindStringSubmatch(l)
		if m == nil {
			continue
		}
		rolls++
		r := j.Winding.Rolls[keyIndex(j, "G7-"+m[1])]
		v := j.Gang.Entries()[r.Version].Version
		labels := number(t, m[5])
		wound[m[2]] += labels
		assert.Equal(t, v.ID, m[2])
		assert.Equal(t, []int{r.Number, r.Of, r.Labels, r.Splices}, []int{number(t, m[3]), number(t, m[4]), labels, number(t, m[13])}, l)
		assert.Equal(t, float64(v.Core)/1e6, float64(number(t, m[8])))
		assert.Equal(t, v.Wind.Edge.String(), m[9])
		assert.Equal(t, map[string]string{"top": "1", "bottom": "2"}[m[9]], m[10], "the house chart's number")
		if m[6] != "–" {
			assert.Equal(t, labels, number(t, m[7])-number(t, m[6]), l)
		}
		diameter, kilograms := measured(labels, v.Core)
		assert.Equal(t, fmt.Sprintf("%.0f", diameter*1000), m[11], l)
		weight, err := strconv.ParseFloat(m[12], 64)
		require.NoError(t, err)
		assert.InDelta(t, kilograms, weight, 0.0051, l)
		if strings.Contains(m[14], "@") {
			assert.Equal(t, " @7900", m[14], "the only splice of the plan")
		}
	}
	assert.Equal(t, len(j.Winding.Rolls), rolls, "every roll stands on the sheet once")
	joined := 0
	for _, r := range j.Winding.Rolls {
		if r.Joins > 0 {
			joined += r.Labels
		}
	}
	assert.Equal(t, joined, pieces)
	total := left
	for id, n := range printed {
		total += wound[id] - n
	}
	assert.Zero(t, total, "what is printed is wound or left off")

	for i, v := range j.Winding.Versions {
		e := j.Gang.Entries()[i]
		over := max(wound[v.ID]-e.Version.Quantity, 0)
		start := fmt.Sprintf("%s %s %s %s", v.ID, e.Order.ID, squeezed(e.Order.Customer), e.Order.Due.Format(time.DateOnly))
		assert.Equal(t, fmt.Sprintf("%s %d %d %d %d %d 0 %d full + %d part", start, e.Version.Quantity, printed[v.ID], wound[v.ID],
			printed[v.ID]-wound[v.ID], over, wound[v.ID]/v.LabelsPerRoll, min(wound[v.ID]%v.LabelsPerRoll, 1)), line(t, text, start))
	}
}

// measured is the diameter in metres and the weight of a roll once more:
// D = √(d² + 4tL/π) on the outside of the core, and width × length × g/m².
func measured(labels int, core jobs.Length) (diameter, kilograms float64) {
	metres := float64(labels)*0.043 + 0.6
	d := float64(core)/float64(jobs.Metre) + 2*0.004
	return math.Sqrt(d*d + 4*0.00014*metres/math.Pi), 0.063 * metres * 0.158
}

func number(t *testing.T, text string) int {
	t.Helper()
	n, err := strconv.Atoi(text)
	require.NoError(t, err)
	return n
}

func keyIndex(j Job, key string) int {
	for i, r := range j.Winding.Rolls {
		if r.Key == key {
			return i
		}
	}
	return -1
}

// Every lane's list is what the plan prints in that lane, last row first.
func TestRewindSheetListsEveryLaneWithoutAGap(t *testing.T) {
	j, plan := spiceJob(t), spicePlan()
	for lane, strips := range j.lanesOf() {
		next := -1
		for _, s := range strips {
			if next >= 0 {
				for row := s.piece.To; row < next; row++ {
					assert.Equal(t, nest.Empty, laneAt(plan, row, lane))
				}
			}
			next = s.piece.From
			for row := s.piece.From; row < s.piece.To; row++ {
				require.Equal(t, s.piece.Version, laneAt(plan, row, lane))
			}
		}
	}
}

func laneAt(plan nest.Plan, row, lane int) int {
	for _, s := range plan.Sections {
		if row < s.Rows {
			return s.Lanes[lane]
		}
		row -= s.Rows
	}
	return nest.Empty
}

func TestRollTagsSayWhatTheRollsAre(t *testing.T) {
	j := spiceJob(t)
	all := pages(t, made(t, RollTags, j))
	require.Len(t, all, len(j.Winding.Rolls))
	for i, r := range j.Winding.Rolls {
		e := j.Gang.Entries()[r.Version]
		text := squeezed(all[i])
		for _, want := range []string{e.Version.ID, "Order " + e.Order.ID, e.Order.Customer, fmt.Sprintf("%d labels", r.Labels),
			fmt.Sprintf("roll %d of %d", r.Number, r.Of), fmt.Sprintf("Splices %d", r.Splices),
			fmt.Sprintf("Core %d mm", e.Version.Core/mm), "Date 2026-11-25", "Due " + e.Order.Due.Format("2006-01-02"), r.Key} {
			assert.Contains(t, text, want)
		}
	}
	j.Printed = day(1, 1, 1)
	assert.Contains(t, pages(t, made(t, RollTags, j))[0], "Date ______________", "a date that is not known is filled in by hand")
}

// Both codes of every tag give the roll's key back.
func TestRollTagsAreRead(t *testing.T) {
	zbar := tool(t, "zbarimg", "zbar-tools")
	sheets := map[string]jobs.TagSheet{
		"a tag to a page":   {},
		"a sheet of 21":     {Width: 63500 * jobs.Micrometre, Height: 38100 * jobs.Micrometre, Columns: 3, Rows: 7, Left: 7200 * jobs.Micrometre, Top: 15100 * jobs.Micrometre, GapAcross: 2500 * jobs.Micrometre},
		"a sheet of eight":  {Width: 99100 * jobs.Micrometre, Height: 67700 * jobs.Micrometre, Columns: 2, Rows: 4, Left: 4700 * jobs.Micrometre, Top: 13100 * jobs.Micrometre, GapAcross: 2500 * jobs.Micrometre},
		"the smallest tags": {Width: smallestTag.Width, Height: smallestTag.Height, Columns: 3, Rows: 7},
	}
	const dpi = 300
	for name, size := range sheets {
		t.Run(name, func(t *testing.T) {
			j := spiceJob(t)
			j.Gang.Papers.Tags = size
			pdf := made(t, RollTags, j)
			perPage := max(size.Columns*size.Rows, 1)
			tag := tagsOf(j.Gang.Papers)
			// The first page of tags, or three of the pages with one each.
			var img image.Image
			for i := range min(3, perPage+2) {
				if i%perPage == 0 {
					img = picture(t, pdf, i/perPage+1, dpi)
				}
				x, y := 0.0, 0.0
				if size.Columns > 0 {
					at := i % perPage
					x = inMM(size.Left) + float64(at%size.Columns)*(inMM(size.Width)+inMM(size.GapAcross))
					y = inMM(size.Top) + float64(at/size.Columns)*(inMM(size.Height)+inMM(size.Gap))
				}
				pixel := func(mm float64) int { return int(mm / 25.4 * dpi) }
				cut := img.(interface {
					SubImage(image.Rectangle) image.Image
				}).SubImage(image.Rect(pixel(x), pixel(y), pixel(x+inMM(tag.Width)), pixel(y+inMM(tag.Height))))
				path := filepath.Join(t.TempDir(), "tag.png")
				f, err := os.Create(path)
				require.NoError(t, err)
				require.NoError(t, png.Encode(f, cut))
				require.NoError(t, f.Close())
				out, err := exec.Command(zbar, "--quiet", path).Output()
				require.NoError(t, err)
				key := j.Winding.Rolls[i].Key
				assert.ElementsMatch(t, []string{"CODE-128:" + key, "QR-Code:" + key}, strings.Fields(string(out)))
			}
		})
	}
}

func TestPDFsOnLetterInInches(t *testing.T) {
	g := spiceGang()
	g.Papers = jobs.Papers{Inches: true, Letter: true}
	j := jobOf(t, g, spicePlan())
	flat := squeezed(whole(t, made(t, RunSheet, j)))
	assert.Contains(t, flat, "2.3622 in across × 1.5748 in around")
	// 404.724 m.
	assert.Contains(t, flat, "Web in all 1327.8 ft")
	assert.NotContains(t, flat, " mm ")
	assert.NotContains(t, flat, " m ")
	flat = squeezed(whole(t, made(t, RewindSheet, j)))
	assert.Contains(t, flat, "6 × 1.5748 in, 26 × 2.9921 in")
	// Roll of 1000: 43.6 m, 0.434 kg.
	assert.Regexp(t, `01-001 CUMIN-100 1/5 1000 0 1000 2.9921 in out, top first \(1\) 4.8 in 0.96 lb 0`, flat)
	bounds := picture(t, made(t, RunSheet, j), 1, 72).Bounds()
	assert.InDelta(t, 612, bounds.Dx(), 1)
	assert.InDelta(t, 792, bounds.Dy(), 1)
}

// Gangs of one order book differ at the end of long names, which no page cuts.
func TestEveryPageNamesItsGang(t *testing.T) {
	g := spiceGang()
	g.ID = "jar-70x100-paper-80-matt-varnish-a"
	j := jobOf(t, g, spicePlan())
	for _, write := range []func(io.Writer, Job) error{RunSheet, RewindSheet} {
		for _, page := range pages(t, made(t, write, j)) {
			head, _, _ := strings.Cut(strings.TrimSpace(page), "\n")
			assert.Contains(t, head, g.ID)
		}
	}
}

// A name in any script is in the text of a PDF or, where the fonts lack a
// letter, its code point is, with a note.
func TestNamesInEveryScript(t *testing.T) {
	j := spiceJob(t)
	text := squeezed(whole(t, made(t, RunSheet, j)))
	for _, name := range []string{"Kreuzkümmel", "słoik", "茶 香料 Chai", "قرنفل", "[U+1F9C2]", "[U+…]: a character that the fonts lack"} {
		assert.Contains(t, text, norm.NFKC.String(name))
	}
	fonts, err := exec.Command(tool(t, "pdffonts", "poppler-utils"), saved(t, made(t, RunSheet, j))).Output()
	require.NoError(t, err)
	for _, l := range strings.Split(strings.TrimSpace(string(fonts)), "\n")[2:] {
		assert.Regexp(t, `TrueType .* yes +(yes|no) +yes `, l, "embedded, with a map to Unicode")
	}
}

func saved(t *testing.T, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "document.pdf")
	require.NoError(t, os.WriteFile(path, data, 0o600))
	return path
}

// hostile names are as long as names get, or mean something to a browser, a
// spreadsheet or a PDF.
var hostile = []string{
	long("Extraordinarily-long-name-without-a-space", 300), long("many words of it ", 300),
	`<script>document.title="owned"</script>`, `"><img src=x onerror="document.title='owned'">`, "')) Tj ET (", "=HYPERLINK(1)",
	"line\nbreak\x00and\x1bcontrol", "\u202eright to left", "\xff\xfe not UTF-8", "",
}

func hostileJob(t *testing.T) Job {
	g := spiceGang()
	i := 0
	for o := range g.Orders {
		g.Orders[o].Customer = hostile[5+o]
		for v := range g.Orders[o].Versions {
			g.Orders[o].Versions[v].Name = hostile[i%len(hostile)]
			i++
		}
	}
	for n, e := range g.Entries() {
		if n < len(hostile)-1 {
			e.Version.ID = strings.ToValidUTF8(hostile[n], "?")
		}
	}
	g.Orders[2].ID = hostile[2]
	g.Press.Name, g.Stock.Name, g.ID = hostile[0], hostile[8], hostile[3]
	return jobOf(t, g, spicePlan())
}

func TestHostileNamesStayInTheirPlace(t *testing.T) {
	j := hostileJob(t)
	for name, write := range map[string]func(io.Writer, Job) error{"run sheet": RunSheet, "rewind sheet": RewindSheet, "roll tags": RollTags} {
		plain := pages(t, made(t, write, spiceJob(t)))
		got := pages(t, made(t, write, j))
		assert.InDelta(t, len(plain), len(got), 1, name)
		assert.Empty(t, offPage(t, made(t, write, j)), "%s: text runs off the page", name)
	}
	text := whole(t, made(t, RunSheet, j))
	assert.Contains(t, text, "Extraordinarily-long-name", "cut, not lost")
	assert.Contains(t, text, "...", "with an ellipsis, which the test's NFKC takes apart")
}

// offPage lists the words of a PDF that do not lie wholly on their page.
func offPage(t *testing.T, pdf []byte) []string {
	t.Helper()
	out, err := exec.Command(tool(t, "pdftotext", "poppler-utils"), "-bbox", saved(t, pdf), "-").Output()
	require.NoError(t, err)
	number := func(text string) float64 {
		x, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		return x
	}
	page := regexp.MustCompile(`<page width="([\d.]+)" height="([\d.]+)">`)
	word := regexp.MustCompile(`<word xMin="(-?[\d.]+)" yMin="(-?[\d.]+)" xMax="(-?[\d.]+)" yMax="(-?[\d.]+)">(.*)</word>`)
	var wide, high float64
	var off []string
	words := 0
	for l := range strings.Lines(string(out)) {
		if m := page.FindStringSubmatch(l); m != nil {
			wide, high = number(m[1]), number(m[2])
		}
		if m := word.FindStringSubmatch(l); m != nil {
			words++
			if number(m[1]) < 0 || number(m[2]) < 0 || number(m[3]) > wide || number(m[4]) > high {
				off = append(off, m[5])
			}
		}
	}
	assert.Greater(t, words, 100)
	return off
}

func TestBareGangHasDocumentsWithoutLengths(t *testing.T) {
	g := jobs.Gang{ID: "bare", Die: jobs.Die{Lanes: 4}, Bare: &jobs.BareCosts{Row: decimalOf("13.44"), Section: decimalOf("18676")},
		Orders: []jobs.Order{{Versions: []jobs.Version{{ID: "A", Quantity: 4500}, {ID: "B", Quantity: 9000}, {ID: "C", Quantity: 16000}}}}}
	plan := nest.Plan{Sections: []nest.Section{{Rows: 2875, Lanes: []int{2, 2, 2, 2}}, {Rows: 4500, Lanes: []int{0, 1, 1, 2}}}}
	j := jobOf(t, g, plan)
	text := squeezed(whole(t, made(t, RunSheet, j)))
	assert.Contains(t, text, "Section 2 of 2: 4500 rows counter 2875 to 7375")
	assert.NotContains(t, text, " mm")
	assert.Contains(t, squeezed(whole(t, made(t, RewindSheet, j))), "Cores to pull 3 × size not stated")
	assert.Contains(t, string(made(t, Report, j)), "136"+report.Thousands+"472.00")
}

// Thirty-two lanes do not fit one page; every lane of every section is on the
// sheet all the same.
func TestManyLanesRunOverPages(t *testing.T) {
	g := spiceGang()
	g.Die.Lanes, g.Die.ClosedLanes, g.Die.Across, g.Die.Web = 32, nil, 10*mm, 420*mm
	g.Stock.RollLength, g.Stock.SpliceWeb, g.Policy.LimitOvers = 0, 0, false
	g.Orders = []jobs.Order{{ID: "1"}}
	for i := range 40 {
		g.Orders[0].Versions = append(g.Orders[0].Versions, jobs.Version{ID: fmt.Sprintf("VERSION-%02d", i), Quantity: 100, LabelsPerRoll: 500, Core: 76 * mm})
	}
	var plan nest.Plan
	for k := range 3 {
		s := nest.Section{Rows: 500 + k}
		for lane := range 32 {
			s.Lanes = append(s.Lanes, (lane+k*4)%40)
		}
		plan.Sections = append(plan.Sections, s)
	}
	sheets := pages(t, made(t, RunSheet, jobOf(t, g, plan)))
	found := map[string]int{}
	for _, page := range sheets {
		for l := range strings.Lines(page) {
			if fields := strings.Fields(l); len(fields) > 1 && strings.HasPrefix(fields[1], "VERSION-") {
				found[fields[0]+" "+fields[1]]++
			}
		}
	}
	for _, s := range plan.Sections {
		for lane, i := range s.Lanes {
			assert.Equal(t, 1, found[fmt.Sprintf("%d VERSION-%02d", lane+1, i)])
		}
	}
	assert.Contains(t, sheets[len(sheets)-1], fmt.Sprintf("page %d of %d", len(sheets), len(sheets)))
}
