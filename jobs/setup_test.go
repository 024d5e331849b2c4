package jobs

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Common practice, no source: the first frame is as many repeats as make up
// 10 in, and the third frame is the first to be measured. Arithmetic
// recomputed.
func TestSetupFramesAreWholeRepeats(t *testing.T) {
	tests := []struct {
		pitch       string
		frame, rows int
		web         string
	}{
		{pitch: "6.125in", frame: 2, rows: 6, web: "36.75in"},
		{pitch: "3.125in", frame: 4, rows: 12, web: "37.5in"},
		{pitch: "10in", frame: 1, rows: 3, web: "30in"},
	}
	for _, tt := range tests {
		t.Run(tt.pitch, func(t *testing.T) {
			pitch, err := ParseLength(tt.pitch)
			assert.NoError(t, err)
			web, err := ParseLength(tt.web)
			assert.NoError(t, err)
			frames := &SetupFrames{Reach: 10 * Inch, Discard: 3}
			assert.Equal(t, tt.frame, frames.FrameRows(pitch))
			assert.Equal(t, tt.rows, frames.Rows(pitch))
			assert.Equal(t, web, Press{SetupFrames: frames}.SetupLength(pitch))
			assert.Equal(t, 20*Metre, Press{SetupWeb: 20 * Metre, SetupFrames: frames}.SetupLength(pitch))
		})
	}
	assert.Zero(t, SetupFrames{Reach: 10 * Inch, Discard: 3}.Rows(0))
	assert.Zero(t, Press{}.SetupLength(Inch))
}
