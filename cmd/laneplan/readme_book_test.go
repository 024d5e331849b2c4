package main

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	fenced  = regexp.MustCompile("(?ms)^```(sh|text)\n(.*?)^```$")
	figures = regexp.MustCompile(`[0-9]+\.[0-9]+`)
)

// TestTheOrderBookOfTheREADME runs the commands of the README's section on
// order books, in their order and in one folder, and looks for its output in
// theirs. Amounts of money may differ: a better plan costs less.
func TestTheOrderBookOfTheREADME(t *testing.T) {
	section := sectionOfTheREADME(t, "From an order book")
	t.Chdir(t.TempDir())
	require.NoError(t, os.WriteFile("orders.csv", []byte("order,customer,version,die,stock,quantity,due\n1,H,a,lid-48,pp-60,1,2026-12-01\n1,H,b,lid-48,pp-60,0,soon\n"), 0o644))
	output := commandsOf(t, section, 3, 4)
	bad := laneplan(t, "pool", "--shop", "mill/shop.yaml", "orders.csv")
	assert.Equal(t, exitInput, bad.code)
	shownBy(t, section, output+bad.stderr)
}

// sectionOfTheREADME is the text below a heading.
func sectionOfTheREADME(t *testing.T, heading string) string {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	_, section, found := strings.Cut(string(text), "\n## "+heading+"\n")
	require.True(t, found)
	section, _, _ = strings.Cut(section, "\n## ")
	return section
}

// commandsOf a section are run in their order and in this folder; what they
// print is returned. There are at least so many of them, and lines of output.
func commandsOf(t *testing.T, section string, least, leastShown int) string {
	t.Helper()
	var output strings.Builder
	commands, shown := 0, 0
	for _, block := range fenced.FindAllStringSubmatch(section, -1) {
		for line := range strings.Lines(block[2]) {
			line = strings.TrimSuffix(line, "\n")
			if block[1] == "text" {
				shown++
				continue
			}
			commands++
			args := strings.Fields(line)
			require.Equal(t, "laneplan", args[0], line)
			got := laneplan(t, args[1:]...)
			require.Equal(t, exitDone, got.code, "%s\n%s", line, got.stderr)
			output.WriteString(got.stdout)
		}
	}
	assert.GreaterOrEqual(t, commands, least)
	assert.GreaterOrEqual(t, shown, leastShown)
	return output.String()
}

// shownBy says that the output in a section is that of its commands, but for
// amounts of money.
func shownBy(t *testing.T, section, output string) {
	t.Helper()
	all := figures.ReplaceAllString(output, "#")
	for _, block := range fenced.FindAllStringSubmatch(section, -1) {
		if block[1] == "text" {
			for line := range strings.Lines(block[2]) {
				assert.Contains(t, all, figures.ReplaceAllString(line, "#"))
			}
		}
	}
}
