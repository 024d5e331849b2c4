package main

import (
	"io"
	"os"

	"github.com/muesli/termenv"
	"golang.org/x/term"

	"laneplan/jobs/report"
)

// terminal says whether w is a terminal.
func terminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// style is colour for a terminal that wants it (NO_COLOR unset, TERM not
// dumb) and plain text for everything else.
func style(w io.Writer) report.Style {
	if !terminal(w) {
		return report.Style{}
	}
	return styleOf(termenv.NewOutput(w))
}

func styleOf(output *termenv.Output) report.Style {
	if output.EnvColorProfile() == termenv.Ascii {
		return report.Style{}
	}
	// Old Windows consoles print escape sequences until they are told not to.
	if _, err := termenv.EnableVirtualTerminalProcessing(output); err != nil {
		return report.Style{}
	}
	return report.Style{
		Heading: func(text string) string { return output.String(text).Bold().String() },
		Good:    func(text string) string { return output.String(text).Foreground(termenv.ANSIGreen).String() },
		Care:    func(text string) string { return output.String(text).Foreground(termenv.ANSIYellow).String() },
	}
}
