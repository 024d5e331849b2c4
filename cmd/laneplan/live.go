package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"sync"
	"time"

	"github.com/mattn/go-runewidth"
	"golang.org/x/term"

	"laneplan/jobs/report"
	"laneplan/nest"
)

// live shows on standard error how a search goes: on a terminal one line that
// is written over, with lines asked for one for every change, else nothing.
type live struct {
	w        io.Writer
	name     string // of what is planned; may be empty
	places   int32  // decimals of money
	overs    bool   // write over the line before
	lines    bool   // a line for every change
	begun    time.Time
	lastSize int // columns that the line before took

	mu   sync.Mutex
	last *nest.Progress // nil until something is known
	stop chan struct{}
	done sync.WaitGroup
}

// tick is how often the line on a terminal shows the time.
const tick = 200 * time.Millisecond

// watch begins to show a search.
func (a *app) watch(name string, quiet, lines bool, places int32) *live {
	l := &live{
		w: a.stderr, name: name, places: places, begun: time.Now(), stop: make(chan struct{}),
		lines: lines, overs: !quiet && !lines && a.isTerminal(a.stderr),
	}
	if l.overs {
		l.done.Go(l.keep)
	}
	return l
}

// keep rewrites the line until the search ends.
func (l *live) keep() {
	ticker := time.NewTicker(tick)
	defer ticker.Stop()
	for {
		select {
		case <-l.stop:
			return
		case <-ticker.C:
			l.mu.Lock()
			l.rewrite(l.line(time.Since(l.begun)))
			l.mu.Unlock()
		}
	}
}

// report is called by the search with every better plan or bound.
func (l *live) report(p nest.Progress) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.last = &p
	if l.lines {
		fmt.Fprintln(l.w, l.line(p.Elapsed))
	}
}

// end leaves the last line standing.
func (l *live) end(r nest.Result, err error) {
	text := ""
	if err == nil {
		text = l.line(r.Time)
	}
	l.leave(text)
}

// drop leaves nothing standing.
func (l *live) drop() { l.leave("") }

func (l *live) leave(text string) {
	close(l.stop)
	l.done.Wait()
	if !l.overs {
		return
	}
	l.rewrite(text)
	if text != "" {
		fmt.Fprintln(l.w)
	}
}

// line tells the time, the cost of the best plan, the bound and the gap.
func (l *live) line(elapsed time.Duration) string {
	text := fmt.Sprintf("%6.1f s  ", elapsed.Seconds())
	if l.name != "" {
		text = l.name + " " + text
	}
	if l.last == nil || math.IsInf(l.last.Cost, 1) {
		return text + "looking for a first plan"
	}
	p := *l.last
	text += fmt.Sprintf("cost %.*f  bound %.*f  gap %s  %d sections",
		l.places, p.Cost, l.places, p.Bound, report.PercentOf(p.Gap), p.Sections)
	if p.FoundBy != "" {
		text += "  (" + p.FoundBy + ")"
	}
	return text
}

// rewrite puts text over what stands in the line, cut to the terminal.
func (l *live) rewrite(text string) {
	if f, ok := l.w.(*os.File); ok {
		if columns, _, err := term.GetSize(int(f.Fd())); err == nil && columns > 1 {
			text = runewidth.Truncate(text, columns-1, "")
		}
	}
	fmt.Fprint(l.w, "\r", runewidth.FillRight(text, l.lastSize))
	l.lastSize = runewidth.StringWidth(text)
}
