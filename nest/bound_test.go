package nest

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// With one lane for every version the sections are the sorted blocks; with
// spare lanes the bound is what the largest versions cannot avoid.
func TestSlotBound(t *testing.T) {
	p := Problem{Lanes: 2, Costs: Costs{Row: 1, Section: 10}}
	for i, q := range []int{100, 700, 400, 300, 900, 50} {
		p.Versions = append(p.Versions, Version{ID: string(rune('A' + i)), Quantity: q})
	}
	in := compile(&p)
	b := newBounder(in)
	assert.Equal(t, 900.0+400+100, b.slots(3))
	assert.Equal(t, 400.0+100+1+1, b.slots(4)) // 900 and 700 may be shared out
	assert.True(t, math.IsInf(b.slots(2), -1))
	assert.Equal(t, 900.0+400+100+30, b.cost(3))
}
