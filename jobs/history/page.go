package history

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"html/template"
	"image/color"
	"io"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"laneplan/jobs/planfile"
	"laneplan/jobs/plotsvg"
)

//go:embed page.html.tmpl
var pageText string

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"rows": func(e Entry) []row { return e.lines() },
}).Parse(pageText))

// row is one version of an entry beside its order.
type row struct {
	Order Order
	Version
}

func (e Entry) lines() (out []row) {
	for _, o := range e.Orders {
		for _, v := range o.Versions {
			out = append(out, row{o, v})
		}
	}
	return out
}

// HTML writes the document as a page that stands alone: no script, no link,
// nothing to fetch.
func (d Document) HTML(w io.Writer) error {
	plots, err := d.plots()
	if err != nil {
		return fmt.Errorf("write the history: %w", err)
	}
	var out bytes.Buffer
	if err := page.Execute(&out, struct {
		Document
		Title string
		None  string
		Plots []drawn
	}{d, d.Title(), d.None("the ledger"), plots}); err != nil {
		return fmt.Errorf("write the history: %w", err)
	}
	_, err = w.Write(out.Bytes())
	return err
}

// Title says what was asked for.
func (d Document) Title() string { return "History" + d.Asked.String() }

// None says that there is no entry; empty where there is one.
func (d Document) None(ledger string) string {
	if len(d.Entries) > 0 {
		return ""
	}
	return ledger + " holds no entry" + d.Asked.String()
}

// String says what was asked for, with a blank before it; empty where nothing
// was.
func (w Words) String() string {
	var b strings.Builder
	for _, part := range []struct{ word, value string }{
		{"gang", w.Gang}, {"order", w.Order}, {"customer", w.Customer}, {"die", w.Die},
	} {
		if part.value != "" {
			fmt.Fprintf(&b, " of %s %s", part.word, part.value)
		}
	}
	if w.Since != "" {
		b.WriteString(" since " + w.Since)
	}
	if w.Until != "" {
		b.WriteString(" until " + w.Until)
	}
	return b.String()
}

// drawn is a plot of one currency and what it shows in words.
type drawn struct {
	Words string
	SVG   template.HTML
}

// plots are overs, waste and savings over the periods, one below the other,
// of every currency.
func (d Document) plots() ([]drawn, error) {
	var out []drawn
	for _, total := range d.Totals {
		var names []string
		var overs, waste, saving plotter.Values
		for _, p := range d.drawnPeriods(total.Currency) {
			names = append(names, p.Period)
			overs = append(overs, number(p.Planned.OversShare))
			waste = append(waste, number(both(p).WasteShare))
			saving = append(saving, number(p.Planned.Saving))
		}
		in := ""
		if total.Currency != "" {
			in = " in " + total.Currency
		}
		var plots []*plot.Plot
		for _, one := range []struct {
			title, axis string
			values      plotter.Values
		}{
			{"Overs planned", "% of the labels planned", overs},
			{"Waste: spoiled labels and scrap", "% of the labels", waste},
			{"Saving against every order alone", "saving" + in, saving},
		} {
			p, err := bars(one.title, one.axis, names, one.values)
			if err != nil {
				return nil, err
			}
			plots = append(plots, p)
		}
		var svg bytes.Buffer
		if err := plotsvg.Write(&svg, plots); err != nil {
			return nil, err
		}
		_, picture, found := strings.Cut(svg.String(), "<svg ")
		if !found {
			return nil, fmt.Errorf("the plot is no SVG")
		}
		words := fmt.Sprintf("overs, waste and savings%s by %s, as in the table below", in, d.Step)
		// What gonum draws escapes its texts; they are dates and words of ours
		// but for the currency, which is three letters.
		out = append(out, drawn{words, template.HTML("<svg role=\"img\" aria-label=\"" + template.HTMLEscapeString(words) + "\" " + picture)})
	}
	return out, nil
}

// drawnPeriods are those of a currency with the empty ones between them, so
// that time runs evenly, unless that would be more than can be seen.
func (d Document) drawnPeriods(currency string) (out []Period) {
	var plain []Period
	var next time.Time
	for _, p := range d.Periods {
		if p.Currency != currency {
			continue
		}
		for !next.IsZero() && next.Before(p.first) {
			if name := d.Step.period(next); name != out[len(out)-1].Period && name != p.Period {
				out = append(out, Period{Period: name})
			}
			next = next.AddDate(0, 0, 1)
		}
		out, plain = append(out, p), append(plain, p)
		next = p.first
	}
	if len(out) > mostDrawn {
		return plain
	}
	return out
}

// both is a period's print runs, or its plans where nothing was printed.
func both(p Period) Sums {
	if p.Printed.Entries > 0 {
		return p.Printed
	}
	return p.Planned
}

// mostDrawn periods are drawn with the empty ones between them.
const mostDrawn = 400

// mostNames stand below a plot; of more, every so many is named.
const mostNames = 8

func bars(title, axis string, names []string, values plotter.Values) (*plot.Plot, error) {
	p := plot.New()
	p.Title.Text, p.Y.Label.Text = title, axis
	chart, err := plotter.NewBarChart(values, min(vg.Centimeter, 9*vg.Centimeter/vg.Length(len(values))))
	if err != nil {
		return nil, err
	}
	chart.Color = color.RGBA{0x0b, 0x5c, 0xad, 0xff}
	p.Add(plotter.NewGrid(), chart)
	every := (len(names) + mostNames - 1) / mostNames
	shown := make([]string, len(names))
	for i, name := range names {
		if i%every == 0 {
			shown[i] = name
		}
	}
	p.NominalX(shown...)
	p.Y.Min = min(0, p.Y.Min)
	if p.Y.Max <= p.Y.Min {
		p.Y.Max = p.Y.Min + 1
	}
	return p, nil
}

func number(n json.Number) float64 { return planfile.Decimal(n).InexactFloat64() }
