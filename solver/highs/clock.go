package highs

import (
	"errors"
	"math"
	"sync/atomic"
	"time"
)

// clock is all that the solver knows of time, and how it is stopped: the
// module offers no other way in while it runs. HiGHS reads the time at every
// simplex iteration and every step of its search (every 20 µs on a small
// integer programme, never less than every half second in what we tried) and
// compares it with its time limit. So it is given a time limit that it never
// reaches, a clock that counts its own readings, and, when the solve is to
// stop, a clock on which more than that limit passes between any two readings:
// it then ends in good order with the best point and bound so far. As no
// decision of the solver sees real time, a solve gives the same result on a
// busy machine.
//
// The readings matter to the rest of the process too: Go's garbage collector
// cannot halt WebAssembly between two of them, and everybody waits for it.
// (wazero can stop a module anywhere, with WithCloseOnContextDone; that made
// the solver four times slower.)
type clock struct {
	time         int64 // nanoseconds
	readings     int64
	mostReadings int64     // 0 is no limit
	deadline     time.Time // zero is none
	stopped      clockStop
	interruptAt  atomic.Int64 // nanoseconds since epoch, 0 while the context lives
}

// clockStop says why a clock jumped ahead.
type clockStop int

const (
	running clockStop = iota
	stoppedByWork
	stoppedByTime
	stoppedByContext
)

// The solver is told neverReached (in seconds) as its time limit. A tick is
// what a reading takes, 10^11 of them for the limit; once the clock is stopped
// a reading takes a jump. All are nanoseconds.
const (
	neverReached = 1e4
	clockTick    = 100
	clockJump    = 2 * neverReached * 1e9
)

var epoch = time.Now().Add(-time.Second)

// errInterrupted ends a module that reads the clock without heeding it.
var errInterrupted = errors.New("interrupted")

// start sets the limits of the next solve.
func (c *clock) start(mostReadings int64, seconds float64) {
	c.time, c.readings, c.mostReadings, c.stopped = 0, 0, mostReadings, running
	c.deadline = time.Time{}
	if seconds > 0 && seconds < math.MaxInt64/1e9 {
		c.deadline = time.Now().Add(time.Duration(seconds * 1e9))
	}
	c.interruptAt.Store(0)
}

// interrupt may be called from another goroutine.
func (c *clock) interrupt() { c.interruptAt.Store(int64(time.Since(epoch))) }

// now in nanoseconds since the start of the solve. It panics with
// errInterrupted where the solve should have ended long ago.
func (c *clock) now() int64 {
	c.readings++
	if at := c.interruptAt.Load(); at != 0 {
		c.stopped = stoppedByContext
		if int64(time.Since(epoch))-at > int64(interruptWait)*3/4 {
			panic(errInterrupted)
		}
	}
	if c.stopped == running {
		switch {
		case c.mostReadings > 0 && c.readings > c.mostReadings:
			c.stopped = stoppedByWork
		case !c.deadline.IsZero() && !time.Now().Before(c.deadline):
			c.stopped = stoppedByTime
		}
	}
	switch {
	case c.stopped == running:
		c.time += clockTick
	case c.time < math.MaxInt64-clockJump:
		c.time += clockJump
	}
	return c.time
}
