package rows

import (
	"encoding/binary"
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
	"slices"
	"testing"

	"peelcheck/raster"
)

func rect(m *image.NRGBA, r image.Rectangle, c color.Color) {
	draw.Draw(m, r, image.NewUniform(c), image.Point{}, draw.Src)
}

var (
	cream = color.NRGBA{245, 235, 215, 255}
	navy  = color.NRGBA{20, 32, 74, 255}
	red   = color.NRGBA{200, 30, 40, 255}
)

// Five blocks in a row, one with a hole, are one row of five: of ink, and on a patch by their colour.
func TestRows(t *testing.T) {
	plain, patch := image.NewNRGBA(image.Rect(0, 0, 300, 120)), image.NewNRGBA(image.Rect(0, 0, 300, 120))
	rect(plain, plain.Rect, cream)
	rect(patch, patch.Rect, cream)
	rect(patch, image.Rect(20, 20, 280, 100), red)
	for i := range 5 {
		for _, m := range []*image.NRGBA{plain, patch} {
			rect(m, image.Rect(40+40*i, 40, 65+40*i, 80), navy)
		}
		rect(plain, image.Rect(46, 46, 59, 74), cream)
	}
	for name, rows := range map[string][]Row{"ink": Open(plain, nil).Find(Least), "on a patch": Open(patch, nil).FindByColour(Least)} {
		i := slices.IndexFunc(rows, func(r Row) bool { return r.Along && len(r.Shapes) == 5 })
		if i < 0 {
			t.Errorf("%s: %+v", name, rows)
			continue
		}
		for _, s := range rows[i].Shapes {
			if s.Box.Dx() != 25 || s.Box.Dy() != 40 || rows[i].Cut(s).Count() != s.AreaPx {
				t.Errorf("%s: %+v is cut to %d pixels", name, s, rows[i].Cut(s).Count())
			}
		}
	}
}

// Strokes too thin for a flat place are found by being like no flat colour.
func TestThinStrokesOnAPatch(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 400, 400))
	rect(m, image.Rect(20, 20, 380, 380), red)
	for i := range 6 {
		rect(m, image.Rect(100+20*i, 100, 102+20*i, 120), navy)
	}
	rows := Open(m, nil).FindUnlike(Least)
	if !slices.ContainsFunc(rows, func(r Row) bool { return r.Along && len(r.Shapes) == 6 }) {
		t.Errorf("%+v", rows)
	}
}

func TestScreenedToneIsNoRow(t *testing.T) {
	m := raster.NewBitmap(640, 640)
	for y := range 640 {
		for x := range 640 {
			if x%4 < 2 && y%4 < 2 || x%80 < 20 && y%80 < 20 {
				m.Set(x, y)
			}
		}
	}
	if rows := InMask(m, Least); rows != nil {
		t.Errorf("%d rows in screened tone", len(rows))
	}
}

// Places to look at lie alike from both ends, so that a mirrored picture has the same colours.
func TestPlacesAreSymmetric(t *testing.T) {
	for size := range 700 {
		seen := map[int]bool{}
		for _, p := range places(size, samplesAcross) {
			seen[p] = true
		}
		for p := range seen {
			if p < 0 || p >= size || !seen[size-1-p] {
				t.Fatalf("%d of %d", p, size)
			}
		}
	}
}

// Five blocks, each cut in two by a narrow gap as a stencil's letters are, are whole once the gaps are closed.
func TestClosedGaps(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 500, 200))
	rect(m, m.Rect, cream)
	for i := range 5 {
		rect(m, image.Rect(50+80*i, 60, 100+80*i, 140), navy)
		rect(m, image.Rect(73+80*i, 60, 77+80*i, 140), cream)
	}
	whole := func(r Row) bool { return r.Along && len(r.Shapes) == 5 && r.Shapes[0].Box.Dx() == 50 }
	p := Open(m, nil)
	if rows := p.Find(Least); slices.ContainsFunc(rows, whole) {
		t.Errorf("blocks are whole before: %+v", rows)
	}
	if rows := p.FindClosed(Least); !slices.ContainsFunc(rows, whole) {
		t.Errorf("%+v", rows)
	}
}

// TestSortPixelByPixel: sorting pixels many at a time comes to the same as asking for each by itself.
func TestSortPixelByPixel(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 9))
	for _, size := range []image.Point{{200, 70}, {131, 40}, {64, 17}, {7, 3}} {
		m := image.NewNRGBA(image.Rectangle{Max: size})
		colours := []color.NRGBA{{}, cream, navy, red, {20, 30, 70, 130}, {250, 250, 250, 100}}
		for i, c := 0, colours[0]; i < size.X*size.Y; i++ {
			if rng.IntN(12) == 0 {
				c = colours[rng.IntN(len(colours))]
			}
			if i%size.X < size.X/2 && rng.IntN(3) == 0 { // grain on one side
				c.R, c.B = uint8(rng.IntN(256)), uint8(rng.IntN(256))
			}
			m.SetNRGBA(i%size.X, i/size.X, c)
		}
		flat := []rgba{{}, {245, 235, 215, 255}, {20, 32, 74, 255}, {200, 30, 40, 255}}
		for name, s := range map[string]*sorter{
			"nearest": nearest(flat), "unlike": unlike(flat), "off a colour": offGround(flat[1]), "off nothing": offGround(flat[0]),
		} {
			masks := s.sort(m, nil)
			for y := range size.Y {
				for x := range size.X {
					at := index(binary.LittleEndian.Uint32(m.Pix[m.PixOffset(x, y):]))
					want := uint8(other)
					if s.alpha && at>>15 == 1 {
						want = 0
					} else if !s.alpha {
						want = s.ask(new(memo), at)
					}
					for i, mask := range masks {
						if mask.At(x, y) != (int(want) == i) {
							t.Fatalf("%s: (%d,%d) of %v: in mask %d is %v, want it in %d", name, x, y, size, i, mask.At(x, y), want)
						}
					}
				}
			}
		}
	}
}
