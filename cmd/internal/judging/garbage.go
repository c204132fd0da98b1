package judging

import (
	"os"
	"runtime/debug"
)

// How much garbage may be held beside what is in use: nearly all of that is pixels and masks, which cost nothing to look through and much
// to hold twice. While a large picture is judged it is less; before and after, that would mean collecting again and again.
const (
	gcPercent, gcPercentLarge = 50, 10
	largePixels               = 4_000_000
)

// boundGarbage sets how much garbage may be held, unless the environment does.
func boundGarbage(percent int) {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(percent)
	}
}

// BoundGarbage bounds the garbage of a program that judges artwork, unless the environment does.
func BoundGarbage() { boundGarbage(gcPercent) }
