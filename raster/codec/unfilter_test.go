package codec

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"testing"
)

// slowPaeth is the pseudocode of PNG, third edition, 9.4.
func slowPaeth(a, b, c uint8) uint8 {
	abs := func(x int) int { return max(x, -x) }
	p := int(a) + int(b) - int(c)
	pa, pb, pc := abs(p-int(a)), abs(p-int(b)), abs(p-int(c))
	if pa <= pb && pa <= pc {
		return a
	}
	if pb <= pc {
		return b
	}
	return c
}

// slowFilter applies a filter by the formulas of PNG, third edition, 9.2, to bytes that are x; those before a row are zero.
func slowFilter(filter byte, row, above []byte, pixel int) []byte {
	out := make([]byte, len(row))
	for i, x := range row {
		var a, c uint8
		if i >= pixel {
			a, c = row[i-pixel], above[i-pixel]
		}
		b := above[i]
		switch filter {
		case filterNone:
			out[i] = x
		case filterSub:
			out[i] = x - a
		case filterUp:
			out[i] = x - b
		case filterMean:
			out[i] = x - uint8((int(a)+int(b))/2)
		case filterPaeth:
			out[i] = x - slowPaeth(a, b, c)
		}
	}
	return out
}

func TestPaethAllValues(t *testing.T) {
	for a := range 256 {
		for b := range 256 {
			for c := range 256 {
				if got, want := paeth(a, b, c), int(slowPaeth(uint8(a), uint8(b), uint8(c))); got != want {
					t.Fatalf("paeth of %d, %d, %d: %d, want %d", a, b, c, got, want)
				}
			}
		}
	}
}

// A row filtered by the standard's formulas comes back, in whatever pieces it is unfiltered.
func TestUnfilter(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for pixel := 1; pixel <= 4; pixel++ {
		for filter := byte(filterSub); filter <= filterPaeth; filter++ {
			for range 200 {
				n := pixel * (1 + rng.IntN(100))
				row, above := make([]byte, n), make([]byte, n)
				randomBytes(rng, row)
				if rng.IntN(4) > 0 {
					randomBytes(rng, above)
				}
				got := slowFilter(filter, row, above, pixel)
				for from := 0; from < n; {
					to := min(n, from+pixel*(1+rng.IntN(70)))
					unfilter(filter, got, above, from, to, pixel)
					from = to
				}
				if !bytes.Equal(got, row) {
					t.Fatalf("filter %d of %d bytes, %d a pixel: %v, want %v", filter, n, pixel, got, row)
				}
			}
		}
	}
}

func TestAllZeroAndAllSame(t *testing.T) {
	for n := 1; n <= 70; n++ {
		b := make([]byte, n)
		if !allZero(b) || !allSame(b) {
			t.Fatalf("%d zeros: allZero %v, allSame %v", n, allZero(b), allSame(b))
		}
		for i := range b {
			b[i] = 1
			if allZero(b) || allSame(b) != (n == 1) {
				t.Fatalf("byte %d of %d is not zero: allZero %v, allSame %v", i, n, allZero(b), allSame(b))
			}
			b[i] = 0
		}
	}
}

func BenchmarkUnfilter(b *testing.B) {
	rng := rand.New(rand.NewPCG(3, 4))
	row, above, work := make([]byte, 12<<10), make([]byte, 12<<10), make([]byte, 12<<10)
	for i := range row {
		row[i], above[i] = uint8(rng.NormFloat64()*6), uint8(i/90+rng.IntN(12))
	}
	for filter, name := range []string{filterSub: "sub", filterUp: "up", filterMean: "mean", filterPaeth: "paeth"} {
		for _, pixel := range []int{1, 3, 4} {
			if name == "" {
				continue
			}
			b.Run(fmt.Sprintf("%s/bytes=%d", name, pixel), func(b *testing.B) {
				b.SetBytes(int64(len(row)))
				for b.Loop() {
					copy(work, row)
					unfilter(byte(filter), work, above, 0, len(work), pixel)
				}
			})
		}
	}
}
