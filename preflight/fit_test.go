package preflight

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"slices"
	"strings"
	"testing"

	"peelcheck/raster"

	"pgregory.net/rapid"
)

// A4 with 4.2 mm of margin and 5 mm of clearance leaves 200 x 287 mm. Expected values are worked by hand from that.
func TestFittingSizes(t *testing.T) {
	tests := []struct {
		name string
		box  SizeMM
		want []FitSize
	}{
		{"with room as it is", SizeMM{200, 287}, nil},
		{"within the tolerance", SizeMM{200.04, 287}, nil},
		// 200/201 = 0.9950248, turned 200/280 = 0.7142857
		{"a little too wide for trimming", SizeMM{201, 280}, []FitSize{
			{TurnDeg: 0, Scale: 0.995024, DesignMM: SizeMM{200, 278.6}}, {TurnDeg: 90, Scale: 0.714285, DesignMM: SizeMM{143.5, 200}}}},
		// turned it has room at full size; upright 200/280
		{"only turned", SizeMM{280, 150}, []FitSize{
			{TurnDeg: 90, Scale: 1, DesignMM: SizeMM{280, 150}}, {TurnDeg: 0, Scale: 0.714285, DesignMM: SizeMM{200, 107.1}}}},
		// 287/400 = 0.7175, 200/400 = 0.5
		{"too large", SizeMM{400, 200}, []FitSize{
			{TurnDeg: 90, Scale: 0.7175, DesignMM: SizeMM{287, 143.5}}, {TurnDeg: 0, Scale: 0.5, DesignMM: SizeMM{200, 100}}}},
		// 200/300 = 0.6666 both ways: upright is told first
		{"square", SizeMM{300, 300}, []FitSize{
			{TurnDeg: 0, Scale: 0.666666, DesignMM: SizeMM{200, 200}}, {TurnDeg: 90, Scale: 0.666666, DesignMM: SizeMM{200, 200}}}},
	}
	for _, tt := range tests {
		if got := Place(tt.box, a4, 5).FittingSizes; !slices.Equal(got, tt.want) {
			t.Errorf("%s: %+v, want %+v", tt.name, got, tt.want)
		}
	}
	if pl := Place(SizeMM{300, 300}, a4, 105); pl.FittingSizes != nil || pl.Tiled != nil {
		t.Errorf("a clearance of 105 mm leaves no room on 210 mm, and still %+v, %+v", pl.FittingSizes, pl.Tiled)
	}
}

// TestFittingSizesFit: at every size told the design has its room, and a few millionths more would be too much.
func TestFittingSizesFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		box := SizeMM{rapid.Float64Range(1, 3000).Draw(t, "w"), rapid.Float64Range(1, 3000).Draw(t, "h")}
		clearance := rapid.Float64Range(0, 40).Draw(t, "clearance")
		room := SizeMM{210 - 2*max(4.2, clearance), 297 - 2*max(4.2, clearance)}
		sizes := Place(box, a4, clearance).FittingSizes
		for _, f := range sizes {
			lies := func(scale float64) SizeMM {
				if f.TurnDeg != 0 {
					return SizeMM{box.H * scale, box.W * scale}
				}
				return SizeMM{box.W * scale, box.H * scale}
			}
			at, more := lies(f.Scale), lies(f.Scale+2e-6)
			if !fits(at, room) || f.Scale < 1 && more.W <= room.W && more.H <= room.H {
				t.Fatalf("%v in %v: %+v is too large, or not the largest", box, room, f)
			}
			if f.DesignMM.W > box.W*(f.Scale+1e-6)+1e-6 || f.DesignMM.H > box.H*(f.Scale+1e-6)+1e-6 {
				t.Fatalf("%v: %+v is more than its scale", box, f)
			}
		}
		if len(sizes) > 0 && sizes[0].Scale < sizes[1].Scale {
			t.Fatalf("%v: the smaller way first: %+v", box, sizes)
		}
	})
}

func TestTiling(t *testing.T) {
	tests := []struct {
		name string
		box  SizeMM
		want Tiling
	}{
		// Two sheets side by side cover 200 + 200 - 5 = 395 mm.
		{"two across", SizeMM{395, 280}, Tiling{Columns: 2, Rows: 1, OverlapMM: 5}},
		{"a little more", SizeMM{396, 280}, Tiling{Columns: 3, Rows: 1, OverlapMM: 5}},
		// Upright 2 x 1; turned 287 + 287 - 5 = 569 wide and 200 high: also 2, so upright stays.
		{"as many both ways", SizeMM{390, 190}, Tiling{Columns: 2, Rows: 1, OverlapMM: 5}},
		// Upright 3 across (395 < 550 <= 590); turned 2 across (569).
		{"fewer turned", SizeMM{550, 190}, Tiling{Columns: 2, Rows: 1, TurnDeg: 90, OverlapMM: 5}},
		{"both directions", SizeMM{390, 560}, Tiling{Columns: 2, Rows: 2, OverlapMM: 5}},
	}
	for _, tt := range tests {
		if got := Place(tt.box, a4, 5).Tiled; got == nil || *got != tt.want {
			t.Errorf("%s: %+v, want %+v", tt.name, got, tt.want)
		}
	}
	if got := Place(SizeMM{200, 280}, a4, 5).Tiled; got != nil {
		t.Errorf("what fits is tiled: %+v", got)
	}
}

// TestTilingCovers lays the sheets down one by one: so many cover the design, one fewer either way does not.
func TestTilingCovers(t *testing.T) {
	covered := func(n int, piece, overlap float64) float64 {
		end := piece
		for range n - 1 {
			end += piece - overlap
		}
		return end
	}
	rapid.Check(t, func(t *rapid.T) {
		box := SizeMM{rapid.Float64Range(1, 3000).Draw(t, "w"), rapid.Float64Range(290, 3000).Draw(t, "h")}
		overlap := rapid.Float64Range(0, 40).Draw(t, "clearance")
		got := Place(box, a4, overlap).Tiled
		if got == nil {
			return // it fits
		}
		w, h := 210-2*max(4.2, overlap), 297-2*max(4.2, overlap)
		if got.TurnDeg != 0 {
			w, h = h, w
		}
		for _, d := range []struct {
			n             int
			length, piece float64
		}{{got.Columns, box.W, w}, {got.Rows, box.H, h}} {
			if covered(d.n, d.piece, overlap) < d.length-fitToleranceMM-1e-6 || d.n > 1 && covered(d.n-1, d.piece, overlap) >= d.length-fitToleranceMM+1e-6 {
				t.Fatalf("%v, %g mm shared: %+v", box, overlap, got)
			}
		}
	})
}

// fitScene is a black box of boxMM in the middle of a page of pageMM at ppi, for A4.
func fitScene(t *testing.T, pageMM, boxMM SizeMM, ppi float64, vector bool) *Scene {
	t.Helper()
	p, err := ProcessByID(DefaultProcess)
	if err != nil {
		t.Fatal(err)
	}
	limits, err := p.ResolveLimits(nil, "", nil)
	if err != nil {
		t.Fatal(err)
	}
	px := func(mm float64) int { return int(math.Round(mm / 25.4 * ppi)) }
	m := image.NewNRGBA(image.Rect(0, 0, px(pageMM.W), px(pageMM.H)))
	at := image.Pt((m.Rect.Dx()-px(boxMM.W))/2, (m.Rect.Dy()-px(boxMM.H))/2)
	draw.Draw(m, image.Rectangle{at, at.Add(image.Pt(px(boxMM.W), px(boxMM.H)))}, image.NewUniform(color.Black), image.Point{}, draw.Src)
	sheet := a4
	s, err := NewScene(
		Artwork{File: "lantern.png", Format: "png", Page: 1, PageCount: 1, Picture: &raster.Picture{Pix: m, HasAlpha: true, PPIX: ppi, PPIY: ppi, PPIFrom: "pHYs", Vector: vector}},
		Job{Process: p, Sheet: sheet, Garment: Garment{"black", color.NRGBA{0, 0, 0, 255}}, Limits: limits, Background: BackgroundAuto})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestSizesTellPixels: 127 pixels an inch are too few for the limit of 150; at half the size there are 254, at 0.957 of it 132.
func TestSizesTellPixels(t *testing.T) {
	tests := []struct {
		name     string
		box      SizeMM
		ppi      float64
		vector   bool
		want     float64
		says, no string
	}{
		{"brought over the limit", SizeMM{400, 400}, 127, false, 254, "the picture has 254 pixels an inch, which is enough: 150 are needed, and now it has 127.", "too few"},
		{"still under it", SizeMM{300, 100}, 127, false, 132.8, "132 pixels an inch, which is still too few: 150 are needed.", "enough"},
		{"enough before", SizeMM{400, 400}, 254, false, 508, "the picture has 508 pixels an inch.", "needed"},
		{"outlines", SizeMM{400, 400}, 127, true, 0, "The largest that fits with room to trim is 200.0 x 200.0 mm (50.0 %) upright", "pixels"},
	}
	for _, tt := range tests {
		s := fitScene(t, SizeMM{tt.box.W + 10, tt.box.H + 10}, tt.box, tt.ppi, tt.vector)
		pl := s.Placement()
		if pl.Fits || len(pl.FittingSizes) != 2 || math.Abs(pl.FittingSizes[0].PPI-tt.want) > 0.3 {
			t.Fatalf("%s: %+v, want %g pixels an inch", tt.name, pl, tt.want)
		}
		words := s.SizesThatFit()
		if !strings.Contains(words, tt.says) || strings.Contains(words, tt.no) {
			t.Errorf("%s: %q", tt.name, words)
		}
		if !slices.Contains(pl.Notes, words) {
			t.Errorf("%s: %q is not among the notes %q", tt.name, words, pl.Notes)
		}
		f, page := pl.FittingSizes[0], s.MM(float64(s.W))
		if math.Abs(f.PictureMM.W-page*f.Scale) > 0.11 || f.PictureMM.W > page*f.Scale+1e-9 {
			t.Errorf("%s: the whole picture is %g mm wide at %g of %g mm", tt.name, f.PictureMM.W, f.Scale, page)
		}
	}
}

func TestLargerSheets(t *testing.T) {
	// A3 with room to trim is 287 x 410 mm, tabloid (279.4 x 431.8 mm) 269.4 x 421.8 mm; the other sheets of the process are smaller than A4's 200 x 287 mm
	// or not much larger.
	for _, tt := range []struct {
		box  SizeMM
		want string
	}{{SizeMM{400, 260}, "a3 tabloid"}, {SizeMM{280, 400}, "a3"}, {SizeMM{500, 500}, ""}} {
		s := fitScene(t, SizeMM{tt.box.W + 10, tt.box.H + 10}, tt.box, 50.8, false)
		if got := strings.Join(s.Placement().LargerSheets, " "); got != tt.want {
			t.Errorf("%v: %q, want %q", tt.box, got, tt.want)
		}
	}
}

// TestPageOnSheet: what a printer does to a page without a word is named, with what to choose, where the page is not as the sheet.
func TestPageOnSheet(t *testing.T) {
	tests := []struct {
		name            string
		page, box       SizeMM
		note, set, miss string
	}{
		{"landscape on portrait", SizeMM{297, 210}, SizeMM{150, 100}, // 201.6/297 = 0.6787
			"lies across a4: a printer set to fit pages would shrink it to 67.8 % without a word, one set to turn pages by itself would turn it.",
			"Set the paper to lie across (landscape) by hand, choose actual size (100 %)", "larger than"},
		{"that fits only turned", SizeMM{297, 210}, SizeMM{280, 190}, "lies across a4", "Once it is turned, choose actual size", "by hand"},
		{"larger than the sheet", SizeMM{297, 420}, SizeMM{150, 200}, // 201.6/297 again, 288.6/420 = 0.687
			"is larger than a4: a printer set to fit pages would shrink it to 67.8 % without a word.", "Crop the empty edges, or centre the design", "turn it"},
		{"as the sheet", SizeMM{210, 297}, SizeMM{150, 200}, "", "", ""},
		{"a millimetre over", SizeMM{210.8, 297.5}, SizeMM{150, 200}, "", "", ""},
		{"small and wide", SizeMM{180, 60}, SizeMM{150, 40}, "", "", ""},
		{"too large to print", SizeMM{420, 297}, SizeMM{400, 280}, "", "", "without a word"},
	}
	for _, tt := range tests {
		pl := fitScene(t, tt.page, tt.box, 50.8, false).Placement()
		notes, set := strings.Join(pl.Notes, " "), strings.Join(pl.Settings, " ")
		if !strings.Contains(notes, tt.note) || !strings.Contains(set, tt.set) || (set == "") != (tt.set == "") || tt.miss != "" && strings.Contains(notes+set, tt.miss) {
			t.Errorf("%s: notes %q, settings %q", tt.name, notes, set)
		}
	}
	if s := fitScene(t, SizeMM{297, 210}, SizeMM{150, 100}, 50.8, true); !strings.HasPrefix(strings.Join(s.Placement().Settings, " "), "Set the paper") ||
		!strings.Contains(strings.Join(s.Placement().Notes, " "), "The page is 297 x 210 mm") {
		t.Errorf("of a page: %q", s.Placement().Notes)
	}
}
