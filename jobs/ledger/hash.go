package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"

	"github.com/shopspring/decimal"

	"laneplan/jobs/planfile"
)

// PlanHash names a plan by what runs in it: gang, lanes and sections. The
// figures that follow from them do not change it.
func PlanHash(plan planfile.Gang) string {
	type section struct {
		Rows  int
		Lanes []*string
	}
	what := struct {
		Gang     string
		Lanes    int
		Sections []section
	}{Gang: plan.ID, Lanes: plan.Lanes}
	for _, s := range plan.Sections {
		what.Sections = append(what.Sections, section{s.Rows, s.Lanes})
	}
	text, err := json.Marshal(what)
	if err != nil {
		panic(err) // strings and numbers always are JSON
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// figure of a plan file; nil where it is not stated.
func figure(n json.Number) *decimal.Decimal {
	if n == "" {
		return nil
	}
	d := planfile.Decimal(n)
	return &d
}
