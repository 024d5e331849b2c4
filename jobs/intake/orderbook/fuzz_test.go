package orderbook

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
)

var csvSeeds = []string{
	head + "\n1001,Hill,cumin,D-75x50,PP-white,2500,2026-12-04\n",
	"\xEF\xBB\xBF" + head + ",tolerance,finish,flags,wind\r\n1,\"Mill; \"\"Hill\"\"\",c,D-60x60,paper-gloss,1,2026-12-04,2.5%,varnish+laminate,food+toy,out/top\r\n",
	head + "\n1,'=Hill,-x,D-75x50,PP-white,010,2026-02-30\n,,,,,,\n",
	"Auftrag;Kunde;Sorte;Stanze;Material;Menge;Termin\n1;Hill;x;D-75x50;PP-white;12.500;4.12.2026\n",
	head + "\n1,\"Hill\n", "a,\"b\"c\n", "\xFF\xFEa\x00", "", ",", "\"\"\"\"\"",
	head + ",unit_price,core,max_diameter,overs,bill_overs\n1,H,v,D-75x50,PP-white,9,2026-12-04,0.1,76mm,1/8in,any,no\n",
}

var yamlSeeds = []string{
	"laneplan: 1\norder_lines:\n- order: 1001\n  customer: Hill\n  version: cumin\n  die: D-75x50\n  stock: PP-white\n  quantity: 2500\n  due: 2026-12-04\n",
	"laneplan: 1\norder_lines: [{order: 1, customer: H, version: v, die: D-75x50, stock: PP-white, quantity: 010, due: 2026-12-04, flags: [food]}]\n",
	"laneplan: 1\norder_lines:\n  # one\n  - {order: 1}\n  - \"x\n  - y\"\n", "laneplan: 1\norder_lines:\n- &a {order: 1}\n- *a\n",
	"laneplan: 2\norder_lines:\n- {}\n", "order_lines:\n- 1\n- [2]\n-\n", "laneplan: 1\norder_lines:\n", "---\n---\n", "laneplan: 1\norder_lines:\n- order: |\n    - x\n    y\nlast: 1\n",
	"laneplan: 1\norder_lines:\n- {order: 1, customer: H, version: v, die: D-75x50, stock: PP-white, quantity: 1, due: 2026-12-04, finish: [varnish, varnish], wind: 3, overs: 1%, tolerance: 2%}\n",
}

// holds checks what is true of any reading: faults name the file, good lines
// are sound, and written in any format they read back the same.
func holds(t *testing.T, shop *jobs.Shop, b *builder, formats ...string) {
	t.Helper()
	err := b.err()
	if err != nil {
		assert.Contains(t, err.Error(), "fuzz")
		assert.True(t, utf8.ValidString(err.Error()), "a message is text")
	}
	for _, bad := range b.book.Bad {
		for _, row := range bad.Rows {
			assert.NotEmpty(t, row.Faults)
		}
		if len(bad.Rows) > 0 {
			require.NoError(t, writeBad(&bytes.Buffer{}, bad, shop.Book))
		}
	}
	if len(b.book.Lines) == 0 {
		return
	}
	for _, line := range b.book.Lines {
		require.Positive(t, line.Quantity)
		require.False(t, line.Due.IsZero())
		require.NotEmpty(t, line.Order)
	}
	want := withoutSource(b.book.Lines)
	for _, format := range formats {
		var text bytes.Buffer
		require.NoError(t, writers[format](&text, want, shop.Book))
		again, err := newBuilder(shop, Options{})
		require.NoError(t, err)
		if format == ".csv" {
			err = again.csvTable("fuzz", &text)
		} else {
			err = again.yamlTable("fuzz", text.Bytes())
		}
		require.NoError(t, err)
		require.NoError(t, again.err())
		require.Equal(t, want, withoutSource(again.book.Lines), format)
	}
}

func FuzzCSV(f *testing.F) {
	for _, seed := range csvSeeds {
		f.Add(seed, false)
		f.Add(seed, true)
	}
	f.Fuzz(func(t *testing.T, text string, office bool) {
		shop := testShop()
		if office {
			shop = officeShop()
		}
		b, err := newBuilder(shop, Options{SkipBad: true})
		require.NoError(t, err)
		if err := b.csvTable("fuzz", strings.NewReader(text)); err != nil {
			b.fail(faultsOf("fuzz", err)...)
		}
		holds(t, shop, b, ".csv", ".yaml")
	})
}

func FuzzYAML(f *testing.F) {
	for _, seed := range yamlSeeds {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		shop := testShop()
		b, err := newBuilder(shop, Options{SkipBad: true})
		require.NoError(t, err)
		if err := b.yamlTable("fuzz", text); err != nil {
			b.fail(faultsOf("fuzz", err)...)
		}
		holds(t, shop, b, ".csv", ".yaml")
	})
}

var sheetSeeds = [][2]string{
	{`<worksheet><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="C1"><f>1+1</f><v>2</v></c></row><row/></sheetData></worksheet>`, `<sst><si><t>order</t></si></sst>`},
	{`<x:sheetData><x:row><x:c t="inlineStr"><x:is><x:r><x:t>a_x000D_</x:t></x:r><x:rPh><x:t>b</x:t></x:rPh></x:is></x:c></x:row></x:sheetData>`, `<sst><si/><si><r><t>a</t></r></si></sst>`},
	{`<sheetData><row r="9"><c r="XFE9"/></row><row r="8"/>`, `<sst><si><t>`}, {"", ""}, {`<sheetData/>`, `<sst/>`},
}

func FuzzSheet(f *testing.F) {
	for _, seed := range sheetSeeds {
		f.Add(seed[0], seed[1])
	}
	f.Fuzz(func(t *testing.T, sheet, shared string) {
		all, err := readTexts(strings.NewReader(shared))
		if err != nil {
			all = &texts{}
		}
		rows, last := newSheetReader(strings.NewReader(sheet), all), 0
		for {
			number, cells, err := rows.next()
			if err != nil {
				return
			}
			require.Greater(t, number, last)
			require.LessOrEqual(t, len(cells), mostSheetColumns)
			last = number
		}
	})
}

func TestThereAreSeeds(t *testing.T) {
	assert.NotEmpty(t, csvSeeds)
	assert.NotEmpty(t, yamlSeeds)
	assert.NotEmpty(t, sheetSeeds)
}
