package lettering_test

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"pgregory.net/rapid"

	"peelcheck/raster"
	"peelcheck/raster/lettering"
	"peelcheck/raster/lettering/internal/likeness"
	"peelcheck/raster/lettering/internal/typecase"
)

func parse(t testing.TB, data []byte) *typecase.Face {
	t.Helper()
	f, err := typecase.Parse("Go", data, likeness.Glyphs)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The evidence of a picture mirrored is that of the picture with the other sign, whatever is in it.
func TestMirroredTellsTheOpposite(t *testing.T) {
	face := parse(t, goregular.TTF)
	rapid.Check(t, func(rt *rapid.T) {
		pick := func(n int, of string) int { return rapid.IntRange(0, n-1).Draw(rt, of) }
		a := typecase.Artwork{
			Face: face, Lines: []string{tuningWords[pick(len(tuningWords), "word")] + tuningWords[pick(len(tuningWords), "other")]}, XHeightPx: float64(10 + pick(12, "size")),
			Style: pick(typecase.StyleCount, "style"), LinePx: 2, Tracking: 0.2, MarginPx: 12, Ink: palette[0], Second: palette[3],
		}
		pix, _, err := a.Draw()
		if err != nil {
			rt.Fatal(err)
		}
		for range pick(20, "blots") { // which are no lettering
			x, y, c := pick(pix.Rect.Dx(), "x"), pick(pix.Rect.Dy(), "y"), palette[pick(len(palette), "colour")]
			for i := range 120 {
				if at := image.Pt(x+i%17, y+i/17); at.In(pix.Rect) {
					pix.SetNRGBA(at.X, at.Y, c)
				}
			}
		}
		pix = typecase.Lay(pix, pick(4, "turn"), false)
		r, m := lettering.Read(pix, nil), lettering.Read(typecase.Lay(pix, 0, true), nil)
		if math.Abs(r.LogOdds+m.LogOdds) > 1e-6*(1+math.Abs(r.LogOdds)) || r.Letters != m.Letters || r.TellMirrored != m.Tell-m.TellMirrored {
			rt.Fatalf("%+v, mirrored %+v", r, m)
		}
	})
}

// Lettering at every turn, both ways round.
func TestTurns(t *testing.T) {
	a := typecase.Artwork{
		Face: parse(t, gobold.TTF), Lines: []string{"QUILLMOOR", "Lantern Walk 2026"}, XHeightPx: 24, Leading: 1.5, MarginPx: 30,
		Ink: color.NRGBA{200, 30, 40, 255},
	}
	pix, glyphs, err := a.Draw()
	if err != nil {
		t.Fatal(err)
	}
	var box image.Rectangle
	for _, g := range glyphs {
		box = box.Union(g.Box)
	}
	for quarters := range 4 {
		for _, mirror := range []bool{false, true} {
			r := lettering.Read(typecase.Lay(pix, quarters, mirror), nil)
			want := lettering.Normally
			if mirror {
				want = lettering.Mirrored
			}
			if r.Reads() != want || r.Letters < 20 || r.Tell < 10 {
				t.Errorf("turned %d times, mirrored %v: %s, %+v", quarters, mirror, r.Reads(), r)
			}
		}
	}
	if got := lettering.Read(pix, nil).Where; got.Intersect(box.Inset(3)) != box.Inset(3) || !got.In(box.Inset(-4)) {
		t.Errorf("lettering at %v, want %v but for the dots", got, box)
	}
}

// drawn says where something is, so that nothing else is looked at; the reading is the same.
func TestDrawn(t *testing.T) {
	pix, _ := artwork(t, parse(t, goregular.TTF), tuningWords, rand.New(rand.NewPCG(9, 9)))
	drawn := raster.NewBitmap((pix.Rect.Dx()+63)/64, pix.Rect.Dy())
	for i := 3; i < len(pix.Pix); i += 4 {
		if pix.Pix[i] != 0 {
			drawn.Set(i%pix.Stride/256, i/pix.Stride)
		}
	}
	if a, b := lettering.Read(pix, nil), lettering.Read(pix, drawn); a != b {
		t.Errorf("%+v with what is drawn, %+v without", b, a)
	}
}

// Ornaments in rows, each larger than a letter, hide no words.
func TestOrnamentsHideNoWords(t *testing.T) {
	a := typecase.Artwork{Face: parse(t, gobold.TTF), Lines: []string{"QUILLMOOR", "Lantern Walk"}, XHeightPx: 24, Leading: 1.5, MarginPx: 30, Ink: palette[0]}
	words, _, err := a.Draw()
	if err != nil {
		t.Fatal(err)
	}
	const across, down, side = 24, 6, 70
	pix := image.NewNRGBA(image.Rect(0, 0, across*side+words.Rect.Dx(), down*2*side+words.Rect.Dy()))
	for y := range down * 2 * side {
		for x := range across * side {
			if dx, dy := x%side-side/2, y%(2*side)-side/2; max(dx, -dx)+max(dy, -dy) < side/2-4 {
				pix.SetNRGBA(x, y, palette[0])
			}
		}
	}
	for y := range words.Rect.Dy() {
		copy(pix.Pix[(down*2*side+y)*pix.Stride:], words.Pix[y*words.Stride:][:words.Stride])
	}
	for mirror, want := range map[bool]lettering.Direction{false: lettering.Normally, true: lettering.Mirrored} {
		if r := lettering.Read(typecase.Lay(pix, 0, mirror), nil); r.Reads() != want {
			t.Errorf("mirrored %v: %s, %+v", mirror, r.Reads(), r)
		}
	}
}

// What has no lettering tells nothing.
func TestNothingToRead(t *testing.T) {
	plain := image.NewNRGBA(image.Rect(0, 0, 400, 300))
	dots, bars, noise := image.NewNRGBA(plain.Rect), image.NewNRGBA(plain.Rect), image.NewNRGBA(plain.Rect)
	rng := rand.New(rand.NewPCG(1, 2))
	for y := range 300 {
		for x := range 400 {
			if dx, dy := x%40-20, y%40-20; dx*dx+dy*dy < 100 {
				dots.SetNRGBA(x, y, palette[0])
			}
			if x%30 < 12 && y > 100 && y < 180 {
				bars.SetNRGBA(x, y, palette[2])
			}
			noise.SetNRGBA(x, y, color.NRGBA{uint8(rng.UintN(256)), uint8(rng.UintN(256)), uint8(rng.UintN(256)), 255})
		}
	}
	for name, pix := range map[string]*image.NRGBA{
		"plain": plain, "dots": dots, "bars": bars, "noise": noise, "a pixel": image.NewNRGBA(image.Rect(0, 0, 1, 1)), "empty": image.NewNRGBA(image.Rectangle{}),
	} {
		if r := lettering.Read(pix, nil); r.Reads() != lettering.Unknown {
			t.Errorf("%s: %s, %+v", name, r.Reads(), r)
		}
	}
}

// BenchmarkRead reads artworks of the tuning words at sizes as they are in tests, of about two megapixels each, and discs on
// nearly 20 megapixels, where nothing is found and gaps are closed.
func BenchmarkRead(b *testing.B) {
	face := parse(b, goregular.TTF)
	for style, name := range []string{"solid", "outlined", "filled", "on-colour", "reversed"} {
		a := &typecase.Artwork{
			Face: face, Lines: []string{"Friends of the Library", "Lantern Walk", "Quillmoor 2031"}, XHeightPx: 60, Style: style, LinePx: 4, Tracking: 0.15, Leading: 1.6,
			Ink: palette[2], Second: palette[3], MarginPx: 200,
		}
		pix, _, err := a.Draw()
		if err != nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprintf("%s-%dx%d", name, pix.Rect.Dx(), pix.Rect.Dy()), func(b *testing.B) {
			for b.Loop() {
				lettering.Read(pix, nil)
			}
		})
	}
	discs := image.NewNRGBA(image.Rect(0, 0, 4400, 4400))
	for i := range 144 {
		at := image.Pt(100+i%12*350, 100+i/12*350)
		for y := range 200 {
			for x := range 200 {
				if (x-100)*(x-100)+(y-100)*(y-100) < 100*100 {
					discs.SetNRGBA(at.X+x, at.Y+y, palette[0])
				}
			}
		}
	}
	b.Run("discs-4400x4400", func(b *testing.B) {
		for b.Loop() {
			lettering.Read(discs, nil)
		}
	})
}
