package price

import (
	"context"
	"sync/atomic"

	"github.com/sourcegraph/conc"
)

// inParallel calls do for 0 to n−1 on so many goroutines and returns the
// first error by number, so that errors do not depend on timing. It starts
// nothing more once ctx has ended.
func inParallel(ctx context.Context, workers, n int, do func(k int) error) error {
	faults := make([]error, n)
	var next atomic.Int64
	var group conc.WaitGroup // a panic comes out at Wait, where a caller can catch it
	for range min(workers, n) {
		group.Go(func() {
			for ctx.Err() == nil {
				k := int(next.Add(1)) - 1
				if k >= n {
					return
				}
				faults[k] = do(k)
			}
		})
	}
	group.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, err := range faults {
		if err != nil {
			return err
		}
	}
	return nil
}
