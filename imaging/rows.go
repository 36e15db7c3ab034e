package imaging

import (
	"runtime"
	"sync"
)

// rows runs f over bands of n rows on all cores and waits.
func rows(n int, f func(y0, y1 int)) {
	workers := min(runtime.GOMAXPROCS(0), n/64+1)
	if workers <= 1 {
		f(0, n)
		return
	}
	var wg sync.WaitGroup
	for i := range workers {
		y0, y1 := n*i/workers, n*(i+1)/workers
		wg.Go(func() { f(y0, y1) })
	}
	wg.Wait()
}
