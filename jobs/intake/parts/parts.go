// Package parts reads what job files and shop files have in common: a die, a
// stock, a finish, a press and a rewinder, each from one YAML map. Faults go
// to the map's tree; what is not said or at fault is zero.
//
//	die := parts.Die(tree.Root().Map("die"))
package parts

import (
	"errors"
	"fmt"
	"strings"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/intake/scalar"
	"laneplan/jobs/intake/yamltree"
)

// MostMoney is the highest amount of money or minutes of one field.
const MostMoney = 1_000_000_000

// Length reads a length, zero or more.
func Length(m *yamltree.Map, key string) jobs.Length {
	return yamltree.Value(m, key, jobs.ParseLength)
}

// Money reads an amount of money in the file's currency, zero or more.
func Money(m *yamltree.Map, key string) decimal.Decimal { return m.Decimal(key, 0, MostMoney) }

// Die reads a die card.
func Die(m *yamltree.Map) jobs.Die {
	m.Need("across", "the label's size across the web, such as 60mm")
	m.Need("around", "the label's size along the web, such as 100mm")
	m.Need("lanes", "the number of lanes, such as 4")
	m.Need("gap_across", "the gap between lanes, such as 3mm")
	m.Need("gap_around", "the gap between rows, such as 3mm")
	m.Need("web", "the width of the web, such as 330mm")
	return jobs.Die{
		ID:                  m.Text("id"),
		Across:              size(m, "across"),
		Around:              size(m, "around"),
		Lanes:               m.Whole("lanes", 1, jobs.MostLanes),
		GapAcross:           Length(m, "gap_across"),
		GapAround:           Length(m, "gap_around"),
		Web:                 size(m, "web"),
		Edge:                Length(m, "edge"),
		ClosedLanes:         m.Wholes("closed_lanes", 1, jobs.MostLanes),
		FrameRows:           m.Whole("frame_rows", 1, 100_000),
		Teeth:               m.Whole("teeth", 1, 100_000),
		GearPitch:           size(m, "gear_pitch"),
		PitchesRoundTheTool: m.Whole("labels_around", 1, 100_000),
	}
}

// size reads a length above zero, at most 100 m: no die or web is larger.
func size(m *yamltree.Map, key string) jobs.Length {
	return yamltree.Value(m, key, func(text string) (jobs.Length, error) {
		length, err := jobs.ParseLength(text)
		switch {
		case err != nil:
			return 0, err
		case length == 0 || length > 100*jobs.Metre:
			return 0, fmt.Errorf("want a length above 0, at most 100m, got %s", scalar.Quote(text))
		}
		return length, nil
	})
}

// Stock reads a self-adhesive material.
func Stock(m *yamltree.Map) jobs.Stock {
	s := jobs.Stock{
		ID:                  m.Text("id"),
		Name:                m.Text("name"),
		PricePerSquareMetre: areaPrice(m),
		Caliper:             Length(m, "caliper"),
		Grammage:            m.Decimal("grams_per_m2", 0, 100_000),
		LinerGrammage:       m.Decimal("liner_grams_per_m2", 0, 100_000),
		RollLength:          Length(m, "roll_length"),
		SpliceWeb:           Length(m, "splice_web"),
		SpliceMinutes:       m.Decimal("splice_minutes", 0, MostMoney),
		Widths:              yamltree.Values(m, "widths", jobs.ParseLength),
	}
	if s.LinerGrammage.GreaterThan(s.Grammage) {
		m.Fault("liner_grams_per_m2", "want less than grams_per_m2, which is that of the whole stock, liner and all", "")
	}
	return s
}

// Finish reads a varnish or laminate.
func Finish(m *yamltree.Map) jobs.Finish {
	return jobs.Finish{
		ID:                  m.Text("id"),
		Name:                m.Text("name"),
		PricePerSquareMetre: areaPrice(m),
		Caliper:             Length(m, "caliper"),
		Grammage:            m.Decimal("grams_per_m2", 0, 100_000),
	}
}

// areaPrice reads a price for an area, stated for one of two units.
func areaPrice(m *yamltree.Map) decimal.Decimal {
	const metric, imperial = "price_per_m2", "price_per_msi"
	perMetre, perMSI := Money(m, metric), Money(m, imperial)
	switch {
	case m.Has(metric) && m.Has(imperial):
		m.Fault(imperial, "want the price for one unit of area, got "+metric+" and "+imperial, "")
	case m.Has(imperial):
		return scalar.Trim(jobs.PerSquareMetre(perMSI))
	default:
		m.Need(metric, "the price of a square metre, such as 0.42, or "+imperial+" for 1,000 square inches")
	}
	return perMetre
}

// Press reads a press.
func Press(m *yamltree.Map) jobs.Press {
	m.Need("speed", "the speed of the web, such as 30m/min")
	if !m.Has("hourly_budget") {
		m.Need("hourly_rate", "the cost of an hour on the press, such as 75, or hourly_budget")
	} else if m.Has("hourly_rate") {
		m.Fault("hourly_budget", "want the cost of an hour as hourly_rate or as hourly_budget, not both", "")
	}
	m.Need("setup_minutes", "the minutes of a set-up, such as 20")
	m.Need("changeover_minutes", "the minutes of a changeover, such as 5")
	m.Need("changeover_web", "the web lost at a changeover, such as 8m")
	if !m.Has("setup_frames") {
		m.Need("setup_web", "the web lost at set-up, such as 25m, or setup_frames")
	} else if m.Has("setup_web") {
		m.Fault("setup_frames", "want the set-up web as setup_web or as setup_frames, not both", "")
	}
	p := jobs.Press{
		ID:               m.Text("id"),
		Name:             m.Text("name"),
		Speed:            yamltree.Value(m, "speed", parseSpeed),
		HourlyRate:       Money(m, "hourly_rate"),
		SetupMinutes:     m.Decimal("setup_minutes", 0, MostMoney),
		SetupWeb:         Length(m, "setup_web"),
		SetupFrames:      setupFrames(m.Map("setup_frames")),
		ChangeoverMin:    m.Decimal("changeover_minutes", 0, MostMoney),
		ChangeoverWeb:    Length(m, "changeover_web"),
		LaneRunCost:      Money(m, "lane_run_cost"),
		MaxWeb:           Length(m, "max_web"),
		MinWeb:           Length(m, "min_web"),
		Stocks:           m.Texts("stocks"),
		Start:            m.Moment("start"),
		HoursADay:        m.Decimal("hours_a_day", 0, 24),
		Busy:             m.Decimal("busy_minutes", 0, MostMoney),
		ImpressionCharge: Money(m, "impression_charge"),
		RunningWaste:     m.Percent("running_waste", 100),
		Budget:           hourlyBudget(m.Map("hourly_budget")),
	}
	if p.Budget != nil {
		p.HourlyRate = p.Budget.Rate()
	}
	return p
}

func hourlyBudget(m *yamltree.Map) *jobs.HourlyBudget {
	if m == nil {
		return nil
	}
	m.Need("yearly_cost", "what the press costs in a year, people and room included, such as 104000")
	m.Need("paid_hours", "the hours that are paid in a year, such as 2080")
	m.Need("sold", "the share of the paid hours that is sold, such as 70%")
	sold := func(text string) (decimal.Decimal, error) {
		use, err := scalar.Percent(text, 100)
		if err == nil && use.IsZero() {
			err = errors.New("want more than 0%, got 0%")
		}
		return use, err
	}
	return &jobs.HourlyBudget{YearlyCost: Money(m, "yearly_cost"), PaidHours: m.Decimal("paid_hours", 1, 100_000), Use: yamltree.Value(m, "sold", sold)}
}

func setupFrames(m *yamltree.Map) *jobs.SetupFrames {
	if m == nil {
		return nil
	}
	m.Need("reach", "the length that the first frame reaches, such as 10in")
	m.Need("discard", "the number of frames to discard, such as 3")
	return &jobs.SetupFrames{Reach: size(m, "reach"), Discard: m.Whole("discard", 1, 1000)}
}

// parseSpeed reads web a minute.
func parseSpeed(text string) (jobs.Length, error) {
	length, perMinute := strings.CutSuffix(text, "/min")
	speed, err := jobs.ParseLength(length)
	switch {
	case !perMinute || err != nil:
		return 0, fmt.Errorf("want a length a minute such as 30m/min or 100ft/min, got %s", scalar.Quote(text))
	case speed == 0:
		return 0, fmt.Errorf("want a speed above 0, got %s", scalar.Quote(text))
	}
	return speed, nil
}

// Rewinder reads a slitter-rewinder.
func Rewinder(m *yamltree.Map) jobs.Rewinder {
	r := jobs.Rewinder{
		ID:          m.Text("id"),
		Cores:       yamltree.Values(m, "cores", jobs.ParseLength),
		MaxDiameter: Length(m, "max_diameter"),
		MaxWeight:   m.Decimal("max_kg", 0, 100_000),
		CoreWall:    Length(m, "core_wall"),
		CoreDensity: m.Decimal("core_kg_per_m3", 0, 20_000),
		Leader:      Length(m, "leader"),
		Tail:        Length(m, "tail"),
		Windings:    m.Whole("windings", 1, 2),
	}
	if r.CoreDensity.IsPositive() && r.CoreWall == 0 {
		m.Need("core_wall", "the wall of the cores, such as 5mm: their weight follows from it and core_kg_per_m3")
	}
	return r
}
