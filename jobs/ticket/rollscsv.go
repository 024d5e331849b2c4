package ticket

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/rewind"
	"laneplan/jobs/safecsv"
)

// RollsCSV writes one line for every customer roll. Rows count from 0 over all
// sections, and the row after the dash is the first that is not on the roll;
// several pieces stand in the order in which they are wound.
func RollsCSV(w io.Writer, j Job) error {
	size, web, weight := "mm", "m", "kg"
	if j.Gang.Papers.Inches {
		size, web, weight = "in", "ft", "lb"
	}
	heading := []string{"gang", "roll", "order", "customer", "version", "name", "number", "of", "labels", "overs", "full", "joins", "splices",
		"core_" + size, "diameter_" + size, "length_" + web, "weight_" + weight, "face", "first_edge", "position", "pieces"}
	rows := make([][]string, len(j.Winding.Rolls))
	for i, r := range j.Winding.Rolls {
		v := j.Winding.Versions[r.Version]
		rows[i] = []string{j.Plan.ID, r.Key, v.Order, v.Customer, v.ID, v.Name, strconv.Itoa(r.Number), strconv.Itoa(r.Of),
			strconv.Itoa(r.Labels), strconv.Itoa(r.Overs), yesNo(r.Full), strconv.Itoa(r.Joins), strconv.Itoa(r.Splices),
			j.csvSize(r.Core), j.csvSize(r.Diameter), j.csvWeb(r.Length), j.csvWeight(r.Kilograms),
			csvWord(v.Wind.Face.String(), v.Wind.Face == jobs.FaceUnknown), csvWord(v.Wind.Edge.String(), v.Wind.Edge == jobs.EdgeUnknown),
			j.csvPosition(v.Wind), csvPieces(r.Pieces)}
	}
	return safecsv.Write(w, heading, rows)
}

func (j Job) csvSize(l jobs.Length) string {
	if j.Gang.Papers.Inches {
		return csvLength(l, jobs.Inch, 4)
	}
	return csvLength(l, jobs.Millimetre, 3)
}

func (j Job) csvWeb(l jobs.Length) string {
	if j.Gang.Papers.Inches {
		return csvLength(l, jobs.Foot, 3)
	}
	return csvLength(l, jobs.Metre, 3)
}

// csvLength is empty where the length is not known.
func csvLength(l, unit jobs.Length, places int32) string {
	if l == 0 {
		return ""
	}
	return l.In(unit).Round(places).String()
}

func (j Job) csvWeight(kilograms float64) string {
	if kilograms == 0 {
		return ""
	}
	if j.Gang.Papers.Inches {
		kilograms /= kilogramsPerPound
	}
	return decimal.NewFromFloat(kilograms).Round(3).String()
}

func (j Job) csvPosition(w jobs.Wind) string {
	if number, known := j.Gang.Chart.Number(w); known {
		return strconv.Itoa(number)
	}
	return ""
}

func csvWord(word string, unknown bool) string {
	if unknown {
		return ""
	}
	return word
}

func csvPieces(pieces []rewind.Piece) string {
	words := make([]string, len(pieces))
	for i, p := range pieces {
		words[i] = fmt.Sprintf("lane %d rows %d-%d", p.Lane, p.From, p.To)
	}
	return strings.Join(words, "; ")
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}
