package preflight

import (
	"fmt"
	"image/color"
)

const (
	// groundShare of the border must show one flat colour for it to be a background.
	groundShare = 0.6
	// groundLevels is how far, in 255, a pixel may be from the background's colour; pictures with lossy compression get more.
	groundLevels, groundLevelsLossy = 3, 14
)

// settleBackground looks for a flat opaque colour that touches the picture's border and acts on the job's choice.
func (s *Scene) settleBackground() {
	colour, ok := s.borderColour()
	if !ok {
		return
	}
	s.groundIs = colour
	s.ground = Background{Found: true, Colour: fmt.Sprintf("#%02x%02x%02x", colour.R, colour.G, colour.B)}
	without := s.printed.without(colour)
	switch s.Job.Background {
	case BackgroundKeep:
		return
	case BackgroundDrop:
		s.printed = without
	}
	s.detail = without
	s.ground.LeftOut = true
}

// borderColour returns the colour that most of the outermost pixels share, if they are opaque.
func (s *Scene) borderColour() (color.NRGBA, bool) {
	counts := map[color.NRGBA]int{}
	total := 0
	s.eachBorderPixel(func(c color.NRGBA) {
		total++
		if c.A == 255 {
			counts[color.NRGBA{c.R &^ 7, c.G &^ 7, c.B &^ 7, 255}]++
		}
	})
	var best color.NRGBA
	for c, n := range counts {
		if n > counts[best] || n == counts[best] && rank(c) > rank(best) {
			best = c
		}
	}
	if counts[best] == 0 {
		return best, false
	}
	exact := s.commonest(best)
	near := 0
	s.eachBorderPixel(func(c color.NRGBA) {
		if c.A == 255 && s.isGround(exact, c) {
			near++
		}
	})
	return exact, float64(near) >= groundShare*float64(total)
}

func rank(c color.NRGBA) int { return int(c.R)<<16 | int(c.G)<<8 | int(c.B) }

// commonest returns the most frequent exact colour among the border's pixels near a coarse one.
func (s *Scene) commonest(coarse color.NRGBA) color.NRGBA {
	counts := map[color.NRGBA]int{}
	s.eachBorderPixel(func(c color.NRGBA) {
		if c.A == 255 && (color.NRGBA{c.R &^ 7, c.G &^ 7, c.B &^ 7, 255}) == coarse {
			counts[c]++
		}
	})
	var best color.NRGBA
	for c, n := range counts {
		if n > counts[best] || n == counts[best] && rank(c) > rank(best) {
			best = c
		}
	}
	return best
}

func (s *Scene) isGround(ground, c color.NRGBA) bool {
	tol := groundLevels
	if s.pic.Lossy {
		tol = groundLevelsLossy
	}
	return apart(ground.R, c.R) <= tol && apart(ground.G, c.G) <= tol && apart(ground.B, c.B) <= tol
}

func apart(a, b uint8) int { return max(int(a)-int(b), int(b)-int(a)) }

func (s *Scene) eachBorderPixel(do func(color.NRGBA)) {
	pix := s.pic.Pix
	at := func(x, y int) color.NRGBA {
		p := pix.Pix[y*pix.Stride+4*x:]
		return color.NRGBA{p[0], p[1], p[2], p[3]}
	}
	for x := range s.W {
		do(at(x, 0))
		do(at(x, s.H-1))
	}
	for y := 1; y < s.H-1; y++ {
		do(at(0, y))
		do(at(s.W-1, y))
	}
}
