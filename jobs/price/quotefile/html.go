package quotefile

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"time"
)

//go:embed quote.html.tmpl
var htmlText string

var htmlTemplate = template.Must(template.New("quote").Parse(htmlText))

// htmlGang is a gang as the template shows it.
type htmlGang struct {
	ID    string
	Parts []Part
	Plots []template.HTML
}

// WriteHTML sets the document as one page that fetches nothing and runs no
// script. Plots are drawings as SVG by the gang's id, such as price.PlotSVG
// draws them; a gang may have none.
func WriteHTML(w io.Writer, d Document, page Page, plots map[string][][]byte) error {
	view := struct {
		Title, Shop, Printed string
		Gangs                []htmlGang
	}{Title: page.title(), Shop: page.Shop}
	if !page.Printed.IsZero() {
		view.Printed = page.Printed.Format(time.DateOnly)
	}
	for _, g := range d.Gangs {
		one := htmlGang{ID: g.ID, Parts: g.Parts(d.Currency, page.Trace)}
		for _, plot := range plots[g.ID] {
			at := max(0, bytes.Index(plot, []byte("<svg"))) // behind the head of a file of its own
			// The drawing is ours: its texts were escaped when it was made.
			one.Plots = append(one.Plots, template.HTML(plot[at:]))
		}
		view.Gangs = append(view.Gangs, one)
	}
	if err := htmlTemplate.Execute(w, view); err != nil {
		return fmt.Errorf("write the estimate: %w", err)
	}
	return nil
}
