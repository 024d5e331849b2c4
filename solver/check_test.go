package solver

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func example() *Model {
	return &Model{
		Offset: 10,
		Columns: []Column{
			{Name: "x", Cost: 3, Upper: 4, Integer: true},
			{Cost: -5, Lower: math.Inf(-1), Upper: Inf},
		},
		Rows: []Row{{Name: "hours", Lower: -2, Upper: 18, Entries: []Entry{{0, 3}, {1, 2}}}},
	}
}

func TestCheckPoint(t *testing.T) {
	for _, tt := range []struct {
		name               string
		x                  []float64
		absolute, relative float64
		want               string
	}{
		{"feasible", []float64{2, 6}, 0, 0, ""},
		{"at the other side", []float64{0, -1}, 0, 0, ""},
		{"a row above", []float64{2, 7}, 0, 0, "row 0 (hours) is 20, want -2 to 18"},
		{"a row below", []float64{0, -2}, 0, 0, "row 0 (hours) is -4, want -2 to 18"},
		{"a row above by less than the tolerance", []float64{2, 6.0004}, 1e-3, 0, ""},
		{"or by less than its size allows", []float64{2, 6.0004}, 0, 1e-4, ""},
		{"but not by more", []float64{2, 6.25}, 0.1, 1e-3, "row 0 (hours) is 18.5, want -2 to 18"},
		{"beyond a bound", []float64{5, 0}, 0, 0, "column 0 (x) is 5, want 0 to 4"},
		{"not whole", []float64{2.5, 0}, 1e-6, 0, "column 0 (x) is 2.5, want a whole number"},
		{"whole enough", []float64{2.0000001, 0}, 1e-6, 0, ""},
		{"not a number", []float64{2, math.NaN()}, 1e-6, 1e-6, "column 1 is NaN, want -Inf to +Inf"},
		{"too short", []float64{2}, 0, 0, "point has 1 values for 2 columns"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			err := example().CheckPoint(tt.x, tt.absolute, tt.relative)
			if tt.want == "" {
				assert.NoError(t, err)
			} else {
				assert.EqualError(t, err, tt.want)
			}
		})
	}
}

func TestValueCountsTheOffset(t *testing.T) {
	assert.Equal(t, 10.0+3*2-5*6, example().Value([]float64{2, 6}))
}

func TestStatusesHaveNames(t *testing.T) {
	assert.Equal(t, "optimal", Optimal.String())
	assert.Equal(t, "cut-off reached", CutoffReached.String())
	assert.Equal(t, "status 99", Status(99).String())
}
