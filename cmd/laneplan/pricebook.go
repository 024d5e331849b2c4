package main

import (
	"fmt"
	"slices"
	"time"

	"laneplan/jobs"
	"laneplan/jobs/compare"
	"laneplan/jobs/intake"
	"laneplan/jobs/intake/orderbook"
	"laneplan/jobs/pool"
	"laneplan/jobs/price"
)

// toPrice reads what is to be priced: job files, or the gangs of an order
// book.
func (a *app) toPrice(paths []string, f *priceFlags) ([]priced, error) {
	if f.book.shop != "" {
		return a.bookToPrice(paths, f)
	}
	var list []priced
	for _, path := range paths {
		gang, err := intake.ReadFile(path)
		if err != nil {
			return nil, err
		}
		if len(list) > 0 && gang.Currency != list[0].gang.Currency {
			return nil, intake.Placed(path, jobs.Faults{{Path: "currency",
				Message: fmt.Sprintf("want that of %s, %q, got %q", list[0].file, list[0].gang.Currency, gang.Currency)}})
		}
		list = append(list, priced{gang: gang, file: path})
	}
	if f.add == "" {
		return list, nil
	}
	if len(list) > 1 {
		return nil, usage("--add: want one file to add to, got %d", len(list))
	}
	further, err := intake.ReadFile(f.add)
	if err != nil {
		return nil, err
	}
	if err := sameSetUp(list[0].gang, further); err != nil {
		return nil, intake.Placed(f.add, err)
	}
	for _, entry := range further.Entries() {
		if hasVersion(list[0].gang, entry.Version.ID) {
			return nil, usage("%s: version %s: %s has one of that id already, want another id", f.add, entry.Version.ID, list[0].file)
		}
	}
	list[0].further = further.Orders
	return list, nil
}

// sameSetUp refuses to add a gang's orders to another that is not set up the
// same.
func sameSetUp(to, from jobs.Gang) jobs.Faults {
	for _, same := range []struct {
		field, to, from string
	}{
		{"currency", to.Currency, from.Currency},
		{"die.lanes", fmt.Sprint(to.Die.Lanes), fmt.Sprint(from.Die.Lanes)},
		{"die.id", to.Die.ID, from.Die.ID},
		{"stock.id", to.Stock.ID, from.Stock.ID},
		{"finishes", finishes(to), finishes(from)},
	} {
		if same.to != same.from {
			return jobs.Faults{{Path: same.field, Message: fmt.Sprintf("want that of the gang to add to, %q, got %q", same.to, same.from)}}
		}
	}
	return nil
}

func finishes(g jobs.Gang) string {
	text := ""
	for _, finish := range g.Finishes {
		text += finish.ID + " "
	}
	return text
}

// bookToPrice pools an order book, with the further orders of --add in it.
func (a *app) bookToPrice(paths []string, f *priceFlags) ([]priced, error) {
	shop, lines, err := a.orders(paths, f.book)
	if err != nil {
		return nil, err
	}
	further := map[string]bool{}
	if f.add != "" {
		book, err := orderbook.Read([]string{f.add}, shop, orderbook.Options{NotABook: f.book.shop})
		if err != nil {
			return nil, err
		}
		for _, line := range book.Lines {
			if slices.ContainsFunc(lines, func(l jobs.OrderLine) bool { return l.Order == line.Order }) {
				return nil, usage("%s: order %s is in the order book already", line.Source, line.Order)
			}
			further[line.Order] = true
		}
		lines = append(slices.Clone(lines), book.Lines...)
	}
	pooling, err := a.pool(shop, lines, f.book, compare.Cost)
	if err != nil {
		return nil, err
	}
	for _, out := range pooling.Out {
		if further[out.Order] {
			return nil, &coded{exitInfeasible, fmt.Errorf("order %s cannot run: %s", out.Order, out.Reason)}
		}
	}
	var list []priced
	for _, gang := range pooling.Gangs {
		p := priced{gang: gang.Gang, apart: map[string]jobs.Gang{}}
		if f.add == "" {
			for _, alone := range pool.Apart(shop, pooling, gang, func(string) bool { return true }) {
				if alone.Press.ID != gang.Press.ID || alone.Die.ID != gang.Die.ID {
					p.apart[alone.Orders[0].ID] = alone
				}
			}
			list = append(list, p)
			continue
		}
		p.gang.Orders = nil
		for _, order := range gang.Orders {
			if further[order.ID] {
				p.further = append(p.further, order)
			} else {
				p.gang.Orders = append(p.gang.Orders, order)
			}
		}
		if len(p.further) > 0 || len(f.steps) > 0 || len(f.variations) > 0 {
			list = append(list, p)
		}
	}
	if len(list) == 0 {
		return nil, usage("no order of the book can run on %s", f.book.date.day().Format(time.DateOnly))
	}
	return list, nil
}

// watchSubGangs shows on a terminal how many sub-gangs are planned; nil where
// there is none.
func (a *app) watchSubGangs(name string, quiet bool, o *price.Options) (end func()) {
	if quiet || !a.isTerminal(a.stderr) {
		return nil
	}
	shown := make(chan string, 1)
	o.Progress = func(done, all int) {
		select {
		case shown <- fmt.Sprintf("%s: %d of %d sub-gangs planned", name, done, all):
		default:
		}
	}
	finished := make(chan struct{})
	go func() {
		defer close(finished)
		for text := range shown {
			fmt.Fprintf(a.stderr, "\r%s", text)
		}
		fmt.Fprint(a.stderr, "\r\x1b[K")
	}()
	return func() { close(shown); <-finished }
}
