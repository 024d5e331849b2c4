package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/explain"
	"laneplan/jobs/planfile"
	"laneplan/jobs/report"
)

// planIn reads the only gang of a plan file.
func planIn(path string) (planfile.Gang, error) {
	d, err := planfile.ReadFile(path)
	if err != nil {
		return planfile.Gang{}, err
	}
	return d.Gangs[0], nil
}

// planned runs plan and gives the plan that it printed.
func planned(t *testing.T, args ...string) planfile.Gang {
	t.Helper()
	got := laneplan(t, append([]string{"plan", "--format", "json"}, args...)...)
	require.Equal(t, exitDone, got.code, got.stderr)
	d, err := planfile.Read([]byte(got.stdout), "standard output")
	require.NoError(t, err)
	return d.Gangs[0]
}

const byHand = "../../testdata/hand/covers.json"

// explainedWith explains a plan made by hand.
func explainedWith(t *testing.T, args ...string) explain.Explanation {
	t.Helper()
	got := laneplan(t, append([]string{"explain", byHand, covers, "-f", "json"}, args...)...)
	require.Equal(t, exitDone, got.code, got.stderr)
	var d explain.Document
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &d))
	return d.Gangs[0]
}

// stored is a plan file that holds its job, alone in its folder.
func stored(t *testing.T) string {
	t.Helper()
	text, err := storedOnce()
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "out", "covers", "plan.json")
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
	require.NoError(t, os.WriteFile(path, text, 0o600))
	return path
}

// storedOnce plans once for all who want a stored plan.
var storedOnce = sync.OnceValues(func() ([]byte, error) {
	folder, err := os.MkdirTemp("", "laneplan-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	out := filepath.Join(folder, "out")
	if code := run(context.Background(), []string{"plan", covers, "--quiet", "--out", out}, io.Discard, io.Discard); code != exitDone {
		return nil, fmt.Errorf("plan ended with %d", code)
	}
	return os.ReadFile(filepath.Join(out, "covers", "plan.json"))
})

// flagTests shows of every flag that it changes something.
var flagTests = map[string]func(*testing.T){
	"plan --format": func(t *testing.T) {
		text, json, csv := laneplan(t, "plan", covers), laneplan(t, "plan", covers, "--format", "json"), laneplan(t, "plan", covers, "-f", "csv")
		assert.Contains(t, text.stdout, "Lane plan")
		assert.Contains(t, json.stdout, `"laneplan": 1`)
		assert.Contains(t, csv.stdout, "gang,section")
	},
	"plan --out": func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "plan.json")
		got := laneplan(t, "plan", covers, "-o", path)
		assert.Equal(t, ran{}, got)
		g, err := planIn(path)
		require.NoError(t, err)
		assert.Equal(t, "136472.00", g.Cost.Total.String())
	},
	"plan --replace": func(t *testing.T) {
		out := filepath.Join(t.TempDir(), "out")
		require.Equal(t, exitDone, laneplan(t, "plan", covers, "--out", out).code)
		again := laneplan(t, "plan", covers, "--out", out)
		assert.Equal(t, exitInput, again.code)
		assert.Contains(t, again.stderr, "covers is there already")
		assert.Empty(t, again.stdout, "refused before the search")
		assert.Equal(t, exitDone, laneplan(t, "plan", covers, "--out", out, "--replace").code)
	},
	"plan --printed": func(t *testing.T) {
		out := filepath.Join(t.TempDir(), "out")
		require.Equal(t, exitDone, laneplan(t, "plan", covers, "--out", out, "--printed", "2026-12-04").code)
		report, err := os.ReadFile(filepath.Join(out, "covers", "report.html"))
		require.NoError(t, err)
		assert.Contains(t, string(report), "2026-12-04")
		got := laneplan(t, "plan", covers, "--printed", "2026-12-04")
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "--printed: is for documents, with --out DIR")
	},
	"tickets --out": func(t *testing.T) {
		got := laneplan(t, "tickets", stored(t))
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "--out: want the folder")
		out := filepath.Join(t.TempDir(), "out")
		got = laneplan(t, "tickets", stored(t), "--out", out)
		assert.Equal(t, ran{stdout: filepath.Join(out, "covers") + "\n"}, got)
	},
	"tickets --replace": func(t *testing.T) {
		path, out := stored(t), filepath.Join(t.TempDir(), "out")
		require.Equal(t, exitDone, laneplan(t, "tickets", path, "--out", out).code)
		assert.Equal(t, exitInput, laneplan(t, "tickets", path, "--out", out).code)
		assert.Equal(t, exitDone, laneplan(t, "tickets", path, "--out", out, "--replace").code)
	},
	"tickets --printed": func(t *testing.T) {
		out := filepath.Join(t.TempDir(), "out")
		require.Equal(t, exitDone, laneplan(t, "tickets", stored(t), "--out", out, "--printed", "2026-12-04").code)
		report, err := os.ReadFile(filepath.Join(out, "covers", "report.html"))
		require.NoError(t, err)
		assert.Contains(t, string(report), "2026-12-04")
	},
	"plan --time": func(t *testing.T) {
		assert.Equal(t, "60", planned(t, covers).Solve.Limits.Seconds.String(), "the default")
		assert.Equal(t, "90", planned(t, covers, "--time", "1m30s").Solve.Limits.Seconds.String())
		assert.Nil(t, planned(t, covers, "--time", "0").Solve.Limits)
	},
	"plan --work": func(t *testing.T) {
		g := planned(t, demo, "--work", "0.5")
		assert.Equal(t, "work limit", g.Solve.Stop)
		assert.Equal(t, &planfile.Limits{Work: "0.5"}, g.Solve.Limits, "no time limit beside a work limit")
	},
	"plan --gap": func(t *testing.T) {
		g := planned(t, demo, "--gap", "30%")
		assert.Equal(t, "gap", g.Solve.Stop)
		assert.Equal(t, "0.3", g.Solve.Limits.Gap.String())
	},
	"plan --seed": func(t *testing.T) {
		assert.Equal(t, int64(1), planned(t, covers).Solve.Seed, "the default")
		const large = "../../testdata/bench/v024-l04-lognormal-s1000.yaml" // too large for two seeds to meet in its best plan
		one, two := planned(t, large, "--work", "0.5", "--no-times"), planned(t, large, "--work", "0.5", "--no-times", "--seed", "2")
		assert.Equal(t, int64(2), two.Solve.Seed)
		assert.NotEqual(t, one.Sections, two.Sections)
	},
	"plan --workers": func(t *testing.T) {
		one := planned(t, demo, "--work", "0.5", "--no-times", "--workers", "1")
		assert.Equal(t, one, planned(t, demo, "--work", "0.5", "--no-times", "--workers", "3"), "it changes no plan")
		assert.Equal(t, 3, parsed(t, planTime, "--workers", "3").options().Workers, "only how many search")
	},
	"plan --engine": func(t *testing.T) {
		assert.Contains(t, planned(t, covers).Solve.Engine, "embedded", "the default")
		got := laneplan(t, "plan", covers, "--engine", filepath.Join(t.TempDir(), "no-such-engine"))
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "--engine")
	},
	"plan --sections": func(t *testing.T) {
		assert.Len(t, planned(t, covers).Sections, 2)
		g := planned(t, covers, "--sections", "1")
		assert.Len(t, g.Sections, 1)
		assert.Equal(t, "139636.00", g.Cost.Total.String()) // full enumeration
		assert.Len(t, planned(t, covers, "--sections", "3").Sections, 3)
	},
	"plan --max-sections": func(t *testing.T) {
		assert.Len(t, planned(t, covers, "--max-sections", "1").Sections, 1)
		assert.Len(t, planned(t, covers, "--max-sections", "5").Sections, 2)
	},
	"plan --start": func(t *testing.T) {
		// The optimum with its lanes the other way round: no better plan
		// exists, so the search returns what it was given.
		cold := planned(t, covers)
		path := file(t, "start.json", `{"laneplan": 1, "gangs": [{"lanes": 4, "sections": [
			{"number": 1, "rows": 2875, "lanes": ["C", "C", "C", "C"]},
			{"number": 2, "rows": 4500, "lanes": ["B", "B", "A", "C"]}]}]}`)
		warm := planned(t, covers, "--start", path)
		assert.Equal(t, cold.Cost, warm.Cost)
		assert.NotEqual(t, cold.Sections, warm.Sections)
		assert.Equal(t, "B", *warm.Sections[1].Lanes[0])
	},
	"plan --alternatives": func(t *testing.T) {
		assert.Empty(t, planned(t, covers).Alternatives)
		list := planned(t, covers, "--alternatives", "1", "--work", "2").Alternatives
		require.Len(t, list, 3)
		assert.True(t, list[1].Chosen)
		assert.Equal(t, "139636.00", list[0].Plan.Cost.Total.String())
		valid(t, planfile.Schema, decoded(t, laneplan(t, "plan", covers, "-f", "json", "--alternatives", "1", "--work", "2").stdout))
		limits := planned(t, demo, "--alternatives", "1", "--work", "0.2").Solve.Limits
		assert.Equal(t, "0.1", limits.Work.String(), "half of it is for the plan")
	},
	"plan --no-times": func(t *testing.T) {
		assert.NotEmpty(t, planned(t, covers).Solve.Seconds)
		assert.Empty(t, planned(t, covers, "--no-times").Solve.Seconds)
	},
	"plan --quiet": func(t *testing.T) {
		assert.Contains(t, onTerminal(t, "plan", covers), "cost 136472.00")
		assert.Empty(t, onTerminal(t, "plan", covers, "--quiet"))
	},
	"plan --progress": func(t *testing.T) {
		assert.Empty(t, laneplan(t, "plan", covers).stderr, "no terminal, no line")
		got := laneplan(t, "plan", covers, "--progress")
		assert.Regexp(t, `(?m)^ +[0-9.]+ s  cost 136472\.00  bound 136472\.00  gap 0 %  2 sections`, got.stderr)
	},

	"explain --format": func(t *testing.T) {
		text, json := laneplan(t, "explain", byHand, covers, "--work", "0.5"), laneplan(t, "explain", byHand, covers, "--work", "0.5", "-f", "json")
		assert.Contains(t, text.stdout, "Why the plan of covers costs 139636.00")
		assert.Contains(t, json.stdout, `"cheapest": 136472.00`)
	},
	"explain --time": func(t *testing.T) {
		assert.InDelta(t, 60, explainedWith(t).Limits.Seconds, 0, "the default")
		assert.InDelta(t, 20, explainedWith(t, "--time", "20s").Limits.Seconds, 0)
	},
	"explain --work": func(t *testing.T) {
		assert.Equal(t, explain.Limits{Work: 0.5}, explainedWith(t, "--work", "0.5").Limits)
	},
	"explain --gap": func(t *testing.T) {
		assert.InDelta(t, 0, explainedWith(t, "--work", "0.5").Limits.Gap, 0)
		assert.InDelta(t, 0.4, explainedWith(t, "--work", "0.5", "--gap", "40%").Limits.Gap, 0)
		assert.Equal(t, exitInput, laneplan(t, "explain", byHand, covers, "--gap", "5").code)
	},
	"explain --seed": func(t *testing.T) {
		assert.Equal(t, int64(1), explainedWith(t, "--work", "0.5").Seed)
		assert.Equal(t, int64(5), explainedWith(t, "--work", "0.5", "--seed", "5").Seed)
	},
	"explain --workers": func(t *testing.T) {
		assert.Equal(t, explainedWith(t, "--work", "0.5"), explainedWith(t, "--work", "0.5", "--workers", "1"), "the number changes the time alone")
		assert.Equal(t, exitInput, laneplan(t, "explain", byHand, covers, "--workers", "0").code)
	},
	"explain --engine": func(t *testing.T) {
		got := laneplan(t, "explain", byHand, covers, "--engine", filepath.Join(t.TempDir(), "no-such-engine"))
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "--engine: ")
	},
	"explain --quiet": func(t *testing.T) {
		assert.Contains(t, onTerminal(t, "explain", byHand, covers, "--work", "0.5"), "question 1 of 8: one lane more, lane 5")
		assert.Empty(t, onTerminal(t, "explain", byHand, covers, "--work", "0.5", "--quiet"))
	},
	"bench --format": func(t *testing.T) {
		path := instances(t)
		text, csv, json := laneplan(t, "bench", path), laneplan(t, "bench", path, "-f", "csv"), laneplan(t, "bench", path, "-f", "json")
		assert.Contains(t, text.stdout, "best known")
		assert.Contains(t, csv.stdout, "instance,versions")
		assert.Contains(t, json.stdout, `"seconds_to_1_percent"`)
	},
	"bench --time": func(t *testing.T) {
		f := parsed(t, benchTime)
		limit, _ := f.limits()
		assert.Equal(t, benchTime, limit, "the default")
		limit, _ = parsed(t, benchTime, "--time", "2s").limits()
		assert.Equal(t, 2*time.Second, limit)
	},
	"bench --work": func(t *testing.T) {
		assert.Equal(t, "work limit", benched(t, "--work", "0.01").Stop)
	},
	"bench --gap": func(t *testing.T) {
		assert.Equal(t, "gap", benched(t, "--gap", "40%").Stop)
	},
	"bench --seed": func(t *testing.T) {
		assert.Equal(t, int64(1), benched(t, "--gap", "40%").Seed)
		assert.Equal(t, int64(5), benched(t, "--gap", "40%", "--seed", "5").Seed)
	},
	"bench --workers": func(t *testing.T) {
		assert.Equal(t, 0, parsed(t, benchTime).options().Workers)
		assert.Equal(t, 3, parsed(t, benchTime, "--workers", "3").options().Workers)
	},
	"bench --engine": func(t *testing.T) {
		got := laneplan(t, "bench", instances(t), "--engine", filepath.Join(t.TempDir(), "no-such-engine"))
		assert.Equal(t, exitInput, got.code)
	},
	"bench --rivals": func(t *testing.T) {
		path := instances(t)
		assert.NotContains(t, laneplan(t, "bench", path).stdout, "textbook")
		got := laneplan(t, "bench", path, "--rivals", "--work", "3")
		require.Equal(t, exitDone, got.code, got.stderr)
		assert.Contains(t, got.stdout, "annealing")
	},
	"growth --format": func(t *testing.T) {
		text, csv, json := grown(t), grown(t, "-f", "csv"), grown(t, "-f", "json")
		assert.Contains(t, text, "12 lanes")
		assert.Contains(t, csv, "instance,versions")
		assert.Contains(t, json, `"target_gap": 0.02`)
	},
	"growth --time": func(t *testing.T) {
		assert.Contains(t, laneplan(t, "growth", "--help").stdout, "default 2m0s")
		limit, _ := parsed(t, growthTime, "--time", "2s").limits()
		assert.Equal(t, 2*time.Second, limit)
	},
	"growth --work": func(t *testing.T) {
		assert.Contains(t, grown(t, "--gap", "0", "--work", "0.01", "-f", "csv"), "work limit")
	},
	"growth --gap": func(t *testing.T) {
		assert.Contains(t, grown(t, "--gap", "40%"), "within 40 % of the cheapest")
		assert.Contains(t, grown(t, "--gap", "0"), "proven to be the cheapest")
	},
	"growth --seed": func(t *testing.T) {
		assert.Contains(t, grown(t, "--seed", "5", "-f", "json"), `"seed": 5`)
	},
	"growth --workers": func(t *testing.T) {
		assert.Equal(t, 3, parsed(t, growthTime, "--workers", "3").options().Workers)
	},
	"growth --engine": func(t *testing.T) {
		got := laneplan(t, "growth", "--engine", filepath.Join(t.TempDir(), "no-such-engine"))
		assert.Equal(t, exitInput, got.code)
	},
	"growth --most": func(t *testing.T) {
		assert.NotContains(t, grown(t), "v020")
		got := laneplan(t, "growth", "--most", "9")
		assert.Equal(t, exitInput, got.code)
		assert.Contains(t, got.stderr, "--most: want 10 versions or more, the smallest problem has so many; got 9")
	},
	"growth --plot": func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "growth.svg")
		grown(t, "--plot", path)
		svg, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Contains(t, string(svg), "Time to a gap of 2 %")
		assert.Equal(t, exitInput, laneplan(t, "growth", "--plot", filepath.Join(path, "below")).code)
	},
	"growth --quiet": func(t *testing.T) {
		assert.Contains(t, onTerminal(t, "growth", "--most", "10", "--work", "1"), "v010-l12")
		assert.Empty(t, onTerminal(t, "growth", "--most", "10", "--work", "1", "--quiet"))
	},
	"bench --quiet": func(t *testing.T) {
		assert.Contains(t, onTerminal(t, "bench", instances(t)), "covers")
		assert.Empty(t, onTerminal(t, "bench", instances(t), "--quiet"))
	},
}

// instances is a folder with one small instance.
func instances(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(covers)
	require.NoError(t, err)
	return filepath.Dir(file(t, "covers.yaml", string(text)))
}

// grown runs growth on its smallest problems, for a little work.
func grown(t *testing.T, args ...string) string {
	t.Helper()
	got := laneplan(t, append([]string{"growth", "--most", "10", "--work", "1"}, args...)...)
	require.Equal(t, exitDone, got.code, got.stderr)
	return got.stdout
}

// benched runs bench on an instance that is not proven at once.
func benched(t *testing.T, args ...string) report.Benchmark {
	t.Helper()
	got := laneplan(t, append([]string{"bench", "../../testdata/bench/v060-l04-round-s0300.yaml", "-f", "json"}, args...)...)
	require.Equal(t, exitDone, got.code, got.stderr)
	var result struct{ Bench []report.Benchmark }
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &result))
	require.Len(t, result.Bench, 1)
	return result.Bench[0]
}

func parsed(t *testing.T, defaultTime time.Duration, args ...string) *search {
	t.Helper()
	flags := pflag.NewFlagSet("", pflag.ContinueOnError)
	s := searchFlags(flags, defaultTime)
	require.NoError(t, flags.Parse(args))
	return s
}

// onTerminal is what a terminal would show on standard error.
func onTerminal(t *testing.T, args ...string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	a := &app{ctx: context.Background(), stdout: &stdout, stderr: &stderr, isTerminal: func(io.Writer) bool { return true }}
	require.Equal(t, exitDone, a.run(args))
	return stderr.String()
}

// generic are the flags that cobra gives every command.
var generic = []string{"help", "version"}

func TestEveryFlagChangesSomething(t *testing.T) {
	tested := map[string]bool{}
	for _, c := range (&app{}).command().Commands() {
		c.Flags().VisitAll(func(f *pflag.Flag) {
			name := c.Name() + " --" + f.Name
			for _, g := range generic {
				if f.Name == g {
					return
				}
			}
			tested[name] = true
			test, known := flagTests[name]
			if assert.True(t, known, "no test for %s", name) {
				t.Run(name, test)
			}
		})
	}
	for name := range flagTests {
		assert.True(t, tested[name], "no flag for the test of %s", name)
	}
}

func TestEveryCommandHasHelpAndAnExample(t *testing.T) {
	for _, c := range (&app{}).command().Commands() {
		if c.Name() == "help" || c.Name() == "completion" || c.Name() == "licences" {
			continue
		}
		assert.NotEmpty(t, c.Short, c.Name())
		assert.NotEmpty(t, c.Example, c.Name())
		assert.NotNil(t, c.RunE, c.Name())
	}
}

func TestEverySchemaIsOne(t *testing.T) {
	require.Len(t, schemas, 9)
	for name := range schemas {
		got := laneplan(t, "schema", name)
		require.Equal(t, exitDone, got.code, name)
		document, err := jsonschema.UnmarshalJSON(strings.NewReader(got.stdout))
		require.NoError(t, err, name)
		c := jsonschema.NewCompiler()
		require.NoError(t, c.AddResource("schema.json", document), name)
		_, err = c.Compile("schema.json")
		assert.NoError(t, err, name)
	}
}
