package price

import (
	"context"
	"sync"
)

// inParallel calls do for 0 to n−1 on so many goroutines and returns the
// first error by number, so that errors do not depend on timing. It starts
// nothing more once ctx has ended.
func inParallel(ctx context.Context, workers, n int, do func(k int) error) error {
	faults := make([]error, n)
	next := make(chan int)
	var group sync.WaitGroup
	for range min(workers, n) {
		group.Go(func() {
			for k := range next {
				faults[k] = do(k)
			}
		})
	}
	for k := 0; k < n && ctx.Err() == nil; k++ {
		next <- k
	}
	close(next)
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
