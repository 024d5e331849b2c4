package main

import (
	"bytes"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/muesli/termenv"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/report"
	"laneplan/nest"
)

// environ is what a terminal's programs are told.
type environ map[string]string

func (e environ) Getenv(key string) string { return e[key] }

func (e environ) Environ() []string {
	var all []string
	for key, value := range e {
		all = append(all, key+"="+value)
	}
	return all
}

func TestColourIsForTerminalsThatWantIt(t *testing.T) {
	for _, tt := range []struct {
		name string
		env  environ
		want bool
	}{
		{"a terminal with colours", environ{"TERM": "xterm-256color"}, true},
		{"NO_COLOR", environ{"TERM": "xterm-256color", "NO_COLOR": "1"}, false},
		{"a dumb terminal", environ{"TERM": "dumb"}, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			output := termenv.NewOutput(&bytes.Buffer{}, termenv.WithTTY(true), termenv.WithEnvironment(tt.env))
			s := styleOf(output)
			if !tt.want {
				assert.Nil(t, s.Good)
				return
			}
			require.NotNil(t, s.Good)
			assert.Equal(t, "\x1b[32mProven\x1b[0m", s.Good("Proven"))
		})
	}
}

func TestNothingButATerminalGetsColour(t *testing.T) {
	t.Setenv("TERM", "xterm-256color")
	file, err := os.Create(t.TempDir() + "/plan.txt")
	require.NoError(t, err)
	defer file.Close()
	assert.Equal(t, report.Style{}, style(file))
	assert.Equal(t, report.Style{}, style(&bytes.Buffer{}))
}

func TestLiveLineIsWrittenOver(t *testing.T) {
	var b bytes.Buffer
	l := &live{w: &b, name: "spices", places: 2, overs: true, stop: make(chan struct{})}
	assert.Equal(t, "spices    0.5 s  looking for a first plan", l.line(500*time.Millisecond))
	l.report(nest.Progress{Cost: math.Inf(1), Bound: 10})
	assert.Contains(t, l.line(0), "looking for a first plan")
	l.report(nest.Progress{Cost: 12.345, Bound: 12, Gap: 0.028, Sections: 3, FoundBy: "annealing"})
	assert.Equal(t, "spices   12.0 s  cost 12.35  bound 12.00  gap 2.8 %  3 sections  (annealing)", l.line(12*time.Second))
	assert.Empty(t, b.String(), "nothing before the tick")
	l.rewrite("a long line")
	l.rewrite("short")
	assert.Equal(t, "\ra long line\rshort      ", b.String())
	b.Reset()
	l.end(nest.Result{Time: time.Second}, nil)
	assert.True(t, strings.HasSuffix(b.String(), "(annealing)\n"), "the last line stays: %q", b.String())
}
