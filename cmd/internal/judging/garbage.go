package judging

import (
	"os"
	"runtime/debug"
	"sync/atomic"
)

// How much garbage may be held beside what is in use. While a large picture is judged nearly all of that is pixels and masks, which cost
// nothing to look through and much to hold twice; once they are let go, little is left and half as much again is held. Where only
// small pictures are judged, little is in use, and collecting again and again would cost more than judging.
const (
	gcPercentSmall, gcPercentAfter, gcPercentLarge = 400, 50, 10
	largePixels                                    = 4_000_000
)

// largeNow counts the large pictures that are being judged: the setting is one for the whole program.
var largeNow atomic.Int32

// setGarbage sets how much garbage may be held, unless the environment does.
func setGarbage(percent int) {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(percent)
	}
}

// BoundGarbage bounds the garbage of a program that judges artwork, unless the environment does.
func BoundGarbage() { setGarbage(gcPercentSmall) }

// boundGarbage bounds it for a picture of that many pixels. Call release when its pixels are let go; calls after the first do nothing.
func boundGarbage(pixels int64) (release func()) {
	if pixels < largePixels {
		if largeNow.Load() == 0 {
			setGarbage(gcPercentSmall)
		}
		return func() {}
	}
	largeNow.Add(1)
	setGarbage(gcPercentLarge)
	var done atomic.Bool
	return func() {
		if done.CompareAndSwap(false, true) && largeNow.Add(-1) == 0 {
			setGarbage(gcPercentAfter)
		}
	}
}
