package preflight

import (
	"image"
	"image/color"

	"peelcheck/raster"
)

// inks are the planes that a file brings with it, which are not separated from colours of light.
type inks struct {
	planes [5][]*raster.Plane // in the order of AllPlanes; several are taken together where each is strongest
	// blackAlone is set where the file draws in black ink and in no other.
	blackAlone bool
}

// findInks returns the planes of a picture, nil where it has none of its own. isWhite tells spot colours that are white by their names.
func findInks(pic *raster.Picture, isWhite func(name string) bool) *inks {
	own := pic.Separations
	if own == nil {
		return nil
	}
	k := &inks{}
	k.planes[inkCyan], k.planes[inkMagenta] = []*raster.Plane{own.Cyan}, []*raster.Plane{own.Magenta}
	k.planes[inkYellow], k.planes[inkBlack] = []*raster.Plane{own.Yellow}, []*raster.Plane{own.Black}
	for _, spot := range own.Spots {
		if isWhite(spot.Name) {
			k.planes[inkWhite] = append(k.planes[inkWhite], spot.Plane)
		}
	}
	k.blackAlone = !k.hasWhite() && !own.Black.Blank() && own.Cyan.Blank() && own.Magenta.Blank() && own.Yellow.Blank()
	return k
}

// hasWhite reports whether the file says itself what is white.
func (k *inks) hasWhite() bool { return k.planes[inkWhite] != nil }

// read fills in what the pixels of r, at most 64 of one row, have of each plane.
func (k *inks) read(into *[5][64]uint8, r image.Rectangle) {
	var more [64]uint8
	for i, planes := range k.planes {
		clear(into[i][:])
		for _, p := range planes {
			p.Read(more[:r.Dx()], r)
			for x, v := range more[:r.Dx()] {
				into[i][x] = max(into[i][x], v)
			}
		}
	}
}

// at returns what one pixel has of each plane.
func (k *inks) at(x, y int) ink {
	var one [5][64]uint8
	k.read(&one, image.Rect(x, y, x+1, y+1))
	return ink{one[0][0], one[1][0], one[2][0], one[3][0], one[4][0]}
}

// inked separates a pixel whose file has inks of its own, which are not weighed by alpha any more.
func (s *separation) inked(own ink, k *inks, r, g, b, a uint8) ink {
	switch {
	case a == 0:
		return ink{}
	case s.way == blackIsWhite:
		own[inkWhite], own[inkBlack] = max(own[inkWhite], own[inkBlack]), 0
		if s.knocksOut {
			own.knockOut()
		}
		return own
	case s.way == beside:
		if !k.hasWhite() { // what is painted and left clear by the inks is the light colour of paper
			own[inkWhite] = less(a, plus(max(own[inkCyan], own[inkMagenta], own[inkYellow]), own[inkBlack]))
		}
		own.knockOut()
		return own
	case s.way == underbase && !k.hasWhite():
		own[inkWhite] = a
		return own
	case s.way == underbase:
		return own
	case k.hasWhite():
		return ink{inkWhite: own[inkWhite]}
	case k.blackAlone: // ink says how dark a place is, also where white is painted over it
		return ink{inkWhite: own[inkBlack]}
	}
	out := s.pixel(r, g, b, a)
	out[inkWhite] = max(out[inkWhite], own[inkWhite])
	return out
}

// knockOut leaves of each colour what white leaves room for. Unlike a second layer of white it takes nothing from what was knocked out before.
func (i *ink) knockOut() {
	room := 255 - i[inkWhite]
	for n := inkCyan; n <= inkBlack; n++ {
		i[n] = min(i[n], room)
	}
}

// inkAt returns what a pixel gets of each plane.
func (a *Appearance) inkAt(x, y int) ink {
	c := a.colourAt(x, y)
	if a.inks == nil {
		return a.printed.pixel(c.R, c.G, c.B, c.A)
	}
	return a.printed.inked(a.inks.at(x, y), a.inks, c.R, c.G, c.B, c.A)
}

// lookAt returns how a pixel will look on the garment.
func (a *Appearance) lookAt(x, y int) color.NRGBA {
	look, _ := a.looks(a.colourAt(x, y), a.inkAt(x, y))
	return look
}

func (a *Appearance) colourAt(x, y int) color.NRGBA {
	p := a.pic.Pix.Pix[y*a.pic.Pix.Stride+4*x:]
	return color.NRGBA{p[0], p[1], p[2], p[3]}
}

// meanInk is the mean of what some pixels get of each plane, of no more than four rows and columns of them.
func (a *Appearance) meanInk(r image.Rectangle) ink {
	var sums [5]int
	var row [5][64]uint8
	n := 0
	across := max(1, r.Dx()/4)
	span := max(1, 64/across) * across // whole steps of what is read at once
	for y := r.Min.Y; y < r.Max.Y; y += max(1, r.Dy()/4) {
		for x0 := r.Min.X; x0 < r.Max.X; x0 += span {
			x1 := min(r.Max.X, x0+64)
			a.inks.read(&row, image.Rect(x0, y, x1, y+1))
			for x := x0; x < min(x1, x0+span); x += across {
				c, i := a.colourAt(x, y), x-x0
				own := ink{row[0][i], row[1][i], row[2][i], row[3][i], row[4][i]}
				for i, v := range a.printed.inked(own, a.inks, c.R, c.G, c.B, c.A) {
					sums[i] += int(v)
				}
				n++
			}
		}
	}
	var out ink
	for i, sum := range sums {
		out[i] = uint8((sum + n/2) / n)
	}
	return out
}

// ownInks fills in what prints of up to 64 pixels of one row, px their colours, where the file has inks of its own.
func (s *Scene) ownInks(into *[5][64]uint8, px []byte, at image.Rectangle) {
	s.inks.read(into, at)
	for i := range 64 {
		own := ink{into[0][i], into[1][i], into[2][i], into[3][i], into[4][i]}
		for n, v := range s.printed.inked(own, s.inks, px[4*i], px[4*i+1], px[4*i+2], px[4*i+3]) {
			into[n][i] = v
		}
	}
}

// MixedSpots names the spot colours that print as the mixture which the file gives for them.
func (s *Scene) MixedSpots() []string {
	if s.Art.Picture.Separations == nil {
		return nil
	}
	return s.Art.Picture.Separations.Alternates
}

// Everything is the whole picture.
func (s *Scene) Everything() image.Rectangle { return image.Rect(0, 0, s.W, s.H) }

// BringsWhite reports whether the file says itself where white is printed.
func (s *Scene) BringsWhite() bool { return s.inks != nil && s.inks.hasWhite() }
