package main

import (
	"image/color"
	"io"
	"math"

	"peelcheck/cmd/internal/drawing"
)

const (
	photoPPI     = 60
	photoQuality = 80
)

// lowPPIPhoto is a painted dusk, far too coarse for its size.
func lowPPIPhoto(*letters) product {
	s := newSheet(200, 150, photoPPI)
	s.paintSky()
	s.glow(60, 92, 70, 0.55, orange)
	s.glow(142, 104, 44, 0.5, orange)
	s.Fill(crescent(160, 34, 14, -30, 1.5), color.NRGBA{255, 244, 214, 255})
	s.Fill(hill(151, -1, 112, 40, 92, 90, 98, 120, 112, 150, 124, 180, 112, 201, 104), hex("1b1a38"))
	s.Fill(hill(151, -1, 134, 50, 116, 100, 124, 130, 136, 160, 146, 190, 136, 201, 130), hex("0d0c1c"))
	s.Fill(way(96, 152, 26, -24, 124, 3), hex("5a3a2c"))
	s.lamplight(newLampPost(42, 140, 68, 18, 2.6, 44), 60, 94, 26)
	s.lamplight(newLampPost(128, 142, 90, 14, 2.2, 28), 142, 106, 17)
	box := s.Sheet()
	s.faultOf("low-ppi", box, photoPPI, "60 pixels an inch at the size the file tells")
	return product{s.faults, func(w io.Writer) error { return drawing.WriteJPEG(w, s.Pix, photoQuality, photoPPI) }}
}

// lamplight paints a dark lantern with lit panes and light of radius rMM round the point (x, y).
func (s *sheet) lamplight(l lampPost, x, y, rMM float64) {
	s.Fill(drawing.Join(l.pole, l.lamp.shape), hex("0d0c1c"))
	s.Fill(drawing.Join(l.lamp.middle, l.lamp.sides), hex("ffd873"))
	s.glow(x, y, rMM, 0.7, color.NRGBA{255, 200, 80, 255})
}

// paintSky fills the canvas from night above to dusk below.
func (s *sheet) paintSky() {
	stops := []color.NRGBA{hex("161a46"), hex("4a2f6e"), hex("b5496b"), hex("f08a4b"), hex("f9c46b")}
	h := s.Pix.Rect.Dy()
	for y := range h {
		t := math.Min(1, float64(y)/float64(h)/0.8) * float64(len(stops)-1)
		i := min(int(t), len(stops)-2)
		c := mix(stops[i], stops[i+1], t-float64(i))
		for x := range s.Pix.Rect.Dx() {
			s.Pix.SetNRGBA(x, y, c)
		}
	}
}

func mix(a, b color.NRGBA, t float64) color.NRGBA {
	at := func(u, v uint8) uint8 { return uint8(float64(u) + (float64(v)-float64(u))*t + 0.5) }
	return color.NRGBA{at(a.R, b.R), at(a.G, b.G), at(a.B, b.B), 255}
}
