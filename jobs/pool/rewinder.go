package pool

import (
	"slices"
	"strings"

	"laneplan/jobs"
)

// rewinders lists, by index in the shop file, those that take all cores and
// diameters of an order. What is not stated suits any.
func (p *pooler) rewinders(one part) []int {
	var fit []int
	for i, r := range p.shop.Rewinders {
		if !slices.ContainsFunc(one.lines, func(l jobs.OrderLine) bool {
			return l.Core > 0 && len(r.Cores) > 0 && !slices.Contains(r.Cores, l.Core)
		}) {
			fit = append(fit, i)
		}
	}
	return fit
}

func coresOf(one part) string {
	var cores []string
	for _, line := range one.lines {
		if core := line.Core.String(); line.Core > 0 && !slices.Contains(cores, core) {
			cores = append(cores, core)
		}
	}
	return strings.Join(cores, " and ")
}

// rewinder is the first that takes every order of a gang.
func (p *pooler) rewinder(parts []part) jobs.Rewinder {
	for i, r := range p.shop.Rewinders {
		if !slices.ContainsFunc(parts, func(one part) bool { return !slices.Contains(p.rewinders(one), i) }) {
			return r
		}
	}
	return jobs.Rewinder{}
}

type sameRewinder struct{ must, later []part }

// byRewinder keeps orders together that one rewinder takes; where none takes
// all, every order goes to the first that takes it. Fillers stay with gangs
// that run.
func (p *pooler) byRewinder(must, later []part) []sameRewinder {
	all := slices.Concat(must, later)
	whole := len(p.shop.Rewinders) == 0
	for i := range p.shop.Rewinders {
		whole = whole || !slices.ContainsFunc(all, func(one part) bool { return !slices.Contains(p.rewinders(one), i) })
	}
	if whole {
		return []sameRewinder{{must, later}}
	}
	groups := make([]sameRewinder, len(p.shop.Rewinders))
	for _, one := range must {
		g := &groups[p.rewinders(one)[0]]
		g.must = append(g.must, one)
	}
	var running []sameRewinder
	for i := range groups {
		for _, one := range later {
			if p.rewinders(one)[0] == i {
				groups[i].later = append(groups[i].later, one)
			}
		}
		if len(groups[i].must) > 0 {
			running = append(running, groups[i])
			continue
		}
		p.into.out("due after the gang window, and nothing due within it shares its rewinder", groups[i].later...)
	}
	return running
}
