package history

import (
	"cmp"
	"encoding/json"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs/ledger"
)

// Period is the sums of what counts in a day, week or month, in one currency.
type Period struct {
	Period   string `json:"period,omitempty"`
	Currency string `json:"currency"`
	Planned  Sums   `json:"planned"`
	Printed  Sums   `json:"printed"`

	first time.Time // of its entries
}

// Sums of plans or of print runs. Overs are labels that customers take beyond
// what they ordered; waste is scrap and, of print runs, what was spoiled.
// Shares are in percent of the labels planned or printed.
type Sums struct {
	Entries int `json:"entries"`
	Labels
	Waste      int         `json:"waste"`
	OversShare json.Number `json:"overs_percent,omitempty"`
	WasteShare json.Number `json:"waste_percent,omitempty"`
	// Cost and Saving are those of the orders asked for; absent where one of
	// them is not known. SavingOf is the number of entries whose saving is.
	Cost     json.Number `json:"cost,omitempty"`
	Saving   json.Number `json:"saving,omitempty"`
	SavingOf int         `json:"saving_of_entries"`

	cost, saving *decimal.Decimal
	places       int32
}

func (s *Sums) add(e Entry, places int32) {
	if s.Entries == 0 {
		s.cost, s.saving = new(decimal.Decimal), new(decimal.Decimal)
	}
	s.Entries++
	s.Labels.add(e.Labels)
	s.places = max(s.places, places)
	s.cost = sum(s.cost, e.share)
	if e.saving != nil {
		s.SavingOf++
		s.saving = sum(s.saving, e.saving)
	}
	s.state()
}

// with adds the sums of another period.
func (s *Sums) with(other Sums) {
	if other.Entries == 0 {
		return
	}
	if s.Entries == 0 {
		*s = other
		return
	}
	s.Entries += other.Entries
	s.Labels.add(other.Labels)
	s.places = max(s.places, other.places)
	s.SavingOf += other.SavingOf
	s.cost, s.saving = sum(s.cost, other.cost), sum(s.saving, other.saving)
	s.state()
}

// state fills in what follows from the sums.
func (s *Sums) state() {
	of := s.Labels.Planned
	if s.Good+s.Spoiled > 0 {
		of = s.Good + s.Spoiled
	}
	s.Waste = s.Scrap + s.Spoiled
	s.OversShare, s.WasteShare = percent(s.Overs, of), percent(s.Waste, of)
	s.Cost, s.Saving = money(s.cost, s.places), ""
	if s.SavingOf > 0 {
		s.Saving = money(s.saving, s.places)
	}
}

// periods in the order of time, and of currencies in one.
func periods(entries []Entry, of []ledger.Entry, step Step) []Period {
	out := []Period{}
	for i, e := range entries {
		if !e.Counts {
			continue
		}
		name := step.period(of[i].At)
		at := slices.IndexFunc(out, func(p Period) bool { return p.Period == name && p.Currency == e.Currency })
		if at < 0 {
			at = len(out)
			out = append(out, Period{Period: name, Currency: e.Currency, first: of[i].At.UTC()})
		}
		if e.Kind == string(ledger.KindPrinted) {
			out[at].Printed.add(e, decimals(of[i]))
		} else {
			out[at].Planned.add(e, decimals(of[i]))
		}
	}
	slices.SortStableFunc(out, func(a, b Period) int {
		return cmp.Or(cmp.Compare(a.Period, b.Period), cmp.Compare(a.Currency, b.Currency))
	})
	return out
}

// totals of the periods, one a currency.
func totals(periods []Period) []Period {
	out := []Period{}
	for _, p := range periods {
		at := slices.IndexFunc(out, func(other Period) bool { return other.Currency == p.Currency })
		if at < 0 {
			at = len(out)
			out = append(out, Period{Currency: p.Currency})
		}
		out[at].Planned.with(p.Planned)
		out[at].Printed.with(p.Printed)
	}
	slices.SortFunc(out, func(a, b Period) int { return cmp.Compare(a.Currency, b.Currency) })
	return out
}
