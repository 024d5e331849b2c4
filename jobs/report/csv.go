package report

import (
	"io"
	"slices"
	"strconv"

	"laneplan/jobs/planfile"
	"laneplan/jobs/safecsv"
)

// SectionsCSV writes one line for every lane of every section, empty lanes
// too.
func SectionsCSV(w io.Writer, gangs []planfile.Gang) error {
	heading := []string{"gang", "section", "rows", "lane", "version", "order", "labels", "carried"}
	var rows [][]string
	for _, g := range gangs {
		order := map[string]string{}
		for _, v := range g.Versions {
			order[v.ID] = v.Order
		}
		for _, s := range g.Sections {
			for lane, id := range s.Lanes {
				version, labels := "", 0
				if id != nil {
					version, labels = *id, s.Rows
				}
				rows = append(rows, []string{
					g.ID, strconv.Itoa(s.Number), strconv.Itoa(s.Rows), strconv.Itoa(lane + 1),
					version, order[version], strconv.Itoa(labels), yes(slices.Contains(s.Carried, lane+1)),
				})
			}
		}
	}
	return safecsv.Write(w, heading, rows)
}

// VersionsCSV writes one line for every version.
func VersionsCSV(w io.Writer, gangs []planfile.Gang) error {
	heading := []string{"gang", "version", "name", "order", "ordered", "planned", "overs", "unders", "scrap", "left_out"}
	var rows [][]string
	for _, g := range gangs {
		for _, v := range g.Versions {
			rows = append(rows, []string{
				g.ID, v.ID, v.Name, v.Order, strconv.Itoa(v.Ordered), strconv.Itoa(v.Planned),
				strconv.Itoa(v.Overs), strconv.Itoa(v.Unders), strconv.Itoa(v.Scrap), yes(v.LeftOut),
			})
		}
	}
	return safecsv.Write(w, heading, rows)
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}
