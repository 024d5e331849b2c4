package main

import (
	"fmt"
	"io"
	"log/slog"
	"strings"
	"sync"
	"time"

	"github.com/jedib0t/go-pretty/v6/progress"

	"laneplan/jobs/batch"
)

// batchLog tells on standard error how a batch goes: on a terminal a line with
// a bar, and what needs care above it; else a line for every event.
type batchLog struct {
	log   *slog.Logger
	watch func(batch.Status)
	end   func() // may be called twice
}

func (a *app) batchLog(f *batchFlags) *batchLog {
	if f.log.word != "auto" || !a.isTerminal(a.stderr) {
		return &batchLog{log: logOf(a.stderr, f.log.word), end: func() {}}
	}
	return barOf(a.stderr)
}

// logOf writes a line for every event, as JSON or as text.
func logOf(w io.Writer, word string) *slog.Logger {
	if word == "json" {
		return slog.New(slog.NewJSONHandler(w, nil))
	}
	return slog.New(slog.NewTextHandler(w, nil))
}

// barOf shows the bar. Its total is that of what is under way.
func barOf(w io.Writer) *batchLog {
	bar := progress.NewWriter()
	bar.SetOutputWriter(w)
	bar.SetAutoStop(false)
	bar.SetUpdateFrequency(tick)
	bar.SetTrackerLength(20)
	bar.SetMessageLength(76)
	style := progress.StyleDefault
	style.Visibility.ETA, style.Visibility.Speed, style.Visibility.Time = false, false, true
	style.Options.PercentFormat = "%3.0f%%"
	bar.SetStyle(style)
	tracker := &progress.Tracker{Message: "reading the order book", Total: 0}
	bar.AppendTracker(tracker)
	var done sync.WaitGroup
	done.Go(bar.Render)
	var once sync.Once
	return &batchLog{
		log: slog.New(slog.NewTextHandler(lines{bar}, &slog.HandlerOptions{Level: slog.LevelWarn})),
		watch: func(s batch.Status) {
			tracker.UpdateTotal(int64(s.Tasks))
			tracker.SetValue(int64(s.TasksDone))
			tracker.UpdateMessage(batchLine(s))
		},
		end: func() {
			once.Do(func() {
				tracker.MarkAsDone()
				bar.Stop()
				done.Wait()
			})
		},
	}
}

// batchLine tells how a batch stands, in a line.
func batchLine(s batch.Status) string {
	parts := []string{fmt.Sprintf("%d of %d gangs", s.Planned, s.Gangs)}
	if s.Failed > 0 {
		parts = append(parts, fmt.Sprintf("%d failed", s.Failed))
	}
	doing := s.Doing
	if doing == "round" {
		doing += fmt.Sprint(" ", s.Round)
	}
	parts = append(parts, fmt.Sprintf("saving %s %s", s.Saving, s.Currency), doing)
	if s.Left > 0 {
		parts = append(parts, s.Left.Round(time.Second).String()+" left")
	}
	return strings.Join(parts, ", ")
}

// lines writes log lines above the bar.
type lines struct{ bar progress.Writer }

func (l lines) Write(text []byte) (int, error) {
	l.bar.Log("%s", strings.TrimSuffix(string(text), "\n"))
	return len(text), nil
}
