//go:build !linux

package pdfpage

import "time"

// clock counts the time that passes: that of one thread cannot be asked from another here.
type clock struct{ start time.Time }

func clockHere() clock { return clock{time.Now()} }

func (c clock) now() time.Duration { return time.Since(c.start) }
