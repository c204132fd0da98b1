package judging

import (
	"os"
	"runtime/debug"
	"sync/atomic"
)

// How much garbage may be held beside what is in use, in percent of it. While large pictures are judged nearly all of that is pixels and
// masks, which cost nothing to look through and much to hold twice: garbageBytes are enough, where that is more than the least. Once they
// are let go, little is left and half as much again is held. Where only small pictures are judged, little is in use, and collecting again
// and again would cost more than judging.
const (
	gcPercentSmall, gcPercentAfter, gcPercentLeast = 400, 50, 10

	largePixels  = 4_000_000
	garbageBytes = 12 << 20
)

// pixelsNow counts the pixels of the large pictures that are being judged: the setting is one for the whole program.
var pixelsNow atomic.Int64

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
		if pixelsNow.Load() == 0 {
			setGarbage(gcPercentSmall)
		}
		return func() {}
	}
	setGarbage(garbageBeside(pixelsNow.Add(pixels)))
	var done atomic.Bool
	return func() {
		if !done.CompareAndSwap(false, true) {
			return
		}
		if left := pixelsNow.Add(-pixels); left > 0 {
			setGarbage(garbageBeside(left))
			return
		}
		setGarbage(gcPercentAfter)
	}
}

// garbageBeside is the percentage for large pictures of that many pixels, four bytes each.
func garbageBeside(pixels int64) int {
	return max(gcPercentLeast, int(100*garbageBytes/(4*pixels)))
}
