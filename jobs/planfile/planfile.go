// Package planfile is the lane plan as JSON, format 1: a contract that other
// programs read. Fields may be added to it, never renamed. It writes what
// nest found for a gang and reads it back, also from a hand edit or from
// another program; whether such a plan holds is for nest.Check to say.
//
//	gang, err := planfile.Describe(g, p, result, planfile.Run{Engine: engine.Name()})
//	err = planfile.Write(w, planfile.Document{Gangs: []planfile.Gang{gang}})
//
// The JSON Schema of the format is in plan.schema.json, and in Schema.
package planfile

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"io"

	"github.com/shopspring/decimal"
	"github.com/tidwall/pretty"

	"laneplan/jobs/bookfile"
)

// Format is the number that every document carries as "laneplan".
const Format = 1

// Schema is the JSON Schema (draft 2020-12) of what Write writes.
//
//go:embed plan.schema.json
var Schema []byte

// Document is one plan file.
type Document struct {
	Format int    `json:"laneplan"`
	Gangs  []Gang `json:"gangs"`
	// Book tells how the gangs came out of an order book; nil where they did
	// not.
	Book *bookfile.Book `json:"book,omitempty"`

	source source // where it was read
}

// Gang is the plan of one gang. Of what was read, everything but Lanes and
// Sections may be absent (nil or zero).
type Gang struct {
	ID    string `json:"id"`
	Lanes int    `json:"lanes"`
	// Closed are the lanes out of use, from 1 at the operator's left.
	Closed   []int     `json:"closed_lanes,omitempty"`
	Sections []Section `json:"sections"`
	Versions []Version `json:"versions,omitempty"`
	Totals   *Totals   `json:"totals,omitempty"`
	Cost     *Cost     `json:"cost,omitempty"`
	Bound    *Bound    `json:"bound,omitempty"`
	Solve    *Solve    `json:"solve,omitempty"`
	// Alternatives with other numbers of sections, fewest first, and the plan
	// itself among them; absent where none were asked for.
	Alternatives []Alternative `json:"alternatives,omitempty"`
	// Rest tells what this plan is the rest of; nil where it is of a whole.
	Rest *Rest `json:"rest,omitempty"`
	// Job is the gang that was planned, as a job file in JSON; see SetJob and
	// Stored. Absent where the plan need not stand alone.
	Job json.RawMessage `json:"job,omitempty"`
}

// Rest is the plan of what a print run left short.
type Rest struct {
	Gang string `json:"gang"` // that was printed in part
	Plan string `json:"plan"` // hash by which the ledger knows its plan
	// Continues says that the first section goes on with the versions that
	// are in the lanes, without a changeover.
	Continues bool `json:"continues"`
	// OffPress says that the gang has left the press: section 1 takes a set-up
	// from nothing.
	OffPress bool `json:"off_press,omitempty"`
	// Notes are what people should know, a sentence each without a full stop.
	Notes []string `json:"notes,omitempty"`
}

// Says is what people should know of a rest, a sentence each without a full
// stop; nothing of a plan that is none.
func (r *Rest) Says() []string {
	if r == nil {
		return nil
	}
	first := "Section 1 begins with a changeover from what is on the press"
	switch {
	case r.OffPress:
		first = "Section 1 takes a set-up from nothing"
	case r.Continues:
		first = "Section 1 goes on with the versions that are in the lanes: no changeover before it"
	}
	return append([]string{"This is the rest of gang " + r.Gang, first}, r.Notes...)
}

// Section is a stretch of web in which every lane keeps its version. Sections
// stand in the order in which they run.
type Section struct {
	Number int `json:"number"` // from 1
	Rows   int `json:"rows"`
	// Lanes lists every lane from the operator's left, as the web leaves the
	// press face up; nil is an empty lane.
	Lanes []*string `json:"lanes"`
	// Carried are the lanes (from 1) that keep the version they had in the
	// section before.
	Carried []int `json:"carried_lanes,omitempty"`
	// FreshRoll says that the section begins with a new parent roll, and
	// SplicesAfter the rows of this section after which a parent roll ends.
	FreshRoll    bool  `json:"fresh_roll,omitempty"`
	SplicesAfter []int `json:"splices_after_rows,omitempty"`
	// Web in metres and Minutes of the section's own rows, where known.
	Web     json.Number `json:"web_m,omitempty"`
	Minutes json.Number `json:"minutes,omitempty"`
}

// Version is one version's count over all sections.
type Version struct {
	ID      string `json:"id"`
	Order   string `json:"order"`
	Name    string `json:"name,omitempty"`
	Ordered int    `json:"ordered"`
	Planned int    `json:"planned"`
	Overs   int    `json:"overs"`  // beyond the order, within what the customer takes
	Unders  int    `json:"unders"` // below the order, within what the customer takes
	Scrap   int    `json:"scrap"`  // beyond what the customer takes
	// Fewest and Most that the customer takes, where they are not simply
	// what was ordered and without limit.
	Fewest int `json:"fewest,omitempty"`
	Most   int `json:"most,omitempty"`
	// LeftOut is a filler that this plan does not print.
	LeftOut bool `json:"left_out,omitempty"`
}

// Totals over all sections and versions.
type Totals struct {
	Rows          int `json:"rows"`
	Sections      int `json:"sections"`
	LabelsOrdered int `json:"labels_ordered"`
	LabelsPlanned int `json:"labels_planned"`
	Overs         int `json:"overs"`
	Unders        int `json:"unders"`
	Scrap         int `json:"scrap"`
	LaneRuns      int `json:"lane_runs"` // that are not carried
	EmptyLaneRows int `json:"empty_lane_rows,omitempty"`
	// Web in metres, Area in square metres and Minutes, set-up and
	// changeovers included, where known.
	Web     json.Number `json:"web_m,omitempty"`
	Area    json.Number `json:"area_m2,omitempty"`
	Minutes json.Number `json:"minutes,omitempty"`
}

// Cost in money, rounded to the smallest unit of the currency; abstract costs
// have two decimals, or as many as the costs of the problem.
type Cost struct {
	Total    json.Number `json:"total"`
	Currency string      `json:"currency"` // ISO 4217; empty for abstract costs
	Kinds    []Kind      `json:"kinds,omitempty"`
}

// Kind is one kind of money in a cost. The kinds add up to the total but for
// their rounding.
type Kind struct {
	Kind string      `json:"kind"`
	Cost json.Number `json:"cost"`
}

// Bound is what is proven: no plan costs less than Cost (rounded down). Gap is
// the fraction (cost - bound) / cost, computed before rounding.
type Bound struct {
	Cost   json.Number `json:"cost"`
	Gap    json.Number `json:"gap"`
	Proven bool        `json:"proven"`
}

// Solve tells how the plan was found. Seconds is the only figure that differs
// between two runs of the same search; it is absent where it was not wanted.
type Solve struct {
	Seed    int64       `json:"seed"`
	Seconds json.Number `json:"seconds,omitempty"`
	Work    json.Number `json:"work,omitempty"` // units of a million moves
	Stop    string      `json:"stop,omitempty"` // what ended the search, as nest.Stop names it
	Engine  string      `json:"engine,omitempty"`
	// Limits that were set; zero fields were not.
	Limits *Limits `json:"limits,omitempty"`
	// Start is the plan that the search began from; nil for none.
	Start *Start `json:"start,omitempty"`
}

// Limits of a search.
type Limits struct {
	Seconds json.Number `json:"seconds,omitempty"`
	Work    json.Number `json:"work,omitempty"`
	Gap     json.Number `json:"gap,omitempty"`
}

// width is the number of columns up to which an object or a list stands in one
// line: a section, a version.
const width = 160

// Write writes the document, indented, a section and a version a line where
// they fit, with Format filled in. The same document gives the same bytes.
func Write(w io.Writer, d Document) error {
	d.Format = Format
	if d.Gangs == nil {
		d.Gangs = []Gang{}
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(d); err != nil {
		return fmt.Errorf("write the plan: %w", err)
	}
	if _, err := w.Write(pretty.PrettyOptions(b.Bytes(), &pretty.Options{Width: width, Indent: " "})); err != nil {
		return fmt.Errorf("write the plan: %w", err)
	}
	return nil
}

// Decimal is a figure of a plan to compute with; zero where nothing is stated.
// Package json has seen to it that whatever is stated is a number.
func Decimal(n json.Number) decimal.Decimal {
	d, err := decimal.NewFromString(n.String())
	if err != nil {
		return decimal.Zero
	}
	return d
}
