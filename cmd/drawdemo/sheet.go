package main

import (
	"image"
	"image/color"
	"io"
	"math"
	"strconv"

	"peelcheck/cmd/internal/drawing"
)

// What is drawn black prints white. The bright colours have one channel full, so they hold no black and print no white.
var (
	black  = color.NRGBA{A: 255}
	yellow = color.NRGBA{R: 0xff, G: 0xc4, A: 255}
	orange = color.NRGBA{R: 0xff, G: 0x7a, A: 255}
	red    = color.NRGBA{R: 0xff, G: 0x2e, B: 0x1f, A: 255}
	white  = color.NRGBA{R: 255, G: 255, B: 255, A: 255}
	navy   = color.NRGBA{R: 0x06, G: 0x0c, B: 0x86, A: 255}
	blue   = color.NRGBA{R: 0x20, G: 0x40, B: 0xa0, A: 255}

	eraserRest = color.NRGBA{A: 8}
)

// sheet is an artwork being drawn, with the faults put in so far.
type sheet struct {
	*drawing.Canvas
	faults []fault
}

func newSheet(wMM, hMM, ppi float64) *sheet { return &sheet{Canvas: drawing.New(wMM, hMM, ppi)} }

// png finishes the sheet as a PNG picture that tells its resolution.
func (s *sheet) png() product {
	return product{s.faults, func(w io.Writer) error { return drawing.WritePNG(w, s.Pix, s.PPI) }}
}

// fault notes a fault of the measure mm, 0 where it is not a length.
func (s *sheet) fault(rule string, box drawing.Box, mm float64, note string) {
	s.faults = append(s.faults, fault{Rule: rule, Box: &box, ValueMM: mm, Note: note})
}

// faultOf notes a fault whose measure is no length.
func (s *sheet) faultOf(rule string, box drawing.Box, value any, note string) {
	s.faults = append(s.faults, fault{Rule: rule, Box: &box, Value: value, Note: note})
}

// inFront paints the path and keeps what is behind it gapMM away.
func (s *sheet) inFront(p drawing.Path, gapMM float64, col color.NRGBA) {
	s.Erase(s.Grown(p, gapMM))
	s.Fill(p, col)
}

// cut makes the canvas transparent inside the path.
func (s *sheet) cut(p drawing.Path) { s.Erase(s.Mask(p)) }

// lantern paints a lantern.
func (s *sheet) lantern(l lamp) {
	s.Fill(l.frame, black)
	s.Fill(l.middle, yellow)
	s.Fill(l.sides, orange)
}

// lampPost paints a lantern on its pole, keeping what is behind it gapMM away; 0 leaves it alone.
func (s *sheet) lampPost(l lampPost, gapMM float64) {
	if gapMM > 0 {
		s.Erase(s.Grown(l.pole, gapMM))
		s.cut(l.between)
		s.Erase(s.Grown(l.lamp.shape, gapMM))
	}
	s.Fill(l.pole, black)
	s.lantern(l.lamp)
}

// tint is the grey that a strength of black makes, 0 to 1.
func tint(strength float64) color.NRGBA {
	v := uint8(math.Round(255 * (1 - strength)))
	return color.NRGBA{v, v, v, 255}
}

// rounded returns the fault with its numbers cut to micrometres.
func (f fault) rounded() fault {
	round := func(v float64) float64 { return math.Round(v*1000) / 1000 }
	f.ValueMM = round(f.ValueMM)
	if f.Box != nil {
		f.Box = &drawing.Box{X: round(f.Box.X), Y: round(f.Box.Y), W: round(f.Box.W), H: round(f.Box.H)}
	}
	return f
}

// glow lays light round a point that fades to nothing at the radius.
func (s *sheet) glow(x, y, rMM, strength float64, col color.NRGBA) *image.Alpha {
	m := s.Mask(drawing.Circle(x, y, rMM))
	k := 25.4 / s.PPI
	for py := m.Rect.Min.Y; py < m.Rect.Max.Y; py++ {
		for px := m.Rect.Min.X; px < m.Rect.Max.X; px++ {
			d := math.Hypot((float64(px)+0.5)*k-x, (float64(py)+0.5)*k-y) / rMM
			v := max(0, 1-d*d)
			m.Pix[m.PixOffset(px, py)] = uint8(255*strength*v*v + 0.5)
		}
	}
	s.Paint(m, col)
	return m
}

// unsized writes the sheet as a PNG picture that does not tell its resolution.
func unsized(s *sheet) func(io.Writer) error {
	return func(w io.Writer) error { return drawing.WritePNG(w, s.Pix, 0) }
}

// hex reads a colour of six hexadecimal digits.
func hex(digits string) color.NRGBA {
	v, err := strconv.ParseUint(digits, 16, 24)
	if err != nil {
		panic("drawdemo: " + err.Error() + " (bug)")
	}
	return color.NRGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}
}

// inSight is what of a mask has not been covered by anything opaque since it was painted.
func (s *sheet) inSight(m *image.Alpha) *image.Alpha {
	out := image.NewAlpha(m.Rect)
	for i, a := range m.Pix {
		x, y := i%m.Stride, i/m.Stride
		if s.Pix.NRGBAAt(x, y).A < 255 {
			out.Pix[i] = a
		}
	}
	return out
}
