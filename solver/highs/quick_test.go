package highs

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/solver"
)

func TestTheExampleOfPackageSolver(t *testing.T) {
	e, err := New(Options{})
	require.NoError(t, err)
	defer e.Close()
	m := solver.Model{
		Columns: []solver.Column{{Name: "x", Cost: 1, Upper: solver.Inf, Integer: true}},
		Rows:    []solver.Row{{Name: "need", Lower: 2.5, Upper: solver.Inf, Entries: []solver.Entry{{Column: 0, Value: 1}}}},
	}
	r, err := e.Solve(context.Background(), &m, solver.Options{})
	require.NoError(t, err)
	assert.Equal(t, solver.Optimal, r.Status)
	assert.Equal(t, 3.0, r.Values[0])
}
