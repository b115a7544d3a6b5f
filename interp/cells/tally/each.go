package tally

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Each does something for each of n cells, on all processors.
func Each(n int, do func(at int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for at := next.Add(1) - 1; at < int64(n); at = next.Add(1) - 1 {
				do(int(at))
			}
		})
	}
	wg.Wait()
}
