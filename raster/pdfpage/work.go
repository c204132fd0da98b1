package pdfpage

import (
	"runtime"
	"sync"
	"time"
)

// mostStretch is how many times the limit of processor time may pass on the clock: with two processors and a load of ten a thread was
// seen to get less than a twentieth of one.
const mostStretch = 30

// leastLook is how soon the processor time of a job is looked at again.
const leastLook = 20 * time.Millisecond

// work is a job on a thread of its own. It cannot be stopped, only left to itself.
type work struct {
	thread clock
	done   chan struct{} // closed at its end; then err and used are set
	err    error
	used   time.Duration
}

func begin(job func() error) *work {
	w := &work{done: make(chan struct{})}
	running := make(chan struct{})
	go func() {
		runtime.LockOSThread() // so that the thread's time is the job's
		defer runtime.UnlockOSThread()
		w.thread = clockHere()
		start := w.thread.now()
		close(running)
		w.err = job()
		w.used = w.thread.now() - start
		close(w.done)
	}()
	<-running
	return w
}

// within waits until the job is done or has used its limit, of processor time where the system tells that of a thread, else by the clock.
// It returns what was used.
func (w *work) within(limit time.Duration) (used time.Duration, ok bool) {
	began, start := time.Now(), w.thread.now()
	timer := time.NewTimer(limit)
	defer timer.Stop()
	for {
		select {
		case <-w.done:
			return w.used, true
		case <-timer.C:
			used = w.thread.now() - start
			if used >= limit || time.Since(began) >= mostStretch*limit {
				return limit, false
			}
			timer.Reset(max(leastLook, limit-used))
		}
	}
}

// budget is the time that each page has for all that is done with it. It is safe for concurrent use.
type budget struct {
	limit time.Duration
	mu    sync.Mutex
	pages map[int]spent
}

type spent struct {
	time  time.Duration
	drawn bool
}

func newBudget(limit time.Duration) *budget { return &budget{limit: limit, pages: map[int]spent{}} }

// left is the time that is left for page n. What concerns the file as a whole, 0, has the limit each time.
func (b *budget) left(n int) time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.limit - b.pages[n].time
}

func (b *budget) spend(n int, used time.Duration) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if n > 0 {
		b.pages[n] = spent{b.pages[n].time + used, b.pages[n].drawn}
	}
}

// allow gives a page its whole time where it is drawn once more.
func (b *budget) allow(n int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	used := b.pages[n]
	if used.drawn {
		used.time = 0
	}
	b.pages[n] = spent{used.time, true}
}

// inTime runs a job for page n with the time that is left for it, and leaves it to itself after that.
func (b *budget) inTime(n int, job func()) bool {
	w := begin(func() error { job(); return nil })
	used, ok := w.within(b.left(n))
	b.spend(n, used)
	return ok
}
