package intake_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/intake"
	"laneplan/nest"
)

func TestTheDemoIsARealGang(t *testing.T) {
	g, err := intake.ReadFile("../../testdata/demo/spice-mill.yaml")
	require.NoError(t, err)
	p, err := g.Problem()
	require.NoError(t, err)
	require.NoError(t, nest.Validate(p))
	assert.Equal(t, "spice-mill", g.ID)
	assert.GreaterOrEqual(t, len(p.Versions), 14)
	assert.Greater(t, len(g.Orders), 2)
	assert.Equal(t, 4, p.Lanes)
	for _, v := range p.Versions {
		assert.GreaterOrEqual(t, v.Quantity, 250, v.ID)
		assert.LessOrEqual(t, v.Quantity, 6000, v.ID)
	}
}

func TestTheBareProblem(t *testing.T) {
	g, err := intake.ReadFile("../../testdata/bare/covers.yaml")
	require.NoError(t, err)
	p, err := g.Problem()
	require.NoError(t, err)
	assert.Equal(t, nest.Problem{
		Lanes: 4, Costs: nest.Costs{Row: 13.44, Section: 18676},
		Versions: []nest.Version{{ID: "A", Quantity: 4500, Fewest: 4500}, {ID: "B", Quantity: 9000, Fewest: 9000}, {ID: "C", Quantity: 16000, Fewest: 16000}},
	}, p)
	assert.Equal(t, "covers", g.ID, "the file's name where it gives the gang none")
}
