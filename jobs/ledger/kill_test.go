package ledger

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const writerFile = "LANEPLAN_TEST_LEDGER"

// TestMain turns the test binary into a writer that never ends where the test
// below starts it as one.
func TestMain(m *testing.M) {
	if path := os.Getenv(writerFile); path != "" {
		fmt.Println(write(path, os.Getenv("LANEPLAN_TEST_WRITER")))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

func write(path, name string) error {
	l, err := Open(path)
	if err != nil {
		return err
	}
	for i := 0; ; i++ {
		e := whole()
		e.Key = name + " " + strconv.Itoa(i)
		if _, err := l.Append(context.Background(), e); err != nil {
			return err
		}
		fmt.Println("added", i) // straight to the pipe: this is the acknowledgement
	}
}

// TestAKilledWriterLosesNothing kills writing processes at seeded moments and
// opens the file after each: it is sound, every acknowledged entry is there,
// and every entry is whole.
func TestAKilledWriterLosesNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), FileName)
	moments := rand.New(rand.NewPCG(7, 4))
	acknowledged := map[string]int{} // by writer: how many
	const rounds = 20
	for round := range rounds {
		names := []string{fmt.Sprintf("a%d", round)}
		if round%3 == 0 {
			names = append(names, fmt.Sprintf("b%d", round))
		}
		for i, n := range killed(t, path, names, moments) {
			acknowledged[names[i]] = n
		}
		checkSound(t, path, acknowledged)
	}
	entries, err := opened(t, path).Entries(t.Context(), Filter{})
	require.NoError(t, err)
	for _, e := range entries {
		want := whole()
		want.ID, want.Key = e.ID, e.Key
		require.Equal(t, want, e)
	}
	total := 0
	for _, n := range acknowledged {
		total += n
	}
	assert.Greater(t, total, rounds, "the writers wrote")
}

// killed starts the writers, kills each after some acknowledgements and some
// work more, and returns how many every one of them acknowledged.
func killed(t *testing.T, path string, names []string, moments *rand.Rand) []int {
	t.Helper()
	counts := make([]int, len(names))
	var writers []*exec.Cmd
	var pipes []*bufio.Scanner
	for _, name := range names {
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), writerFile+"="+path, "LANEPLAN_TEST_WRITER="+name)
		pipe, err := c.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, c.Start())
		writers, pipes = append(writers, c), append(pipes, bufio.NewScanner(pipe))
	}
	next := func(i int) bool {
		if !pipes[i].Scan() {
			return false
		}
		require.Equal(t, fmt.Sprint("added ", counts[i]), pipes[i].Text())
		counts[i]++
		return true
	}
	for i, c := range writers {
		for range moments.IntN(4) {
			require.True(t, next(i))
		}
		// The writer is somewhere in its next entry: where, the spinning
		// decides, which a busy machine may stretch. Any moment is a good one.
		spin := uint64(1)
		for range moments.IntN(3_000_000) {
			spin = spin*6364136223846793005 + 1
		}
		require.NotZero(t, spin)
		require.NoError(t, c.Process.Kill())
		for next(i) { // what it said before it died
		}
		require.Error(t, c.Wait())
	}
	return counts
}

func checkSound(t *testing.T, path string, acknowledged map[string]int) {
	t.Helper()
	open := Open
	if len(acknowledged)%2 == 0 && len(acknowledged) > 4 { // by then it surely is there
		open = OpenThere
	}
	l, err := open(path)
	require.NoError(t, err)
	defer l.Close()
	var sound string
	require.NoError(t, l.db.QueryRow("PRAGMA integrity_check").Scan(&sound))
	require.Equal(t, "ok", sound)
	there := map[string]bool{}
	rows, err := l.db.Query("SELECT key FROM entry")
	require.NoError(t, err)
	for rows.Next() {
		var key string
		require.NoError(t, rows.Scan(&key))
		there[key] = true
	}
	require.NoError(t, rows.Err())
	for name, n := range acknowledged {
		for i := range n {
			require.True(t, there[fmt.Sprint(name, " ", i)], "%s %d was acknowledged and is gone", name, i)
		}
		// At most the one that was being written is there without having
		// been acknowledged.
		require.False(t, there[fmt.Sprint(name, " ", n+1)])
	}
}
