package jobs

import (
	"time"

	"github.com/shopspring/decimal"
)

// MinutesUntil counts the press's working minutes from its start to the end of
// a day. Every day's work begins at the time of day at which the press
// starts and lasts HoursADay, weekends and holidays too. Zero where no start
// is stated, and where the day is over by then.
func (p Press) MinutesUntil(day time.Time) decimal.Decimal {
	if p.Start.IsZero() || day.IsZero() {
		return decimal.Zero
	}
	return p.workingMinutes(day.AddDate(0, 0, 1))
}

// WorkingMinutes counts the press's working minutes from its start to a
// moment; zero where no start is stated or the moment is before it.
func (p Press) WorkingMinutes(moment time.Time) decimal.Decimal {
	if p.Start.IsZero() || moment.IsZero() {
		return decimal.Zero
	}
	return p.workingMinutes(moment)
}

func (p Press) workingMinutes(moment time.Time) decimal.Decimal {
	const wholeDay = 24 * 60
	left := int64(moment.Sub(p.Start) / time.Minute)
	if left <= 0 {
		return decimal.Zero
	}
	perDay := p.HoursADay.Mul(minutesAnHour)
	if perDay.IsZero() {
		perDay = decimal.NewFromInt(wholeDay)
	}
	days, rest := decimal.NewFromInt(left/wholeDay), decimal.NewFromInt(left%wholeDay)
	return days.Mul(perDay).Add(decimal.Min(rest, perDay))
}
