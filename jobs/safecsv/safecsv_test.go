package safecsv

import (
	"encoding/csv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCellIsNeverAFormula(t *testing.T) {
	for _, tt := range []struct{ name, text, want string }{
		{"plain text", "cumin", "cumin"},
		{"nothing", "", ""},
		{"blanks", "  ", "  "},
		{"a formula", "=1+1", "'=1+1"},
		{"a formula behind blanks", "  =1+1", "'  =1+1"},
		{"plus", "+49 30", "'+49 30"},
		{"minus before text", "-cumin", "'-cumin"},
		{"minus before a formula", "-1+cmd", "'-1+cmd"},
		{"a negative number", "-12.50", "-12.50"},
		{"at", "@sum(a1)", "'@sum(a1)"},
		{"tab", "\t=1", "'\t=1"},
		{"carriage return", "\r=1", "'\r=1"},
		{"full-width equals", "＝1", "'＝1"},
		{"equals inside", "a=b", "a=b"},
		{"an apostrophe before a formula", "'=1", "''=1"},
		{"an apostrophe before a negative number", "'-5", "''-5"},
		{"an apostrophe before text", "'t Loo", "'t Loo"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			assert.Equal(t, tt.want, Cell(tt.text))
			assert.Equal(t, tt.text, Text(tt.want))
		})
	}
}

func TestWriteIsRFC4180(t *testing.T) {
	var b strings.Builder
	rows := [][]string{{"mace, ground", `5 "`}, {"line\nbreak", "-3"}}
	require.NoError(t, Write(&b, []string{"version", "ordered"}, rows))
	assert.Equal(t, "version,ordered\r\n\"mace, ground\",\"5 \"\"\"\r\n\"line\r\nbreak\",-3\r\n", b.String())
	back, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, append([][]string{{"version", "ordered"}}, rows...), back)
}

func TestWriteRefusesARaggedTable(t *testing.T) {
	assert.EqualError(t, Write(&strings.Builder{}, []string{"a", "b"}, [][]string{{"1"}}), "csv: row 1 has 1 cells, the heading has 2")
}
