package pdfpage

import (
	"sync/atomic"
	"testing"
	"time"
)

// A job is not charged with the time that others take: here six are busy besides, and the job needs half of its limit.
func TestBusyMachine(t *testing.T) {
	const limit = 400 * time.Millisecond
	var over atomic.Bool
	defer over.Store(true)
	for range 6 {
		go func() {
			for !over.Load() {
			}
		}()
	}
	began := time.Now()
	w := begin(func() error {
		thread := clockHere()
		for start := thread.now(); thread.now()-start < limit/2; {
		}
		return nil
	})
	used, ok := w.within(limit)
	if passed := time.Since(began); passed < limit {
		t.Logf("the machine was not busy enough to tell: %v passed", passed)
	}
	if !ok || used < limit/2 || used >= limit {
		t.Errorf("used %v of %v, done %v", used, limit, ok)
	}
}

// A job that goes on is left when it has used its limit, not before.
func TestLimitOfWork(t *testing.T) {
	const limit = 100 * time.Millisecond
	var over atomic.Bool
	defer over.Store(true)
	w := begin(func() error {
		for !over.Load() {
		}
		return nil
	})
	start := w.thread.now()
	if used, ok := w.within(limit); ok || used != limit || w.thread.now()-start < limit {
		t.Errorf("used %v, done %v, %v on the thread", used, ok, w.thread.now()-start)
	}
}
