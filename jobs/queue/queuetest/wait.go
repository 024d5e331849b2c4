package queuetest

import (
	"context"
	"fmt"
	"testing"
	"time"
)

// Patience is how long a test waits for what must come, on any machine. It
// ends a hang with a message and decides nothing else.
const Patience = time.Minute

// Context ends with the test, or when its patience is over.
func Context(t testing.TB) context.Context {
	ctx, cancel := context.WithTimeoutCause(t.Context(), Patience, fmt.Errorf("the test waited %s in vain", Patience))
	t.Cleanup(cancel)
	return ctx
}

// Receive waits for a value, or for the end of a closed channel.
func Receive[T any](t testing.TB, from <-chan T, what string) T {
	t.Helper()
	timer := time.NewTimer(Patience)
	defer timer.Stop()
	select {
	case value := <-from:
		return value
	case <-timer.C:
		t.Fatalf("waited %s in vain for %s", Patience, what)
		panic("not reached")
	}
}

// Until asks again and again until something is so.
func Until(t testing.TB, what string, so func() bool) {
	t.Helper()
	for begun := time.Now(); !so(); time.Sleep(2 * time.Millisecond) {
		if time.Since(begun) > Patience {
			t.Fatalf("waited %s in vain until %s", Patience, what)
		}
	}
}
