package nest

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/solver/highs"
)

// covers is the three-cover example of the cover printing collection (D.
// Romero, UNAM); the optimum 136472.00 is our own.
func covers() *instance {
	return compile(&Problem{Lanes: 4, Costs: Costs{Row: 13.44, Section: 18676},
		Versions: []Version{{ID: "A", Quantity: 4500}, {ID: "B", Quantity: 9000}, {ID: "C", Quantity: 16000}}})
}

func testEngine(t testing.TB) *highs.Engine {
	engine, err := highs.New(highs.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, engine.Close()) })
	return engine
}

func TestLengthsAreBestForTheirLanes(t *testing.T) {
	in := covers()
	wasteful := &draft{rows: []int{9000, 9000}, lanes: []int16{2, 2, 2, 2, 0, 1, 1, 2}}
	got, work, err := in.resize(context.Background(), testEngine(t), wasteful)
	require.NoError(t, err)
	assert.Positive(t, work)
	assert.Equal(t, []int{4500, 2875}, got.rows)
	assert.InDelta(t, 136472, in.money(got.cost), 1e-6)
}

func TestSectionsByLengthAreBestForTheirLengths(t *testing.T) {
	in := covers()
	for _, tt := range []struct {
		name string
		pool []*draft
		want float64
	}{
		// Sections of 4500 (A, B, B) and 4000 (C alone) are one way.
		{"natural lengths alone", nil, 13.44*8500 + 2*18676},
		{"with the best plan's lengths", []*draft{{rows: []int{2875, 4500}}}, 136472},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, _, err := in.reindex(context.Background(), testEngine(t), tt.pool, indexedWork)
			require.NoError(t, err)
			require.NotNil(t, got)
			assert.LessOrEqual(t, in.money(got.cost), tt.want+1e-6)
			assert.GreaterOrEqual(t, in.money(got.cost), 136472-1e-6)
			assert.NoError(t, Check(*in.p, in.plan(got)))
		})
	}
}

// TestSectionsUnderRules: the programme indexed by section keeps every rule
// that it states, and finds what a wasteful plan of the same lengths does not.
func TestSectionsUnderRules(t *testing.T) {
	engine := testEngine(t)
	base := func() Problem {
		return Problem{Lanes: 4, Costs: Costs{Row: 1, Section: 50}, Versions: []Version{
			{ID: "A", Quantity: 200}, {ID: "B", Quantity: 200}, {ID: "C", Quantity: 100}, {ID: "D", Quantity: 100}}}
	}
	for _, tt := range []struct {
		name string
		rule func(*Problem)
		want float64 // of the sections of 200, 100 and 50 rows
	}{
		{"no rule that binds", func(p *Problem) { p.Limits.VersionsPerSection = 9 }, 100 + 50 + 50 + 50},
		{"one piece", func(p *Problem) { p.Versions[0].OnePiece, p.Versions[1].OnePiece = true, true }, 200 + 50},
		{"versions in a section", func(p *Problem) { p.Limits.VersionsPerSection = 2 }, 100 + 50 + 50 + 50},
		{"together", func(p *Problem) { p.Together = [][]int{{0, 2}} }, 100 + 50 + 50 + 50},
		{"most lanes", func(p *Problem) {
			for i := range p.Versions {
				p.Versions[i].MostLanes = 1
			}
		}, 200 + 50},
		{"least lanes", func(p *Problem) { p.Versions[2].LeastLanes, p.Versions[3].LeastLanes = 2, 2 }, 100 + 50 + 50 + 50},
		{"bound to a lane", func(p *Problem) { p.Versions[0].OnlyLanes, p.Versions[1].OnlyLanes = []int{1}, []int{2} }, 200 + 50},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := base()
			tt.rule(&p)
			require.NoError(t, Validate(p))
			in := compile(&p)
			require.NotNil(t, in.rules)
			got, work, err := in.reassign(context.Background(), engine, []*draft{{rows: []int{200, 100, 50}}}, 1)
			require.NoError(t, err)
			require.NotNil(t, got)
			assert.Positive(t, work)
			assert.InDelta(t, tt.want, got.cost, 1e-9)
			assert.NoError(t, Check(p, in.plan(got)))
		})
	}
}
