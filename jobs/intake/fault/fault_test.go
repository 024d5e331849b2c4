package fault_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake/fault"
)

func TestFaultsAreSortedByPlace(t *testing.T) {
	var l fault.List
	l.Add(
		fault.Fault{File: "b.csv", Line: 1, Message: "later file"},
		fault.Fault{File: "a.csv", Line: 10, Column: 2, Field: "due", Message: "ten"},
		fault.Fault{File: "a.csv", Line: 9, Column: 11, Field: "core", Message: "nine", Hint: "write 76mm"},
		fault.Fault{File: "a.xlsx", Sheet: "orders", Line: 3, Message: "a row"},
		fault.Fault{File: "a.csv", Message: "the file as a whole"},
	)
	assert.EqualError(t, l.Err(), strings.Join([]string{
		"a.csv: the file as a whole",
		"a.csv:9:11: core: nine", "hint: write 76mm",
		"a.csv:10:2: due: ten",
		"a.xlsx:orders:3: a row",
		"b.csv:1: later file",
	}, "\n"))
}

func TestNoFaultsAreNoError(t *testing.T) {
	assert.NoError(t, fault.List{}.Err())
}

func TestALongListIsCut(t *testing.T) {
	var l fault.List
	for range 250 {
		l.Add(fault.Fault{File: "a", Message: "bad"})
	}
	lines := strings.Split(l.Err().Error(), "\n")
	assert.Len(t, lines, 201)
	assert.Equal(t, "and 50 more", lines[200])
}

func TestReadFileTakesNoMoreThanAsked(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, os.WriteFile("a", []byte(strings.Repeat("x", 2_000_000)), 0o644))
	data, err := fault.ReadFile("a", 2_000_000)
	require.NoError(t, err)
	assert.Len(t, data, 2_000_000)
	_, err = fault.ReadFile("a", 1_999_999)
	assert.ErrorContains(t, err, "a: the file is longer than")
}

func TestCheckTextPlacesTheFirstByteThatIsNone(t *testing.T) {
	assert.Empty(t, fault.CheckText("a", []byte("Kümmel\t茶\r\n")))
	faults := fault.CheckText("a", []byte("eins\nzw\u00f6lf \x07\n"))
	require.Len(t, faults, 1)
	assert.Equal(t, "a:2:7", faults[0].Place())
}
