package parts

import (
	"fmt"
	"strconv"

	"laneplan/jobs"
	"laneplan/jobs/intake/yamltree"
)

// Chart reads the numbers of copy positions; nil where none are given.
func Chart(m *yamltree.Map) *jobs.WindChart {
	if m == nil {
		return nil
	}
	m.Need("name", "a name to print beside the numbers")
	m.Need("positions", "numbers with their positions, such as {1: out/top}")
	chart := &jobs.WindChart{Name: m.Text("name"), Numbers: map[int]jobs.Wind{}}
	positions := m.Map("positions")
	for _, key := range positions.Keys() {
		wind := yamltree.Value(positions, key, jobs.ParseWind)
		number, err := strconv.Atoi(key)
		if err != nil || number < 1 || number > 99 || strconv.Itoa(number) != key {
			positions.Fault(key, fmt.Sprintf("want a number from 1 to 99 before the position, got %s", key), "")
			continue
		}
		chart.Numbers[number] = wind
	}
	return chart
}

// Papers reads how the documents for the floor are made.
func Papers(m *yamltree.Map) jobs.Papers {
	return jobs.Papers{
		Inches: m.Choice("units", "millimetres", "inches") == "inches",
		Letter: m.Choice("paper", "A4", "Letter") == "Letter",
		Tags:   tags(m.Map("tags")),
	}
}

func tags(m *yamltree.Map) jobs.TagSheet {
	return jobs.TagSheet{
		Width: Length(m, "width"), Height: Length(m, "height"),
		Columns: m.Whole("columns", 1, 100), Rows: m.Whole("rows", 1, 100),
		Left: Length(m, "left"), Top: Length(m, "top"),
		GapAcross: Length(m, "gap_across"), Gap: Length(m, "gap"),
	}
}
