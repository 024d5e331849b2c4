// Package shopfile reads the shop file: dies, stocks, finishes, presses,
// rewinders and what the shop has decided for all its work. Everything wrong
// with the file is reported at once, with line and field. It reads no orders.
//
//	shop, err := shopfile.ReadFile("shop.yaml")
package shopfile

import (
	_ "embed"

	"laneplan/jobs"
	"laneplan/jobs/intake/parts"
	"laneplan/jobs/intake/scalar"
	"laneplan/jobs/intake/yamltree"
)

// MostBytes of a shop file.
const MostBytes = 2_000_000

// Schema is the JSON Schema of a shop file, by which editors complete and
// check it. What it cannot say, such as whether the lanes fit the web, only
// ReadFile checks.
//
//go:embed shop.schema.json
var Schema []byte

// ReadFile reads a shop file. On error the shop is nil; the error is a
// fault.List unless reading itself broke.
func ReadFile(path string) (*jobs.Shop, error) {
	tree, err := yamltree.ReadFile(path, MostBytes)
	if err != nil {
		return nil, err
	}
	return read(tree)
}

// Parse reads a shop file from memory; name stands for it in messages.
func Parse(name string, data []byte) (*jobs.Shop, error) {
	return read(yamltree.Parse(name, data))
}

func read(tree *yamltree.Tree) (*jobs.Shop, error) {
	var s *jobs.Shop
	if root := tree.Root(); root != nil {
		s = shop(root)
		parts.Report(tree, s.Check(), func(path string) string { return path })
	}
	if err := tree.Err(); err != nil {
		return nil, err
	}
	return s, nil
}

func shop(root *yamltree.Map) *jobs.Shop {
	root.Need("currency", "the currency of all money in the file, such as EUR")
	root.Need("dies", "the dies, such as [{id: D-60x100, across: 60mm, …}]")
	root.Need("stocks", "the stocks, such as [{id: paper, price_per_m2: 0.42}]")
	root.Need("presses", "the presses, such as [{id: P1, speed: 30m/min, …}]")
	s := &jobs.Shop{
		Name:     root.Text("shop"),
		Currency: yamltree.Value(root, "currency", scalar.Currency),
		Policy:   policy(root.Map("policy")),
		Pooling:  pooling(root.Map("pooling")),
		Book:     bookFormat(root.Map("order_book")),
		Rates:    parts.Rates(root.Map("rates")),
		Pricing:  parts.Pricing(root.Map("pricing")),
		Chart:    parts.Chart(root.Map("wind_chart")),
		Papers:   parts.Papers(root.Map("papers")),
		Shapes:   map[string]string{},
	}
	for _, m := range root.Maps("dies") {
		die := named(m, parts.Die)
		s.Dies = append(s.Dies, die)
		if shape := m.Text("shape"); shape != "" {
			s.Shapes[die.ID] = shape
		}
	}
	s.Stocks = all(root, "stocks", parts.Stock)
	s.Finishes = all(root, "finishes", parts.Finish)
	s.Presses = all(root, "presses", parts.Press)
	s.Rewinders = all(root, "rewinders", parts.Rewinder)
	return s
}

func all[T any](root *yamltree.Map, key string, read func(*yamltree.Map) T) []T {
	var all []T
	for _, m := range root.Maps(key) {
		all = append(all, named(m, read))
	}
	return all
}

// named reads something that the rest of the file, or an order book, calls by
// its id.
func named[T any](m *yamltree.Map, read func(*yamltree.Map) T) T {
	m.Need("id", "an id by which orders name it, such as P1")
	return read(m)
}

func policy(m *yamltree.Map) jobs.Policy {
	p := jobs.Policy{Unders: m.Percent("unders", 100), BillOvers: m.Flag("bill_overs")}
	if overs := parts.Overs(m, "overs"); overs != nil {
		p.Overs, p.LimitOvers = *overs, true
	}
	return p
}

func pooling(m *yamltree.Map) jobs.PoolingRules {
	return jobs.PoolingRules{
		WindowDays:   m.Whole("gang_window_days", 0, 3660),
		MostVersions: m.Whole("most_versions", 1, 100_000),
	}
}

func bookFormat(m *yamltree.Map) jobs.BookFormat {
	return jobs.BookFormat{
		Separator:   sign(m, "separator", ",", ";"),
		DecimalMark: sign(m, "decimal_mark", ".", ","),
		DateLayout:  jobs.DateForms[m.Choice("dates", jobs.DateFormNames()...)],
		Sheet:       m.Text("sheet"),
		Columns:     columns(m.Map("columns")),
	}
}

func sign(m *yamltree.Map, key string, signs ...string) rune {
	for _, r := range m.Choice(key, signs...) {
		return r
	}
	return 0
}

func columns(m *yamltree.Map) map[string]string {
	if m == nil {
		return nil
	}
	columns := map[string]string{}
	for _, heading := range m.Keys() {
		columns[heading] = m.Text(heading)
	}
	return columns
}
