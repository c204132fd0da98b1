package preflight

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"peelcheck/raster"
	. "peelcheck/raster/rastertest"
)

// placed is a place between pixels and a turn at a resolution.
type placed struct {
	ppi, sideMM, x, y, turn float64 // x, y are pixels
}

func placedAt(rng *rand.Rand, ppi, sideMM float64) placed {
	n := float64(int(sideMM * ppi / 25.4))
	return placed{ppi, sideMM, n/2 + rng.Float64(), n/2 + rng.Float64(), 360 * rng.Float64()}
}

// cover draws a shape in millimetres.
func (p placed) cover(f Field) *image.Gray {
	n, perMM := int(p.sideMM*p.ppi/25.4), p.ppi/25.4
	return Cover(n, n, perMM, p.put(f))
}

func (p placed) put(f Field) Field {
	perMM := p.ppi / 25.4
	return f.Turned(p.turn).Moved(p.x/perMM, p.y/perMM)
}

// coloured is a picture of one colour whose alpha is a coverage.
func coloured(g *image.Gray, c color.NRGBA) *image.NRGBA {
	pix := image.NewNRGBA(g.Rect)
	for i, v := range g.Pix {
		if v > 0 {
			c.A = v
			pix.SetNRGBA(i%g.Rect.Dx(), i/g.Rect.Dx(), c)
		}
	}
	return pix
}

// thickened judges a picture and thickens its planes; before are the planes as they were.
func thickened(t *testing.T, s *Scene) (before, after *PrintPlanes, changes []Change) {
	t.Helper()
	before, err := s.PrintPlanes()
	if err != nil {
		t.Fatal(err)
	}
	if after, err = s.PrintPlanes(); err != nil {
		t.Fatal(err)
	}
	return before, after, s.Thicken(after)
}

// at is what a plane has at a pixel of the picture.
func (p *PrintPlanes) at(plane, x, y int) int {
	if q := (image.Point{X: x, Y: y}); p.Of[plane] == nil || !q.In(p.Box) {
		return 0
	}
	var one [1]uint8
	x, y = x-p.Box.Min.X, y-p.Box.Min.Y
	p.Of[plane].Read(one[:], image.Rect(x, y, x+1, y+1))
	return int(one[0])
}

// sum is the area of a plane in pixels.
func (p *PrintPlanes) sum(plane int) float64 {
	n := 0
	for _, v := range p.bytes(plane) {
		n += int(v)
	}
	return float64(n) / 255
}

var resolutions = []float64{150, 300, 600}

const limitMM = 0.35 // of lines and gaps in the processes tested here

// Straight lines and rings of known length: their width afterwards is their area over it. A grown line's ends are half discs, which lack
// (1 - pi/4) of the limit's square.
func TestThickenWidthFromArea(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	for _, ppi := range resolutions {
		px := 25.4 / ppi
		for range 25 {
			w, length, r := 0.06+0.2*rng.Float64(), 2.5+2*rng.Float64(), 1.2+rng.Float64()
			p := placedAt(rng, ppi, 7)
			_, after, _ := thickened(t, testScene(t, "toner-white-for-black", coloured(p.cover(Box(w, length)), black), ppi, nil))
			area := after.sum(inkWhite) * px * px
			ends := (1 - math.Pi/4) * limitMM * limitMM
			nearLimit(t, "line", ppi, w, (area+ends)/length)
			_, after, _ = thickened(t, testScene(t, "toner-white-for-black", coloured(p.cover(Annulus(r, w)), black), ppi, nil))
			nearLimit(t, "ring", ppi, w, after.sum(inkWhite)*px*px/(2*math.Pi*r))
			block := Box(4, 6)
			solid := p.cover(block)
			s := testScene(t, "toner-white-for-black", coloured(p.cover(Except(block, Box(w+0.06, 2.5))), black), ppi, nil) // 0.06 mm may be a seam
			_, after, _ = thickened(t, s)
			gap := sumOf(solid) - after.sum(inkWhite)
			nearLimit(t, "closed slot", ppi, w+0.06, (gap*px*px+ends)/2.5)
		}
	}
}

func sumOf(g *image.Gray) float64 {
	n := 0
	for _, v := range g.Pix {
		n += int(v)
	}
	return float64(n) / 255
}

// nearLimit fails where a width is under the limit by more than 0.03 mm or over it by more than a pixel.
func nearLimit(t *testing.T, what string, ppi, from, got float64) {
	t.Helper()
	if got < limitMM-0.03 || got > limitMM+25.4/ppi {
		t.Errorf("%s, %.0f ppi: %.3f mm became %.3f, want %.2f to %.3f", what, ppi, from, got, limitMM-0.03, limitMM+25.4/ppi)
	}
}

type thinShape struct {
	name string
	Field
}

// thinShapes are a line or a gap w wide each.
func thinShapes(rng *rand.Rand, w float64) []thinShape {
	half := All(Annulus(1, w), Sector(180))
	arm := Box(2.4, w).Moved(1.2-w/2, 0)
	return []thinShape{
		{"line", Box(w, 4)},
		{"arc", All(Annulus(1.8, w), Sector(150))},
		{"s-curve", Any(half.Moved(0, 1), half.Turned(180).Moved(0, -1))},
		{"cross", Any(Box(w, 4), Box(4, w))},
		{"t-join", Any(Box(4, w), Box(w, 2).Moved(0, 1))},
		{"bend", Any(arm, arm.Turned(60+80*rng.Float64()))},
		{"whisker", Any(Box(2, 2), Box(w, 2.4).Moved(0.3, 1.2))},
		{"bridge", Any(Box(1.5, 1.5).Moved(0, 1.75), Box(1.5, 1.5).Moved(0, -1.75), Box(w, 3))},
		{"neck", Except(Box(3, 4.4), Any(Circle(2).Moved(1+w/2, 0), Circle(2).Moved(-1-w/2, 0)))},
		{"taper", Corners([2]float64{0, -4}, [2]float64{0.3, 4}, [2]float64{-0.3, 4})},
		{"gap", Any(Box(1.5, 4).Moved(-0.75-w/2, 0), Box(1.5, 4).Moved(0.75+w/2, 0))},
		{"slot", Except(Box(3, 3), Box(w, 4).Moved(0.3, 2))},
		{"ring gap", Except(Circle(4.4), Annulus(1.2, w))},
		{"crossing", Except(Box(4, 4), Any(Box(w, 6), Box(6, w)))},
	}
}

// What is printed after thickening is judged as a picture of its own: nothing thin is found again but what was left.
func TestThickenedIsSound(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	cells, left, short := 0, 0, 0
	for _, ppi := range resolutions {
		for range 8 {
			w := 0.08 + 0.22*rng.Float64()
			for _, f := range thinShapes(rng, w) {
				s := testScene(t, "toner-white-for-black", coloured(placedAt(rng, ppi, 9).cover(f.Field), black), ppi, nil)
				before, after, changes := thickened(t, s)
				cells++
				for _, c := range changes {
					if c.Left {
						left++
					} else if c.Why != "" {
						short++
					}
				}
				again := testScene(t, "toner-white-for-black", pictureOf(after, s), ppi, nil)
				if n := foundAgain(again, before, after); n > 0 && len(changes) > 0 && !changes[0].Left && changes[0].Why == "" {
					t.Errorf("%s of %.3f mm, %.0f ppi: %d thin places are left, and none is told: %+v", f.name, w, ppi, n, changes)
				}
			}
		}
	}
	t.Logf("%d cells, %d features left, %d short of the limit", cells, left, short)
	if 20*(left+short) > cells {
		t.Errorf("%d features of %d cells were left and %d are short, want one in 20 at most", left, cells, short)
	}
}

// foundAgain counts the thin places of a picture of which a quarter or more was changed.
func foundAgain(s *Scene, before, after *PrintPlanes) int {
	n := 0
	for _, f := range append(s.ThinLines(), s.ThinGaps()...) {
		changed, all := 0, 0
		for _, r := range f.Runs {
			for x := r.X0; x < r.X1; x++ {
				all++
				if before.at(inkWhite, int(x), int(r.Y)) != after.at(inkWhite, int(x), int(r.Y)) {
					changed++
				}
			}
		}
		if 4*changed > all && s.MM(f.WidthPx) < limitMM-0.03 {
			n++
		}
	}
	return n
}

// pictureOf is what the white plane alone prints, black on nothing.
func pictureOf(p *PrintPlanes, s *Scene) *image.NRGBA {
	pix := image.NewNRGBA(image.Rect(0, 0, s.W, s.H))
	row := make([]uint8, p.Box.Dx())
	for y := p.Box.Min.Y; y < p.Box.Max.Y; y++ {
		p.Of[inkWhite].Read(row, image.Rect(0, y-p.Box.Min.Y, len(row), y-p.Box.Min.Y+1))
		for x, v := range row {
			pix.Pix[y*pix.Stride+4*(p.Box.Min.X+x)+3] = v
		}
	}
	return pix
}

// A line keeps its length, within a pixel and a half at each end, and its place; what is farther from it than the limit keeps every level, and so does a block with nothing thin.
func TestThickenStaysInPlace(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 42))
	for _, ppi := range resolutions {
		for range 10 {
			w, length := 0.08+0.2*rng.Float64(), 2+2*rng.Float64()
			p := placedAt(rng, ppi, 12)
			line, block := Box(w, length).Moved(-2, 0), Any(Box(1, 4).Moved(1, 0), Circle(1.4).Moved(3, 0.5), Box(0.5, 3).Moved(-4, 0))
			s := testScene(t, "toner-white-for-black", coloured(p.cover(Any(line, block)), black), ppi, nil)
			before, after, _ := thickened(t, s)
			toLine, perMM := p.put(line), ppi/25.4
			for y := range s.H {
				for x := range s.W {
					d := toLine((float64(x)+0.5)/perMM, (float64(y)+0.5)/perMM)
					if was, is := before.at(inkWhite, x, y), after.at(inkWhite, x, y); was != is && (d > limitMM || was > is) {
						t.Fatalf("%.0f ppi: %v, %.2f mm from the line, was %d and is %d", ppi, image.Pt(x, y), d, was, is)
					}
				}
			}
			was, now := extent(before, p, -2, perMM), extent(after, p, -2, perMM)
			if math.Abs(was.low-now.low) > 1.5/perMM || math.Abs(was.high-now.high) > 1.5/perMM || math.Abs(was.middle-now.middle) > 0.25/perMM {
				t.Errorf("%.0f ppi, %.2f x %.2f mm: from %+v to %+v", ppi, w, length, was, now)
			}
		}
	}
}

// spread is where a line lies: along it, from the first to the last place at least half covered, and across it.
type spread struct{ low, high, middle float64 }

// extent measures the line that was drawn about a place beside the origin, up to 1 mm to both sides, in millimetres.
func extent(p *PrintPlanes, at placed, beside, perMM float64) spread {
	sin, cos := math.Sincos(at.turn * math.Pi / 180)
	out, weight := spread{low: 99, high: -99}, 0.0
	for y := p.Box.Min.Y; y < p.Box.Max.Y; y++ {
		for x := p.Box.Min.X; x < p.Box.Max.X; x++ {
			dx, dy := (float64(x)+0.5-at.x)/perMM, (float64(y)+0.5-at.y)/perMM
			across, along := dx*cos+dy*sin-beside, -dx*sin+dy*cos
			v := float64(p.at(inkWhite, x, y)) / 255
			if math.Abs(across) > 1 || v == 0 {
				continue
			}
			out.middle += v * across
			weight += v
			if v > 0.25 {
				out.low, out.high = min(out.low, along), max(out.high, along)
			}
		}
	}
	out.middle /= weight
	return out
}

// Shapes with nothing thin are not touched at all.
func TestThickenLeavesSoundShapes(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 52))
	for _, ppi := range resolutions {
		for range 6 {
			w := 0.42 + rng.Float64()/2
			for _, f := range []Field{Box(w, 4), Annulus(1.5, w), Circle(3), Except(Box(4, 4), Box(w, 6)), Any(Box(1.5, 1.5).Moved(-0.6, -0.6), Box(1.5, 1.5).Moved(0.6, 0.6))} {
				s := testScene(t, "toner-white-for-black", coloured(placedAt(rng, ppi, 7).cover(f), black), ppi, nil)
				before, after, changes := thickened(t, s)
				if len(changes) > 0 || before.sum(inkWhite) != after.sum(inkWhite) || before.Box != after.Box {
					t.Errorf("%.0f ppi, %.2f mm: a sound shape was changed: %+v", ppi, w, changes)
				}
			}
		}
	}
}

// Colour keeps the proportions of its planes within two levels, at full strength however fine the line was, on clear and on white ground.
func TestThickenKeepsColour(t *testing.T) {
	rng := rand.New(rand.NewPCG(61, 62))
	for _, c := range []color.NRGBA{{255, 128, 0, 255}, {20, 90, 200, 255}, {60, 60, 60, 255}, {200, 220, 40, 255}} {
		for _, ppi := range resolutions {
			for _, w := range []float64{0.05, 0.12, 0.2, 0.3} {
				pix := coloured(placedAt(rng, ppi, 6).cover(Box(w, 4)), c)
				s := testScene(t, "toner-white-for-black", pix, ppi, nil)
				_, after, _ := thickened(t, s)
				checkTint(t, s, after, s.printed.solid(c.R, c.G, c.B))
			}
		}
	}
	c := color.NRGBA{0, 0, 0, 255}
	pix := fill(140, 140, white)
	paint(pix, image.Rect(60, 20, 62, 120), c)
	s := testScene(t, "toner-white-for-black", pix, 300, nil)
	_, after, _ := thickened(t, s)
	checkTint(t, s, after, s.printed.solid(0, 0, 0))
}

// checkTint compares all pixels with a tint of one tone, and looks for its full strength.
func checkTint(t *testing.T, s *Scene, p *PrintPlanes, tone ink) {
	t.Helper()
	lead := 0
	for n, v := range tone {
		if v > tone[lead] {
			lead = n
		}
	}
	most := 0
	for y := p.Box.Min.Y; y < p.Box.Max.Y; y++ {
		for x := p.Box.Min.X; x < p.Box.Max.X; x++ {
			has := p.at(lead, x, y)
			most = max(most, has)
			for n, full := range tone {
				if p.Of[n] == nil {
					continue
				}
				if v, want := p.at(n, x, y), float64(full)*float64(has)/float64(tone[lead]); math.Abs(float64(v)-want) > 2 {
					t.Fatalf("%.0f ppi: %s at %d, %d is %d, want %.1f beside %d of %s", s.PPI, AllPlanes[n], x, y, v, want, has, AllPlanes[lead])
				}
			}
		}
	}
	if most < int(tone[lead])-2 {
		t.Errorf("%.0f ppi: at most %d of %d", s.PPI, most, tone[lead])
	}
}

// A flat tint stays the tint it is.
func TestThickenKeepsTints(t *testing.T) {
	pix := image.NewNRGBA(image.Rect(0, 0, 160, 160))
	paint(pix, image.Rect(70, 20, 73, 140), color.NRGBA{90, 90, 90, 255})
	s := testScene(t, "toner-white-for-black", pix, 300, nil)
	_, after, changes := thickened(t, s)
	if len(changes) != 1 || changes[0].Left {
		t.Fatalf("changes %+v, want one line grown", changes)
	}
	checkTint(t, s, after, s.printed.solid(90, 90, 90))
	if got := after.at(inkWhite, 71, 80); got != 165 {
		t.Errorf("the tint of 165 is %d", got)
	}
}

// White under a grown line is what white under a line drawn as wide would be: nowhere nearer to the colour's edge than the choke.
func TestThickenChokesAgain(t *testing.T) {
	rng := rand.New(rand.NewPCG(71, 72))
	red := color.NRGBA{200, 20, 30, 255}
	for _, ppi := range resolutions {
		p := placedAt(rng, ppi, 9)
		choke := func(j *Job) {
			j.Process.ChokeMM = 0.1
			l := j.Limits["line"]
			l.Value = 0.5
			j.Limits["line"] = l
		}
		f := Any(Box(0.15, 4), Box(2, 4).Moved(-2.5, 0))
		s := testScene(t, "toner-underbase", coloured(p.cover(f), red), ppi, choke)
		_, after, changes := thickened(t, s)
		if len(changes) != 1 || changes[0].Left {
			t.Fatalf("%.0f ppi: changes %+v, want one line grown", ppi, changes)
		}
		printed, full := raster.NewBitmap(s.W, s.H), s.printed.solid(red.R, red.G, red.B)[inkMagenta]
		for y := range s.H {
			for x := range s.W {
				if 2*after.at(inkMagenta, x, y) >= int(full) {
					printed.Set(x, y)
				}
			}
		}
		inner := raster.Erode(printed, s.Px(0.1)+0.5, false) // clear pixels' centres lie half a pixel outside
		wrong, held := 0, 0
		for y := range s.H {
			for x := range s.W {
				has := after.at(inkWhite, x, y) > 0
				if has != inner.At(x, y) {
					wrong++
				}
				if has && math.Abs(float64(x)-p.x)+math.Abs(float64(y)-p.y) < 8 {
					held++
				}
			}
		}
		// The outline is taken from alpha, that of the test from magenta: a pixel here and there differs.
		if wrong > inner.Count()/50 {
			t.Errorf("%.0f ppi: white differs from the choked line at %d pixels of %d", ppi, wrong, inner.Count())
		}
		if held == 0 {
			t.Errorf("%.0f ppi: there is no white in the middle of the grown line", ppi)
		}
	}
}

// Lines too close for both to grow are left, and so is a gap that only a thin line borders; the reasons are told.
func TestThickenLeaves(t *testing.T) {
	bars := func(at ...float64) Field { // pairs of a bar's place and its width
		var all []Field
		for i := 0; i < len(at); i += 2 {
			all = append(all, Box(at[i+1], 5).Moved(at[i], 0))
		}
		return Any(all...)
	}
	tests := []struct {
		name       string
		shape      Field
		left, grow int
		why        string
	}{
		{"wide enough apart", bars(0, 0.2, 0.8, 0.2), 0, 2, ""},
		{"would leave too narrow a gap", bars(0, 0.15, 0.56, 0.15), 2, 0, whyNewGap},
		{"too close already", bars(0, 0.2, 0.4, 0.2), 3, 0, whyGapBeside},
		{"beside a block", bars(0, 0.2, 1.35, 2), 1, 0, whyGapBeside},
	}
	for _, ppi := range []float64{300, 600} {
		for _, tt := range tests {
			p := placed{ppi, 9, 4.5 * ppi / 25.4, 4.5 * ppi / 25.4, 20}
			s := testScene(t, "toner-white-for-black", coloured(p.cover(tt.shape), black), ppi, nil)
			before, after, changes := thickened(t, s)
			left, said := 0, false
			for _, c := range changes {
				if c.Left {
					left++
					if c.ToMM != c.FromMM {
						t.Errorf("%s: a line that was left went from %v to %v mm", tt.name, c.FromMM, c.ToMM)
					}
				}
				said = said || c.Why == tt.why
			}
			if left < min(1, tt.left) || len(changes)-left != tt.grow || !said {
				t.Errorf("%s, %.0f ppi: %+v, want %d left because %q and %d grown", tt.name, ppi, changes, tt.left, tt.why, tt.grow)
			}
			if tt.grow == 0 && before.sum(inkWhite) != after.sum(inkWhite) {
				t.Errorf("%s, %.0f ppi: what was left has changed", tt.name, ppi)
			}
		}
	}
}

// The planes' box grows where a line at its edge does, but not beyond the picture: there the line grows inward.
func TestThickenAtTheEdge(t *testing.T) {
	for _, x := range []int{20, 0} {
		pix := image.NewNRGBA(image.Rect(0, 0, 200, 100))
		paint(pix, image.Rect(x, 20, x+2, 80), black)
		paint(pix, image.Rect(60, 20, 150, 80), black)
		s := testScene(t, "toner-white-for-black", pix, 300, nil)
		_, after, changes := thickened(t, s)
		if len(changes) != 1 || changes[0].Why != "" {
			t.Fatalf("from %d: changes %+v", x, changes)
		}
		sum := 0
		for i := range 30 {
			sum += after.at(inkWhite, i, 50)
		}
		nearLimit(t, "line", 300, 2*25.4/300, float64(sum)/255*25.4/300)
		if want := max(0, x-2); after.Box.Min.X != want && after.Box.Min.X != want+1 {
			t.Errorf("from %d: box %v, want it to begin at about %d", x, after.Box, want)
		}
		if got := after.at(inkWhite, 100, 50); got != 255 {
			t.Errorf("from %d: the block is %d, want 255", x, got)
		}
	}
}

// Small lettering comes out with stems as wide as the limit, or is left with a reason.
func TestThickenLettering(t *testing.T) {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		t.Fatal(err)
	}
	for _, ppi := range resolutions {
		face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: 2.2 / 25.4 * 72, DPI: ppi, Hinting: font.HintingNone})
		if err != nil {
			t.Fatal(err)
		}
		pix := image.NewNRGBA(image.Rect(0, 0, int(20*ppi/25.4), int(5*ppi/25.4)))
		d := font.Drawer{Dst: pix, Src: image.NewUniform(black), Face: face, Dot: fixed.P(int(ppi/12), int(3*ppi/25.4))}
		for _, letter := range "lLHTVil" {
			d.DrawString(string(letter))
			d.Dot.X += fixed.I(int(ppi / 20))
		}
		s := testScene(t, "toner-white-for-black", pix, ppi, nil)
		_, after, changes := thickened(t, s)
		grown := 0
		for _, c := range changes {
			if !c.Left && !c.Gap {
				grown++
				nearLimit(t, "letter", ppi, c.FromMM, min(c.ToMM, limitMM))
			}
		}
		if grown < 5 {
			t.Errorf("%.0f ppi: %d letters grown of %+v", ppi, grown, changes)
		}
		again := testScene(t, "toner-white-for-black", pictureOf(after, s), ppi, nil)
		if n := len(again.ThinLines()); n > len(s.ThinLines())-grown {
			t.Errorf("%.0f ppi: %d of %d lines are still thin, %d were grown", ppi, n, len(s.ThinLines()), grown)
		}
	}
}

func TestDescribeChanges(t *testing.T) {
	got := DescribeChanges([]Change{
		{FromMM: 0.12, ToMM: 0.35}, {FromMM: 0.3, ToMM: 0.36}, {FromMM: 0.1, ToMM: 0.1, Left: true, Why: whyNewGap},
		{Gap: true, FromMM: 0.2, ToMM: 0.35}, {FromMM: 0.1, ToMM: 0.3, Why: whyNoRoom},
	})
	want := []string{
		"2 thin lines of 0.12 to 0.30 mm were grown to 0.35 to 0.36 mm.",
		"1 narrow gap of 0.20 mm was opened to 0.35 mm.",
		"1 thin line of 0.10 mm was grown to 0.30 mm only: the shape does not let every place come to the full width.",
		"1 thin line of 0.10 mm was left as drawn: growing would leave too narrow a gap beside. Print it larger, or redraw it.",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if DescribeChanges(nil) != nil {
		t.Error("no changes are described")
	}
}

// BenchmarkThicken grows 10,000 lines on a page at 300 pixels an inch; planes and features are made beforehand.
func BenchmarkThicken(b *testing.B) {
	const w, h = 2480, 3508
	pix := image.NewNRGBA(image.Rect(0, 0, w, h))
	rng := rand.New(rand.NewPCG(8, 9))
	for n := range 10000 {
		x, y := n%100*24+10, n/100*34+10
		c := color.NRGBA{uint8(rng.UintN(120)), uint8(rng.UintN(120)), uint8(rng.UintN(120)), 255}
		for k := range 22 {
			at := x + k*rng.IntN(2)/8
			pix.SetNRGBA(at, y+k, c)
			c.A = 120
			pix.SetNRGBA(at+1, y+k, c)
			c.A = 255
		}
	}
	s := benchScene(b, pix)
	if n := len(s.ThinLines()); n < 9000 {
		b.Fatalf("%d lines are thin, want about 10,000", n)
	}
	s.ThinGaps()
	for b.Loop() {
		b.StopTimer()
		planes, err := s.PrintPlanes()
		if err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
		s.Thicken(planes)
	}
}

func benchScene(b *testing.B, pix *image.NRGBA) *Scene {
	b.Helper()
	p, err := ProcessByID("toner-white-for-black")
	if err != nil {
		b.Fatal(err)
	}
	limits, err := p.ResolveLimits(nil, "", nil)
	if err != nil {
		b.Fatal(err)
	}
	job := Job{Process: p, Garment: Garment{"black", color.NRGBA{0, 0, 0, 255}}, Limits: limits, Background: BackgroundAuto}
	s, err := NewScene(Artwork{Picture: &raster.Picture{Pix: pix, HasAlpha: true, PPIX: 300, PPIY: 300}}, job)
	if err != nil {
		b.Fatal(err)
	}
	return s
}

// A black line on white paper that prints white as a whole: black grows, and the white under it stays unbroken.
func TestThickenOnPrintedGround(t *testing.T) {
	pix := fill(160, 120, white)
	paint(pix, image.Rect(50, 20, 52, 100), black)
	s := testScene(t, "toner-underbase", pix, 300, nil)
	before, after, changes := thickened(t, s)
	if len(changes) != 1 || changes[0].Left || changes[0].Why != "" {
		t.Fatalf("changes %+v, want one line grown", changes)
	}
	for y := range s.H {
		for x := range s.W {
			if was, is := before.at(inkWhite, x, y), after.at(inkWhite, x, y); was != 255 || is != 255 {
				t.Fatalf("white at %d, %d was %d and is %d, want 255", x, y, was, is)
			}
		}
	}
	width := 0
	for x := range s.W {
		width += after.at(inkBlack, x, 60)
	}
	nearLimit(t, "line", 300, 2*25.4/300, float64(width)/255*25.4/300)
}

// A gap between two colours on white paper shows the paper, which prints nothing by this process.
func TestThickenGapOnGround(t *testing.T) {
	pix := fill(200, 140, white)
	paint(pix, image.Rect(40, 30, 99, 110), color.NRGBA{230, 0, 120, 255})
	paint(pix, image.Rect(101, 30, 160, 110), color.NRGBA{0, 120, 60, 255})
	s := testScene(t, "toner-white-for-black", pix, 300, nil)
	_, after, changes := thickened(t, s)
	if len(changes) != 1 || !changes[0].Gap || changes[0].Why != "" {
		t.Fatalf("changes %+v, want one gap opened", changes)
	}
	left, right := s.printed.solid(230, 0, 120), s.printed.solid(0, 120, 60)
	width := 0.0
	for x := 60; x < 140; x++ {
		side, lead := left, inkMagenta
		if x >= 100 {
			side, lead = right, inkCyan
		}
		share := float64(after.at(lead, x, 70)) / float64(side[lead])
		width += 1 - share
		for n, full := range side {
			if got := after.at(n, x, 70); after.Of[n] != nil && math.Abs(float64(got)-share*float64(full)) > 2 {
				t.Errorf("%s at %d is %d, want %.0f", AllPlanes[n], x, got, share*float64(full))
			}
		}
	}
	nearLimit(t, "gap", 300, 2*25.4/300, width*25.4/300)
}

// A fine line in a file's own black ink grows in that ink.
func TestThickenOwnInks(t *testing.T) {
	g := placed{300, 8, 47.3, 46.8, 35}.cover(Box(0.1, 5))
	pic := &raster.Picture{Pix: coloured(g, color.NRGBA{35, 31, 32, 255}), HasAlpha: true, PPIX: 300, PPIY: 300, PPIFrom: "page size"}
	plane, none := raster.NewPlane(g.Rect.Dx(), g.Rect.Dy()), raster.NewPlane(g.Rect.Dx(), g.Rect.Dy())
	for row := range 2 {
		for column := range 2 {
			tile := new(raster.Tile)
			for i := range tile {
				if p := image.Pt(column*64+i%64, row*64+i/64); p.In(g.Rect) {
					tile[i] = g.GrayAt(p.X, p.Y).Y
				}
			}
			plane.SetTile(column, row, tile)
		}
	}
	pic.Separations = &raster.Separations{Cyan: none, Magenta: none, Yellow: none, Black: plane}
	s, err := NewScene(Artwork{Picture: pic}, testScene(t, "toner-white-for-black", pic.Pix, 300, nil).Job)
	if err != nil {
		t.Fatal(err)
	}
	_, after, changes := thickened(t, s)
	if len(changes) != 1 || changes[0].Left {
		t.Fatalf("changes %+v, want one line grown", changes)
	}
	checkTint(t, s, after, ink{inkWhite: 255})
	px := 25.4 / 300
	nearLimit(t, "line", 300, 0.1, (after.sum(inkWhite)*px*px+(1-math.Pi/4)*limitMM*limitMM)/5)
}

// Under 1.5 pixels a limit cannot be told from an edge, and nothing is changed.
func TestThickenCoarsePictures(t *testing.T) {
	pix := image.NewNRGBA(image.Rect(0, 0, 60, 60))
	paint(pix, image.Rect(20, 10, 21, 50), black)
	s := testScene(t, "toner-white-for-black", pix, 72, nil)
	if before, after, changes := thickened(t, s); changes != nil || before.sum(inkWhite) != after.sum(inkWhite) {
		t.Errorf("changes %+v at 72 pixels an inch", changes)
	}
}

// Equal pictures give equal planes and changes, however the work is shared out.
func TestThickenIsRepeatable(t *testing.T) {
	rng := rand.New(rand.NewPCG(81, 82))
	pix := image.NewNRGBA(image.Rect(0, 0, 500, 400))
	for range 60 {
		x, y := 10+rng.IntN(440), 10+rng.IntN(340)
		c := color.NRGBA{uint8(rng.UintN(200)), uint8(rng.UintN(200)), uint8(rng.UintN(200)), 255}
		paint(pix, image.Rect(x, y, x+1+rng.IntN(3), y+30+rng.IntN(20)), c)
	}
	var first *PrintPlanes
	var told []Change
	for range 5 {
		_, after, changes := thickened(t, testScene(t, "toner-white-for-black", pix, 300, nil))
		if first == nil {
			first, told = after, changes
			continue
		}
		if !slices.Equal(told, changes) || first.Box != after.Box {
			t.Fatal("changes differ from run to run")
		}
		for n := range first.Of {
			if first.Of[n] != nil && !bytes.Equal(first.bytes(n), after.bytes(n)) {
				t.Fatalf("%s differs from run to run", AllPlanes[n])
			}
		}
	}
}

func (p *PrintPlanes) bytes(plane int) []byte {
	all := make([]uint8, p.Box.Dx()*p.Box.Dy())
	p.Of[plane].Read(all, image.Rect(0, 0, p.Box.Dx(), p.Box.Dy()))
	return all
}

// A blue line on a printed yellow ground takes the ground's place as far as it grows; a gap between two blue blocks shows the ground.
func TestThickenReplacesGround(t *testing.T) {
	blue, sun := color.NRGBA{0, 0, 255, 255}, color.NRGBA{255, 255, 0, 255}
	for _, gap := range []bool{false, true} {
		pix := fill(220, 140, sun)
		paint(pix, image.Rect(100, 30, 102, 110), blue)
		if gap {
			paint(pix, image.Rect(40, 30, 160, 110), blue)
			paint(pix, image.Rect(100, 30, 102, 110), sun)
		}
		s := testScene(t, "toner-underbase", pix, 300, nil)
		_, after, changes := thickened(t, s)
		if len(changes) != 1 || changes[0].Gap != gap || changes[0].Why != "" {
			t.Fatalf("gap %v: changes %+v, want one", gap, changes)
		}
		blueWidth := 0
		for x := 70; x < 130; x++ {
			c, m, y := after.at(inkCyan, x, 70), after.at(inkMagenta, x, 70), after.at(inkYellow, x, 70)
			blueWidth += c
			if c != m || c+y < 254 || c+y > 256 {
				t.Errorf("gap %v: cyan %d, magenta %d and yellow %d at %d, want no mixture of both", gap, c, m, y, x)
			}
		}
		width := float64(blueWidth) / 255
		if gap {
			width = 60 - width
		}
		nearLimit(t, "width", 300, 2*25.4/300, width*25.4/300)
	}
}
