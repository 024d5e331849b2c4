package queue

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
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

// handle does what a task's payload says.
func handle(ctx context.Context, t Task) ([]byte, error) {
	order, rest, _ := strings.Cut(string(t.Payload), " ")
	switch order {
	case "upper":
		return bytes.ToUpper([]byte(rest)), nil
	case "fail":
		return nil, errors.New(rest)
	case "panic":
		panic(rest)
	case "die":
		os.Exit(3)
	case "while": // the file is there
		for {
			if _, err := os.Stat(rest); err != nil {
				return []byte("done"), nil
			}
			select {
			case <-ctx.Done():
				return []byte("so far"), nil
			case <-time.After(5 * time.Millisecond):
			}
		}
	}
	return nil, fmt.Errorf("no such order: %q", order)
}

// process is a worker in a process of its own.
type process struct {
	t     *testing.T
	cmd   *exec.Cmd
	mu    sync.Mutex
	lines []string
	news  chan struct{}
	ended chan struct{}
}

// startProcess runs a worker that ends with the test.
func startProcess(t *testing.T, o Options) *process {
	t.Helper()
	o.Log = nil
	text, err := json.Marshal(o)
	require.NoError(t, err)
	p := &process{t: t, cmd: exec.Command(os.Args[0]), news: make(chan struct{}, 1), ended: make(chan struct{})}
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
			select {
			case p.news <- struct{}{}:
			default:
			}
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
	for !p.has(words...) {
		select {
		case <-p.news:
		case <-p.ended:
			if !p.has(words...) {
				p.t.Fatalf("the worker ended and never said %q:\n%s", words, strings.Join(p.lines, "\n"))
			}
		case <-p.t.Context().Done():
			p.t.FailNow()
		}
	}
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
func first(t *testing.T, processes []*process, words ...string) (*process, []*process) {
	t.Helper()
	for {
		for i, p := range processes {
			if p.has(words...) {
				return p, append(append([]*process{}, processes[:i]...), processes[i+1:]...)
			}
		}
		select {
		case <-time.After(2 * time.Millisecond):
		case <-t.Context().Done():
			t.FailNow()
		}
	}
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
	<-p.ended
	return p.cmd.ProcessState.ExitCode()
}
