package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const top = "../.."

// rooms may import themselves and the rooms after them.
var rooms = []string{"cmd", "jobs", "nest", "solver"}

// forbidden imports beyond that, by the folder that must not have them.
var forbidden = map[string][]string{
	"nest":   {"os", "gopkg.in/yaml.v3", "go.yaml.in/yaml/v3", "laneplan/solver/highs", "github.com/spf13/cobra", "github.com/shopspring/decimal"},
	"solver": {"github.com/spf13/cobra", "github.com/shopspring/decimal"},
	"jobs":   {"github.com/spf13/cobra", "golang.org/x/term", "laneplan/solver/highs", "github.com/muesli/termenv"},
}

func TestImportsPointOneWay(t *testing.T) {
	files := 0
	err := filepath.WalkDir(top, func(path string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if entry.IsDir() && (entry.Name() == "node_modules" || entry.Name() == ".git") {
			return filepath.SkipDir
		}
		if entry.IsDir() || filepath.Ext(path) != ".go" {
			return nil
		}
		files++
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		relative, err := filepath.Rel(top, path)
		if err != nil {
			return err
		}
		room := strings.Split(filepath.ToSlash(relative), "/")[0]
		from := slices.Index(rooms, room)
		if !assert.GreaterOrEqual(t, from, 0, "%s is in no room", relative) {
			return nil
		}
		test := strings.HasSuffix(path, "_test.go")
		for _, spec := range file.Imports {
			name, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if ours, ok := strings.CutPrefix(name, "laneplan/"); ok {
				to := slices.Index(rooms, strings.Split(ours, "/")[0])
				// A test may run the real engine.
				if !test || !strings.HasPrefix(ours, "solver/") {
					assert.LessOrEqual(t, from, to, "%s imports %s: imports point from %s", relative, name, strings.Join(rooms, " to "))
				}
			}
			if !test {
				assert.NotContains(t, forbidden[room], name, relative)
			}
		}
		return nil
	})
	require.NoError(t, err)
	assert.Greater(t, files, 30)
}

func TestNothingElseStandsAtTheTop(t *testing.T) {
	allowed := []string{
		"cmd", "nest", "solver", "jobs", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md",
		".ci", ".gitignore", "LICENSE", "Makefile",
		".git", "bin", "dist", // not in the repository
	}
	entries, err := os.ReadDir(top)
	require.NoError(t, err)
	for _, e := range entries {
		assert.Contains(t, allowed, e.Name())
	}
}
