package orderbook

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
)

// With a decimal comma in the shop file a point is never taken for one, and
// the other way round: 1.250 and 1,250 are refused, not guessed.
func TestTheDecimalMarkIsNeverGuessed(t *testing.T) {
	office := officeShop()
	for _, tt := range []struct{ name, cells, want string }{
		{"a price with a comma", "0,125;;", ""},
		{"a price with a point", "0.125;;", "2:8: Preis: want a number with a decimal comma and no other separators, as the shop file says, got 0.125"},
		{"a price with thousands", "1.250,50;;", "2:8: Preis: want a number with a decimal comma and no other separators, as the shop file says, got 1.250,50"},
		{"a price with two commas", "1,250,50;;", "2:8: Preis: want a number such as 0,045, got 1,250,50"},
		{"a percentage with a comma", ";2,5%;", ""},
		{"a percentage with a point", ";2.5%;", "2:9: Toleranz: want a percentage with a decimal comma such as 2,5%, as the shop file says, got 2.5%"},
		{"a percentage past 100", ";250%;", "2:9: Toleranz: want a percentage from 0% to 100% such as 2,5%, got 250%"},
		{"a length with a comma", ";;76,2mm", ""},
		{"a length with a point", ";;76.2mm", "2:10: Kern: want a length with a decimal comma, as the shop file says, got 76.2mm"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := write(t, "a.csv", "Auftrag;Kunde;Sorte;Stanze;Material;Menge;Termin;Preis;Toleranz;Kern\n1;H;v;D-75x50;PP-white;9;4.12.2026;"+tt.cells+"\n")
			_, err := Read([]string{path}, office, Options{})
			if tt.want == "" {
				assert.NoError(t, err)
			} else {
				assert.EqualError(t, err, path+":"+tt.want)
			}
		})
	}
	path := write(t, "a.csv", head+",unit_price\n1,H,v,D-75x50,PP-white,9,2026-12-04,\"0,12\"\n")
	_, err := Read([]string{path}, testShop(), Options{})
	assert.EqualError(t, err, path+":2:8: unit_price: want a decimal point, got the comma in 0,12")
}

func TestDatesInTheFormThatTheShopFileStates(t *testing.T) {
	for form, text := range map[string]string{
		"YYYY-MM-DD": "2026-02-01", "DD.MM.YYYY": "1.2.2026", "DD/MM/YYYY": "01/02/2026", "MM/DD/YYYY": "2/1/2026",
	} {
		t.Run(form, func(t *testing.T) {
			shop := testShop()
			shop.Book.DateLayout = jobs.DateForms[form]
			book, err := Read([]string{write(t, "a.csv", head+"\n1,H,v,D-75x50,PP-white,9,"+text+"\n")}, shop, Options{})
			require.NoError(t, err)
			assert.Equal(t, day("2026-02-01"), book.Lines[0].Due)

			path := write(t, "a.csv", head+"\n1,H,v,D-75x50,PP-white,9,soon\n")
			_, err = Read([]string{path}, shop, Options{})
			assert.ErrorContains(t, err, path+":2:7: due: want a date ")
		})
	}
}

func TestANumberOfACopyPositionNeedsTheShopsChart(t *testing.T) {
	shop := testShop()
	shop.Chart = &jobs.WindChart{Name: "House chart", Numbers: map[int]jobs.Wind{7: {Face: jobs.FaceIn, Edge: jobs.EdgeLeft}}}
	read := func(wind string) (Book, error) {
		return Read([]string{write(t, "a.csv", head+",wind\n1,H,v,D-75x50,PP-white,9,2026-12-04,"+wind+"\n")}, shop, Options{})
	}
	for _, wind := range []string{"7", "in/left", "IN/Left"} {
		book, err := read(wind)
		require.NoError(t, err)
		assert.Equal(t, jobs.Wind{Face: jobs.FaceIn, Edge: jobs.EdgeLeft}, book.Lines[0].Wind)
	}
	_, err := read("3")
	assert.ErrorContains(t, err, `wind: chart "House chart" has no copy position 3`)
}

func TestAColumnMapMayTurnOurOwnNamesRound(t *testing.T) {
	shop := testShop()
	// The office's 'version' is our name, and its 'code' our version.
	shop.Book.Columns = map[string]string{"Version ": "name", "Code": "version", "note": "ignore"}
	path := write(t, "a.csv", "order,customer,version,CODE,die,stock,quantity,due,Note\n1,H,Sweet paprika,P1,D-75x50,PP-white,9,2026-12-04,=x\n")
	book, err := Read([]string{path}, shop, Options{})
	require.NoError(t, err)
	assert.Equal(t, "P1", book.Lines[0].Version)
	assert.Equal(t, "Sweet paprika", book.Lines[0].Name)

	// Written, the headings are the office's again.
	out := path + ".out.csv"
	require.NoError(t, Write(out, book.Lines, shop.Book))
	again, err := Read([]string{out}, shop, Options{})
	require.NoError(t, err)
	assert.Equal(t, withoutSource(book.Lines), withoutSource(again.Lines))

	shop.Book.Columns["order"] = "customer"
	shop.Book.Columns["customer"] = "order"
	_, err = Read([]string{path}, shop, Options{})
	assert.EqualError(t, err, "shop: order_book: columns: customer → order → customer goes round in a circle; map each heading of the office straight to one of our columns")
}
