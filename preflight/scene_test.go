package preflight

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"peelcheck/raster"
)

var (
	none   = color.NRGBA{}
	black  = color.NRGBA{0, 0, 0, 255}
	white  = color.NRGBA{255, 255, 255, 255}
	yellow = color.NRGBA{255, 196, 0, 255}
	navy   = color.NRGBA{20, 32, 74, 255}
)

func TestSizes(t *testing.T) {
	tests := []struct {
		name   string
		ppi    float64
		change func(*Job)
		want   float64
		known  bool
	}{
		{"file", 200, nil, 200, true},
		{"assumed", 0, nil, assumedPPI, false},
		{"flag ppi", 200, func(j *Job) { j.PPI = 150 }, 150, true},
		{"width", 0, func(j *Job) { j.Width = 25.4 }, 120, true},
		{"height", 72, func(j *Job) { j.Height = 50.8 }, 30, true},
	}
	for _, tt := range tests {
		s := testScene(t, "toner-white-for-black", fill(120, 60, black), tt.ppi, tt.change)
		if math.Abs(s.PPI-tt.want) > 1e-9 || s.SizeKnown != tt.known {
			t.Errorf("%s: %v ppi, known %v; want %v, %v", tt.name, s.PPI, s.SizeKnown, tt.want, tt.known)
		}
	}
}

func TestStretchIsRefused(t *testing.T) {
	job := testScene(t, "toner-white-for-black", fill(1, 1, black), 100, nil).Job
	job.Width, job.Height = 120, 200
	if _, err := NewScene(Artwork{Picture: &raster.Picture{Pix: fill(100, 50, black)}}, job); err == nil {
		t.Error("a picture of 100 x 50 pixels was stretched to 120 x 200 mm")
	}
}

func TestOblongPixelsAreSquared(t *testing.T) {
	pic := &raster.Picture{Pix: fill(100, 50, black), PPIX: 100, PPIY: 50, PPIFrom: "pHYs"}
	job := testScene(t, "toner-white-for-black", fill(1, 1, black), 100, nil).Job
	s, err := NewScene(Artwork{Picture: pic}, job)
	if err != nil {
		t.Fatal(err)
	}
	if s.W != 100 || s.H != 100 || s.PPI != 100 {
		t.Errorf("%d x %d pixels at %v ppi, want 100 x 100 at 100", s.W, s.H, s.PPI)
	}
}

// TestPlaneSums compares the survey with a slow, obvious twin on a random picture whose width is no multiple of 64.
func TestPlaneSums(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	pix := image.NewNRGBA(image.Rect(0, 0, 131, 77))
	for i := range pix.Pix {
		pix.Pix[i] = uint8(rng.UintN(256))
	}
	for _, id := range []string{"toner-white-for-black", "toner-underbase", "toner-white-only"} {
		s := testScene(t, id, pix, 300, nil)
		var sum, area [5]float64
		for y := range 77 {
			for x := range 131 {
				for i, v := range s.Strength(x, y) {
					if v*255 >= printsLevel-0.5 {
						sum[i] += v
						area[i]++
					}
				}
			}
		}
		for i := range sum {
			got, px := float64(s.survey.sumOf[i])/255, s.survey.areaOf[i]
			if math.Abs(sum[i]-got) > 1e-6*sum[i]+1e-9 || area[i] != float64(px) {
				t.Errorf("%s, %s: sum %.3f over %d, want %.3f over %.0f", id, AllPlanes[i], got, px, sum[i], area[i])
			}
		}
	}
}

// TestFlatAndRestless compares the survey with a slow, obvious twin: flat pixels differ from all four neighbours by at most flatLevels
// in each of red, green, blue and alpha, restless ones by more from one but by at most edgeLevels from each.
func TestFlatAndRestless(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 2))
	for _, size := range []image.Point{{1, 1}, {1, 5}, {64, 3}, {130, 140}} {
		pix := image.NewNRGBA(image.Rect(0, 0, size.X, size.Y))
		for y := range size.Y {
			for x := range size.X {
				spread := []uint{1, 9, 12, 80}[x/40%4]
				v := func() uint8 { return uint8(60 + rng.UintN(spread)) }
				pix.SetNRGBA(x, y, color.NRGBA{v(), v(), v(), 255 - uint8(rng.UintN(spread))})
			}
		}
		b := &stripSurvey{surveyor: &surveyor{s: &Scene{pic: &raster.Picture{Pix: pix}, W: size.X, H: size.Y}}, v: &survey{ink: raster.NewBitmap(size.X, size.Y)}}
		b.begin()
		for y := range size.Y {
			for x0 := 0; x0 < size.X; x0 += 64 {
				if rng.UintN(4) == 0 {
					continue // as where nothing prints
				}
				x1 := min(size.X, x0+64)
				w := words{traits: traits{ink: runOf(x0, x1-x0)}}
				b.flatten(&w, y, x0/64, x0, x1, b.lines(y))
				for x := x0; x < x1; x++ {
					most := 0
					for _, d := range []image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
						if at := image.Pt(x, y).Add(d); at.In(pix.Rect) {
							p, q := pix.NRGBAAt(x, y), pix.NRGBAAt(at.X, at.Y)
							most = max(most, apart(p.R, q.R), apart(p.G, q.G), apart(p.B, q.B), apart(p.A, q.A))
						}
					}
					flat, restless := w.solid>>(x&63)&1 != 0, w.restless>>(x&63)&1 != 0
					if flat != (most <= flatLevels) || restless != (most > flatLevels && most <= edgeLevels) {
						t.Fatalf("%v, (%d, %d): differs by %d: flat %v, restless %v", size, x, y, most, flat, restless)
					}
				}
			}
		}
	}
}

func TestBackground(t *testing.T) {
	page := fill(200, 200, white)
	paint(page, image.Rect(50, 50, 150, 150), yellow)
	see := fill(200, 200, none)
	paint(see, image.Rect(50, 50, 150, 150), yellow)
	if s := testScene(t, "toner-underbase", page, 300, nil); !s.ground.Found || s.ground.Colour != "#ffffff" || !s.ground.LeftOut || math.Abs(s.ground.AreaShare-0.75) > 1e-9 {
		t.Errorf("white page: %+v", s.ground)
	}
	if s := testScene(t, "toner-underbase", see, 300, nil); s.ground.Found {
		t.Errorf("transparent page: %+v", s.ground)
	}
	if s := testScene(t, "toner-underbase", page, 300, func(j *Job) { j.Background = BackgroundKeep }); !s.ground.Found || s.ground.LeftOut {
		t.Errorf("kept: %+v", s.ground)
	}
	dropped := testScene(t, "toner-underbase", page, 300, func(j *Job) { j.Background = BackgroundDrop })
	if got := dropped.Printed; got != image.Rect(50, 50, 150, 150) {
		t.Errorf("with the background dropped, %v prints", got)
	}
}

// TestDropKeepsWhiteWithin: only the background that reaches the border goes; white lettering on a shape stays.
func TestDropKeepsWhiteWithin(t *testing.T) {
	page := fill(200, 200, white)
	paint(page, image.Rect(50, 50, 150, 150), yellow)
	paint(page, image.Rect(80, 80, 120, 120), white)
	s := testScene(t, "toner-underbase", page, 300, func(j *Job) { j.Background = BackgroundDrop })
	if got := s.Strength(100, 100)[0]; got != 1 {
		t.Errorf("white within the shape prints with strength %v, want 1", got)
	}
	if got := s.Strength(10, 10)[0]; got != 0 {
		t.Errorf("the background prints with strength %v, want 0", got)
	}
	if n := len(s.ThinGaps()) + len(s.Holes()) + len(s.ThinLines()); n != 0 {
		t.Errorf("%d thin places and holes in a clean design", n)
	}
}

// TestUnderbaseIsChoked: the white under a square is pulled in by the process's choke on every side.
func TestUnderbaseIsChoked(t *testing.T) {
	pix := fill(300, 300, none)
	paint(pix, image.Rect(50, 50, 250, 250), yellow)
	s := testScene(t, "toner-underbase", pix, 600, nil)
	choke := int(s.Px(s.Job.Process.ChokeMM))
	if choke < 1 {
		t.Fatalf("the process chokes by %v mm, under a pixel", s.Job.Process.ChokeMM)
	}
	if got, want := s.White().Bounds(), image.Rect(50+choke, 50+choke, 250-choke, 250-choke); got != want {
		t.Errorf("white covers %v, want %v", got, want)
	}
}

// TestEquivalentPages: a solid white A4 is 20 pages of 5 % (the customary reading of ISO/IEC 19752 yields; plane arithmetic).
func TestEquivalentPages(t *testing.T) {
	s := testScene(t, "toner-white-for-black", fill(827, 1169, black), 100, nil)
	p := s.planes()[0]
	if p.Plane != White || math.Abs(p.EquivalentPages-20) > 0.02 || math.Abs(p.AreaMM2-210*297) > 60 {
		t.Errorf("solid A4: %+v, want 20 pages over %d mm2", p, 210*297)
	}
}

func TestWhiteRegions(t *testing.T) {
	pix := fill(300, 200, none)
	paint(pix, image.Rect(10, 10, 110, 60), black)
	paint(pix, image.Rect(150, 100, 170, 120), color.NRGBA{127, 127, 127, 255})
	paint(pix, image.Rect(200, 20, 280, 90), yellow)
	s := testScene(t, "toner-white-for-black", pix, 254, nil)
	list, total := s.WhiteRegions()
	if total != 2 || len(list) != 2 {
		t.Fatalf("%d regions of %d, want 2", len(list), total)
	}
	if r := list[0]; r.BoxMM != (BoxMM{1, 1, 10, 5}) || math.Abs(r.AreaMM2-50) > 1e-6 || r.MeanStrength != 1 {
		t.Errorf("first region %+v, want 10 x 5 mm of full strength at 1, 1", r)
	}
	if r := list[1]; math.Abs(r.MeanStrength-0.502) > 0.003 {
		t.Errorf("grey region has strength %v, want 0.5", r.MeanStrength)
	}
}

func TestStrayAndLost(t *testing.T) {
	pix := fill(100, 100, none)
	paint(pix, image.Rect(10, 10, 30, 30), navy)
	paint(pix, image.Rect(50, 50, 90, 90), white)
	s := testScene(t, "toner-white-for-black", pix, 300, nil)
	if got := s.Stray().Bounds(); got != image.Rect(10, 10, 30, 30) {
		t.Errorf("stray white at %v", got)
	}
	if got := s.Lost().Bounds(); got != image.Rect(50, 50, 90, 90) {
		t.Errorf("lost white at %v", got)
	}
}

// TestTouchingColoursLeaveNoGap: antialiasing between red and cyan makes a grey pixel that is neither a gap nor a line of white.
func TestTouchingColoursLeaveNoGap(t *testing.T) {
	pix := fill(200, 200, none)
	paint(pix, image.Rect(20, 20, 100, 180), color.NRGBA{255, 0, 0, 255})
	paint(pix, image.Rect(101, 20, 180, 180), color.NRGBA{0, 255, 255, 255})
	paint(pix, image.Rect(100, 20, 101, 180), color.NRGBA{128, 128, 128, 255})
	s := testScene(t, "toner-white-for-black", pix, 300, nil)
	if g := s.ThinGaps(); len(g) != 0 {
		t.Errorf("gaps %+v", g)
	}
	if l := s.ThinWhite(); len(l) != 0 {
		t.Errorf("white lines %+v", l)
	}
	paint(pix, image.Rect(100, 20, 101, 180), none)
	s = testScene(t, "toner-white-for-black", pix, 300, nil)
	if g := s.ThinGaps(); len(g) != 1 || math.Abs(g[0].WidthPx-1) > 0.1 {
		t.Errorf("a real gap of one pixel: %+v", g)
	}
}

// TestTextureIsQuiet: noise, as in a photograph, and dithering raise no detail findings; a line beside them still does.
func TestTextureIsQuiet(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, kind := range []string{"noise", "dither"} {
		pix := fill(600, 600, none)
		for y := 100; y < 400; y++ {
			for x := 100; x < 400; x++ {
				v := uint8(rng.UintN(200))
				if kind == "dither" {
					v = uint8(255 * rng.UintN(2))
				}
				pix.SetNRGBA(x, y, color.NRGBA{v, v, v, 255})
			}
		}
		paint(pix, image.Rect(100, 500, 500, 502), black)
		s := testScene(t, "toner-white-for-black", pix, 300, nil)
		if n := len(s.Pieces()) + len(s.Holes()) + len(s.ThinGaps()) + len(s.ThinWhite()); n > 10 {
			t.Errorf("%s: %d pieces, %d holes, %d gaps, %d white lines", kind, len(s.Pieces()), len(s.Holes()), len(s.ThinGaps()), len(s.ThinWhite()))
		}
		found := false
		for _, f := range s.ThinLines() {
			found = found || f.Box.Overlaps(image.Rect(100, 500, 500, 502)) && math.Abs(f.WidthPx-2) < 0.1
		}
		if !found || len(s.ThinLines()) > 10 {
			t.Errorf("%s: line found %v, %d features", kind, found, len(s.ThinLines()))
		}
		if len(s.Notes) == 0 {
			t.Errorf("%s: no note says that detail was not judged", kind)
		}
	}
}

// TestFieldsOfSpots: a screen of dots, and one of holes in a solid, each of 900, are one hit; a few dots far apart are a hit each.
func TestFieldsOfSpots(t *testing.T) {
	pix := fill(800, 500, none)
	paint(pix, image.Rect(400, 20, 760, 380), black)
	for y := range 30 {
		for x := range 30 {
			paint(pix, image.Rect(20+10*x, 20+10*y, 22+10*x, 22+10*y), black)
			paint(pix, image.Rect(430+10*x, 50+10*y, 432+10*x, 52+10*y), none)
		}
	}
	for x := range 5 {
		paint(pix, image.Rect(20+100*x, 450, 23+100*x, 453), black)
	}
	s := testScene(t, "toner-white-for-black", pix, 300, nil)
	dots, holes := s.SpotHits(s.Pieces(), "dot"), s.SpotHits(s.Holes(), "hole")
	if len(dots) != 6 || !strings.HasPrefix(dots[0].Message, "900 dots close together, about 0.1") || dots[0].Where != image.Rect(0, 0, 320, 320) {
		t.Errorf("dots: %+v", dots)
	}
	if len(holes) != 1 || !strings.HasPrefix(holes[0].Message, "900 holes close together, about 0.1") {
		t.Errorf("holes: %+v", holes)
	}
	if n := len(s.ThinLines()) + len(s.ThinGaps()); n != 0 {
		t.Errorf("%d thin places", n)
	}
}

// TestDitheredFade: error diffusion from nothing to solid is one field of dots, one of holes, and screened tone between them that is not
// judged; where they meet nothing is found.
func TestDitheredFade(t *testing.T) {
	const side = 1200
	pix := fill(side, side, none)
	here, below := make([]float64, side+2), make([]float64, side+2)
	for y := range side {
		here, below = below, here
		clear(below)
		for x := range side {
			v := here[x+1] + float64(x+y)/(2*side)
			if v >= 0.5 {
				pix.SetNRGBA(x, y, black)
				v--
			}
			here[x+2] += v * 7 / 16
			below[x] += v * 3 / 16
			below[x+1] += v * 5 / 16
			below[x+2] += v / 16
		}
	}
	s := testScene(t, "toner-white-for-black", pix, 300, nil)
	dots, holes := s.SpotHits(s.Pieces(), "dot"), s.SpotHits(s.Holes(), "hole")
	if len(dots) != 1 || len(holes) != 1 {
		t.Errorf("%d hits of dots and %d of holes, want one each", len(dots), len(holes))
	}
	if lines, gaps := len(s.ThinLines()), len(s.ThinGaps()); lines+gaps > 0 {
		t.Errorf("%d lines and %d gaps", lines, gaps)
	}
}

func TestEmptyAndTinyPictures(t *testing.T) {
	for _, p := range Processes() {
		for _, size := range []image.Point{{1, 1}, {1, 70}, {64, 1}, {65, 3}} {
			for _, c := range []color.NRGBA{none, black, white} {
				s := testScene(t, p.ID, fill(size.X, size.Y, c), 300, nil)
				s.ThinLines()
				s.ThinGaps()
				s.ThinWhite()
				s.Appearance().Preview(image.Pt(40, 50), image.Rect(0, 0, 40, 50))
				if got := s.planes(); len(got) != len(p.Planes) {
					t.Errorf("%s: %d planes", p.ID, len(got))
				}
			}
		}
	}
}
