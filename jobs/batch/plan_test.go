package batch

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs"
	"laneplan/jobs/compare"
	"laneplan/jobs/planfile"
	"laneplan/jobs/pool"
	"laneplan/jobs/starter"
	"laneplan/jobs/ticket"
	"laneplan/solver"
	"laneplan/solver/highs"
)

var monday = time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC)

// engine for all tests of the package; it is made once, since that takes
// time.
var engine *highs.Engine

func TestMain(m *testing.M) {
	var err error
	if engine, err = highs.New(highs.Options{}); err != nil {
		panic(err)
	}
	code := m.Run()
	_ = engine.Close()
	os.Exit(code)
}

// mill is the order book of the spice mill that laneplan init writes.
func mill(t testing.TB) (*jobs.Shop, pool.Pooling) {
	t.Helper()
	shop, lines, _, err := starter.Book()
	require.NoError(t, err)
	pooling, err := pool.Pool(shop, lines, monday)
	require.NoError(t, err)
	return shop, pooling
}

// taskOf a gang of the mill with several orders, some of them fillers.
func taskOf(t testing.TB, id string) Task {
	t.Helper()
	shop, pooling := mill(t)
	for _, g := range pooling.Gangs {
		if g.ID == id {
			task := Task{
				Program: "test", Round: 1, Gang: g.Gang, Date: monday, Work: 0.05, Seed: 1, NoTimes: true,
				Alone: pool.Apart(shop, pooling, g, func(string) bool { return true }),
			}
			require.NoError(t, task.SetKey())
			return task
		}
	}
	require.Fail(t, "no such gang", id)
	return Task{}
}

const lids = "lid-48-pp-60-food"

// bytesOf a result, by hash and without times: a difference is shown short.
func bytesOf(t *testing.T, r Result) string {
	t.Helper()
	data, err := timeless(r).Encode()
	require.NoError(t, err)
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// timeless is a result without the times that it took.
func timeless(r Result) Result {
	r.Seconds, r.Searched = 0, 0
	return r
}

func TestATaskIsWholeInItsBytes(t *testing.T) {
	task := taskOf(t, lids)
	data, err := task.Encode()
	require.NoError(t, err)
	again, err := DecodeTask(data)
	require.NoError(t, err)
	key := again.Key
	require.NoError(t, again.SetKey())
	assert.Equal(t, task.Key, key)
	assert.Equal(t, key, again.Key, "nothing that counts was lost on the way")

	here, there := Plan(context.Background(), engine, task), Plan(context.Background(), engine, again)
	require.Nil(t, here.Failure)
	assert.Equal(t, bytesOf(t, here), bytesOf(t, there))
	assert.Equal(t, key, here.Key)
	var names []string
	for _, f := range here.Files {
		names = append(names, f.Name)
		assert.NotEmpty(t, f.Data, f.Name)
	}
	assert.Equal(t, ticket.FileNames(), names)

	data, err = here.Encode()
	require.NoError(t, err)
	back, err := DecodeResult(data)
	require.NoError(t, err)
	assert.Equal(t, bytesOf(t, here), bytesOf(t, back))
}

func TestTheKeyIsThatOfWhatDecides(t *testing.T) {
	task := taskOf(t, lids)
	input, err := task.Input()
	require.NoError(t, err)
	for name, tt := range map[string]struct {
		change     func(*Task)
		key, input bool // that change
	}{
		"workers":     {func(t *Task) { t.Workers = 3 }, false, false},
		"patience":    {func(t *Task) { t.GiveUp = time.Hour }, false, false},
		"budget":      {func(t *Task) { t.Work = 7 }, true, false},
		"round":       {func(t *Task) { t.Round = 2 }, true, false},
		"plan before": {func(t *Task) { t.Before = &Outcome{} }, true, false},
		"program":     {func(t *Task) { t.Program = "next" }, true, true},
		"seed":        {func(t *Task) { t.Seed = 2 }, true, true},
		"date":        {func(t *Task) { t.Date = t.Date.AddDate(0, 0, 1) }, true, true},
		"order":       {func(t *Task) { t.Gang.Orders[0].Versions[0].Quantity++ }, true, true},
		"stock price": {func(t *Task) { t.Gang.Stock.Caliper++ }, true, true},
	} {
		changed := taskOf(t, lids)
		tt.change(&changed)
		require.NoError(t, changed.SetKey())
		assert.Equal(t, tt.key, changed.Key != task.Key, "%s: the key", name)
		now, err := changed.Input()
		require.NoError(t, err)
		assert.Equal(t, tt.input, now != input, "%s: the input", name)
	}
}

func TestAPlanGrowsBetterRoundByRound(t *testing.T) {
	task := taskOf(t, "pouch-100x150-pp-60-laminate")
	task.Work = 0.01
	first := Plan(context.Background(), engine, task)
	require.Nil(t, first.Failure)
	task.Round, task.Work, task.Seed, task.Before = 2, 0.5, 2, first.Outcome
	second := Plan(context.Background(), engine, task)
	require.Nil(t, second.Failure)
	before, after := first.Outcome.Plan, second.Outcome.Plan
	assert.True(t, planfile.Decimal(after.Cost.Total).LessThanOrEqual(planfile.Decimal(before.Cost.Total)))
	assert.True(t, planfile.Decimal(before.Bound.Cost).LessThanOrEqual(planfile.Decimal(after.Bound.Cost)))
	assert.Greater(t, len(first.Outcome.Plan.Solve.Work), 0)
	assert.NotEqual(t, before.Solve.Work, after.Solve.Work, "work adds up")

	// Without a limit the documents are made again, byte for byte.
	task.Work, task.Before = 0, second.Outcome
	again := Plan(context.Background(), engine, task)
	require.Nil(t, again.Failure)
	assert.Equal(t, bytesOf(t, Result{Files: second.Files}), bytesOf(t, Result{Files: again.Files}))

	// With shares they tell what every order saves, and go on doing so.
	assert.Empty(t, second.Outcome.Money)
	task.Shares = true
	shared := Plan(context.Background(), engine, task)
	require.Nil(t, shared.Failure)
	assert.Len(t, shared.Outcome.Money, len(task.Gang.Orders))
	task.Shares, task.Before = false, shared.Outcome
	again = Plan(context.Background(), engine, task)
	require.Nil(t, again.Failure)
	assert.Equal(t, bytesOf(t, Result{Files: shared.Files}), bytesOf(t, Result{Files: again.Files}))
}

func TestWhatEndsWithoutAPlanSaysWhy(t *testing.T) {
	ended, cancel := context.WithCancel(context.Background())
	cancel()
	for name, tt := range map[string]struct {
		change func(*Task)
		engine solver.Solver
		ctx    context.Context
		kind   Kind
		reason string
	}{
		"no plan can meet the demands": {change: func(t *Task) {
			t.Gang.Orders[0].Versions[0].OnlyLanes = []int{1}
			t.Gang.Orders[0].Versions[0].LeastLanes = 2
		}, kind: Infeasible, reason: "lanes"},
		"the gang is at fault":     {change: func(t *Task) { t.Gang.Orders[0].Versions[0].Quantity = -1 }, kind: BadInput, reason: "quantity"},
		"the engine panics":        {change: hard, engine: panicking{}, kind: Broken, reason: "the engine fell over"},
		"told to stop at once":     {ctx: ended},
		"patience is over at once": {change: func(t *Task) { t.GiveUp = 1 }, kind: TimedOut, reason: "given up after 1ns"},
	} {
		t.Run(name, func(t *testing.T) {
			task := taskOf(t, lids)
			if tt.change != nil {
				tt.change(&task)
			}
			if tt.engine == nil {
				tt.engine = engine
			}
			if tt.ctx == nil {
				tt.ctx = context.Background()
			}
			r := Plan(tt.ctx, tt.engine, task)
			assert.Nil(t, r.Outcome)
			assert.Empty(t, r.Files)
			if tt.kind == "" {
				assert.Nil(t, r.Failure)
				assert.True(t, r.CutShort)
				return
			}
			require.NotNil(t, r.Failure)
			assert.Equal(t, tt.kind, r.Failure.Kind, r.Failure.Reason)
			assert.Contains(t, r.Failure.Reason, tt.reason)
			assert.NotEmpty(t, r.Failure.Do)
		})
	}
}

// hard gives a gang one order of so many versions that no plan is proven before
// the engine is asked.
func hard(task *Task) {
	order := task.Gang.Orders[0]
	first := order.Versions[0]
	order.Versions = nil
	for n := range 30 {
		v := first
		v.ID = fmt.Sprintf("version-%d", n)
		v.Quantity = 700 + 137*(n*n%61)
		order.Versions = append(order.Versions, v)
	}
	task.Gang.Orders = []jobs.Order{order}
	task.Work = 4
}

type panicking struct{}

func (panicking) Name() string { return "panicking" }

func (panicking) Solve(context.Context, *solver.Model, solver.Options) (solver.Result, error) {
	panic("the engine fell over")
}

// failing has an error in place of every answer.
type failing struct{ panicking }

func (failing) Solve(context.Context, *solver.Model, solver.Options) (solver.Result, error) {
	return solver.Result{}, errors.New("the solver ran out of memory at 32 MiB")
}

func TestAPlanStandsWithoutItsEngine(t *testing.T) {
	task := taskOf(t, lids)
	hard(&task)
	r := Plan(context.Background(), failing{}, task)
	require.Nil(t, r.Failure)
	assert.Contains(t, r.Outcome.Warnings[0], "ran out of memory")
	assert.NotEmpty(t, r.Files)
}

func TestOneCostAlone(t *testing.T) {
	task := taskOf(t, lids)
	r := Plan(context.Background(), engine, task)
	require.Nil(t, r.Failure)
	require.NotNil(t, r.Outcome.Alone)
	assert.True(t, r.Outcome.Alone.GreaterThan(r.Outcome.Cost))
	cost, err := compare.Cost(context.Background(), task.Alone[0])
	require.NoError(t, err)
	assert.Greater(t, cost, 0.0)
}
