package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/solver/highs"
)

// noticesOf lists file name and text of every notice that the program owes:
// its own licence, Go's, the engine's and that of every module that is linked
// on any system we release for.
func noticesOf(t *testing.T) map[string]string {
	t.Helper()
	read := func(path string) string {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		return strings.ReplaceAll(string(text), "\r\n", "\n")
	}
	notice := func(heading, text string) string {
		rule := strings.Repeat("=", 72)
		return fmt.Sprintf("%s\n%s\n%s\n\n%s\n", rule, strings.TrimRight(heading, "\n"), rule, strings.TrimRight(text, "\n"))
	}
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	require.NoError(t, err)
	engine, err := highs.Notice()
	require.NoError(t, err)
	out := map[string]string{
		"00-laneplan.txt": notice("laneplan", read("../../LICENSE")),
		"01-highs.txt":    notice("HiGHS as WebAssembly (npm package highs)", engine),
		"02-go.txt":       notice("The Go standard library and runtime", read(filepath.Join(strings.TrimSpace(string(goroot)), "LICENSE"))),
		"03-font.txt":     notice("Droid Sans Fallback, Copyright 2006-2010 Google Corp.", read("../../jobs/ticket/fonts/LICENSE")),
	}
	for _, system := range []string{"linux", "darwin", "windows"} {
		list := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}}\t{{.Dir}}{{end}}{{end}}", ".")
		list.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED=0")
		modules, err := list.Output()
		require.NoError(t, err)
		for line := range bytes.Lines(modules) {
			path, folder, found := strings.Cut(strings.TrimSpace(string(line)), "\t")
			if !found {
				continue
			}
			name := strings.ReplaceAll(path, "/", "-") + ".txt"
			if _, known := out[name]; known {
				continue
			}
			var texts []string
			entries, err := os.ReadDir(folder)
			require.NoError(t, err)
			for _, e := range entries {
				word, _, _ := strings.Cut(strings.ToUpper(e.Name()), ".")
				word, _, _ = strings.Cut(word, "-")
				if !e.IsDir() && slices.Contains([]string{"LICENSE", "LICENCE", "COPYING", "NOTICE", "COPYRIGHT"}, word) {
					texts = append(texts, strings.TrimRight(read(filepath.Join(folder, e.Name())), "\n"))
				}
			}
			require.NotEmpty(t, texts, "%s states no licence", path)
			out[name] = notice(path, strings.Join(texts, "\n\n"))
		}
	}
	return out
}

func TestEveryLinkedModuleHasItsNotice(t *testing.T) {
	want := noticesOf(t)
	require.Greater(t, len(want), 5)
	if *update {
		require.NoError(t, os.RemoveAll("notices"))
		require.NoError(t, os.Mkdir("notices", 0o755))
		for name, text := range want {
			require.NoError(t, os.WriteFile(filepath.Join("notices", name), []byte(text), 0o644))
		}
	}
	entries, err := os.ReadDir("notices")
	require.NoError(t, err)
	for _, e := range entries {
		assert.Contains(t, want, e.Name(), "nothing linked has this notice; run the test with -update")
	}
	for name, text := range want {
		got, err := os.ReadFile(filepath.Join("notices", name))
		if assert.NoError(t, err, "run the test with -update") {
			assert.Equal(t, text, string(got), "run the test with -update")
		}
	}
}
