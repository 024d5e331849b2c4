package jobs

import (
	"fmt"
	"slices"
	"strings"
)

// Check finds what is wrong with the shop itself, whatever the order book;
// paths are those of a shop file.
func (s *Shop) Check() Faults {
	var faults Faults
	dies := ids[Die]{&faults, "dies", func(d Die) string { return d.ID }}
	dies.check(s.Dies)
	for i, die := range s.Dies {
		path := fmt.Sprintf("dies[%d]", i)
		faults.under(path, die.Check())
		s.shape(&faults, path, i)
	}
	ids[Stock]{&faults, "stocks", func(k Stock) string { return k.ID }}.check(s.Stocks)
	ids[Finish]{&faults, "finishes", func(f Finish) string { return f.ID }}.check(s.Finishes)
	ids[Press]{&faults, "presses", func(p Press) string { return p.ID }}.check(s.Presses)
	ids[Rewinder]{&faults, "rewinders", func(r Rewinder) string { return r.ID }}.check(s.Rewinders)
	for i, press := range s.Presses {
		path := fmt.Sprintf("presses[%d]", i)
		if press.MaxWeb > 0 && press.MaxWeb < press.MinWeb {
			faults.clash(path+".max_web", path+".min_web", "want at least the narrowest web, %s, got %s", press.MinWeb, press.MaxWeb)
		}
		for j, id := range press.Stocks {
			if _, known := s.Stock(id); !known {
				faults.add(fmt.Sprintf("%s.stocks[%d]", path, j), "there is no stock %s in the shop file", id)
			}
		}
	}
	if s.Policy.BillOvers && !s.Policy.LimitOvers {
		faults.add("policy.overs", "overs are billed: want a limit to them such as 10%%")
	}
	faults.under("rates", s.Rates.Check())
	faults.under("pricing", s.Pricing.Check())
	if s.Chart != nil {
		if err := s.Chart.Check(); err != nil {
			faults.add("wind_chart", "%v", err)
		}
	}
	if err := s.Book.Check(); err != nil {
		faults.add("order_book", "%v", err)
	}
	return faults
}

// shape wants dies that stand in for each other to cut the same label.
func (s *Shop) shape(faults *Faults, path string, i int) {
	die := s.Dies[i]
	for j, other := range s.Dies[:i] {
		if s.Shapes[die.ID] == "" || s.Shapes[die.ID] != s.Shapes[other.ID] {
			continue
		}
		if die.Across != other.Across || die.Around != other.Around {
			faults.clash(path+".shape", fmt.Sprintf("dies[%d].shape", j), "die %s cuts %s × %s, die %s of the same shape %s × %s: want the same label",
				die.ID, die.Across, die.Around, other.ID, other.Across, other.Around)
		}
		return
	}
}

// ids checks that everything of one kind has an id of its own. The signs that
// join finishes in an order book cannot be part of one.
type ids[T any] struct {
	faults *Faults
	path   string
	of     func(T) string
}

func (c ids[T]) check(all []T) {
	for i, one := range all {
		id, path := c.of(one), fmt.Sprintf("%s[%d].id", c.path, i)
		switch first := slices.IndexFunc(all, func(o T) bool { return c.of(o) == id }); {
		case id == "":
			c.faults.add(path, "want an id, got nothing")
		case first < i:
			c.faults.clash(path, fmt.Sprintf("%s[%d].id", c.path, first), "%s stands here twice: want every id once", id)
		case strings.ContainsAny(id, "+,;"):
			c.faults.add(path, "want an id without + , ; in it, got %s", id)
		}
	}
}
