package quotefile_test

import (
	"bytes"
	"html"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/price/quotefile"
)

var tags = regexp.MustCompile(`<[^>]*>`)

func TestHTMLHoldsTheSameAndFetchesNothing(t *testing.T) {
	d := everything(t)
	var page bytes.Buffer
	drawing := []byte(`<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><text>cost</text></svg>`)
	require.NoError(t, quotefile.WriteHTML(&page, d, quotefile.Page{Trace: true, Shop: "Mill <room>"}, map[string][][]byte{d.Gangs[0].ID: {drawing, drawing}}))
	text := page.String()
	plain := html.UnescapeString(tags.ReplaceAllString(text, ""))
	for _, g := range d.Gangs {
		for _, part := range g.Parts(d.Currency, true) {
			assert.Contains(t, plain, part.Heading)
			for _, row := range append(part.Rows, part.Sum) {
				for _, cell := range row {
					assert.Contains(t, plain, cell)
				}
			}
			for _, line := range part.Lines {
				assert.Contains(t, plain, line)
			}
		}
	}
	assert.Equal(t, 2, strings.Count(text, "<svg"))
	assert.NotContains(t, text, "<?xml")
	assert.Contains(t, text, "Mill &lt;room&gt;")
	assert.Contains(t, text, "mill &amp; sons")
	for _, never := range []string{"<script", "<link", "<img", "url(", "@import", "src="} {
		assert.NotContains(t, text, never)
	}
	assert.Equal(t, strings.Count(text, "<table>"), strings.Count(text, "</table>"))
	assert.Equal(t, strings.Count(text, "<tr>"), strings.Count(text, "</tr>"))
}
