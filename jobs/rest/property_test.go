package rest_test

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
	"laneplan/jobs/rest"
	"laneplan/nest"
	"laneplan/solver/highs"
)

// drawn is a gang, a plan of it and what ran, all at random.
type drawn struct {
	gang    jobs.Gang
	problem nest.Problem
	plan    nest.Plan
	done    rest.Done
}

func draw(t *testing.T, rng *rand.Rand) (drawn, bool) {
	t.Helper()
	d := drawn{gang: shop()}
	g := &d.gang
	if rng.IntN(5) == 0 {
		*g = jobs.Gang{ID: "bare", Die: jobs.Die{Lanes: 4}, Bare: &jobs.BareCosts{Row: dec("1"), Section: dec("120"), LaneRun: dec("2")}, Policy: g.Policy}
	}
	one := func(n int) bool { return rng.IntN(n) == 0 }
	g.Orders = nil
	if one(4) {
		g.Die.FrameRows = 5
	}
	if one(5) {
		g.Rules.MostSections = 4
	}
	if one(5) {
		g.Rules.Apart = [][]string{{"A", "B"}}
	}
	for i := range 2 + rng.IntN(4) {
		v := jobs.Version{ID: string(rune('A' + i)), Quantity: 50 + rng.IntN(2000)}
		if g.Bare == nil && !one(3) {
			v.UnitPrice = dec("0.04")
		}
		v.AllOvers, v.OnePiece = one(4), one(8)
		if one(6) {
			v.NotLanes = []int{1 + rng.IntN(4)}
		}
		g.Orders = append(g.Orders, jobs.Order{ID: fmt.Sprint(i), Versions: []jobs.Version{v}})
	}
	var err error
	d.problem, err = g.Problem()
	require.NoError(t, err)
	result, err := nest.Solve(t.Context(), d.problem, nest.Options{Work: 0.05, Seed: 1, Unit: 0.01})
	if err != nil {
		return d, false
	}
	d.plan = result.Plan
	d.run(rng)
	return d, true
}

// run prints some sections, the last of them in part, and spoils something.
func (d *drawn) run(rng *rand.Rand) {
	n := rng.IntN(len(d.plan.Sections)) + 1
	for k := range n {
		rows := d.plan.Sections[k].Rows
		if k == n-1 {
			rows = rng.IntN(rows + rows/20 + 1)
		}
		d.done.Sections = append(d.done.Sections, rest.Printed{Section: k + 1, Printed: rest.Mark{Rows: rows}})
		if rows < 2 {
			continue
		}
		for range rng.IntN(3) {
			from := 1 + rng.IntN(rows-1)
			s := rest.Stretch{Section: k + 1, From: rest.Mark{Rows: from}, To: rest.Mark{Rows: min(rows, from+rng.IntN(60))}}
			if rng.IntN(3) > 0 {
				s.Lanes = []int{1 + rng.IntN(4), 1 + rng.IntN(4)}
			}
			d.done.Spoiled = append(d.done.Spoiled, s)
		}
		if rng.IntN(6) == 0 && len(d.done.Lanes) == 0 {
			d.done.Lanes = []rest.Lane{{Lane: 1 + rng.IntN(4), Section: k + 1, From: rest.Mark{Rows: 1 + rng.IntN(rows)}, Mended: rng.IntN(2) == 0}}
		}
	}
	d.done.OffPress = rng.IntN(6) == 0
}

// good counts label by label, in another way than the package does.
func (d drawn) good() []int {
	good := make([]int, len(d.problem.Versions))
	badFrom := map[int]bool{} // lanes that are spoiled by now
	for _, ran := range d.done.Sections {
		for row := 1; row <= ran.Printed.Rows; row++ {
			for _, l := range d.done.Lanes {
				if l.Section == ran.Section && row == l.From.Rows {
					badFrom[l.Lane] = true
				}
			}
			for lane, v := range d.plan.Sections[ran.Section-1].Lanes {
				bad := badFrom[lane+1]
				for _, s := range d.done.Spoiled {
					inLane := len(s.Lanes) == 0
					for _, l := range s.Lanes {
						inLane = inLane || l == lane+1
					}
					bad = bad || inLane && s.Section == ran.Section && s.From.Rows <= row && row <= s.To.Rows
				}
				if v != nest.Empty && !bad {
					good[v]++
				}
			}
		}
	}
	return good
}

// TestGoodAndRestTogetherAreWhatTheCustomersTake draws gangs, plans and print
// runs, and counts the labels of both again: from the sections alone, by
// nest.Check, and from the plan file that is written of the rest.
func TestGoodAndRestTogetherAreWhatTheCustomersTake(t *testing.T) {
	engine, err := highs.New(highs.Options{})
	require.NoError(t, err)
	defer engine.Close()
	rng := rand.New(rand.NewPCG(7, 6))
	plans, goOn, leftOut := 0, 0, 0
	for range 90 {
		d, ok := draw(t, rng)
		if !ok {
			continue
		}
		c, err := rest.Tally(d.gang, d.plan, d.done)
		require.NoError(t, err)
		good := d.good()
		assert.Equal(t, good, goods(c))
		todo := c.Rest(d.gang, d.done)
		if len(todo.Gang.Orders) == 0 {
			for i, v := range d.problem.Versions {
				require.GreaterOrEqual(t, good[i], v.Fewest)
			}
			continue
		}
		p, err := rest.Plan(t.Context(), todo, nest.Options{Engine: engine, Work: 0.05, Seed: 1, Unit: 0.01})
		var infeasible *nest.Infeasible
		var none *nest.NoPlan
		var faults jobs.Faults
		if errors.As(err, &none) { // in so little work
			continue
		}
		if errors.As(err, &infeasible) || errors.As(err, &faults) {
			require.True(t, len(d.done.Lanes) > 0 || d.gang.Rules.MostSections > 0, "with all lanes and sections there is a plan: %v", err)
			continue
		}
		require.NoError(t, err)
		plans++
		require.NoError(t, nest.Check(p.Problem, p.Result.Plan))
		assert.LessOrEqual(t, p.Result.Bound, p.Result.Plan.Cost.Total+1e-9)

		printed := map[string]int{}
		for _, s := range p.Result.Plan.Sections {
			for lane, v := range s.Lanes {
				if v != nest.Empty {
					printed[p.Problem.Versions[v].ID] += s.Rows
					for _, l := range d.done.Lanes {
						assert.False(t, l.Lane == lane+1 && !l.Mended, "a spoiled lane prints")
					}
				}
			}
		}
		for i, v := range d.problem.Versions {
			require.GreaterOrEqual(t, good[i]+printed[v.ID], v.Fewest, "version %s", v.ID)
			if good[i] >= v.Quantity {
				require.Zero(t, printed[v.ID], "version %s is printed twice", v.ID)
			}
			if good[i] >= v.Fewest && printed[v.ID] == 0 {
				leftOut++
			}
		}
		// Beyond what the customer still takes a label is scrap, as in any plan.
		count := nest.Recount(p.Problem, p.Result.Plan)
		for i, e := range p.Gang.Entries() {
			for j, v := range d.problem.Versions {
				if v.ID == e.Version.ID && v.Most > 0 {
					n := count.Versions[i]
					require.LessOrEqual(t, good[j]+n.Planned-n.Scrap, v.Most)
				}
			}
		}
		if p.Continues {
			goOn++
			require.Equal(t, todo.OnPress, p.Result.Plan.Sections[0].Lanes)
		}
		if len(p.Result.Plan.Sections) > 0 {
			throughFile(t, p)
		}
	}
	assert.Greater(t, plans, 50)
	assert.Greater(t, goOn, 15)
	assert.Greater(t, leftOut, 5)
}

// throughFile writes the rest as a plan file that holds its job, reads it and
// recounts it.
func throughFile(t *testing.T, p rest.Planned) {
	t.Helper()
	described, err := planfile.Describe(p.Gang, p.Problem, p.Result, planfile.Run{})
	require.NoError(t, err)
	require.NoError(t, described.SetJob(p.Gang))
	var b bytes.Buffer
	require.NoError(t, planfile.Write(&b, planfile.Document{Gangs: []planfile.Gang{described}}))
	document, err := planfile.Read(b.Bytes(), "rest.json")
	require.NoError(t, err)
	stored, err := document.Stored(document.Gangs[0])
	require.NoError(t, err)
	problem, err := stored.Problem()
	require.NoError(t, err)
	assert.Equal(t, p.Problem, problem)
	_, err = planfile.Verify(document, stored, problem)
	require.NoError(t, err)
}
