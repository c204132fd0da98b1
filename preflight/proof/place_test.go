package proof

import (
	"image"
	"testing"
)

// TestPlaceFrame looks for the frame's corners about the middle of what prints, to a pixel, and for its words within the picture.
func TestPlaceFrame(t *testing.T) {
	in := cases()["cap-place"]
	p := newPage(in)
	m := drawn(in)
	v := p.pictures.look.moved(p.top())
	b, place := in.Report.Artwork.PrintedBoxMM, in.Report.Job.Place
	x0, y0 := b.X+b.W/2-place.WidthMM/2, b.Y+b.H/2-place.HeightMM/2
	for name, at := range map[string]image.Point{
		"upper left": {v.x(x0) - 1, v.y(y0) - 1},
		"left":       {v.x(x0) - 1, v.y(y0) + 8},
		"lower left": {v.x(x0) + 8, v.y(y0+place.HeightMM) + 1},
		"right":      {v.x(x0+place.WidthMM) + 1, v.y(y0) + 8},
	} {
		if got := m.RGBAAt(at.X, at.Y); got != black {
			t.Errorf("%s: %v at %v, want the frame", name, got, at)
		}
	}
	if label := p.placeLabel(v, v.bounds()); label.Empty() || !label.In(v.bounds()) {
		t.Errorf("the words lie at %v, the picture is %v", label, v.bounds())
	}
	in = cases()["clean"]
	if p := newPage(in); p.placeWords() != "" || !p.placeLabel(v, v.bounds()).Empty() {
		t.Error("a place is named where there is none")
	}
}
