package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/compare"
	"laneplan/jobs/intake"
	"laneplan/jobs/planfile"
	"laneplan/nest"
	"laneplan/solver"
	"laneplan/solver/highs"
)

// Every rule of the job file: what a file costs without it and with it, and
// what the plan then looks like. The costs were counted by hand.

const rulesFolder = "../../testdata/rules"

// bare is a bare problem: a row costs 1, a section 10.
func bare(lanes, rest string) string {
	return "laneplan: 1\nlanes: " + lanes + "\ncosts: {row: 1, section: 10}\n" + rest
}

const twoVersions = "versions:\n  - {id: A, quantity: 100}\n  - {id: B, quantity: 100}\n"

// shop is a job file of two lanes. A row is 100 mm of a web 200 mm wide and
// costs 0.01 of time and 0.01 of stock, a changeover 3.50, the set-up 17.
func shop(die, stock, press, rest string) string {
	return "laneplan: 1\ncurrency: EUR\n" +
		"die: {across: 80mm, around: 97mm, lanes: 2, gap_across: 3mm, gap_around: 3mm, web: 200mm" + die + "}\n" +
		"stock: {id: paper, price_per_m2: 0.50" + stock + "}\n" +
		"press: {speed: 10m/min, hourly_rate: 60, setup_minutes: 15, setup_web: 20m, changeover_minutes: 3, changeover_web: 5m" + press + "}\n" + rest
}

// lanesOf a section as text: "A B -".
func lanesOf(g planfile.Gang, section int) string {
	var lanes []string
	for _, id := range g.Sections[section].Lanes {
		if id == nil {
			lanes = append(lanes, "-")
		} else {
			lanes = append(lanes, *id)
		}
	}
	return strings.Join(lanes, " ")
}

func rowsOf(g planfile.Gang) (rows []int) {
	for _, s := range g.Sections {
		rows = append(rows, s.Rows)
	}
	return rows
}

var ruleTests = []struct {
	name, field             string
	without, with           string
	costsWithout, costsWith string
	holds                   func(t *testing.T, without, with planfile.Gang)
}{
	// 1. Unders and overs.
	{"unders of the file", "unders", bare("2", "versions: [{id: A, quantity: 100}, {id: B, quantity: 90}]\n"),
		bare("2", "unders: 10%\nversions: [{id: A, quantity: 100}, {id: B, quantity: 90}]\n"), "110.00", "100.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, 10, with.Versions[0].Unders) }},
	{"unders of an order", "unders", bare("2", "orders: [{id: x, versions: [{id: A, quantity: 100}]}, {id: y, versions: [{id: B, quantity: 90}]}]\n"),
		bare("2", "orders: [{id: x, unders: 5%, versions: [{id: A, quantity: 100}]}, {id: y, versions: [{id: B, quantity: 90}]}]\n"), "110.00", "105.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, []int{95}, rowsOf(with)) }},
	{"unders of a version go before the file's", "unders", bare("2", "unders: 10%\nversions: [{id: A, quantity: 100}, {id: B, quantity: 90}]\n"),
		bare("2", "unders: 10%\nversions: [{id: A, quantity: 100, unders: 2%}, {id: B, quantity: 90}]\n"), "100.00", "108.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, []int{98}, rowsOf(with)) }},
	{"unders are weighed in money", "unit_price", bare("2", "unders: 10%\nversions: [{id: A, quantity: 100}, {id: B, quantity: 90}]\n"),
		bare("2", "unders: 10%\nunit_price: 2\nversions: [{id: A, quantity: 100}, {id: B, quantity: 90}]\n"), "100.00", "110.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, 0, with.Versions[0].Unders) }},
	{"overs that are billed earn money", "bill_overs", bare("2", "unit_price: 2\novers: 10%\nversions: [{id: A, quantity: 100}]\n"),
		bare("2", "unit_price: 2\novers: 10%\nbill_overs: true\nversions: [{id: A, quantity: 100}]\n"), "60.00", "45.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, []int{55}, rowsOf(with)) }},
	{"overs beyond the tolerance are scrap", "overs", bare("2", "versions: [{id: A, quantity: 100}, {id: B, quantity: 90}]\n"),
		bare("2", "unit_price: 0.50\nbill_overs: true\novers: 5%\nversions: [{id: A, quantity: 100}, {id: B, quantity: 90}]\n"), "110.00", "108.00",
		// B: 4 of 10 overs are within 5 % and earn 0.50 each.
		func(t *testing.T, without, with planfile.Gang) {
			assert.Zero(t, without.Versions[1].Scrap)
			assert.Equal(t, 6, with.Versions[1].Scrap)
		}},
	{"scrap and overs pay for their ink", "ink_per_label", bare("3", "versions: [{id: A, quantity: 100}, {id: B, quantity: 10}]\n"),
		bare("3", "ink_per_label: 2\nversions: [{id: A, quantity: 100}, {id: B, quantity: 10}]\n"), "57.00", "279.00",
		// Without: A A B for 5 rows, A A A for 32. With: one label beyond the orders.
		func(t *testing.T, without, with planfile.Gang) {
			assert.Greater(t, without.Totals.Overs, 0)
			assert.Len(t, with.Sections, 2)
			assert.Equal(t, 1, with.Totals.Overs)
		}},
	// 2. Lanes.
	{"a lane out of use", "closed_lanes", bare("2", twoVersions), bare("2", "closed_lanes: [2]\n"+twoVersions), "110.00", "220.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, "B -", lanesOf(with, 0)) }},
	{"at least so many lanes", "least_lanes", bare("2", twoVersions), bare("2", strings.Replace(twoVersions, "100}", "100, least_lanes: 2}", 1)), "110.00", "120.00", nil},
	{"at most so many lanes", "most_lanes", bare("2", "versions: [{id: A, quantity: 100}]\n"), bare("2", "versions: [{id: A, quantity: 100, most_lanes: 1}]\n"), "60.00", "110.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, []int{100}, rowsOf(with)) }},
	{"bound to a lane", "only_lanes", bare("2", twoVersions), bare("2", strings.Replace(twoVersions, "100}", "100, only_lanes: [2]}", 1)), "110.00", "110.00",
		func(t *testing.T, without, with planfile.Gang) {
			assert.Equal(t, "A B", lanesOf(without, 0))
			assert.Equal(t, "B A", lanesOf(with, 0))
		}},
	{"kept out of a lane", "not_lanes", bare("2", twoVersions), bare("2", strings.Replace(twoVersions, "100}", "100, not_lanes: [1]}", 1)), "110.00", "110.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, "B A", lanesOf(with, 0)) }},
	{"both bound to one lane", "only_lanes", bare("2", twoVersions), bare("2", "only_lanes: [1]\n"+twoVersions), "110.00", "220.00", nil},
	// 3. Together and apart.
	{"one piece", "one_piece", bare("3", "versions: [{id: A, quantity: 400}, {id: B, quantity: 100}]\n"), bare("3", "versions: [{id: A, quantity: 400, one_piece: true}, {id: B, quantity: 100}]\n"), "187.00", "188.00", nil},
	{"together", "together", bare("2", "versions: [{id: A, quantity: 200}, {id: B, quantity: 100}]\n"), bare("2", "versions: [{id: A, quantity: 200}, {id: B, quantity: 100}]\nrules: {together: [[A, B]]}\n"), "170.00", "210.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Len(t, with.Sections, 1) }},
	{"apart", "apart", bare("2", twoVersions), bare("2", twoVersions+"rules: {apart: [[A, B]]}\n"), "110.00", "120.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Len(t, with.Sections, 2) }},
	{"apart but for an empty lane", "apart", bare("3", twoVersions), bare("3", twoVersions+"rules: {apart: [[A, B]], most_sections: 1}\n"), "87.00", "110.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, "B - A", lanesOf(with, 0)) }},
	{"few versions to a section", "versions_per_section", bare("2", twoVersions), bare("2", twoVersions+"rules: {versions_per_section: 1}\n"), "110.00", "120.00", nil},
	// 4. Lengths.
	{"whole frames", "frame_rows", bare("2", twoVersions), bare("2", "frame_rows: 30\n"+twoVersions), "110.00", "130.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, []int{120}, rowsOf(with)) }},
	{"no section under so many rows", "least_rows", bare("2", twoVersions), bare("2", twoVersions+"rules: {least_rows: 150}\n"), "110.00", "160.00", nil},
	{"no section under so many metres", "least_section", shop("", "", "", twoVersions), shop("", "", "", twoVersions+"rules: {least_section: 15m}\n"), "19.00", "20.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, []int{150}, rowsOf(with)) }},
	{"whole rolls required", "whole_rolls", bare("1", "labels_per_roll: 30\n"+twoVersions),
		bare("1", "labels_per_roll: 30\n"+twoVersions+"rules: {whole_rolls: require}\n"), "220.00", "240.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, []int{120, 100}, rowsOf(with)) }},
	{"whole rolls preferred where that pays", "whole_roll_saving", bare("1", "labels_per_roll: 26\n"+twoVersions),
		bare("1", "labels_per_roll: 26\n"+twoVersions+"rules: {whole_rolls: prefer, whole_roll_saving: 8}\n"), "220.00", "216.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, []int{104, 100}, rowsOf(with)) }},
	{"whole rolls not where that does not pay", "whole_roll_saving", bare("1", "labels_per_roll: 26\n"+twoVersions+"rules: {whole_rolls: prefer, whole_roll_saving: 8}\n"),
		bare("1", "labels_per_roll: 26\n"+twoVersions+"rules: {whole_rolls: prefer, whole_roll_saving: 3}\n"), "216.00", "220.00", nil},
	// 5. Order of sections.
	{"rush first", "rush", bare("1", "orders: [{id: x, versions: [{id: A, quantity: 100}]}, {id: y, versions: [{id: B, quantity: 50}]}]\n"),
		bare("1", "orders: [{id: x, rush: true, versions: [{id: A, quantity: 100}]}, {id: y, versions: [{id: B, quantity: 50}]}]\n"), "170.00", "170.00",
		func(t *testing.T, without, with planfile.Gang) {
			assert.Equal(t, "B", lanesOf(without, 0))
			assert.Equal(t, "A", lanesOf(with, 0))
		}},
	// A takes 30 minutes in both lanes, B 5, the set-up 15, a changeover 3; a
	// day has 48.
	{"due in the press's hours", "due", shop("", "", ", start: 2026-11-30 06:00, hours_a_day: 0.8", "orders: [{id: x, versions: [{id: A, quantity: 6000}]}, {id: y, versions: [{id: B, quantity: 1000}]}]\n"),
		shop("", "", ", start: 2026-11-30 06:00, hours_a_day: 0.8", "orders: [{id: x, due: 2026-11-30, versions: [{id: A, quantity: 6000}]}, {id: y, versions: [{id: B, quantity: 1000}]}]\n"), "90.50", "90.50",
		func(t *testing.T, without, with planfile.Gang) {
			assert.Equal(t, "B B", lanesOf(without, 0))
			assert.Equal(t, "A A", lanesOf(with, 0))
		}},
	{"lanes are carried where a lane run costs", "lane_run_cost", bare("2", "versions: [{id: A, quantity: 100}, {id: B, quantity: 250}]\n"),
		strings.Replace(bare("2", "versions: [{id: A, quantity: 100}, {id: B, quantity: 250}]\n"), "10}", "10, lane_run: 5}", 1), "195.00", "210.00",
		func(t *testing.T, without, with planfile.Gang) {
			assert.Empty(t, without.Sections[1].Carried)
			assert.Len(t, with.Sections[1].Carried, 1)
		}},
	{"so many sections", "sections", bare("2", twoVersions), bare("2", twoVersions+"rules: {sections: 2}\n"), "110.00", "120.00",
		func(t *testing.T, _, with planfile.Gang) { assert.Len(t, with.Sections, 2) }},
	{"at most so many sections", "most_sections", bare("2", "versions: [{id: A, quantity: 200}, {id: B, quantity: 100}]\n"), bare("2", "versions: [{id: A, quantity: 200}, {id: B, quantity: 100}]\nrules: {most_sections: 1}\n"), "170.00", "210.00", nil},
	// 6. Stock rolls.
	// The set-up takes 200 of 1000 rows: the first roll has 800 left.
	{"parent rolls end", "roll_length", shop("", "", "", "versions: [{id: A, quantity: 3000}]\n"),
		shop("", ", roll_length: 100m, splice_web: 2m, splice_minutes: 1", "", "versions: [{id: A, quantity: 3000}]\n"), "47.00", "48.20",
		func(t *testing.T, _, with planfile.Gang) { assert.Equal(t, []int{800}, with.Sections[0].SplicesAfter) }},
	{"a splice dearer than a changeover", "splice_minutes", shop("", ", roll_length: 100m, splice_web: 2m, splice_minutes: 1", "", "versions: [{id: A, quantity: 3000}]\n"),
		shop("", ", roll_length: 100m, splice_web: 2m, splice_minutes: 40", "", "versions: [{id: A, quantity: 3000}]\n"), "48.20", "50.50",
		func(t *testing.T, _, with planfile.Gang) {
			assert.Equal(t, []int{800, 700}, rowsOf(with))
			assert.True(t, with.Sections[1].FreshRoll)
		}},
	{"no splice in a customer roll", "most_splices", shop("", ", roll_length: 100m, splice_web: 2m, splice_minutes: 1", "", "labels_per_roll: 300\nversions: [{id: A, quantity: 3000}]\n"),
		shop("", ", roll_length: 100m, splice_web: 2m, splice_minutes: 1", "", "labels_per_roll: 300\nmost_splices: 0\nversions: [{id: A, quantity: 3000}]\n"), "48.20", "48.20",
		func(t *testing.T, without, with planfile.Gang) {
			assert.Equal(t, []int{800}, without.Sections[0].SplicesAfter)
			assert.Equal(t, []int{600}, with.Sections[0].SplicesAfter)
		}},
	// 7. Fillers.
	{"a filler is left out where it costs more here", "filler", bare("1", "orders: [{id: x, versions: [{id: A, quantity: 100}]}, {id: y, versions: [{id: B, quantity: 90}]}]\n"),
		bare("1", "orders: [{id: x, versions: [{id: A, quantity: 100}]}, {id: y, filler: true, versions: [{id: B, quantity: 90, elsewhere_cost: 5}]}]\n"), "210.00", "115.00",
		func(t *testing.T, _, with planfile.Gang) { assert.True(t, with.Versions[1].LeftOut) }},
	{"a filler runs where it costs less here", "elsewhere_cost", bare("1", "orders: [{id: x, versions: [{id: A, quantity: 100}]}, {id: y, filler: true, versions: [{id: B, quantity: 90, elsewhere_cost: 5}]}]\n"),
		bare("1", "orders: [{id: x, versions: [{id: A, quantity: 100}]}, {id: y, filler: true, versions: [{id: B, quantity: 90, elsewhere_cost: 105}]}]\n"), "115.00", "210.00",
		func(t *testing.T, _, with planfile.Gang) { assert.False(t, with.Versions[1].LeftOut) }},
}

// planOf plans a file with little work and checks the plan.
func planOf(t *testing.T, engine solver.Solver, text string) planfile.Gang {
	t.Helper()
	gang, err := intake.Parse("rule.yaml", []byte(text))
	require.NoError(t, err)
	problem, err := gang.Problem()
	require.NoError(t, err)
	r, err := nest.Solve(context.Background(), problem, nest.Options{Engine: engine, Work: 0.5, Seed: 1, Unit: compare.Unit(gang)})
	require.NoError(t, err)
	require.NoError(t, nest.Check(problem, r.Plan))
	g, err := planfile.Describe(gang, problem, r, planfile.Run{})
	require.NoError(t, err)
	return g
}

func TestEveryRuleChangesThePlan(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	engine, err := highs.New(highs.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, engine.Close()) })
	for _, tt := range ruleTests {
		t.Run(tt.name, func(t *testing.T) {
			without, with := planOf(t, engine, tt.without), planOf(t, engine, tt.with)
			assert.Equal(t, tt.costsWithout, without.Cost.Total.String(), "without")
			assert.Equal(t, tt.costsWith, with.Cost.Total.String(), "with")
			if tt.holds != nil {
				tt.holds(t, without, with)
			}
			assert.Contains(t, string(readme), "`"+tt.field+"`", "the reference of the job file")
		})
	}
}

// Every example of rules in testdata runs, and stands in the README.
func TestExamplesOfRules(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	paths, err := filepath.Glob(filepath.Join(rulesFolder, "*.yaml"))
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(paths), 7)
	for _, path := range paths {
		t.Run(filepath.Base(path), func(t *testing.T) {
			assert.Contains(t, string(readme), "`testdata/rules/"+filepath.Base(path)+"`")
			plan := filepath.Join(t.TempDir(), "plan.json")
			got := laneplan(t, "plan", path, "--work", "0.5", "-o", plan)
			require.Equal(t, exitDone, got.code, got.stderr)
			got = laneplan(t, "verify", plan, path)
			assert.Equal(t, exitDone, got.code, got.stderr)
		})
	}
}

// refusals are the files that no plan can meet: the rules that the message
// names, by field, and the version.
var refusals = map[string]struct {
	sentence string   // of the message
	fields   []string // with line and column, all of them
}{
	"apart": {"versions fennel and dill never run side by side, versions dill and fennel share their sections and the die has 2 lanes",
		[]string{"6:26: quantity", "10:14: together", "11:11: apart"}},
	"closed-lanes": {"version dill may run in lane 3 only and lane 3 is out of use",
		[]string{"5:19: closed_lanes", "8:43: only_lanes"}},
	"due": {"version dill is due 60 minutes after the start and version sumac is due 60 minutes after the start; that takes at least 65 minutes, set-up included",
		[]string{"9:10: due", "12:10: due"}},
	"fillers": {"versions dill, thyme and chives share their sections and the die has 2 lanes",
		[]string{"7:37: quantity", "14:14: together"}},
	"frames": {"sections are whole frames of 1000 rows and version dill is due 60 minutes after the start; that takes at least 65 minutes, set-up included",
		[]string{"4:103: frame_rows", "9:10: due"}},
	"least-lanes": {"version dill wants at least 3 lanes of a section, lane 2 is out of use and the die has 3 lanes",
		[]string{"5:16: closed_lanes", "7:44: least_lanes"}},
	"least-section": {"a section has at least 5000 rows and version dill is due 60 minutes after the start; that takes at least 65 minutes, set-up included",
		[]string{"9:10: due", "11:24: least_section"}},
	"most-lanes": {"version dill takes at most 1 lane of a section and version dill is due 60 minutes after the start; that takes at least 65 minutes, set-up included",
		[]string{"9:10: due", "10:55: most_lanes"}},
	"most-sections": {"3 versions must run (dill, fennel and sumac), there is at most 1 section and the die has 2 lanes",
		[]string{"6:26: quantity", "7:28: quantity", "8:27: quantity", "9:24: most_sections"}},
	"not-lanes": {"version dill may run in lane 2 only and lane 2 is out of use",
		[]string{"5:16: closed_lanes", "7:42: not_lanes"}},
	"one-piece": {"all of version dill is to run in one section, all of version fennel is to run in one section, there are exactly 3 sections and the die has 2 lanes",
		[]string{"5:12: one_piece", "9:19: sections"}},
	"rush": {"rush version sumac runs first and version dill is due 60 minutes after the start; that takes at least 65 minutes, set-up included",
		[]string{"9:11: rush", "12:10: due"}},
	"sections": {"version dill may run in lane 1 only, version fennel may run in lane 1 only, version sumac may run in lane 1 only, there are exactly 2 sections and the die has 2 lanes",
		[]string{"6:43: only_lanes", "7:46: only_lanes", "8:44: only_lanes", "9:19: sections"}},
	"splices": {"a parent roll holds 500 rows, version dill takes no splice in a customer roll of 900 labels and all of version dill is to run in one section",
		[]string{"5:53: roll_length", "8:67: most_splices", "8:81: one_piece"}},
	"together": {"versions dill, fennel and sumac share their sections, a section holds at most 2 versions and the die has 4 lanes",
		[]string{"8:27: quantity", "10:25: versions_per_section", "11:14: together"}},
	"unders": {"version dill is due 60 minutes after the start; that takes at least 60.5 minutes, set-up included",
		[]string{"9:10: due"}},
	"versions-per-section": {"3 versions must run (dill, fennel and sumac), a section holds at most 1 version, there are at most 2 sections and the die has 4 lanes",
		[]string{"6:26: quantity", "7:28: quantity", "8:27: quantity", "9:31: versions_per_section", "9:49: most_sections"}},
	"whole-rolls": {"version sumac must run (2000 labels), all sections but the last are whole customer rolls and version dill is due 60 minutes after the start; that takes at least 65 minutes, set-up included",
		[]string{"9:10: due", "12:38: quantity", "13:22: whole_rolls"}},
}

func TestEveryRuleIsRefusedWhereItCannotBeMet(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join(rulesFolder, "refused", "*.yaml"))
	require.NoError(t, err)
	for _, path := range paths {
		name := strings.TrimSuffix(filepath.Base(path), ".yaml")
		t.Run(name, func(t *testing.T) {
			want, known := refusals[name]
			require.True(t, known)
			got := laneplan(t, "plan", path, "--work", "0.5")
			assert.Equal(t, exitInfeasible, got.code, got.stderr)
			assert.Empty(t, got.stdout)
			sentence, rules, _ := strings.Cut(got.stderr, "\n")
			assert.Equal(t, "laneplan: "+path+": no plan can meet the demands: "+want.sentence, sentence)
			assert.Contains(t, rules, "These rules clash")
			var fields []string
			for line := range strings.Lines(rules) {
				if place, ok := strings.CutPrefix(line, "  "+path+":"); ok {
					parts := strings.SplitN(place, ": ", 3)
					fields = append(fields, parts[0]+": "+parts[1])
				}
			}
			assert.Equal(t, want.fields, fields)
		})
	}
	assert.Len(t, paths, len(refusals))
}
