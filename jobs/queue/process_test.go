//go:build unix

package queue

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"os/signal"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"laneplan/jobs/queue/queuetest"
)

// workerOptions is the variable that makes a worker of this test binary.
const workerOptions = "QUEUE_TEST_WORKER"

func TestMain(m *testing.M) {
	if text := os.Getenv(workerOptions); text != "" {
		os.Exit(workerMain(text))
	}
	os.Exit(m.Run())
}

func workerMain(text string) int {
	var o Options
	if err := json.Unmarshal([]byte(text), &o); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	o.Log = slog.New(slog.NewTextHandler(os.Stdout, nil))
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	err := Work(ctx, o, handle)
	if errors.Is(err, context.Canceled) {
		return 130
	}
	fmt.Fprintln(os.Stderr, err)
	return 1
}

// process is a worker in a process of its own.
type process struct {
	t     *testing.T
	cmd   *exec.Cmd
	mu    sync.Mutex
	lines []string
	ended chan struct{}
}

// startProcess runs a worker that ends with the test.
func startProcess(t *testing.T, o Options) *process {
	t.Helper()
	o.Log = nil
	text, err := json.Marshal(o)
	require.NoError(t, err)
	p := &process{t: t, cmd: exec.Command(os.Args[0]), ended: make(chan struct{})}
	p.cmd.Env = append(os.Environ(), workerOptions+"="+string(text))
	p.cmd.Stderr = os.Stderr
	out, err := p.cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, p.cmd.Start())
	go func() {
		defer close(p.ended)
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			p.mu.Lock()
			p.lines = append(p.lines, lines.Text())
			p.mu.Unlock()
		}
		_ = p.cmd.Wait()
	}()
	t.Cleanup(func() {
		_ = p.cmd.Process.Kill()
		<-p.ended
	})
	return p
}

// said waits until the worker has logged a line with all the words.
func (p *process) said(words ...string) {
	p.t.Helper()
	queuetest.Until(p.t, fmt.Sprintf("the worker says %q", words), func() bool {
		select {
		case <-p.ended:
			if !p.has(words...) {
				p.t.Fatalf("the worker ended and never said %q:\n%s", words, strings.Join(p.lines, "\n"))
			}
		default:
		}
		return p.has(words...)
	})
}

func (p *process) has(words ...string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, line := range p.lines {
		all := true
		for _, word := range words {
			all = all && strings.Contains(line, word)
		}
		if all {
			return true
		}
	}
	return false
}

// first waits until one of the workers has said the words, and returns it and
// the others.
func first(t *testing.T, processes []*process, words ...string) (p *process, others []*process) {
	t.Helper()
	queuetest.Until(t, fmt.Sprintf("a worker says %q", words), func() bool {
		i := slices.IndexFunc(processes, func(p *process) bool { return p.has(words...) })
		if i >= 0 {
			p, others = processes[i], slices.Delete(slices.Clone(processes), i, i+1)
		}
		return i >= 0
	})
	return p, others
}

// name is what self says in the worker.
func (p *process) name() string {
	host, _, _ := strings.Cut(self(), ":")
	return fmt.Sprintf("%s:%d", host, p.cmd.Process.Pid)
}

func (p *process) signal(s os.Signal) {
	p.t.Helper()
	require.NoError(p.t, p.cmd.Process.Signal(s))
}

// code waits for the end and gives the exit code.
func (p *process) code() int {
	p.t.Helper()
	queuetest.Receive(p.t, p.ended, "the end of a worker")
	return p.cmd.ProcessState.ExitCode()
}

func TestATaskThatKillsItsWorkersIsSetAside(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	o.AckWait = 200 * time.Millisecond
	p := publisher(t, o)
	poison := ask(queuetest.Context(t), p, "poison", "die")
	for range 3 {
		assert.Equal(t, 3, startProcess(t, o).code())
	}
	startProcess(t, o)
	a := <-poison
	var aside *Aside
	require.ErrorAs(t, a.err, &aside)
	require.Len(t, aside.Reasons, 3)
	assert.Contains(t, aside.Reasons[2], "ended in the middle of it")
	good := <-ask(queuetest.Context(t), p, "good", "upper a")
	require.NoError(t, good.err)
}

func TestATaskMovesOnWhenItsWorkerIsKilled(t *testing.T) {
	s := queuetest.Start(t, "")
	o := options(s)
	p := publisher(t, o)
	path, release := hold(t)
	workers := []*process{startProcess(t, o), startProcess(t, o), startProcess(t, o)}
	answer := ask(queuetest.Context(t), p, "K", "while "+path)
	doomed, others := first(t, workers, "task begun")
	doomed.signal(syscall.SIGKILL)
	assert.Equal(t, -1, doomed.code())
	first(t, others, "task begun")
	s.Stop() // and the server is away while the heir is at it
	s.Run(t)
	release()
	a := <-answer
	require.NoError(t, a.err)
	assert.Equal(t, "done", string(a.r.Data))
	assert.NotEqual(t, doomed.name(), a.r.Worker)
	noMore(t, p, 1)
}

func TestTheFirstResultOfAKeyCounts(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	p := publisher(t, o)
	path, release := hold(t)
	late := startProcess(t, o)
	answer := ask(queuetest.Context(t), p, "K", "while "+path)
	late.said("task begun")
	late.signal(syscall.SIGSTOP) // as a machine that sleeps
	heir := startProcess(t, o)
	heir.said("task begun", "try=2")
	release()
	a := <-answer
	require.NoError(t, a.err)
	assert.Equal(t, heir.name(), a.r.Worker)
	late.signal(syscall.SIGCONT)
	late.said("another worker was first")
	again, err := p.Do(queuetest.Context(t), Task{Key: "K"})
	require.NoError(t, err)
	assert.Equal(t, a.r, again)
}

func TestAWorkerThatIsToldToEndGivesItsTaskBack(t *testing.T) {
	o := options(queuetest.Start(t, ""))
	o.AckWait = time.Hour // so that nothing but giving back moves the task
	o.Tries, o.Grace = 1, 3*time.Second
	p := publisher(t, o)
	path, release := hold(t)
	answer := ask(queuetest.Context(t), p, "K", "while "+path)
	for range 2 { // more often than tries
		worker := startProcess(t, o)
		worker.said("task begun", "try=1")
		worker.signal(syscall.SIGTERM)
		assert.Equal(t, 130, worker.code())
		worker.said("task given back")
	}
	o.Grace = 2 * queuetest.Patience // so that soon is soon enough on any machine
	worker := startProcess(t, o)
	worker.said("task begun", "try=1")
	worker.signal(syscall.SIGTERM)
	release()
	assert.Equal(t, 130, worker.code())
	a := <-answer
	require.NoError(t, a.err)
	assert.Equal(t, "done", string(a.r.Data), "what is done soon is handed over")
}
