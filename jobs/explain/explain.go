// Package explain says why a plan is as it is: what sets the length of every
// section, what overs cost, and what the total would be if something were
// different. Nothing is guessed: every question is a problem of its own that
// the planner solves, and what is said of it is what its plans and bounds
// prove.
//
//	e, err := explain.Gang(ctx, gang, problem, plan, options, nil)
//	err = explain.Write(w, explain.Document{Gangs: []explain.Explanation{e}})
//
// The JSON Schema of what Write writes is in explain.schema.json, and in
// Schema.
package explain

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/shopspring/decimal"
	"github.com/tidwall/pretty"

	"laneplan/jobs"
	"laneplan/nest"
)

// Schema is the JSON Schema (draft 2020-12) of what Write writes.
//
//go:embed explain.schema.json
var Schema []byte

// Document explains the plans of one gang or of several.
type Document struct {
	Format int           `json:"laneplan"` // 1; Write fills it in
	Gangs  []Explanation `json:"gangs"`
}

// Explanation of one gang's plan. Money is in Currency, rounded to its
// smallest unit; what is called least is rounded down, what most up.
type Explanation struct {
	Gang     string      `json:"id"`
	Currency string      `json:"currency"`
	Cost     json.Number `json:"cost"` // of the plan
	// Cheapest plan that is known of the problem as it is: the plan, or what
	// the search found from there. Bound: no plan costs less.
	Cheapest json.Number `json:"cheapest"`
	Bound    json.Number `json:"bound,omitempty"` // absent where none is known
	Proven   bool        `json:"proven"`
	Sections []Section   `json:"sections"`
	Versions []Version   `json:"versions"`
	// EmptyLanes is what lanes that print nothing take of the cost of rows.
	EmptyLanes json.Number `json:"empty_lanes"`
	Questions  []Question  `json:"questions"`
	Seed       int64       `json:"seed"`
	Limits     Limits      `json:"limits"`
}

// Limits of the search: seconds for all questions together, work for each.
type Limits struct {
	Seconds float64 `json:"seconds,omitempty"`
	Work    float64 `json:"work,omitempty"`
	Gap     float64 `json:"gap,omitempty"`
}

// Section and what sets its length: what would be wrong one frame shorter.
type Section struct {
	Number int `json:"number"`
	Rows   int `json:"rows"`
	// SetBy are versions that would be below what the customer takes at
	// least; Unbilled would be short within the tolerance, which costs money.
	SetBy    []string `json:"set_by,omitempty"`
	Unbilled []string `json:"unbilled,omitempty"`
	// LeastLength: it is as short as sections may be. WholeRolls: its lane
	// runs would not be whole customer rolls, as required.
	LeastLength bool `json:"least_length,omitempty"`
	WholeRolls  bool `json:"whole_rolls,omitempty"`
}

// Version and the money of what it prints beyond its order.
type Version struct {
	ID      string `json:"id"`
	Ordered int    `json:"ordered"`
	Planned int    `json:"planned"`
	Overs   int    `json:"overs"`
	Scrap   int    `json:"scrap"`
	Unders  int    `json:"unders"`
	// Cost is the sum of the others: web of overs and scrap (an equal part of
	// a row for each open lane), ink of them, what is billed (negative), and
	// what short labels lose.
	Cost   json.Number `json:"cost"`
	Web    json.Number `json:"web"`
	Ink    json.Number `json:"ink"`
	Billed json.Number `json:"billed"`
	Short  json.Number `json:"short"`
}

// Question and its answer. Changes are against the cheapest plan of the
// problem as it is; less than 0 is a saving.
type Question struct {
	Kind    string `json:"kind"`
	Subject string `json:"subject"`
	Note    string `json:"note,omitempty"` // how it is meant
	// None says why there is no answer: no plan, not possible, not asked.
	None     string      `json:"none,omitempty"`
	Cost     json.Number `json:"cost,omitempty"` // of the cheapest plan found
	Sections int         `json:"sections,omitempty"`
	Found    json.Number `json:"change,omitempty"`
	// The cheapest plan changes by at least Least and by at most Most, both
	// proven, absent where nothing is; Exact: they are one.
	Least json.Number `json:"change_least,omitempty"`
	Most  json.Number `json:"change_most,omitempty"`
	Exact bool        `json:"exact,omitempty"`
}

// Gang explains a plan of a gang that has passed nest.Check; p is the gang's
// problem. The limits of o are for the whole: a time for all questions
// together, work for each. 'about' is told before each question what it is,
// if it is not nil. Where ctx ends, what was not asked says so.
func Gang(ctx context.Context, g jobs.Gang, p nest.Problem, plan nest.Plan, o nest.Options, about func(string)) (Explanation, error) {
	asked := questionsOf(g)
	tell := func(name string) {
		if about != nil {
			about(name)
		}
	}
	base, err := asItIs(ctx, p, plan, o, len(asked), tell)
	if err != nil {
		return Explanation{}, err
	}
	w := writer{places: g.Places()}
	e := Explanation{
		Gang: g.ID, Currency: g.Currency, Cost: w.money(plan.Cost.Total), Cheapest: w.money(base.Plan.Cost.Total),
		Bound: w.floor(base.Bound), Proven: base.Proven, Seed: o.Seed,
		Limits: Limits{Seconds: o.Time.Seconds(), Work: o.Work, Gap: o.Gap},
	}
	e.Sections, e.Versions, e.EmptyLanes = w.plan(p, plan)

	if o.Time > 0 {
		o.Time = max(o.Time-base.Time, 1)
	}
	var questions []nest.Question
	var at []int // of questions in asked
	for _, q := range asked {
		problem, err := q.gang.Problem()
		if err != nil {
			e.Questions = append(e.Questions, Question{Kind: q.kind, Subject: q.subject, Note: q.note, None: "not possible: " + oneLine(err)})
			continue
		}
		start := base.Plan
		if q.version >= 0 {
			start = start.Without(q.version)
		}
		asking := nest.Question{Problem: problem, Start: &start}
		switch q.kind {
		case LaneMore:
			asking.Relaxes = problem.Costs == p.Costs
		case LaneFewer:
			asking.Restricts = true
		case Tolerance:
			asking.Relaxes, asking.Restricts = nest.Tolerates(p, problem)
		case LeaveOut:
			asking.Relaxes = nest.MayLeaveOut(p, q.version)
		}
		questions, at = append(questions, asking), append(at, len(e.Questions))
		e.Questions = append(e.Questions, Question{Kind: q.kind, Subject: q.subject, Note: q.note})
	}
	changes, err := nest.Ask(ctx, base, questions, o, func(i int) {
		q := e.Questions[at[i]]
		tell(fmt.Sprintf("question %d of %d: %s, %s", i+1, len(questions), q.Kind, q.Subject))
	})
	if err != nil {
		return e, err
	}
	for i, c := range changes {
		w.answer(&e.Questions[at[i]], c)
	}
	return e, nil
}

// asItIs searches from the plan in the share of one question.
func asItIs(ctx context.Context, p nest.Problem, plan nest.Plan, o nest.Options, questions int, tell func(string)) (nest.Result, error) {
	tell("the problem as it is")
	o.Start = &plan
	if o.Time > 0 {
		// The bound of the problem as it is counts in every answer.
		o.Time = max(o.Time/4, o.Time/time.Duration(questions+1))
	}
	return nest.Solve(ctx, p, o)
}

func oneLine(err error) string { return strings.ReplaceAll(err.Error(), "\n", "; ") }

// Write writes the document, indented; the same document gives the same
// bytes.
func Write(w io.Writer, d Document) error {
	d.Format = 1
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(d); err != nil {
		return fmt.Errorf("write the explanation: %w", err)
	}
	if _, err := w.Write(pretty.PrettyOptions(b.Bytes(), &pretty.Options{Width: 300, Indent: " "})); err != nil {
		return fmt.Errorf("write the explanation: %w", err)
	}
	return nil
}

// writer turns floats of the planner into figures of a currency.
type writer struct{ places int32 }

// digits after which a sum of the planner's floats is taken for round.
const digits = 7

func (w writer) money(x float64) json.Number {
	return json.Number(decimal.NewFromFloat(x).Round(w.places).StringFixed(w.places))
}

// floor gives nothing for what is not known.
func (w writer) floor(x float64) json.Number {
	if math.IsInf(x, 0) {
		return ""
	}
	return json.Number(decimal.NewFromFloat(x).Round(digits).RoundFloor(w.places).StringFixed(w.places))
}

func (w writer) ceil(x float64) json.Number {
	if math.IsInf(x, 0) {
		return ""
	}
	return json.Number(decimal.NewFromFloat(x).Round(digits).RoundCeil(w.places).StringFixed(w.places))
}

func (w writer) plan(p nest.Problem, plan nest.Plan) (sections []Section, versions []Version, empty json.Number) {
	names := func(list []int) (ids []string) {
		for _, i := range list {
			ids = append(ids, p.Versions[i].ID)
		}
		return ids
	}
	for k, s := range nest.Setters(p, plan) {
		sections = append(sections, Section{
			Number: k + 1, Rows: plan.Sections[k].Rows, SetBy: names(s.Versions), Unbilled: names(s.Unbilled),
			LeastLength: s.Least, WholeRolls: s.Rolls,
		})
	}
	costs, idle := nest.OverCosts(p, plan)
	count := nest.Recount(p, plan)
	for i, c := range costs {
		n := count.Versions[i]
		versions = append(versions, Version{
			ID: n.ID, Ordered: n.Ordered, Planned: n.Planned, Overs: n.Overs, Scrap: n.Scrap, Unders: n.Unders,
			Cost: w.money(c.Total), Web: w.money(c.Web), Ink: w.money(c.Labels), Billed: w.money(c.Billed), Short: w.money(c.Short),
		})
	}
	return sections, versions, w.money(idle)
}

func (w writer) answer(q *Question, c nest.Change) {
	switch {
	case !c.Asked:
		q.None = "not asked: interrupted"
		return
	case c.None != nil:
		q.None = oneLine(c.None)
		return
	}
	q.Cost, q.Sections = w.money(c.Result.Plan.Cost.Total), len(c.Result.Plan.Sections)
	q.Found, q.Least, q.Most = w.money(c.Found), w.floor(c.Least), w.ceil(c.Most)
	if c.Most-c.Least < 1e-7 {
		q.Least, q.Most, q.Exact = q.Found, q.Found, true
	}
}
