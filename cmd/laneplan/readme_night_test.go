package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/ledger"
	"laneplan/jobs/starter"
)

// unit is a block of the README that is a file of systemd, with its name.
var unit = regexp.MustCompile("(?ms)^```ini\n# /etc/systemd/system/(\\S+)\n(.*?)^```$")

// TestTheNightOfTheREADME runs the commands of the section on batches, and
// those of its service and its cron line in a folder of the test's own.
func TestTheNightOfTheREADME(t *testing.T) {
	section, _, _ := strings.Cut(sectionOfTheREADME(t, "Every night"), "\n### ") // on one machine
	folder := t.TempDir()
	t.Chdir(folder)
	shownBy(t, section, commandsOf(t, section, 2, 1))

	// What is left for another day costs nothing tonight, on the page and in the ledger.
	cost := decimal.Zero
	for _, e := range inLedger(t, filepath.Join("night", ledger.FileName)) {
		cost = cost.Add(*e.Cost)
	}
	assert.Equal(t, nightOf{out: "night"}.summary(t).Totals.Cost.String(), cost.StringFixed(2))

	srv := filepath.Join(folder, "srv")
	require.NoError(t, os.MkdirAll(filepath.Join(srv, "orders"), 0o700))
	shop, err := os.ReadFile(filepath.Join("mill", starter.ShopFile))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(srv, starter.ShopFile), shop, 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(srv, "orders", "orders.csv"), []byte(threeGangs), 0o600))
	var lines []string
	for line := range strings.Lines(section) {
		if _, command, found := strings.Cut(line, "/usr/local/bin/laneplan batch "); found && !strings.Contains(line, "--queue") {
			lines = append(lines, command)
		}
	}
	require.Len(t, lines, 2, "the service's and cron's")
	for _, line := range lines {
		command, _, _ := strings.Cut(line, " 2>>")
		args := strings.Fields(strings.ReplaceAll(command, "/srv/laneplan", srv))
		for i := range args {
			if args[i] == "6h" {
				args[i] = "1s" // the night is short
			}
		}
		got := laneplan(t, append([]string{"batch", "--date", "2026-11-30"}, args...)...)
		assert.Equal(t, exitDone, got.code, got.stderr)
		assert.FileExists(t, filepath.Join(srv, "night", "index.html"))
	}
}

// systemd finds nothing wrong with the units of the README.
func TestTheUnitsOfTheREADME(t *testing.T) {
	verify, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("systemd-analyze is not installed: the units are not verified here")
	}
	program, err := exec.LookPath("laneplan")
	require.NoError(t, err)
	folder := t.TempDir()
	var paths []string
	for _, block := range unit.FindAllStringSubmatch(sectionOfTheREADME(t, "Every night"), -1) {
		path := filepath.Join(folder, block[1])
		text := strings.ReplaceAll(block[2], "/usr/local/bin/laneplan", program)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		paths = append(paths, path)
	}
	require.GreaterOrEqual(t, len(paths), 2)
	output, err := exec.Command(verify, append([]string{"verify", "--man=no"}, paths...)...).CombinedOutput()
	require.NoError(t, err, string(output))
	for line := range strings.Lines(string(output)) {
		assert.NotContains(t, line, "laneplan-", "a warning about ours")
	}
}
