package ticket

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"strconv"

	"laneplan/jobs"
	"laneplan/jobs/internal/plainjson"
	"laneplan/jobs/rewind"
)

// RollsSchema is the JSON Schema (draft 2020-12) of what RollsJSON writes.
//
//go:embed rolls.schema.json
var RollsSchema []byte

// rollsFormat is the number that the file carries as "laneplan".
const rollsFormat = 1

// The rolls as JSON. Lengths are metric whatever the shop prints; what is not
// known is absent. Fields may be added, never renamed.
type (
	rollsFile struct {
		Format   int            `json:"laneplan"`
		Gang     string         `json:"gang"`
		Web      rollsWeb       `json:"web"`
		Stock    *rollsStock    `json:"stock,omitempty"`
		Cores    []rollsCore    `json:"cores"`
		Versions []rollsVersion `json:"versions"`
		Rolls    []rollsRoll    `json:"rolls"`
		LeftOff  []rollsPiece   `json:"left_off"`
		Stops    []rollsStop    `json:"stops"`
		Notes    []string       `json:"notes"`
	}
	rollsWeb struct {
		Rows        int         `json:"rows"`
		Setup       json.Number `json:"setup_m,omitempty"`
		Sections    json.Number `json:"sections_m,omitempty"`
		Changeovers json.Number `json:"changeovers_m,omitempty"`
		Splices     json.Number `json:"splices_m,omitempty"`
		Total       json.Number `json:"total_m,omitempty"`
	}
	rollsStock struct {
		ID       string        `json:"id"`
		Width    json.Number   `json:"width_mm,omitempty"`
		Roll     json.Number   `json:"roll_m,omitempty"`
		Rolls    int           `json:"rolls"`
		Reserve  json.Number   `json:"reserve_m,omitempty"`
		LeftOver json.Number   `json:"left_over_m,omitempty"`
		Parents  []rollsParent `json:"parent_rolls"`
	}
	rollsParent struct {
		Number  int         `json:"number"`
		From    json.Number `json:"from_m"`
		To      json.Number `json:"to_m"`
		Left    json.Number `json:"left_m,omitempty"`
		Spliced bool        `json:"spliced_inside_section,omitempty"`
	}
	rollsCore struct {
		Size  json.Number `json:"size_mm,omitempty"`
		Count int         `json:"count"`
	}
	rollsVersion struct {
		ID            string `json:"id"`
		Order         string `json:"order"`
		Customer      string `json:"customer,omitempty"`
		Due           string `json:"due,omitempty"`
		Ordered       int    `json:"ordered"`
		Planned       int    `json:"planned"`
		Wound         int    `json:"wound"`
		LeftOff       int    `json:"left_off"`
		Overs         int    `json:"overs"`
		Unders        int    `json:"unders"`
		LabelsPerRoll int    `json:"labels_per_roll,omitempty"`
		FullRolls     int    `json:"full_rolls"`
		PartRolls     int    `json:"part_rolls"`
		Wind          string `json:"wind,omitempty"`
		PressEdge     string `json:"press_edge,omitempty"`
	}
	rollsRoll struct {
		Key      string       `json:"roll"`
		Version  string       `json:"version"`
		Order    string       `json:"order"`
		Number   int          `json:"number"`
		Of       int          `json:"of"`
		Labels   int          `json:"labels"`
		Overs    int          `json:"overs"`
		Full     bool         `json:"full"`
		Joins    int          `json:"joins"`
		Splices  int          `json:"splices"`
		Core     json.Number  `json:"core_mm,omitempty"`
		Diameter json.Number  `json:"diameter_mm,omitempty"`
		Length   json.Number  `json:"length_m,omitempty"`
		Weight   json.Number  `json:"weight_kg,omitempty"`
		Heavy    bool         `json:"above_lifting_limit,omitempty"`
		Pieces   []rollsPiece `json:"pieces"`
	}
	rollsStop struct {
		Row   int         `json:"row"`
		Since int         `json:"rows_since"`
		Cut   []int       `json:"cut_lanes"`
		Join  []int       `json:"join_lanes,omitempty"`
		Waste json.Number `json:"waste_m,omitempty"`
	}
	rollsPiece struct {
		Version  string      `json:"version"`
		Lane     int         `json:"lane"`
		Sections []int       `json:"sections"`
		From     int         `json:"from_row"`
		To       int         `json:"to_row"`
		WebFrom  json.Number `json:"from_m,omitempty"`
		WebTo    json.Number `json:"to_m,omitempty"`
		Splices  []int       `json:"splices_at_rows,omitempty"`
	}
)

// RollsJSON writes the customer rolls of a job, as RollsSchema describes them.
func RollsJSON(w io.Writer, j Job) error {
	out := j.rollsFile()
	if err := plainjson.Write(w, out); err != nil {
		return fmt.Errorf("write the rolls: %w", err)
	}
	return nil
}

func (j Job) rollsFile() rollsFile {
	wound := j.Winding
	out := rollsFile{
		Format: rollsFormat, Gang: j.Plan.ID, Web: rollsWeb{Rows: wound.Web.Rows},
		Cores: []rollsCore{}, Versions: []rollsVersion{}, Rolls: []rollsRoll{}, LeftOff: []rollsPiece{}, Stops: []rollsStop{}, Notes: []string{},
	}
	if !j.bare() {
		w := wound.Web
		out.Web = rollsWeb{Rows: w.Rows, Setup: metres(w.Setup), Sections: metres(w.Printed), Changeovers: metres(w.Changes),
			Splices: metres(w.Splices), Total: metres(w.Total)}
		out.Stock = j.rollsStock()
	}
	for _, c := range wound.Cores {
		out.Cores = append(out.Cores, rollsCore{millimetres(c.Size), c.Count})
	}
	for _, v := range wound.Versions {
		edge := ""
		if v.PressEdge != jobs.EdgeUnknown {
			edge = v.PressEdge.String()
		}
		out.Versions = append(out.Versions, rollsVersion{ID: v.ID, Order: v.Order, Customer: v.Customer, Due: date(v.Due), Ordered: v.Ordered,
			Planned: v.Planned, Wound: v.Wound, LeftOff: v.LeftOff, Overs: v.Overs, Unders: v.Unders, LabelsPerRoll: v.LabelsPerRoll,
			FullRolls: v.FullRolls, PartRolls: v.PartRolls, Wind: v.Wind.Text(), PressEdge: edge})
	}
	for _, r := range wound.Rolls {
		v := wound.Versions[r.Version]
		roll := rollsRoll{Key: r.Key, Version: v.ID, Order: v.Order, Number: r.Number, Of: r.Of, Labels: r.Labels, Overs: r.Overs,
			Full: r.Full, Joins: r.Joins, Splices: r.Splices, Core: millimetres(r.Core), Diameter: millimetres(r.Diameter), Heavy: r.Heavy}
		if r.Length > 0 {
			roll.Length = metres(r.Length)
		}
		if r.Kilograms > 0 {
			roll.Weight = json.Number(strconv.FormatFloat(r.Kilograms, 'f', 3, 64))
		}
		for _, p := range r.Pieces {
			roll.Pieces = append(roll.Pieces, j.rollsPiece(p))
		}
		out.Rolls = append(out.Rolls, roll)
	}
	for _, p := range wound.LeftOff {
		out.LeftOff = append(out.LeftOff, j.rollsPiece(p))
	}
	for _, s := range wound.Stops {
		stop := rollsStop{Row: s.Row, Since: s.Since, Cut: append([]int{}, s.Cut...), Join: s.Join}
		if s.Waste > 0 {
			stop.Waste = metres(s.Waste)
		}
		out.Stops = append(out.Stops, stop)
	}
	out.Notes = append(out.Notes, wound.Notes...)
	return out
}

func (j Job) rollsStock() *rollsStock {
	s := j.Winding.Stock
	out := &rollsStock{ID: s.ID, Width: millimetres(s.Width), Rolls: s.Rolls(), Parents: []rollsParent{}}
	if s.Reserve > 0 {
		out.Reserve = metres(s.Reserve)
	}
	if s.Roll > 0 {
		out.Roll, out.LeftOver = metres(s.Roll), metres(s.LeftOver)
	}
	for _, p := range s.Parents {
		parent := rollsParent{Number: p.Number, From: metres(p.From), To: metres(p.To), Spliced: p.SplicedInside}
		if s.Roll > 0 {
			parent.Left = metres(p.Left)
		}
		out.Parents = append(out.Parents, parent)
	}
	return out
}

func (j Job) rollsPiece(p rewind.Piece) rollsPiece {
	out := rollsPiece{Version: j.Winding.Versions[p.Version].ID, Lane: p.Lane, Sections: p.Sections, From: p.From, To: p.To, Splices: p.Splices}
	if !j.bare() {
		out.WebFrom, out.WebTo = metres(p.WebFrom), metres(p.WebTo)
	}
	return out
}

func metres(l jobs.Length) json.Number { return json.Number(l.In(jobs.Metre).Round(6).String()) }

// millimetres is absent for a length that is not known.
func millimetres(l jobs.Length) json.Number {
	if l == 0 {
		return ""
	}
	return json.Number(l.In(jobs.Millimetre).Round(3).String())
}
