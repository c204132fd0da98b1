package pdfpage

import (
	"time"

	"golang.org/x/sys/unix"
)

// clock counts the processor time of a thread, readable from any other: clock_getcpuclockid(3) makes its number of a thread's in this way.
type clock int32

func clockHere() clock {
	const perThread, scheduled = 4, 2
	return clock(^int32(unix.Gettid())<<3 | perThread | scheduled)
}

func (c clock) now() time.Duration {
	var t unix.Timespec
	if unix.ClockGettime(int32(c), &t) != nil {
		return time.Since(started)
	}
	return time.Duration(t.Nano())
}

var started = time.Now()
