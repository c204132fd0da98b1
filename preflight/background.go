package preflight

import (
	"fmt"
	"image"
	"image/color"
	"slices"

	"peelcheck/raster"
)

const (
	// groundShare of the border must show one flat colour for it to be a background.
	groundShare = 0.6
	// groundLevels is how far, in 255, a pixel may be from the background's colour; pictures with lossy compression get more.
	groundLevels, groundLevelsLossy = 3, 14
)

// assume looks at the picture's border, or only at its top row, for a flat opaque colour and for transparency.
func (s *Scene) assume(topOnly bool) assumption {
	border := s.eachBorderPixel
	if topOnly {
		border = s.eachTopPixel
	}
	var a assumption
	a.ground, a.isGround = s.commonColour(border)
	if s.Job.Process.WhiteSource != WhiteOnly { // which alone prints by it
		return a
	}
	if topOnly {
		s.eachTopPixel(func(c color.NRGBA) { a.hasAlpha = a.hasAlpha || c.A < 255 })
	} else {
		a.hasAlpha = s.pic.HasAlpha
	}
	return a
}

// settleBackground acts on the job's choice of what to do with a background.
func (s *Scene) settleBackground(a assumption) {
	s.ground, s.groundIs = Background{}, color.NRGBA{}
	if !a.isGround {
		return
	}
	colour := a.ground
	s.groundIs = colour
	s.ground = Background{Found: true, Colour: fmt.Sprintf("#%02x%02x%02x", colour.R, colour.G, colour.B)}
	switch s.Job.Background {
	case BackgroundKeep:
		return
	case BackgroundDrop:
		s.dropGround()
		s.ground.Dropped = true
	default:
		if s.inks == nil || !s.leavesNoInk(colour) {
			s.detail = s.printed.without(colour)
		}
	}
	s.ground.LeftOut = true
}

// leavesNoInk reports whether a background of that colour takes nothing from the file's own inks, so that it need not be taken out of them.
func (s *Scene) leavesNoInk(ground color.NRGBA) bool {
	white := min(ground.R, ground.G, ground.B) >= lostWhite
	return white && (s.printed.way == blackIsWhite || s.inks.hasWhite())
}

// dropGround makes the background transparent as far as it reaches the border; the same colour within the design stays. Pixels
// beside it that are part background give their share of it up.
func (s *Scene) dropGround() {
	of := raster.NewBitmap(s.W, s.H)
	raster.Bands(s.H, 64, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row := s.pic.Pix.Pix[y*s.pic.Pix.Stride:]
			for x := range s.W {
				if p := row[4*x:]; p[3] == 255 && s.isGround(s.groundIs, color.NRGBA{p[0], p[1], p[2], 255}) {
					of.Set(x, y)
				}
			}
		}
	})
	outer := raster.AndNot(of, raster.Enclosed(of, raster.Four))
	const edgePx = 2
	near := raster.Dilate(outer, edgePx)
	dropped := raster.Picture{
		Pix:      &image.NRGBA{Pix: slices.Clone(s.pic.Pix.Pix), Stride: s.pic.Pix.Stride, Rect: s.pic.Pix.Rect},
		HasAlpha: true, Vector: s.pic.Vector, Lossy: s.pic.Lossy, Notes: s.pic.Notes, Drawn: s.pic.Drawn,
	}
	for y := range s.H {
		for x := range s.W {
			if !near.At(x, y) {
				continue
			}
			p := dropped.Pix.Pix[y*dropped.Pix.Stride+4*x:]
			if outer.At(x, y) {
				clear(p[:4])
			} else if !of.At(x, y) {
				p[0], p[1], p[2], p[3] = takeOut(s.groundIs, p[0], p[1], p[2], p[3])
			}
		}
	}
	s.ground.AreaShare = float64(outer.Count()) / float64(s.W*s.H)
	if s.inks != nil && min(s.groundIs.R, s.groundIs.G, s.groundIs.B) >= lostWhite {
		dropped.Separations = s.pic.Separations
	} else if s.inks != nil {
		s.Notes = append(s.Notes, "The coloured background was taken out of the file's colours, not of its inks, so what prints is worked out from red, green and blue.")
		s.inks = nil
	}
	s.pic = &dropped
	s.printed = newSeparation(s.Job.Process, s.Job.WhiteDrawnAs, true)
	s.detail = s.printed
}

// commonColour returns the colour that most of some pixels share, if they are opaque.
func (s *Scene) commonColour(each func(func(color.NRGBA))) (color.NRGBA, bool) {
	counts := map[color.NRGBA]int{}
	total := 0
	each(func(c color.NRGBA) {
		total++
		if c.A == 255 {
			counts[color.NRGBA{c.R &^ 7, c.G &^ 7, c.B &^ 7, 255}]++
		}
	})
	if len(counts) == 0 {
		return color.NRGBA{}, false
	}
	exact := commonest(each, mostFrequent(counts))
	near := 0
	each(func(c color.NRGBA) {
		if c.A == 255 && s.isGround(exact, c) {
			near++
		}
	})
	if float64(near) < groundShare*float64(total) {
		return color.NRGBA{}, false
	}
	return exact, true
}

func rank(c color.NRGBA) int { return int(c.R)<<16 | int(c.G)<<8 | int(c.B) }

// commonest returns the most frequent exact colour among some pixels near a coarse one.
func commonest(each func(func(color.NRGBA)), coarse color.NRGBA) color.NRGBA {
	counts := map[color.NRGBA]int{}
	each(func(c color.NRGBA) {
		if c.A == 255 && (color.NRGBA{c.R &^ 7, c.G &^ 7, c.B &^ 7, 255}) == coarse {
			counts[c]++
		}
	})
	return mostFrequent(counts)
}

// mostFrequent returns the colour counted most often; of several the one with the most red, then green, then blue.
func mostFrequent(counts map[color.NRGBA]int) color.NRGBA {
	var best color.NRGBA
	for c, n := range counts {
		if n > counts[best] || n == counts[best] && rank(c) > rank(best) {
			best = c
		}
	}
	return best
}

func (s *Scene) isGround(ground, c color.NRGBA) bool {
	tol := s.groundTol()
	return apart(ground.R, c.R) <= tol && apart(ground.G, c.G) <= tol && apart(ground.B, c.B) <= tol
}

// groundTol is how far, in 255, a pixel may be from the background's colour.
func (s *Scene) groundTol() int {
	if s.pic.Lossy {
		return groundLevelsLossy
	}
	return groundLevels
}

func apart(a, b uint8) int { return max(int(a)-int(b), int(b)-int(a)) }

func (s *Scene) pixelAt(x, y int) color.NRGBA {
	p := s.pic.Pix.Pix[y*s.pic.Pix.Stride+4*x:]
	return color.NRGBA{p[0], p[1], p[2], p[3]}
}

func (s *Scene) eachTopPixel(do func(color.NRGBA)) {
	for x := range s.W {
		do(s.pixelAt(x, 0))
	}
}

func (s *Scene) eachBorderPixel(do func(color.NRGBA)) {
	s.eachTopPixel(do)
	for x := range s.W {
		do(s.pixelAt(x, s.H-1))
	}
	for y := 1; y < s.H-1; y++ {
		do(s.pixelAt(0, y))
		do(s.pixelAt(s.W-1, y))
	}
}

// leastPanelShare is how much of the rim of what prints must be of one colour for that to be a panel.
const leastPanelShare = 0.99

// Panel is the opaque colour that runs all round just inside what prints, as it does where the design stands on a rectangle that does not
// reach the picture's border; not ok where there is none.
func (s *Scene) Panel() (colour color.NRGBA, at image.Point, ok bool) {
	const insidePx = 2 // edges are soft
	r := s.Printed.Inset(insidePx)
	if r.Empty() || s.Printed == s.Everything() {
		return color.NRGBA{}, image.Point{}, false
	}
	at = r.Min
	colour = s.pixelAt(at.X, at.Y)
	alike, all := 0, 0
	look := func(x, y int) {
		c := s.pixelAt(x, y)
		all++
		if c.A == 255 && s.isGround(colour, c) {
			alike++
		}
	}
	for x := r.Min.X; x < r.Max.X; x++ {
		look(x, r.Min.Y)
		look(x, r.Max.Y-1)
	}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		look(r.Min.X, y)
		look(r.Max.X-1, y)
	}
	return colour, at, colour.A == 255 && float64(alike) >= leastPanelShare*float64(all)
}
