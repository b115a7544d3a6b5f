package tally

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Each does something for each of n cells, on all processors.
func Each(n int, do func(at int)) { EachOn(runtime.GOMAXPROCS(0), n, do) }

// EachOn does something for each of n things in their order, so many at a time.
func EachOn(workers, n int, do func(at int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for at := next.Add(1) - 1; at < int64(n); at = next.Add(1) - 1 {
				do(int(at))
			}
		})
	}
	wg.Wait()
}
