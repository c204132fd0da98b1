package preflight

import (
	"image/color"
	"math/rand/v2"
	"testing"

	. "peelcheck/raster/rastertest"
)

// A stroke twice as wide as the choke keeps white here and loses it there as it crosses the pixels: one place all the same.
func TestBareStrokeIsOnePlace(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	p := placedAt(rng, 300, 40)
	p.turn = 1.2
	s := testScene(t, "toner-underbase", coloured(p.cover(Box(0.2, 30)), color.NRGBA{200, 20, 30, 255}), 300, func(j *Job) { j.Process.ChokeMM = 0.1 })
	if n := len(Patches(s.Bare(), nil, 0, s.Px(1), 2)); n < 3 {
		t.Fatalf("the stroke is bare in %d places, too few to tell", n)
	}
	if places := Patches(s.Bare(), s.Thin(), 0, s.Px(1), 2); len(places) != 1 {
		t.Errorf("%d places, want 1: %+v", len(places), places)
	}
}
