package adler_test

import (
	"hash/adler32"
	"testing"

	"pgregory.net/rapid"

	"peelcheck/raster/adler"
)

// Sums are those of hash/adler32, for bytes in pieces of any length, many of them zero.
func TestSumsAreAdler32(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []byte
		sum, pieces := adler.OfNothing, adler.OfNothing
		for range rapid.IntRange(0, 4).Draw(t, "pieces") {
			p := make([]byte, rapid.IntRange(0, 200_000).Draw(t, "zeros"))
			p = append(p, rapid.SliceOfN(rapid.Byte(), 0, 2000).Draw(t, "bytes")...)
			all = append(all, p...)
			sum = adler.Update(sum, p)
			pieces = adler.Join(pieces, adler32.Checksum(p), len(p))
		}
		if want := adler32.Checksum(all); sum != want || pieces != want {
			t.Fatalf("%d bytes sum up to %x, in pieces to %x, want %x", len(all), sum, pieces, want)
		}
	})
}
