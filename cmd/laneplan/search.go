package main

import (
	"fmt"
	"time"

	"github.com/spf13/pflag"

	"laneplan/jobs/planfile"
	"laneplan/nest"
	"laneplan/solver/highs"
)

// search is the flags that steer a search.
type search struct {
	time        span
	work        amount
	gap         share
	seed        int64
	workers     count
	engine      string
	defaultTime span
	flags       *pflag.FlagSet
}

// searchFlags adds the flags to a command. defaultTime is the time limit
// where neither --time nor --work is given.
func searchFlags(flags *pflag.FlagSet, defaultTime time.Duration) *search {
	s := &search{seed: 1, defaultTime: span(defaultTime), flags: flags}
	flags.Var(&s.time, "time", fmt.Sprintf("stop after so long, 0 for never (default %v, or never where --work is given)", defaultTime))
	flags.Var(&s.work, "work", "stop after so much work, in units of a million moves: the same seed and work give the same plan")
	flags.Var(&s.gap, "gap", "stop when the plan is proven to be within this share of the cheapest, e.g. 1%")
	flags.Int64Var(&s.seed, "seed", s.seed, "seed of the random choices")
	flags.Var(&s.workers, "workers", "search with so many goroutines (default: one a core)")
	flags.StringVar(&s.engine, "engine", "", "path or name of a highs executable to use instead of the embedded engine")
	flags.Lookup("time").DefValue, flags.Lookup("work").DefValue = "", ""
	flags.Lookup("gap").DefValue, flags.Lookup("workers").DefValue = "", ""
	return s
}

// limits settles the time limit and tells which limits are in force.
func (s *search) limits() (time.Duration, planfile.Limits) {
	limit := s.time
	if !s.flags.Changed("time") && !s.flags.Changed("work") {
		limit = s.defaultTime
	}
	return time.Duration(limit), planfile.LimitsOf(time.Duration(limit).Seconds(), float64(s.work), float64(s.gap))
}

// options are those of nest, without an engine.
func (s *search) options() nest.Options {
	limit, _ := s.limits()
	return nest.Options{
		Gap: float64(s.gap), Work: float64(s.work), Time: limit, Seed: s.seed, Workers: int(s.workers),
	}
}

// start makes the engine.
func (s *search) start() (*highs.Engine, error) {
	engine, err := highs.New(highs.Options{Executable: s.engine})
	if err != nil && s.engine != "" {
		return nil, usage("--engine: %w", err)
	}
	return engine, err
}
