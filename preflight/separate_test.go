package preflight

import (
	"image"
	"image/color"
	"testing"

	"peelcheck/raster"
)

func mustProcess(t *testing.T, id string) *Process {
	t.Helper()
	own, err := ParseProcesses("own.yaml", []byte("processes:\n  - id: beside\n    based_on: toner-underbase\n    white_source: beside-colour\n"))
	if err != nil {
		t.Fatal(err)
	}
	p, err := own.ProcessByID(id)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestBlackGeneration checks RGB to CMYK against ISO 32000-1:2008, 10.3.4, worked by hand for BG(k) = UCR(k) = k, the clause's own
// example (.2 .7 .4 has c, m, y of .8 .3 .6) among them. In toner-white-for-black the black plane is the white one.
func TestBlackGeneration(t *testing.T) {
	s := newSeparation(mustProcess(t, "toner-white-for-black"), "black", false)
	tests := []struct{ r, g, b, c, m, y, k float64 }{
		{.2, .7, .4, .5, 0, .3, .3},
		{1, 1, 1, 0, 0, 0, 0},
		{0, 0, 0, 0, 0, 0, 1},
		{.5, .5, .5, 0, 0, 0, .5},
		{1, 0, 0, 0, 1, 1, 0},
		{1, 1, 0, 0, 0, 1, 0},
		{.6, .3, .9, .3, .6, 0, .1},
		{.2, .4, .6, .4, .2, 0, .4},
		{.8, .8, .5, 0, 0, .3, .2},
	}
	level := func(v float64) uint8 { return uint8(v*255 + 0.5) }
	for _, tt := range tests {
		got := s.pixel(level(tt.r), level(tt.g), level(tt.b), 255)
		for i, want := range []float64{tt.k, tt.c, tt.m, tt.y, 0} {
			if d := int(got[i]) - int(level(want)); d < -1 || d > 1 {
				t.Errorf("%v %v %v: %s is %d, want %d", tt.r, tt.g, tt.b, AllPlanes[i], got[i], level(want))
			}
		}
	}
}

// TestBesideKnocksOut: black generation and removal as above, white what red, green and blue have in common, and no place covered twice.
// The tints of .6 .8 .7 are worked by hand.
func TestBesideKnocksOut(t *testing.T) {
	s := newSeparation(mustProcess(t, "beside"), "white", false)
	if got := s.pixel(153, 204, 179, 255); got != (ink{153, 51, 0, 25, 51}) {
		t.Errorf("%v, want white 153, cyan 51, yellow 25, black 51", got)
	}
	for v := 0; v < 1<<24; v += 1237 {
		p := s.pixel(uint8(v), uint8(v>>8), uint8(v>>16), 255)
		if all := int(p[inkWhite]) + int(max(p[inkCyan], p[inkMagenta], p[inkYellow])) + int(p[inkBlack]); all != 255 {
			t.Fatalf("colour %06x: white, the strongest colour and black are %d together, want 255", v, all)
		}
	}
}

// TestBlackGenerationCurves checks the same clause with BG = UCR = k/2 and with no undercolour removal.
func TestBlackGenerationCurves(t *testing.T) {
	p := *mustProcess(t, "toner-underbase")
	half := Curve{{0, 0}, {1, 0.5}}
	p.BlackGeneration, p.UndercolourRemoval = half, half
	if got := newSeparation(&p, "white", false).pixel(51, 179, 102, 255); got != (ink{255, 166, 38, 115, 38}) {
		t.Errorf("half: %v, want 255 166 38 115 38 (.65 .15 .45 .15)", got)
	}
	p.BlackGeneration, p.UndercolourRemoval = Curve{{0, 0}, {1, 1}}, Curve{{0, 0}, {1, 0}}
	if got := newSeparation(&p, "white", false).pixel(0, 0, 0, 255); got != (ink{255, 255, 255, 255, 255}) {
		t.Errorf("no removal: black is %v, want 255 on every plane", got)
	}
}

func TestAlphaScalesPlanes(t *testing.T) {
	for _, p := range Processes() {
		s := newSeparation(p, p.WhiteDrawnAs, true)
		for _, c := range []color.NRGBA{{0, 0, 0, 0}, {255, 255, 255, 0}, {20, 200, 90, 0}} {
			if got := s.pixel(c.R, c.G, c.B, c.A); got != (ink{}) {
				t.Errorf("%s: transparent %v prints %v", p.ID, c, got)
			}
		}
		solid, half := s.pixel(0, 0, 0, 255), s.pixel(0, 0, 0, 128)
		for i := range solid {
			if d := int(half[i]) - int(solid[i])*128/255; d < -1 || d > 1 {
				t.Errorf("%s: half-transparent black has %s %d of %d", p.ID, AllPlanes[i], half[i], solid[i])
			}
		}
	}
}

// TestTakeOutInvertsOver draws a colour over a ground (Porter and Duff, SIGGRAPH 1984) and takes the ground out again.
func TestTakeOutInvertsOver(t *testing.T) {
	grounds := []color.NRGBA{{255, 255, 255, 255}, {0, 0, 0, 255}, {250, 240, 120, 255}}
	for _, g := range grounds {
		for _, a := range []uint8{0, 40, 128, 200, 255} {
			c := over(color.NRGBA{0, 0, 255, 255}, a, g)
			r, gg, b, got := takeOut(g, c.R, c.G, c.B, 255)
			back := over(color.NRGBA{r, gg, b, 255}, got, g)
			if apart(back.R, c.R) > 2 || apart(back.G, c.G) > 2 || apart(back.B, c.B) > 2 {
				t.Errorf("ground %v, alpha %d: %v comes back as %v", g, a, c, back)
			}
			if g == grounds[0] && apart(got, a) > 1 {
				t.Errorf("coverage %d over white reads %d", a, got)
			}
		}
	}
}

// TestWhiteDrawnAsWhite: artwork drawn the natural way round gives white to white and nothing to black.
func TestWhiteDrawnAsWhite(t *testing.T) {
	s := newSeparation(mustProcess(t, "toner-white-for-black"), "white", false)
	if got := s.pixel(255, 255, 255, 255); got != (ink{255, 0, 0, 0, 0}) {
		t.Errorf("white prints %v", got)
	}
	if got := s.pixel(0, 0, 0, 255); got != (ink{}) {
		t.Errorf("black prints %v", got)
	}
	if got := s.pixel(255, 0, 0, 255); got != (ink{0, 0, 255, 255, 0}) {
		t.Errorf("red prints %v", got)
	}
}

func testScene(t *testing.T, process string, pix *image.NRGBA, ppi float64, change func(*Job)) *Scene {
	t.Helper()
	p := mustProcess(t, process)
	limits, err := p.ResolveLimits(nil, "", nil)
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := SheetByName("a4", p, nil)
	if err != nil {
		t.Fatal(err)
	}
	pic := &raster.Picture{Pix: pix, PPIX: ppi, PPIY: ppi, PPIFrom: "pHYs"}
	for i := 3; i < len(pix.Pix); i += 4 {
		pic.HasAlpha = pic.HasAlpha || pix.Pix[i] != 255
	}
	job := Job{Process: p, Sheet: sheet, Garment: Garment{"black", color.NRGBA{0, 0, 0, 255}}, Fabric: p.DefaultFabric(), Limits: limits, Background: BackgroundAuto}
	if change != nil {
		change(&job)
	}
	s, err := NewScene(Artwork{File: "test.png", Format: "png", Page: 1, PageCount: 1, Picture: pic}, job)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func fill(w, h int, c color.NRGBA) *image.NRGBA {
	p := image.NewNRGBA(image.Rect(0, 0, w, h))
	paint(p, p.Rect, c)
	return p
}

func paint(p *image.NRGBA, r image.Rectangle, c color.NRGBA) {
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			p.SetNRGBA(x, y, c)
		}
	}
}
