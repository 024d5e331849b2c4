package jobs

import (
	"time"

	"github.com/shopspring/decimal"
)

// MinutesUntil counts the press's working minutes from now on to the end of a
// day: those of Press.MinutesUntil, less what is gone where the work has
// begun. Zero where the time is over.
func (g Gang) MinutesUntil(day time.Time) decimal.Decimal {
	minutes := g.Press.MinutesUntil(day)
	if g.Begun != nil {
		minutes = decimal.Max(decimal.Zero, minutes.Sub(g.Begun.MinutesGone))
	}
	return minutes
}

// rollUsed is web that is gone from the parent roll before the set-up.
func (g Gang) rollUsed() Length {
	if g.Begun == nil {
		return 0
	}
	return g.Begun.RollUsed
}
