package pdfpage

import (
	"runtime"
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

// spent is what has been used of the time for a page.
type spent struct {
	time  time.Duration
	drawn bool
}

// left is the time that is left for page n. What concerns the file as a whole, 0, has the limit each time.
func (d *Document) left(n int) time.Duration { return d.limit - d.spent[n].time }

func (d *Document) spend(n int, used time.Duration) {
	if n > 0 {
		d.spent[n] = spent{d.spent[n].time + used, d.spent[n].drawn}
	}
}

// allow gives a page its whole time where it is drawn once more.
func (d *Document) allow(n int) {
	if d.spent[n].drawn {
		delete(d.spent, n)
	}
	d.spent[n] = spent{d.spent[n].time, true}
}

// inTime runs a job for page n with the time that is left for it, and leaves it to itself after that.
func (d *Document) inTime(n int, job func()) bool {
	w := begin(func() error { job(); return nil })
	used, ok := w.within(d.left(n))
	d.spend(n, used)
	return ok
}
