package preflight

import (
	"image"
	"image/color"

	"peelcheck/raster"
)

// Preview returns the artwork as it will look on the garment and its white plane, both reduced by one whole factor so that the
// longer side is at most maxSide pixels.
func (s *Scene) Preview(maxSide int) (look *image.NRGBA, white *image.Gray) {
	f := max(1, (max(s.W, s.H)+maxSide-1)/maxSide)
	w, h := (s.W+f-1)/f, (s.H+f-1)/f
	look, white = image.NewNRGBA(image.Rect(0, 0, w, h)), image.NewGray(image.Rect(0, 0, w, h))
	raster.Bands(h, 16, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range w {
				box := image.Rect(x*f, y*f, min(s.W, x*f+f), min(s.H, y*f+f))
				c, plane := s.seen(s.average(box))
				if s.white != s.survey.printsWhite {
					plane = uint8(s.white.CountIn(box) * 255 / (box.Dx() * box.Dy()))
				}
				look.SetNRGBA(x, y, c)
				white.Pix[y*white.Stride+x] = plane
			}
		}
	})
	return look, white
}

// Crop returns the pixels of r, which is cut to the picture, as they will look on the garment.
func (s *Scene) Crop(r image.Rectangle) *image.NRGBA {
	r = r.Intersect(image.Rect(0, 0, s.W, s.H))
	out := image.NewNRGBA(image.Rect(0, 0, r.Dx(), r.Dy()))
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			c, _ := s.seen(s.average(image.Rect(x, y, x+1, y+1)))
			out.SetNRGBA(x-r.Min.X, y-r.Min.Y, c)
		}
	}
	return out
}

// average returns the mean colour of a box, weighted by alpha.
func (s *Scene) average(box image.Rectangle) color.NRGBA {
	var r, g, b, a, n int
	for y := box.Min.Y; y < box.Max.Y; y++ {
		row := s.pic.Pix.Pix[y*s.pic.Pix.Stride+4*box.Min.X : y*s.pic.Pix.Stride+4*box.Max.X]
		if clearAlpha(row) {
			n += box.Dx()
			continue
		}
		for i := 0; i+3 < len(row); i += 4 {
			al := int(row[i+3])
			r, g, b, a, n = r+int(row[i])*al, g+int(row[i+1])*al, b+int(row[i+2])*al, a+al, n+1
		}
	}
	if a == 0 {
		return color.NRGBA{}
	}
	return color.NRGBA{uint8((r + a/2) / a), uint8((g + a/2) / a), uint8((b + a/2) / a), uint8((a + n/2) / n)}
}

// seen returns how a pixel will look on the garment, and its white. Colour is shown as if toner hid the cloth; on dark cloth
// without white under it, it comes out duller.
func (s *Scene) seen(c color.NRGBA) (color.NRGBA, uint8) {
	cloth := s.Job.Garment.Colour
	p := s.printed.pixel(c.R, c.G, c.B, c.A)
	switch s.Job.Process.WhiteSource {
	case WhiteUnderbase:
		return over(color.NRGBA{c.R, c.G, c.B, 255}, c.A, cloth), p[inkWhite]
	case WhiteOnly:
		return over(color.NRGBA{255, 255, 255, 255}, p[inkWhite], cloth), p[inkWhite]
	}
	strength := max(p[inkCyan], p[inkMagenta], p[inkYellow])
	out := cloth
	if strength > 0 {
		pure := color.NRGBA{255 - share(p[inkCyan], strength), 255 - share(p[inkMagenta], strength), 255 - share(p[inkYellow], strength), 255}
		out = over(pure, strength, cloth)
	}
	return over(color.NRGBA{255, 255, 255, 255}, p[inkWhite], out), p[inkWhite]
}

func share(v, of uint8) uint8 { return uint8(int(v) * 255 / int(of)) }

func over(top color.NRGBA, a uint8, under color.NRGBA) color.NRGBA {
	mix := func(t, u uint8) uint8 { return uint8((int(t)*int(a) + int(u)*(255-int(a)) + 127) / 255) }
	return color.NRGBA{mix(top.R, under.R), mix(top.G, under.G), mix(top.B, under.B), 255}
}
