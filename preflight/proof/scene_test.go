package proof

import (
	"image"
	"image/color"
	"image/draw"
	"strings"
	"testing"

	"peelcheck/preflight"
	"peelcheck/preflight/rules"
	"peelcheck/raster"
)

// lanternPicture is artwork for the toner process with white in the black station: what is to print white is drawn black.
// It has a hairline, a speck and a moon.
func lanternPicture() *image.NRGBA {
	pix := image.NewNRGBA(image.Rect(0, 0, 1500, 1000))
	fill := func(r image.Rectangle, k color.NRGBA) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				pix.SetNRGBA(x, y, k)
			}
		}
	}
	ink := color.NRGBA{0, 0, 0, 255}
	fill(image.Rect(100, 100, 500, 500), ink)
	fill(image.Rect(700, 100, 1200, 500), color.NRGBA{255, 180, 0, 255})
	fill(image.Rect(100, 700, 1300, 702), ink)
	fill(image.Rect(800, 850, 804, 854), ink)
	return pix
}

// TestDrawJudged judges a picture by the rules and looks at the proof's own pixels: what is drawn black shows white on the
// garment and on the white plane, amber stays amber and prints no white. What is drawn white stays unprinted and is chequered.
func TestDrawJudged(t *testing.T) {
	process, err := preflight.ProcessByID("toner-white-for-black")
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := preflight.SheetByName("a4", process, nil)
	if err != nil {
		t.Fatal(err)
	}
	garment, err := preflight.ParseGarment("navy")
	if err != nil {
		t.Fatal(err)
	}
	limits, err := process.ResolveLimits(nil, "", nil)
	if err != nil {
		t.Fatal(err)
	}
	pix, lost := lanternPicture(), image.Rect(850, 550, 1050, 680)
	draw.Draw(pix, lost, image.White, image.Point{}, draw.Src)
	art := preflight.Artwork{File: "walk.png", Page: 1, PageCount: 1,
		Picture: &raster.Picture{Pix: pix, PPIX: 300, PPIY: 300, PPIFrom: "the file", HasAlpha: true}}
	job := preflight.Job{Process: process, Sheet: sheet, Garment: garment, Limits: limits}
	rep, sc, err := preflight.Judge(art, job, rules.All())
	if err != nil {
		t.Fatal(err)
	}
	seen := sc.Appearance()
	got := DrawJudged(seen, &job, rep)
	p := newPage(Input{Report: rep, Preview: seen.Preview, Garment: garment.Colour, ProcessTitle: process.Title})
	look, plane := p.pictures.look.moved(p.top()), p.pictures.white.moved(p.top())
	ground := color.RGBA{whiteGround, whiteGround, whiteGround, 255}
	for name, tt := range map[string]struct {
		x, y        float64 // in pixels of the artwork
		look, plane color.RGBA
	}{
		"moon":    {300, 300, white, white},
		"lantern": {950, 300, color.RGBA{255, 180, 0, 255}, ground},
		"nothing": {1270, 600, color.RGBA(garment.Colour), ground},
	} {
		x, y := tt.x*p.scene.mmPerPx, tt.y*p.scene.mmPerPx
		if g := got.At(look.x(x), look.y(y)); g != tt.look {
			t.Errorf("%s on the garment is %v, want %v", name, g, tt.look)
		}
		if g := got.At(plane.x(x), plane.y(y)); g != tt.plane {
			t.Errorf("%s on the white plane is %v, want %v", name, g, tt.plane)
		}
	}
	marked, bare := 0, 0
	at := func(x, y int) (int, int) {
		return look.x(float64(x) * p.scene.mmPerPx), look.y(float64(y) * p.scene.mmPerPx)
	}
	x0, y0 := at(lost.Min.X+20, lost.Min.Y+20)
	x1, y1 := at(lost.Max.X-20, lost.Max.Y-20)
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			switch got.At(x, y) {
			case white:
				marked++
			case color.RGBA(garment.Colour):
				bare++
			default:
				t.Fatalf("lost white shows %v", got.At(x, y))
			}
		}
	}
	if all := marked + bare; all == 0 || 10*marked < 4*all || 10*bare < 4*all {
		t.Errorf("of the lost white %d pixels are marked and %d bare", marked, bare)
	}
	p.in.MarkLost = seen.MarkLost
	if key := p.lookCaption(false); !strings.Contains(key, "Chequered: drawn white, stays unprinted.") {
		t.Errorf("the key is %q", key)
	}
	if len(rep.Findings) < 2 || len(p.clusters) < 2 {
		t.Errorf("%d findings in %d lines, want the hairline and the speck at least", len(rep.Findings), len(p.clusters))
	}
}
