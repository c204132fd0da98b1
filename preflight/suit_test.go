package preflight_test

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"peelcheck/preflight"
	"peelcheck/preflight/rules"
	"peelcheck/raster"
)

// suitJob is the default job on A4, on a place of that size if it has one.
func suitJob(t require, place preflight.SizeMM) preflight.Job {
	job, err := jobFor(preflight.DefaultProcess)
	if err != nil {
		t.Fatalf("%v", err)
	}
	if place.W > 0 {
		job.Place = &preflight.PrintPlace{Name: "lantern-sash", Width: preflight.Length(place.W), Height: preflight.Length(place.H), From: "built in"}
	}
	return job
}

type require interface{ Fatalf(string, ...any) }

// suitArt is a black box of pixels with an empty edge all round, or its lower half under a line that many pixels wide.
func suitArt(w, h, edge, line int, ppi float64) preflight.Artwork {
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	box := m.Rect.Inset(edge)
	if line > 0 {
		box.Min.Y = h / 2
		draw.Draw(m, image.Rect(w/2, edge, w/2+line, h/2), image.NewUniform(color.Black), image.Point{}, draw.Src)
	}
	draw.Draw(m, box, image.NewUniform(color.Black), image.Point{}, draw.Src)
	pic := &raster.Picture{Pix: m, HasAlpha: true}
	if ppi > 0 {
		pic.PPIX, pic.PPIY, pic.PPIFrom = ppi, ppi, "pHYs"
	}
	return preflight.Artwork{File: "lantern.png", Format: "png", Page: 1, PageCount: 1, Picture: pic}
}

func suitReport(t require, art preflight.Artwork, job preflight.Job) *preflight.Report {
	rep, _, err := preflight.Judge(art, job, rules.All())
	if err != nil {
		t.Fatalf("%v", err)
	}
	return rep
}

// found are the rules of size that found something.
func found(rep *preflight.Report, ids ...string) (list []string) {
	for _, f := range rep.Findings {
		if slices.Contains(ids, f.Rule) && !slices.Contains(list, f.Rule) {
			list = append(list, f.Rule)
		}
	}
	return list
}

// TestSuitableSizesSuit: judged again at any size of the range, the rules of sheet, place and pixels are silent; beyond it, by more than what
// they forgive, the one that bounds it speaks.
func TestSuitableSizesSuit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(60, 400).Draw(t, "w"), rapid.IntRange(60, 400).Draw(t, "h")
		edge := rapid.IntRange(0, 20).Draw(t, "edge")
		place := preflight.SizeMM{}
		if rapid.Bool().Draw(t, "place") {
			place = preflight.SizeMM{W: rapid.Float64Range(20, 400).Draw(t, "pw"), H: rapid.Float64Range(20, 400).Draw(t, "ph")}
		}
		job := suitJob(t, place)
		limit := job.Limits["ppi"]
		limit.Value = float64(rapid.IntRange(5, 200).Draw(t, "limit"))
		job.Limits["ppi"] = limit
		vector := rapid.Bool().Draw(t, "vector")
		art := func() preflight.Artwork {
			a := suitArt(w, h, edge, 0, 0)
			a.Picture.Vector = vector
			return a
		}
		job.Width = preflight.Length(rapid.Float64Range(20, 1000).Draw(t, "width"))
		z := suitReport(t, art(), job).Sizes
		if z == nil {
			t.Fatalf("no sizes")
		}
		at := func(scale float64) *preflight.Report {
			again := job
			again.Width *= preflight.Length(scale)
			return suitReport(t, art(), again)
		}
		if z.Upright != nil {
			again := job
			again.Width = preflight.Length(z.Upright.PictureMM.W)
			if rep := suitReport(t, art(), again); rep.Placement.TurnDeg != 0 || !rep.Placement.Fits {
				t.Fatalf("%v upright: %+v", z, rep.Placement)
			}
		}
		share := rapid.Float64Range(0.2, 1).Draw(t, "share")
		for _, scale := range []float64{z.Most.Scale, z.Most.Scale * share} {
			rep := at(scale)
			if got := found(rep, "off-sheet", "off-place", "low-ppi"); got != nil {
				t.Fatalf("%v at %g of %v mm: %v\n%s", z, scale, job.Width, got, rep.Findings[0].Message)
			}
			if !rep.Placement.Fits || z.Upright == nil && rep.Placement.TurnDeg != 0 {
				t.Fatalf("%v at %g: %+v", z, scale, rep.Placement)
			}
		}
		tight := slices.MinFunc(z.Bounds, func(a, b preflight.SizeBound) int { return int(math.Copysign(1, a.Scale-b.Scale)) })
		// A millionth of rounding; off-place forgives 1 mm, low-ppi half a pixel an inch. Of the sheet the bound is the room to trim.
		rule := map[string]string{"sheet": "edge-clearance", "place": "off-place", "pixels": "low-ppi"}[tight.From]
		least := min(place.W, place.H)
		if tight.From != "place" {
			least = 100
		}
		beyond := (z.Most.Scale + 2e-6) * (1 + 1.2/least) * (1 + 0.6/limit.Value)
		if got := found(at(beyond), rule, "off-sheet"); got == nil {
			t.Fatalf("%v: nothing at %g", z, beyond)
		}
	})
}

// The widths are worked out by hand: A4 with 5 mm for trimming all round has 200 x 287 mm; the box is the whole picture.
func TestSuitableSizesInWords(t *testing.T) {
	for _, tt := range []struct {
		name             string
		w, h, edge, line int
		ppi              float64
		place            preflight.SizeMM
		advised, suits   bool
		words            string
	}{
		// 600 pixels at 150 an inch are 101.6 mm
		{"the pixels bind", 600, 300, 0, 0, 60, preflight.SizeMM{W: 150, H: 100}, true, true,
			"Printed at most 101.6 mm wide (50.8 mm high), it fits the sheet (a4) with room to trim, fits the place (lantern-sash) and has enough pixels."},
		// 50 of 254 mm
		{"the place binds", 600, 300, 0, 0, 60, preflight.SizeMM{W: 50, H: 100}, true, true,
			"Printed at most 50.0 mm wide (25.0 mm high), it fits the sheet (a4) with room to trim, fits the place (lantern-sash) and has enough pixels."},
		// 287 of 317.5 mm, upright 200
		{"only turned", 2000, 1000, 0, 0, 160, preflight.SizeMM{}, true, true,
			"Printed at most 200.0 mm wide (100.0 mm high), it fits the sheet (a4) with room to trim (turned by 90 degrees up to 287.0 mm wide) and has enough pixels."},
		{"with empty edges", 600, 300, 30, 0, 60, preflight.SizeMM{}, true, true,
			"Printed at most 101.6 mm wide (50.8 mm high, of which 91.4 x 40.6 mm print), it fits the sheet (a4) with room to trim and has enough pixels."},
		// a line of 4 pixels at 600 an inch is 0.169 mm and needs 0.35, so 2.07 times the size; 2000 pixels are 84.6 mm and may be 338.6 mm wide
		{"a larger print mends", 2000, 1000, 0, 4, 600, preflight.SizeMM{}, true, true, "Printed 17"},
		{"neither", 2000, 1000, 0, 4, 600, preflight.SizeMM{W: 70, H: 70}, true, false,
			"No size suits all: the thinnest line needs it printed at least 17"},
		// 200 mm wide upright at 254 pixels an inch: the line is 0.2 mm and needs 1.75 times that; A4 turned takes 1.43 times
		{"detail too fine, with room to grow", 2000, 1000, 0, 2, 254, preflight.SizeMM{}, false, false,
			"No size suits all: the thinnest line needs it printed at least 3"},
		{"detail too fine, in a place", 2000, 1000, 0, 2, 254, preflight.SizeMM{W: 250, H: 250}, true, false,
			"No size suits all: the thinnest line needs it printed at least 3"},
		{"detail too fine, as large as may be", 2000, 1000, 0, 2, 177, preflight.SizeMM{}, true, false,
			"No size suits all: the thinnest line needs it printed at least 3"},
		{"nothing to advise", 1200, 600, 0, 0, 300, preflight.SizeMM{}, false, true, "Printed at most"},
	} {
		rep := suitReport(t, suitArt(tt.w, tt.h, tt.edge, tt.line, tt.ppi), suitJob(t, tt.place))
		if rep.SizeAdvised() != tt.advised || rep.Sizes.SuitsAll != tt.suits || !strings.HasPrefix(rep.Sizes.Words, tt.words) {
			t.Errorf("%s: advised %v, suits %v\n%s\n%s", tt.name, rep.SizeAdvised(), rep.Sizes.SuitsAll, rep.Sizes.Words, tt.words)
		}
	}
}

// TestSizesInShort: where no size suits all, what is too fine at the one that is told has its name.
func TestSizesInShort(t *testing.T) {
	for _, tt := range []struct {
		name       string
		line       int
		ppi, place float64
		want       string
		shrinks    bool
	}{
		{"smaller, and too fine", 4, 600, 70, "up to 69.9 x 34.9 mm; the thinnest line is too fine at that size.", true},
		{"larger, and still too fine", 2, 254, 250, "up to 250.0 x 125.0 mm, turned if over 200.0 mm wide; the thinnest line is too fine at that size.", false},
	} {
		rep := suitReport(t, suitArt(2000, 1000, 0, tt.line, tt.ppi), suitJob(t, preflight.SizeMM{W: tt.place, H: tt.place}))
		if got := rep.SizesInShort(); got != tt.want || rep.ShrinksDetail() != tt.shrinks {
			t.Errorf("%s: %q, shrinks %v", tt.name, got, rep.ShrinksDetail())
		}
	}
}

// TestLeastSizeHolds: at the least size that detail asks for, the detail holds, and a twentieth smaller it does not.
func TestLeastSizeHolds(t *testing.T) {
	job := suitJob(t, preflight.SizeMM{})
	z := suitReport(t, suitArt(2000, 1000, 0, 4, 600), job).Sizes
	if z.Least == nil || !z.SuitsAll {
		t.Fatalf("%+v", z)
	}
	for share, want := range map[float64]bool{1: false, 0.95: true} {
		job.Width = preflight.Length(z.Least.PictureMM.W * share)
		if got := found(suitReport(t, suitArt(2000, 1000, 0, 4, 600), job), "hairline"); (got != nil) != want {
			t.Errorf("%.1f mm wide: %v", job.Width.MM(), got)
		}
	}
}

// TestAcceptedDetailAsksForNoSize: what is accepted does not bound the size, and the report it was copied from keeps its own.
func TestAcceptedDetailAsksForNoSize(t *testing.T) {
	rep := suitReport(t, suitArt(2000, 1000, 0, 4, 600), suitJob(t, preflight.SizeMM{W: 70, H: 70}))
	out := *rep
	out.Findings = slices.Clone(rep.Findings)
	for i := range out.Findings {
		if out.Findings[i].Rule == "hairline" {
			out.Findings[i].Accepted = &preflight.Accepted{By: preflight.AcceptedByBaseline}
		}
	}
	out.Count()
	if out.Sizes.Least != nil || !out.Sizes.SuitsAll || rep.Sizes.Least == nil || rep.Sizes.SuitsAll {
		t.Errorf("%+v\n%+v", out.Sizes, rep.Sizes)
	}
}

// TestRemediesNameOneSize: where sheet, place and pixels each ask for another size, all remedies name the one that suits all: 600 pixels, 150
// an inch, 101.6 mm.
func TestRemediesNameOneSize(t *testing.T) {
	rep := suitReport(t, suitArt(600, 300, 0, 0, 40), suitJob(t, preflight.SizeMM{W: 150, H: 100}))
	told := found(rep, "off-sheet", "off-place", "low-ppi")
	if len(told) != 3 {
		t.Fatalf("found %v", told)
	}
	for _, f := range rep.Findings {
		if slices.Contains(told, f.Rule) && !strings.Contains(f.Remedy, "at 26.6 % (the whole picture is then 101.6 mm wide)") {
			t.Errorf("%s: %s", f.Rule, f.Remedy)
		}
	}
}
