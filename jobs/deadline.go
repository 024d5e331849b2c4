package jobs

import (
	"time"

	"github.com/shopspring/decimal"

	"laneplan/nest"
)

// MinutesUntil counts the press's working minutes from its start, less those
// in which it is busy, to the end of a day. Every day's work begins at the
// time of day at which the press starts and lasts HoursADay, weekends and
// holidays too. Zero where no start is stated, and where the day is over by
// then.
func (p Press) MinutesUntil(day time.Time) decimal.Decimal {
	if p.Start.IsZero() || day.IsZero() {
		return decimal.Zero
	}
	return decimal.Max(decimal.Zero, p.workingMinutes(day.AddDate(0, 0, 1)).Sub(p.Busy))
}

// Begin is when work begins that waits for so many of the press's working
// minutes since its start, to the minute; zero where no start is stated.
func (p Press) Begin(minutes decimal.Decimal) time.Time {
	days, rest := minutes.QuoRem(p.minutesADay(), 0)
	return p.moment(days, rest)
}

// Moment is when so many of the press's working minutes since its start are
// over: as Begin, but the end of a day's work, not the next morning.
func (p Press) Moment(minutes decimal.Decimal) time.Time {
	perDay := p.minutesADay()
	days, rest := minutes.QuoRem(perDay, 0)
	if rest.IsZero() && days.IsPositive() {
		days, rest = days.Sub(decimal.NewFromInt(1)), perDay
	}
	return p.moment(days, rest)
}

func (p Press) moment(days, rest decimal.Decimal) time.Time {
	if p.Start.IsZero() {
		return time.Time{}
	}
	return p.Start.AddDate(0, 0, int(days.IntPart())).Add(time.Duration(rest.Ceil().IntPart()) * time.Minute)
}

// minutesADay that the press works.
func (p Press) minutesADay() decimal.Decimal {
	if p.HoursADay.IsZero() {
		return decimal.NewFromInt(wholeDay)
	}
	return p.HoursADay.Mul(minutesAnHour)
}

const wholeDay = 24 * 60

// WorkingMinutes counts the press's working minutes from its start to a
// moment; zero where no start is stated or the moment is before it.
func (p Press) WorkingMinutes(moment time.Time) decimal.Decimal {
	if p.Start.IsZero() || moment.IsZero() {
		return decimal.Zero
	}
	return p.workingMinutes(moment)
}

func (p Press) workingMinutes(moment time.Time) decimal.Decimal {
	left := int64(moment.Sub(p.Start) / time.Minute)
	if left <= 0 {
		return decimal.Zero
	}
	perDay := p.minutesADay()
	days, rest := decimal.NewFromInt(left/wholeDay), decimal.NewFromInt(left%wholeDay)
	return days.Mul(perDay).Add(decimal.Min(rest, perDay))
}

// Finished tells when the last section of each version that a plan prints
// ends, by version id: in minutes from the start of the set-up, splices left
// out as in due dates; in rows where the gang knows no times.
func (g Gang) Finished(plan nest.Plan) (map[string]float64, error) {
	problem, err := g.Problem()
	if err != nil {
		return nil, err
	}
	press := problem.Press
	if g.Bare != nil {
		press = nest.Press{RowMinutes: 1}
	}
	end, at := map[string]float64{}, press.SetupMinutes
	for k, section := range plan.Sections {
		if k > 0 {
			at += press.ChangeoverMinutes
		}
		at += press.RowMinutes * float64(section.Rows)
		for _, version := range section.Lanes {
			if version != nest.Empty {
				end[problem.Versions[version].ID] = at
			}
		}
	}
	return end, nil
}
