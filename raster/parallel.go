package raster

import (
	"runtime"
	"sync"
)

// Bands calls work for consecutive bands of rows that together cover 0 to h, on all processors, and waits for them. A panic in
// one is raised again in the caller.
func Bands(h, minRows int, work func(y0, y1 int)) {
	n := max(1, min(runtime.GOMAXPROCS(0)*4, h/max(1, minRows)))
	each(n, 1, func() func(i int) {
		return func(i int) { work(h*i/n, h*(i+1)/n) }
	})
}

// Strips calls work for bands of rows of one height, the last one's may be less, that together cover 0 to h: in order, on all
// processors, and waits for them. A panic in one is raised again in the caller.
func Strips(h, rows int, work func(y0, y1 int)) {
	each((h+rows-1)/rows, 1, func() func(i int) {
		return func(i int) { work(i*rows, min(h, (i+1)*rows)) }
	})
}

// each calls the workers that start makes, one a processor, for 0 to n-1 in chunks, and waits. A panic in one is raised again in
// the caller.
func each(n, chunk int, start func() func(i int)) {
	if n <= chunk {
		work := start()
		for i := range n {
			work(i)
		}
		return
	}
	var wg sync.WaitGroup
	var fault any
	var once sync.Once
	next := make(chan int, (n+chunk-1)/chunk)
	for i := 0; i < n; i += chunk {
		next <- i
	}
	close(next)
	for range min(runtime.GOMAXPROCS(0), cap(next)) {
		wg.Go(func() {
			defer func() {
				if r := recover(); r != nil {
					once.Do(func() { fault = r })
				}
			}()
			work := start()
			for i0 := range next {
				for i := i0; i < min(n, i0+chunk); i++ {
					work(i)
				}
			}
		})
	}
	wg.Wait()
	if fault != nil {
		panic(fault)
	}
}
