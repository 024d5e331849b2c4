package jobs

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestOppositeEdgeTwiceIsTheSameEdge(t *testing.T) {
	for e := EdgeUnknown; e <= EdgeRight; e++ {
		assert.Equal(t, e, e.Opposite().Opposite(), e.String())
	}
	assert.Equal(t, EdgeBottom, EdgeTop.Opposite())
	assert.Equal(t, EdgeRight, EdgeLeft.Opposite())
}

func TestWindReadsAsWords(t *testing.T) {
	assert.Equal(t, "face out, top first", Wind{FaceOut, EdgeTop}.String())
	assert.Equal(t, "face in", Wind{Face: FaceIn}.String())
	assert.Equal(t, "left first", Wind{Edge: EdgeLeft}.String())
	assert.Equal(t, "not stated", Wind{}.String())
}

// Two published charts (Lightning Labels' blog, 2006, and WCT Label) give
// positions 1 and 2 the other way round, so a number means nothing alone.
func TestTheSameNumberDiffersBetweenCharts(t *testing.T) {
	one := &WindChart{Name: "house", Numbers: map[int]Wind{1: {FaceOut, EdgeTop}, 2: {FaceOut, EdgeBottom}}}
	other := &WindChart{Name: "customer", Numbers: map[int]Wind{1: {FaceOut, EdgeBottom}, 2: {FaceOut, EdgeTop}}}
	require.NoError(t, one.Check())
	require.NoError(t, other.Check())
	w, err := one.Wind(1)
	require.NoError(t, err)
	number, known := other.Number(w)
	assert.True(t, known)
	assert.Equal(t, 2, number)
}

func TestWindChartRefuses(t *testing.T) {
	_, err := (*WindChart)(nil).Wind(4)
	assert.EqualError(t, err, "copy position 4 has no chart: want it in words such as out/top, or a chart in the shop file")
	_, err = (&WindChart{Name: "house"}).Wind(9)
	assert.EqualError(t, err, `chart "house" has no copy position 9`)
	_, known := (*WindChart)(nil).Number(Wind{FaceOut, EdgeTop})
	assert.False(t, known)

	assert.ErrorContains(t, (&WindChart{}).Check(), "needs a name")
	assert.ErrorContains(t, (&WindChart{Name: "c", Numbers: map[int]Wind{1: {Face: FaceOut}}}).Check(), "position 1 wants a face")
	assert.ErrorContains(t, (&WindChart{Name: "c", Numbers: map[int]Wind{1: {FaceOut, EdgeTop}, 5: {FaceOut, EdgeTop}}}).Check(),
		"positions 1 and 5 are both face out, top first")
}

func TestAWindReadsBackFromItsText(t *testing.T) {
	for _, face := range []Face{FaceOut, FaceIn} {
		for _, edge := range []Edge{EdgeTop, EdgeBottom, EdgeLeft, EdgeRight} {
			want := Wind{Face: face, Edge: edge}
			got, err := ParseWind(want.Text())
			require.NoError(t, err)
			assert.Equal(t, want, got)
		}
	}
	for _, text := range []string{"", "top", "out", "out top", "OUT/TOP", "top/out"} {
		_, err := ParseWind(text)
		assert.ErrorContains(t, err, "want face/edge such as out/top", "%q", text)
	}
	_, err := ParseWind("3")
	assert.EqualError(t, err, "want a copy position in words such as out/top, got the number 3: charts of numbers contradict each other")
}
