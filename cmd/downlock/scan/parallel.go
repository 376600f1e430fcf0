package scan

import "sync"

// forEach works on the items, jobs at a time. It passes the results to done one at a
// time, in the order of the items. When done returns false it begins no further item.
func forEach[T, R any](items []T, jobs int, work func(T) R, done func(R) bool) {
	type slot struct {
		item   T
		result chan R
	}
	queue := make(chan slot)
	ordered := make(chan slot, 2*jobs) // bounds how far the workers run ahead
	stop := make(chan struct{})
	go func() {
		defer close(queue)
		defer close(ordered)
		for _, item := range items {
			s := slot{item, make(chan R, 1)}
			select {
			case ordered <- s:
			case <-stop:
				return
			}
			select {
			case queue <- s:
			case <-stop:
				close(s.result)
				return
			}
		}
	}()
	var workers sync.WaitGroup
	for range jobs {
		workers.Add(1)
		go func() {
			defer workers.Done()
			for s := range queue {
				s.result <- work(s.item)
			}
		}()
	}
	stopped := false
	for s := range ordered {
		r, worked := <-s.result
		if worked && !stopped && !done(r) {
			stopped = true
			close(stop)
		}
	}
	workers.Wait()
}
