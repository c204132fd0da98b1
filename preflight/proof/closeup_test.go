package proof

import (
	"image"
	"testing"

	"peelcheck/preflight"
)

// TestWorstErrorIsShownCloseUp: of a ring larger than a close-up, in whose middle nothing shows, the part round its point is the first,
// though warnings of other rules are further beyond their limits.
func TestWorstErrorIsShownCloseUp(t *testing.T) {
	art := shirt
	rep := art.report()
	for i := range 6 {
		art.speck(rep, 30+float64(9*i), 20, 0.05+0.01*float64(i))
	}
	for i := range 3 {
		art.gap(rep, 30+20*float64(i), 70, 0.2, 3, 0.03+0.01*float64(i))
	}
	art.line(rep, preflight.LevelError, 90, 70, 8, 6, 0.1)
	ring := &rep.Findings[len(rep.Findings)-1]
	ring.PointPx = &preflight.PointPx{X: ring.BoxPx.X, Y: ring.BoxPx.Y + ring.BoxPx.H/2}
	for name, in := range map[string]Input{"drawn": art.input(rep), "of the cloth's colour": bare(rep)} {
		p, _ := painted(in)
		if len(p.shots) == 0 || p.shots[0].index != len(rep.Findings)-1 {
			t.Errorf("%s: close up are %v, not the error %d first", name, p.shots, ring.ID)
			continue
		}
		// The frame's middle is the point: what the frame shows may begin at s.at only where the artwork ends.
		s := p.shots[0]
		mid := s.look.Rect.Min.Sub(s.at).Add(image.Pt(closeupW/2, closeupH/2))
		perPx := s.pxPerMM * p.scene.mmPerPx
		if dx := float64(mid.X)/perPx - float64(ring.PointPx.X); dx < -5 || dx > 5 { // that frames are whole pixels of the artwork adds up
			t.Errorf("%s: the close-up's middle lies %.1f pixels beside the point", name, dx)
		}
	}
}
