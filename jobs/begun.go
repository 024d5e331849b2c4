package jobs

import (
	"time"

	"github.com/shopspring/decimal"
)

// MinutesUntil counts the press's working minutes from now on to the end of a
// day: those of Press.MinutesUntil, less what is gone where the work has
// begun. Zero where the time is over.
func (g Gang) MinutesUntil(day time.Time) decimal.Decimal {
	press := g.Press
	if g.Begun != nil {
		press.Busy = g.Begun.MinutesGone // the other work was before that
	}
	return press.MinutesUntil(day)
}

// rollUsed is web that is gone from the parent roll before the set-up.
func (g Gang) rollUsed() Length {
	if g.Begun == nil {
		return 0
	}
	return g.Begun.RollUsed
}
