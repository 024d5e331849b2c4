package pool

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
)

func TestGangsOfOnePressTakeTurns(t *testing.T) {
	shop := testShop()
	shop.Presses = shop.Presses[:1]
	shop.Presses[0].Start = on(today).Add(6 * time.Hour)
	shop.Presses[0].HoursADay, shop.Presses[0].Busy = dec("1"), dec("20")
	lines := []jobs.OrderLine{
		line("1 a jar paper 900 2026-12-02"), line("2 b jar film 900 2026-12-01"),
		line("3 c lid paper 900 2026-12-01", rush), line("4 d lid film 900 2026-12-02"),
	}
	p, err := Pool(shop, lines, on(today))
	require.NoError(t, err)
	require.Empty(t, p.Out)
	busy := dec("20")
	for turn, order := range []string{"3", "2", "1", "4"} {
		found := false
		for _, g := range p.Gangs {
			if g.Orders[0].ID == order {
				found = true
				assert.Equal(t, turn+1, g.Turn, order)
				assert.True(t, busy.Round(6).Equal(g.Press.Busy), "order %s waits %s minutes, want %s", order, g.Press.Busy, busy)
				busy = busy.Add(g.Minutes)
			}
		}
		require.True(t, found, order)
	}
}

func TestAnOrderThatCannotBeInTimeIsLate(t *testing.T) {
	shop := testShop()
	shop.Presses = shop.Presses[:1]
	press := &shop.Presses[0]
	press.Start, press.HoursADay = on(today).Add(6*time.Hour), dec("2")
	lines := []jobs.OrderLine{line("1 a jar paper 4000 2026-11-30"), line("2 b jar paper 900 2026-12-02")}
	p, err := Pool(shop, lines, on(today))
	require.NoError(t, err)
	require.Len(t, p.Gangs, 1)
	assert.Empty(t, p.Gangs[0].Late, "two hours are enough")

	press.Busy = dec("118")
	p, err = Pool(shop, lines, on(today))
	require.NoError(t, err)
	assert.Equal(t, []Late{{Order: "1", Due: on("2026-11-30")}}, p.Gangs[0].Late, "two minutes are not, whatever the plan")
	assert.True(t, p.Gangs[0].Orders[0].Rush)
	assert.True(t, p.Gangs[0].Orders[0].Due.IsZero())
	assert.False(t, p.Gangs[0].Orders[1].Rush)
	assert.Equal(t, on("2026-12-02"), p.Gangs[0].Orders[1].Due)

	undated, bound := p.Gangs[0].WithoutDates()
	assert.True(t, bound)
	assert.True(t, undated.Orders[1].Due.IsZero())
	assert.True(t, undated.Orders[1].Rush, "what is due first of the rest")
	_, bound = undated.WithoutDates()
	assert.False(t, bound)
}

// Whatever the book, gangs of a press take turns one after another, by date.
func TestTurnsOfAnyBook(t *testing.T) {
	waits := 0
	for seed := range uint64(60) {
		shop, lines := randomBook(rand.New(rand.NewPCG(seed, 9)))
		p, err := Pool(shop, lines, on(today))
		require.NoError(t, err)
		p, err = SplitGangs(t.Context(), shop, p, byEstimate)
		require.NoError(t, err)
		turns := map[string]map[int]Gang{}
		for _, g := range p.Gangs {
			if turns[g.Press.ID] == nil {
				turns[g.Press.ID] = map[int]Gang{}
			}
			turns[g.Press.ID][g.Turn] = g
		}
		for press, gangs := range turns {
			var busy decimal.Decimal
			for turn := 1; turn <= len(gangs); turn++ {
				g, is := gangs[turn]
				require.True(t, is, "press %s has turn %d", press, turn)
				require.True(t, busy.Round(6).Equal(g.Press.Busy))
				require.True(t, g.Minutes.IsPositive())
				busy = busy.Add(g.Minutes)
				if before, is := gangs[turn-1]; is {
					require.False(t, g.first(p).Before(before.first(p)))
					waits++
				}
			}
		}
	}
	assert.Positive(t, waits)
}
