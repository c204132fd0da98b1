package preflight

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"testing"

	"peelcheck/raster/rastertest"
)

var (
	orange = color.NRGBA{240, 150, 30, 255}
	sky    = color.NRGBA{110, 190, 235, 255}
	grey   = color.NRGBA{206, 206, 206, 255}
)

// edgePairs are what may lie to both sides of an edge, over what.
var edgePairs = []struct {
	a, b, over color.NRGBA
	process    string
}{
	{black, black, none, "toner-white-for-black"},
	{black, orange, none, "toner-white-for-black"},
	{orange, sky, none, "toner-white-for-black"},
	{black, grey, none, "toner-underbase"},
	{orange, sky, none, "toner-underbase"},
	{black, orange, white, "toner-white-for-black"},
	{orange, navy, white, "toner-white-for-black"},
}

// twoPanels are 16 mm of one colour above and 16 mm of another, with a gap of some width between them, turned, each painted over what is
// there (source over destination, Porter and Duff, SIGGRAPH 1984) by its exact coverage.
func twoPanels(a, b, over color.NRGBA, gapMM, ppi, deg, offset float64) *image.NRGBA {
	side := int(30 * ppi / 25.4)
	pix := fill(side, side, over)
	for _, p := range []struct {
		c    color.NRGBA
		away float64
	}{{a, -4 - gapMM/2}, {b, 4 + gapMM/2}} {
		shape := rastertest.Box(16, 8).Moved(0, p.away).Turned(deg).Moved(15+offset*25.4/ppi, 15+offset*25.4/ppi)
		for i, c := range rastertest.Cover(side, side, ppi/25.4, shape).Pix {
			paintOver(pix.Pix[4*i:4*i+4], p.c, float64(c)/255)
		}
	}
	return pix
}

func paintOver(to []uint8, c color.NRGBA, share float64) {
	under := float64(to[3]) / 255 * (1 - share)
	alpha := share + under
	if alpha == 0 {
		return
	}
	for i, v := range []uint8{c.R, c.G, c.B} {
		to[i] = uint8(math.Round((float64(v)*share + float64(to[i])*under) / alpha))
	}
	to[3] = uint8(math.Round(255 * alpha))
}

// TestSharedEdgeIsNoGap draws panels that share an edge, at angles and places between pixels: no gap and no holes.
func TestSharedEdgeIsNoGap(t *testing.T) {
	for _, p := range edgePairs {
		for i := range 24 {
			deg, offset := 3.7*float64(i), float64(i%5)/5
			s := testScene(t, p.process, twoPanels(p.a, p.b, p.over, 0, 300, deg, offset), 300, nil)
			if gaps, holes := s.ThinGaps(), s.Holes(); len(gaps)+len(holes) > 0 {
				t.Errorf("%v beside %v over %v in %s, turned by %.1f, moved by %.1f pixels: %d gaps, %d holes", p.a, p.b, p.over, p.process, deg, offset, len(gaps), len(holes))
			}
		}
	}
}

// TestGapUnderAPixel draws the same panels 0.10 mm apart, 0.59 pixels at 150 an inch and 1.18 at 300: one gap of that width.
func TestGapUnderAPixel(t *testing.T) {
	for _, p := range edgePairs {
		for _, ppi := range []float64{150, 300} {
			worst := 0.0
			for i := range 24 {
				deg, offset := 3.7*float64(i), float64(i%5)/5
				s := testScene(t, p.process, twoPanels(p.a, p.b, p.over, 0.1, ppi, deg, offset), ppi, nil)
				gaps := s.ThinGaps()
				what := fmt.Sprintf("%v beside %v over %v in %s at %v, turned by %.1f, moved by %.1f pixels", p.a, p.b, p.over, p.process, ppi, deg, offset)
				if len(gaps) != 1 {
					t.Errorf("%s: %d gaps, %d holes", what, len(gaps), len(s.Holes()))
					continue
				}
				worst = max(worst, math.Abs(s.MM(gaps[0].WidthPx)-0.1))
			}
			if worst > 0.015 {
				t.Errorf("%v beside %v over %v in %s at %v: a gap of 0.10 mm measured %.3f mm off", p.a, p.b, p.over, p.process, ppi, worst)
			}
			t.Logf("%v beside %v over %v in %s at %v: off by %.3f mm at worst", p.a, p.b, p.over, p.process, ppi, worst)
		}
	}
}
