package intake

import (
	"strconv"
	"time"

	"github.com/shopspring/decimal"
	"go.yaml.in/yaml/v3"

	"laneplan/jobs"
	"laneplan/jobs/intake/scalar"
)

// fields collects the fields of one YAML map in order. What is zero is left
// out, but for number and lengthOrZero.
type fields struct{ content []*yaml.Node }

func (f fields) node() *yaml.Node {
	return &yaml.Node{Kind: yaml.MappingNode, Content: f.content}
}

func (f *fields) put(key string, value *yaml.Node) {
	f.content = append(f.content, plain(key), value)
}

// plain is a scalar as it is; quoted is one that must stay text.
func plain(text string) *yaml.Node { return &yaml.Node{Kind: yaml.ScalarNode, Value: text} }

func quoted(text string) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Value: text, Style: yaml.DoubleQuotedStyle}
}

func (f *fields) plain(key, text string) { f.put(key, plain(text)) }

func (f *fields) text(key, text string) {
	if text != "" {
		f.put(key, quoted(text))
	}
}

func (f *fields) whole(key string, n int) {
	if n != 0 {
		f.plain(key, strconv.Itoa(n))
	}
}

func (f *fields) number(key string, d decimal.Decimal) { f.plain(key, d.String()) }

func (f *fields) money(key string, d decimal.Decimal) {
	if !d.IsZero() {
		f.number(key, d)
	}
}

// optional writes an amount that was set, be it zero.
func (f *fields) optional(key string, d *decimal.Decimal) {
	if d != nil {
		f.number(key, *d)
	}
}

func (f *fields) optionalPercent(key string, fraction *decimal.Decimal) {
	if fraction != nil {
		f.plain(key, formatPercent(*fraction))
	}
}

func (f *fields) percent(key string, fraction decimal.Decimal) {
	if !fraction.IsZero() {
		f.plain(key, formatPercent(fraction))
	}
}

func formatPercent(fraction decimal.Decimal) string { return fraction.Shift(2).String() + "%" }

// formatLength is exact: a nanometre is 10⁻⁶ mm.
func formatLength(l jobs.Length) string { return l.In(jobs.Millimetre).String() + "mm" }

func (f *fields) lengthOrZero(key string, l jobs.Length) { f.plain(key, formatLength(l)) }

func (f *fields) length(key string, l jobs.Length) {
	if l != 0 {
		f.lengthOrZero(key, l)
	}
}

func (f *fields) flag(key string, is bool) {
	if is {
		f.plain(key, "true")
	}
}

func (f *fields) date(key string, day time.Time, layout string) {
	if !day.IsZero() {
		f.put(key, quoted(day.Format(layout)))
	}
}

// tolerance writes what a version says of its tolerance.
func (f *fields) tolerance(v jobs.Version) {
	if v.Unders != nil {
		f.plain("unders", formatPercent(*v.Unders))
	}
	switch {
	case v.AllOvers:
		f.plain("overs", scalar.AnyOvers)
	case v.Overs != nil:
		f.plain("overs", formatPercent(*v.Overs))
	}
	if v.BillOvers || v.FreeOvers {
		f.plain("bill_overs", strconv.FormatBool(v.BillOvers))
	}
}

// count writes a number that may be 0; nothing where it is not stated.
func (f *fields) count(key string, n *int) {
	if n != nil {
		f.plain(key, strconv.Itoa(*n))
	}
}

// sub adds a map, unless it is empty.
func (f *fields) sub(key string, inner fields) {
	if len(inner.content) > 0 {
		f.put(key, inner.node())
	}
}

// list adds a list of maps, one under another, unless it is empty.
func (f *fields) list(key string, items []*yaml.Node) {
	if len(items) > 0 {
		f.put(key, &yaml.Node{Kind: yaml.SequenceNode, Content: items})
	}
}

// flow is a list in one line.
func flow[T any](items []T, format func(T) *yaml.Node) *yaml.Node {
	list := &yaml.Node{Kind: yaml.SequenceNode, Style: yaml.FlowStyle}
	for _, item := range items {
		list.Content = append(list.Content, format(item))
	}
	return list
}

func put[T any](f *fields, key string, items []T, format func(T) *yaml.Node) {
	if len(items) > 0 {
		f.put(key, flow(items, format))
	}
}

func (f *fields) wholes(key string, numbers []int) {
	put(f, key, numbers, func(n int) *yaml.Node { return plain(strconv.Itoa(n)) })
}

func (f *fields) texts(key string, texts []string) { put(f, key, texts, quoted) }

func (f *fields) lengths(key string, lengths []jobs.Length) {
	put(f, key, lengths, func(l jobs.Length) *yaml.Node { return plain(formatLength(l)) })
}

func (f *fields) sets(key string, sets [][]string) {
	put(f, key, sets, func(set []string) *yaml.Node { return flow(set, quoted) })
}
