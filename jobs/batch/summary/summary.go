// Package summary tells how a batch went: which gangs are planned, at what
// cost, what failed and why, and what to look at first. It is data and its
// tables; package page turns it into the morning page.
//
//	err := summary.Write(w, night)
//	err = summary.WriteCSV(w, night)
package summary

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"laneplan/jobs/bookfile"
	"laneplan/jobs/internal/plainjson"
)

// Format is the number that the file states under laneplan.
const Format = 1

// Schema is the JSON Schema (draft 2020-12) of what Write writes.
//
//go:embed summary.schema.json
var Schema []byte

// State of a batch or of one gang.
type State string

// The states.
const (
	Running  State = "running"   // of a batch
	Done     State = "done"      // of a batch: nothing is missing
	Partly   State = "partly"    // of a batch: some gangs failed, the rest are written
	CutShort State = "cut short" // told to stop: of a gang, its best plan until then is written
	Planned  State = "planned"   // of a gang
	Waiting  State = "waiting"   // of a gang: its turn has not come
	Failed   State = "failed"    // of a gang
)

// Night is how a batch went. Dates are year-month-day; figures that are not
// known are absent.
type Night struct {
	Format   int            `json:"laneplan"`
	State    State          `json:"state"`
	Program  string         `json:"program"`
	Date     string         `json:"date"`
	Until    string         `json:"window_until"` // last day of the gang window
	Begun    *time.Time     `json:"begun,omitempty"`
	Ended    *time.Time     `json:"ended,omitempty"`
	Currency string         `json:"currency"`
	Totals   Totals         `json:"totals"`
	Warnings []string       `json:"warnings"` // of the book as a whole
	Gangs    []Gang         `json:"gangs"`    // sorted by id
	Out      []bookfile.Out `json:"out"`      // orders that do not run
}

// Totals over the gangs that have a plan.
type Totals struct {
	Gangs    int `json:"gangs"`
	Planned  int `json:"planned"` // cut short ones too
	CutShort int `json:"cut_short"`
	Failed   int `json:"failed"`
	Waiting  int `json:"waiting"`
	Orders   int `json:"orders"`
	Versions int `json:"versions"`
	Labels   int `json:"labels"` // ordered
	Overs    int `json:"overs"`
	Out      int `json:"orders_out"`

	Web     json.Number `json:"web_m"`
	Minutes json.Number `json:"minutes"`
	Cost    json.Number `json:"cost"`
	// CostAlone and Saving leave out gangs for which the cost alone is not
	// known.
	CostAlone json.Number `json:"cost_alone"`
	Saving    json.Number `json:"saving"`
	// Open is what better plans may still save at the most.
	Open json.Number `json:"open"`
}

// Gang is one gang with its plan's figures.
type Gang struct {
	bookfile.Gang
	State    State    `json:"state"`
	Warnings []string `json:"warnings"`
	// Folder of its documents, beside this file, and their names.
	Folder string   `json:"folder,omitempty"`
	Files  []string `json:"files,omitempty"`
	Due    string   `json:"due,omitempty"` // the earliest of its orders
	Lanes  int      `json:"lanes,omitempty"`

	Sections int         `json:"sections,omitempty"`
	Web      json.Number `json:"web_m,omitempty"`
	Planned  int         `json:"labels_planned,omitempty"`
	Overs    int         `json:"overs,omitempty"`
	Unders   int         `json:"unders,omitempty"`
	Saving   json.Number `json:"saving,omitempty"` // against its orders alone
	// Open is what a better plan may save at the most, left-out fillers
	// counted at their cost elsewhere.
	Open    json.Number `json:"open,omitempty"`
	Gap     json.Number `json:"gap,omitempty"` // as a fraction
	Proven  bool        `json:"proven,omitempty"`
	Stop    string      `json:"stop,omitempty"` // what ended the search
	Rounds  int         `json:"rounds,omitempty"`
	Failure *Failure    `json:"failure,omitempty"`
	LeftOut []string    `json:"left_out,omitempty"` // versions of fillers that the plan does not print
}

// Failure is why a gang has no plan, and what to do about it.
type Failure struct {
	Kind   string `json:"kind"`
	Reason string `json:"reason"`
	Do     string `json:"do"`
}

// Write writes the summary as JSON, indented. The same night gives the same
// bytes.
func Write(w io.Writer, n Night) error {
	n.Format = Format
	if n.Warnings == nil {
		n.Warnings = []string{}
	}
	if err := plainjson.Write(w, n); err != nil {
		return fmt.Errorf("write the summary: %w", err)
	}
	return nil
}
