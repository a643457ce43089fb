package sim

import (
	"runtime"
	"sync"
)

// each calls work for 0 to n-1, as many at once as there are processors, and gives
// what it gives in their order. The first error in that order ends it.
func each[T any](n int, work func(i int) (T, error)) ([]T, error) {
	out, errs := make([]T, n), make([]error, n)
	var wait sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := range n {
		free <- struct{}{}
		wait.Go(func() {
			out[i], errs[i] = work(i)
			<-free
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}
