package batch

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/planfile"
	"laneplan/jobs/ticket"
)

// Task is one step of one gang: everything that is needed to plan it, or to
// plan it better, and to make its documents. It is plain data, so it may be
// worked off by any process on any machine.
type Task struct {
	// Key is the hash of everything below that decides the result, in hex.
	// Two tasks of one key have the same result, but for times.
	Key string `json:"key"`
	// Program is the version of the program that made the task.
	Program string `json:"program"`
	Round   int    `json:"round"` // from 1

	Gang jobs.Gang `json:"gang"`
	// Undated is the gang without dates that bind its plan, for where no plan
	// keeps them: a late plan is wanted all the same. Nil where none binds it.
	Undated *jobs.Gang `json:"undated,omitempty"`
	// Alone are the gangs that its orders would be, each by itself, in the
	// same order; not needed for a single order.
	Alone []jobs.Gang `json:"alone,omitempty"`
	// Date that stands on the documents.
	Date time.Time `json:"date"`

	// Work and Time limit the search as nest.Options have them. Where both
	// are zero nothing is searched: the documents of Before are made again.
	Work float64       `json:"work,omitempty"`
	Time time.Duration `json:"time,omitempty"`
	Gap  float64       `json:"gap,omitempty"` // at which to stop
	Seed int64         `json:"seed"`
	// Shares has the documents tell what every order saves, which takes many
	// plans; without it they keep what Before tells.
	Shares bool `json:"shares,omitempty"`
	// Workers is the number of goroutines; 0 is the number of cores.
	Workers int `json:"workers,omitempty"`
	// NoTimes leaves seconds out of the plan.
	NoTimes bool `json:"no_times,omitempty"`
	// GiveUp ends a step that takes so long, documents included; 0 is never.
	GiveUp time.Duration `json:"give_up,omitempty"`

	// Before is what the round before came to; nil in the first.
	Before *Outcome `json:"before,omitempty"`
}

// Outcome is the plan of a gang with what its summary says of it.
type Outcome struct {
	Plan planfile.Gang `json:"plan"` // without its job
	// Cost of the versions that the plan prints, and of the same versions with
	// every order alone; Alone is nil where AloneUnknown names orders for
	// which no plan alone was found.
	Cost         decimal.Decimal  `json:"cost"`
	Alone        *decimal.Decimal `json:"alone,omitempty"`
	AloneUnknown []string         `json:"alone_unknown,omitempty"`
	// Minutes on the press, and after how many of them each version is
	// printed, by its id.
	Minutes  decimal.Decimal    `json:"minutes"`
	Finished map[string]float64 `json:"finished,omitempty"`
	// Undated says that the plan is that of Task.Undated.
	Undated bool `json:"undated,omitempty"`
	// Money and MoneyRule as in ticket.Job; Shared says that they were worked
	// out, if only to nothing.
	Shared    bool                `json:"shared,omitempty"`
	Money     []ticket.OrderMoney `json:"money,omitempty"`
	MoneyRule string              `json:"money_rule,omitempty"`
	Warnings  []string            `json:"warnings,omitempty"`
}

// Result of a task. Where neither Outcome nor Failure is set, the step was cut
// short before it met a plan.
type Result struct {
	Key  string `json:"key"`
	Gang string `json:"gang"`
	// Outcome and Files, the documents in the order in which they are
	// written, are nil after a failure.
	Outcome *Outcome      `json:"outcome,omitempty"`
	Files   []ticket.File `json:"files,omitempty"`
	Failure *Failure      `json:"failure,omitempty"`
	// CutShort says that the program was told to stop: the plan is the best
	// so far, and the same task again gives the whole result.
	CutShort bool `json:"cut_short,omitempty"`
	// Work and Seconds that the step took, and how many of the seconds the
	// search did; the rest went into comparisons and documents.
	Work     float64 `json:"work"`
	Seconds  float64 `json:"seconds"`
	Searched float64 `json:"searched"`
}

// Failure is why a gang has no plan.
type Failure struct {
	Kind   Kind   `json:"kind"`
	Reason string `json:"reason"`           // one sentence without a full stop
	Do     string `json:"do"`               // what to do about it
	Detail string `json:"detail,omitempty"` // for us: a stack
}

// Kind of a failure.
type Kind string

// The kinds of failure.
const (
	BadInput   Kind = "bad input"   // the gang or its papers are at fault
	Infeasible Kind = "infeasible"  // no plan can meet the demands
	NotFound   Kind = "no plan"     // none was found; there may be one
	TimedOut   Kind = "time-out"    // the step took longer than Task.GiveUp
	Broken     Kind = "broken"      // our own failure, a panic too
	Lost       Kind = "lost"        // those who worked on it died of it
	NotWritten Kind = "not written" // its folder cannot be written
)

var whatToDo = map[Kind]string{
	BadInput:   "mend the order book or the shop file, then run the batch again: it plans only what is missing",
	Infeasible: "loosen what the reason names, or take an order out, then run the batch again",
	NotFound:   "run the batch again with a larger --budget or --work",
	TimedOut:   "raise --give-up, or lower most_versions in the shop file, then run the batch again",
	Broken:     "plan its orders alone or by another press meanwhile, and report this with the log",
	NotWritten: "see to its folder, then run the batch again",
	Lost:       "look at the log of the workers; a larger --memory may help, or lower most_versions in the shop file",
}

// Fail is a failure of a kind, with what to do about it.
func Fail(kind Kind, format string, values ...any) *Failure {
	return &Failure{Kind: kind, Reason: fmt.Sprintf(format, values...), Do: whatToDo[kind]}
}

// SetKey computes the key.
func (t *Task) SetKey() error {
	key, err := t.hash()
	t.Key = key
	return err
}

// Input is the hash of what is planned, without how far: the gang, the
// program's version, and the options that are not a share of the budget.
func (t Task) Input() (string, error) {
	t.Round, t.Work, t.Time, t.Before, t.Shares = 0, 0, 0, nil, false
	return t.hash()
}

// hash leaves out what does not change the result.
func (t Task) hash() (string, error) {
	t.Key, t.Workers, t.GiveUp = "", 0, 0
	data, err := t.Encode()
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]), nil
}

// Encode gives the task as JSON; the same task gives the same bytes.
func (t Task) Encode() ([]byte, error) {
	data, err := json.Marshal(t)
	if err != nil {
		return nil, fmt.Errorf("gang %s: store the task: %w", t.Gang.ID, err)
	}
	return data, nil
}

// DecodeTask reads what Task.Encode wrote.
func DecodeTask(data []byte) (Task, error) {
	var t Task
	if err := json.Unmarshal(data, &t); err != nil {
		return Task{}, fmt.Errorf("not a task of a batch: %w", err)
	}
	return t, nil
}

// Encode gives the result as JSON.
func (r Result) Encode() ([]byte, error) {
	data, err := json.Marshal(r)
	if err != nil {
		return nil, fmt.Errorf("gang %s: store the result: %w", r.Gang, err)
	}
	return data, nil
}

// DecodeResult reads what Result.Encode wrote.
func DecodeResult(data []byte) (Result, error) {
	var r Result
	if err := json.Unmarshal(data, &r); err != nil {
		return Result{}, fmt.Errorf("not a result of a batch: %w", err)
	}
	return r, nil
}
