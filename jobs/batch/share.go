package batch

import (
	"math"
	"slices"
)

// How the budget is shared out. Effort is counted in seconds of one slot of
// the runner where the budget is a time, and in nest's units of work where it
// is work.
const (
	// rounds in which the budget is shared out; where gangs were proven
	// before their share was used up, a few more share what is left.
	rounds, mostRounds = 4, 6
	// firstShare of a gang's even share of the budget is its first plan's,
	// but no more than quickSeconds or quickWork: every gang gets a good plan
	// before any gets a better one.
	firstShare   = 0.25
	quickSeconds = 30
	quickWork    = 300
	// leastSeconds and leastWork are a first plan's however small the budget.
	leastSeconds = 0.3
	leastWork    = 0.001
	// sharesPart of a budget of time is kept back for telling what orders save.
	sharesPart = 0.1
	// leastShare of the first plan's effort is the smallest that is worth
	// making the documents again.
	leastShare = 0.25
	// usual is the share of the open money that doubling the effort is
	// expected to save, before anything is known of a gang, and never the
	// smallest.
	usual, smallest = 0.2, 0.02
)

// Round is what one step of a gang came to.
type Round struct {
	Round int `json:"round"`
	// Effort that the step was given, and took.
	Given float64 `json:"given"`
	Took  float64 `json:"took"`
	// Beside is the part of Took that was no search: documents, comparisons.
	Beside float64 `json:"beside,omitempty"`
	Cost   float64 `json:"cost"`
	Bound  float64 `json:"bound"`
	Proven bool    `json:"proven,omitempty"`
}

// open is the money that a better plan may still save.
func (r Round) open() float64 {
	if r.Proven {
		return 0
	}
	return math.Max(0, r.Cost-r.Bound)
}

// firstEffort of a gang, where each has the same budget.
func firstEffort(each float64, timed bool) float64 {
	if timed {
		return max(leastSeconds, min(firstShare*each, quickSeconds))
	}
	return max(leastWork, min(firstShare*each, quickWork))
}

// hope is the money that doubling the effort for a gang is expected to save:
// its open money times a share, which starts as usual and moves to what the
// rounds so far did save.
func hope(history []Round) float64 {
	if len(history) == 0 {
		return 0
	}
	share, known := usual, 1.0
	for i := 1; i < len(history); i++ {
		if open := history[i-1].open(); open > 0 {
			share += math.Min(1, (history[i-1].Cost-history[i].Cost)/open)
			known++
		}
	}
	return history[len(history)-1].open() * math.Max(smallest, share/known)
}

// spent is the effort that a gang took in all.
func spent(history []Round) float64 {
	sum := 0.0
	for _, r := range history {
		sum += r.Took
	}
	return sum
}

// share shares an effort out so that the money that is expected to be saved is
// the most. Gang i has had the effort had[i]; a further effort e is expected to
// save
//
//	2 · hope[i] · e / (had[i] + e)
//
// which is hope[i] where e doubles the effort, and levels off. The best shares
// have one and the same marginal saving λ, so
//
//	e = max(0, √(2 · hope · had / λ) − had)
//
// and λ is the one at which the shares add up to the effort. Shares below
// least are not given at all, the smallest first.
func share(effort, least float64, hopes, had []float64) []float64 {
	shares := make([]float64, len(hopes))
	in := make([]int, 0, len(hopes))
	for i := range hopes {
		if hopes[i] > 0 && had[i] > 0 {
			in = append(in, i)
		}
	}
	for len(in) > 0 && effort >= least {
		level(effort, hopes, had, in, shares)
		worst := slices.MinFunc(in, func(a, b int) int {
			switch {
			case shares[a] < shares[b]:
				return -1
			case shares[a] > shares[b]:
				return 1
			}
			return b - a
		})
		if shares[worst] >= least {
			break
		}
		shares[worst] = 0
		in = slices.DeleteFunc(in, func(i int) bool { return i == worst })
	}
	return shares
}

// level finds the shares of those that are in.
func level(effort float64, hopes, had []float64, in []int, shares []float64) {
	at := func(root float64) (sum float64) { // root is 1/√λ
		for _, i := range in {
			shares[i] = math.Max(0, math.Sqrt(2*hopes[i]*had[i])*root-had[i])
			sum += shares[i]
		}
		return sum
	}
	low, high := 0.0, 1.0
	for at(high) < effort {
		high *= 2
	}
	for range 100 {
		if middle := (low + high) / 2; at(middle) < effort {
			low = middle
		} else {
			high = middle
		}
	}
	at(high)
}
