package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// example is a block of the README in which commands and what they print
// follow each other.
var example = regexp.MustCompile("(?ms)^```console\n(.*?)^```$")

// TestExamplesOfTheREADME runs every example of the README and of the
// developers' notes, and compares what it prints to the byte. With -update the
// files are rewritten.
func TestExamplesOfTheREADME(t *testing.T) {
	top, err := filepath.Abs("../..")
	require.NoError(t, err)
	path := filepath.Join(top, "README.md")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	blocks := example.FindAllStringSubmatchIndex(string(text), -1)
	require.GreaterOrEqual(t, len(blocks), 5, "examples")

	// In a folder of its own, so that an example may write files.
	folder := t.TempDir()
	require.NoError(t, os.Symlink(filepath.Join(top, "testdata"), filepath.Join(folder, "testdata")))
	t.Chdir(folder)
	now = func() time.Time { return time.Date(2026, 11, 30, 8, 0, 0, 0, time.UTC) }
	t.Cleanup(func() { now = time.Now })
	var made strings.Builder
	from := 0
	for _, b := range blocks {
		body := string(text[b[2]:b[3]])
		got := rerun(t, body)
		if !*update {
			assert.Equal(t, body, got, "run the test with -update")
		}
		made.Write(text[from:b[2]])
		made.WriteString(got)
		from = b[3]
	}
	made.Write(text[from:])
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(made.String()), 0o644))
	}
}

// rerun runs the commands of one example and returns it with what they print.
func rerun(t *testing.T, body string) string {
	t.Helper()
	var out bytes.Buffer
	commands := 0
	for line := range strings.Lines(body) {
		command, ok := strings.CutPrefix(line, "$ ")
		if !ok {
			continue
		}
		commands++
		args := strings.Fields(command)
		require.Equal(t, "bin/laneplan", args[0], line)
		out.WriteString(line)
		var stdout, stderr bytes.Buffer
		code := run(context.Background(), args[1:], &stdout, &stderr)
		assert.Contains(t, []int{exitDone, exitInput, exitInfeasible}, code, line)
		out.Write(stdout.Bytes())
		out.Write(stderr.Bytes())
	}
	require.NotZero(t, commands, "an example without a command:\n%s", body)
	return out.String()
}

// The README's options are the command's, and the other way round.
func TestEveryOptionOfPlanIsInTheREADME(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	for _, name := range []string{"plan", "check", "verify", "bench", "schema", "licences", "pool", "init", "tickets", "price", "record", "history", "batch"} {
		assert.True(t, strings.Contains(string(text), "laneplan "+name), "%s is not there", name)
	}
	for flag := range flagTests {
		command, option, _ := strings.Cut(flag, " ")
		if command == "plan" {
			assert.True(t, strings.Contains(string(text), option), "%s is not there", option)
		}
	}
}
