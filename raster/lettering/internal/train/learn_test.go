package main

import (
	"math"
	"math/rand/v2"
	"testing"

	"peelcheck/raster/lettering/internal/likeness"
)

// The gradient is what moving each of some weights a little does to the loss.
func TestGradient(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, glyph := range []int{none, 5, 40} {
		n := newNetwork(rng)
		s := sample{new(likeness.Features), glyph}
		for i := range s.f {
			s.f[i] = float32(rng.Float64() * 2)
		}
		g := new(likeness.Network)
		backward(n, s, g)
		flat, slopes := n.Flat(), g.Flat()
		for range 300 {
			i := rng.IntN(len(flat))
			const step = 1e-2
			was := *flat[i]
			*flat[i] = was + step
			up := backward(n, s, new(likeness.Network))
			*flat[i] = was - step
			down := backward(n, s, new(likeness.Network))
			*flat[i] = was
			if want := (up - down) / (2 * step); math.Abs(float64(*slopes[i])-want) > 0.02*math.Abs(want)+0.01 {
				t.Fatalf("glyph %d, weight %d: slope %v, want %v", glyph, i, *slopes[i], want)
			}
		}
	}
}
