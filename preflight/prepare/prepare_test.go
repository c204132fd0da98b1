package prepare_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"peelcheck/preflight"
	"peelcheck/preflight/impose"
	"peelcheck/preflight/prepare"
	"peelcheck/preflight/printfile"
	"peelcheck/raster"
	"peelcheck/raster/pdfcolour"
	"peelcheck/raster/pdfpage"
)

const (
	ppi     = 300
	pixelMM = 25.4 / ppi
	// A margin and a sheet of whole pixels, so that what is read back lies on the pixels that were written.
	marginPx, sheetPx = 60, 3000
)

// moths draws overlapping boxes and discs of several colours and opacities on a transparent page, with a margin round them.
func moths() *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, 420, 300))
	colours := []color.NRGBA{{0, 0, 0, 255}, {196, 36, 40, 255}, {250, 190, 40, 255}, {255, 255, 255, 255}, {60, 60, 90, 255}, {30, 70, 160, 140}}
	for i, c := range colours {
		cx, cy, r := 60+i*58, 90+i%3*55, 34+3*i
		for y := cy - r; y <= cy+r; y++ {
			for x := cx - r; x <= cx+r; x++ {
				if (x-cx)*(x-cx)+(y-cy)*(y-cy) <= r*r {
					m.SetNRGBA(x, y, c)
				}
			}
		}
	}
	return m
}

func sceneOf(t *testing.T, process string, m *image.NRGBA) *preflight.Scene {
	t.Helper()
	own, err := preflight.ParseProcesses("own.yaml", []byte("processes:\n  - id: beside\n    based_on: toner-underbase\n    white_source: beside-colour\n"))
	if err != nil {
		t.Fatal(err)
	}
	p, err := own.ProcessByID(process)
	if err != nil {
		t.Fatal(err)
	}
	limits, err := p.ResolveLimits(map[string]float64{"clearance": 1}, "a test", nil)
	if err != nil {
		t.Fatal(err)
	}
	garment, err := preflight.ParseGarment("black")
	if err != nil {
		t.Fatal(err)
	}
	side := preflight.Length(sheetPx * pixelMM)
	job := preflight.Job{
		Process: p, Garment: garment, Fabric: p.DefaultFabric(), Limits: limits, Background: preflight.BackgroundKeep,
		Sheet: preflight.Sheet{Name: "test", Width: side, Height: side, Margin: preflight.Length((marginPx - 2) * pixelMM)},
	}
	s, err := preflight.NewScene(preflight.Artwork{Picture: &raster.Picture{Pix: m, HasAlpha: true, PPIX: ppi, PPIY: ppi, PPIFrom: "pHYs"}}, job)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func open(t *testing.T, pdf []byte) *pdfpage.Document {
	t.Helper()
	cache, err := os.UserCacheDir() // compiling the renderer anew takes seconds
	if err != nil {
		t.Fatal(err)
	}
	doc, err := pdfpage.Open(pdf, pdfpage.Options{CacheDir: filepath.Join(cache, "peelcheck")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { doc.Close() })
	return doc
}

func written(t *testing.T, f *printfile.File) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := printfile.Write(&b, f); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The planes read back from the written file are those that were worked out, to one level, mirrored where the process mirrors in the file.
func TestPlanesReadBack(t *testing.T) {
	for _, process := range []string{"toner-white-for-black", "toner-underbase", "film-underbase", "beside", "toner-white-only"} {
		t.Run(process, func(t *testing.T) {
			s := sceneOf(t, process, moths())
			made, err := prepare.Make(t.Context(), []prepare.Design{{Name: "moths", Scene: s, Copies: 1}}, prepare.Options{Turn: impose.TurnNone})
			if err != nil {
				t.Fatal(err)
			}
			p := s.Job.Process
			got, err := open(t, written(t, made.File)).Separations(1, ppi, pdfpage.SeparationOptions{
				Curves: pdfcolour.Curves{BG: p.BlackGeneration.At, UCR: p.UndercolourRemoval.At},
			})
			if err != nil {
				t.Fatal(err)
			}
			station := map[preflight.Plane]*raster.Plane{
				preflight.Cyan: got.Cyan, preflight.Magenta: got.Magenta, preflight.Yellow: got.Yellow, preflight.Black: got.Black, preflight.White: got.Black,
			}
			if len(got.Spots) > 0 {
				station[preflight.White] = got.Spots[0].Plane
			}
			for _, name := range p.Planes {
				comparePlanes(t, name, made.Planes[0].Plane(name), station[name], p.Mirror == "file")
			}
		})
	}
}

func comparePlanes(t *testing.T, name preflight.Plane, want, got *raster.Plane, mirrored bool) {
	t.Helper()
	a, b := make([]uint8, want.W*want.H), make([]uint8, want.W*want.H)
	want.Read(a, image.Rect(0, 0, want.W, want.H))
	x0, y0 := (sheetPx-want.W)/2, (sheetPx-want.H+1)/2
	if mirrored {
		x0 = sheetPx - x0 - want.W
	}
	got.Read(b, image.Rect(x0, y0, x0+want.W, y0+want.H))
	for y := range want.H {
		for x := range want.W {
			at := x
			if mirrored {
				at = want.W - 1 - x
			}
			if d := int(a[y*want.W+x]) - int(b[y*want.W+at]); d < -1 || d > 1 {
				t.Fatalf("%s at (%d,%d): read back %d, written %d", name, x, y, b[y*want.W+at], a[y*want.W+x])
			}
		}
	}
}

// The file is mirrored where the process mirrors in the file, and the operator is told the one setting that goes with it.
func TestMirroredOnce(t *testing.T) {
	for _, process := range []string{"toner-white-for-black", "film-underbase"} {
		s := sceneOf(t, process, moths())
		made, err := prepare.Make(t.Context(), []prepare.Design{{Name: "moths", Scene: s, Copies: 2}}, prepare.Options{Turn: impose.TurnEach})
		if err != nil {
			t.Fatal(err)
		}
		inFile := s.Job.Process.Mirror == "file"
		word, count := "ON", 0
		if inFile {
			word = "OFF"
		}
		for _, line := range made.Lines() {
			if strings.Contains(line, "mirror") {
				count++
				if !strings.Contains(line, word) {
					t.Errorf("%s: %q, want %s", process, line, word)
				}
			}
		}
		if made.File.Mirror != inFile || count != 1 {
			t.Errorf("%s: mirrored %v in the file, %d lines speak of it", process, made.File.Mirror, count)
		}
	}
}

// One sheet takes all of these, so the words can be foreseen.
func TestLinesSayWhatLiesWhere(t *testing.T) {
	s := sceneOf(t, "toner-white-for-black", moths())
	designs := func(copies ...int) (list []prepare.Design) {
		for i, n := range copies {
			list = append(list, prepare.Design{Name: []string{"moth", "reed", "hill"}[i], Scene: s, Copies: n})
		}
		return list
	}
	tests := []struct {
		name    string
		designs []prepare.Design
		first   string
		sheets  string // the lines about what lies on each
	}{
		{"one", designs(1), "1 copy of 1 design on 1 sheet of ", ""},
		{"alike", designs(2, 2, 2), "2 copies of each of 3 designs on 1 sheet of ", "Sheet 1: 2 copies of moth; 2 copies of reed; 2 copies of hill."},
		{"one each", designs(1, 1), "1 copy of each of 2 designs on 1 sheet of ", "Sheet 1: 1 copy of moth; 1 copy of reed."},
		{"not alike", designs(3, 1), "4 copies of 2 designs on 1 sheet of ", "Sheet 1: 3 copies of moth; 1 copy of reed."},
	}
	for _, tt := range tests {
		made, err := prepare.Make(t.Context(), tt.designs, prepare.Options{Turn: impose.TurnNone})
		if err != nil {
			t.Fatal(err)
		}
		lines := made.Lines()
		if !strings.HasPrefix(lines[0], tt.first) {
			t.Errorf("%s: %q, want it to begin with %q", tt.name, lines[0], tt.first)
		}
		var got []string
		for _, line := range lines {
			if strings.HasPrefix(line, "Sheet") {
				got = append(got, line)
			}
		}
		if all := strings.Join(got, "\n"); all != tt.sheets {
			t.Errorf("%s: sheets are told as %q, want %q", tt.name, all, tt.sheets)
		}
	}
}

// Every copy that was placed is told of exactly once, over many sheets of which some are alike.
func TestLinesCountEveryCopy(t *testing.T) {
	s := sceneOf(t, "toner-white-for-black", moths())
	want := map[string]int{"moth": 333, "reed": 41}
	made, err := prepare.Make(t.Context(), []prepare.Design{{Name: "moth", Scene: s, Copies: 333}, {Name: "reed", Scene: s, Copies: 41}},
		prepare.Options{Turn: impose.TurnEach, SpacingMM: 10})
	if err != nil {
		t.Fatal(err)
	}
	told, sheets := map[string]int{}, 0
	for _, line := range made.Lines() {
		from, until, rest := 0, 0, ""
		if n, _ := fmt.Sscanf(line, "Sheets %d to %d, each:", &from, &until); n != 2 {
			if n, _ := fmt.Sscanf(line, "Sheet %d:", &from); n != 1 {
				continue
			}
			until = from
		}
		if from != sheets+1 || until < from {
			t.Errorf("%q follows sheet %d", line, sheets)
		}
		sheets = until
		_, rest, _ = strings.Cut(strings.TrimSuffix(line, "."), ": ")
		for _, part := range strings.Split(rest, "; ") {
			n, word, name := 0, "", ""
			if _, err := fmt.Sscanf(part, "%d %s of %s", &n, &word, &name); err != nil {
				t.Fatalf("%q: %v", part, err)
			}
			told[name] += n * (until - from + 1)
		}
	}
	if sheets != len(made.File.Sheets) || sheets < 3 || !maps.Equal(told, want) {
		t.Errorf("%d of %d sheets are told of, with %v, want %v", sheets, len(made.File.Sheets), told, want)
	}
}

// An interrupt between any two steps ends the work with the context's own error.
func TestMakeStops(t *testing.T) {
	s := sceneOf(t, "toner-white-for-black", moths())
	designs := []prepare.Design{{Name: "moth", Scene: s, Copies: 1}, {Name: "reed", Scene: s, Copies: 40}}
	const steps = 3 // two designs are separated, then all is placed
	for stopAt := 1; stopAt <= steps; stopAt++ {
		ctx, cancel := context.WithCancel(t.Context())
		var told []string
		made, err := prepare.Make(ctx, designs, prepare.Options{OnStep: func(what string) {
			if told = append(told, what); len(told) == stopAt {
				cancel()
			}
		}})
		if made != nil || !errors.Is(err, context.Canceled) || len(told) != stopAt {
			t.Errorf("stopped at step %d: %d steps were taken (%q), error %v", stopAt, len(told), told, err)
		}
		cancel()
	}
}

// A page in the garment's colour costs nothing once it is knocked out; the rest stays as it was.
func TestKnockOut(t *testing.T) {
	m := moths()
	for y := 200; y < 290; y++ {
		for x := 20; x < 400; x++ {
			m.SetNRGBA(x, y, color.NRGBA{8, 8, 8, 255})
		}
	}
	for x := 20; x < 400; x++ {
		m.SetNRGBA(x, 290, color.NRGBA{8, 8, 8, 10}) // a soft edge, too weak to count as print
	}
	s := sceneOf(t, "toner-underbase", m)
	plain, err := prepare.Make(t.Context(), []prepare.Design{{Name: "moths", Scene: s, Copies: 1}}, prepare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	made, err := prepare.Make(t.Context(), []prepare.Design{{Name: "moths", Scene: s, Copies: 1}}, prepare.Options{KnockOut: true})
	if err != nil {
		t.Fatal(err)
	}
	inside, edge, red := image.Rect(100, 220, 101, 221), image.Rect(100, 290, 101, 291), image.Rect(118, 145, 119, 146)
	for _, name := range []preflight.Plane{preflight.White, preflight.Black} {
		before, after := plain.Planes[0].Plane(name), made.Planes[0].Plane(name)
		at := func(p *raster.Plane, r image.Rectangle) uint8 {
			var v [1]uint8
			p.Read(v[:], r.Sub(made.Planes[0].Box.Min))
			return v[0]
		}
		if at(before, inside) == 0 || at(after, inside) != 0 || at(after, red) != at(before, red) {
			t.Errorf("%s: inside %d, then %d; elsewhere %d, then %d", name, at(before, inside), at(after, inside), at(before, red), at(after, red))
		}
	}
	var left [1]uint8
	before, after := plain.Planes[0].Plane(preflight.Black), made.Planes[0].Plane(preflight.Black)
	at := edge.Sub(made.Planes[0].Box.Min)
	before.Read(left[:], at)
	if left[0] == 0 {
		t.Error("the soft edge did not print before it was knocked out")
	}
	if after.Read(left[:], at); left[0] != 0 {
		t.Errorf("%d of 255 of the soft edge is left", left[0])
	}
	if saved := made.Saved[0]; saved.AreaMM2 < 200 || saved.Share[0] < 0.3 {
		t.Errorf("saved %+v of a block of 245 mm²", saved)
	}
}

// A design that fits the sheet, but not with room for trimming, is placed all the same, and the operator is told.
func TestNoRoomForTrimming(t *testing.T) {
	s := sceneOf(t, "toner-white-for-black", moths())
	room := s.Job.Limits["clearance"]
	room.Value = 126 // of 254 mm, on both sides
	s.Job.Limits["clearance"] = room
	made, err := prepare.Make(t.Context(), []prepare.Design{{Name: "moths", Scene: s, Copies: 1}}, prepare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if words := strings.Join(made.Lines(), "\n"); made.Tight != 126 || !strings.Contains(words, "without the 126 mm that trimming should have") {
		t.Errorf("clearance not kept %v, told: %s", made.Tight, words)
	}
}

// That a size is assumed is told once for each design, however many copies lie on the sheet, and where the first of them lies.
func TestCarryOverAssumedSize(t *testing.T) {
	art := image.NewNRGBA(image.Rect(0, 0, 100, 60))
	for i := 3; i < len(art.Pix); i += 4 {
		art.Pix[i] = 255
	}
	made, err := prepare.Make(t.Context(), []prepare.Design{{Name: "moths", Scene: sceneOf(t, "film-underbase", art), Copies: 2}}, prepare.Options{Turn: impose.TurnNone})
	if err != nil {
		t.Fatal(err)
	}
	rep := &preflight.Report{Artwork: preflight.ArtworkInfo{PPIX: ppi, WidthPx: sheetPx, HeightPx: sheetPx}}
	made.CarryOver(0, rep, []*preflight.Report{{Findings: []preflight.Finding{{ID: 1, Rule: "no-size", Level: preflight.LevelWarning}}}})
	if rep.Verdict != preflight.Review || len(rep.Findings) != 1 || len(made.File.Sheets[0]) != 2 {
		t.Fatalf("verdict %s of %+v on a sheet of %d copies", rep.Verdict, rep.Findings, len(made.File.Sheets[0]))
	}
	if b := rep.Findings[0].BoxPx; b.W != 100 || b.H != 60 {
		t.Errorf("marked %+v, want the design of 100 x 60 pixels", b)
	}
}

// A place that prints nothing is carried over to where the written page has its hole, upright and turned, mirrored in the file or not.
func TestCarryOver(t *testing.T) {
	hole := image.Rect(130, 40, 190, 70)
	art := image.NewNRGBA(image.Rect(0, 0, 240, 160))
	for y := 10; y < 150; y++ {
		for x := 20; x < 230; x++ {
			if !image.Pt(x, y).In(hole) {
				art.SetNRGBA(x, y, color.NRGBA{A: 255})
			}
		}
	}
	lost := preflight.Finding{ID: 4, Rule: "lost-white", Level: preflight.LevelError, AreaMM2: 12.9, BoxPx: preflight.BoxPx{X: 130, Y: 40, W: 60, H: 30}, PointPx: &preflight.PointPx{X: 150, Y: 50}}
	design := &preflight.Report{Findings: []preflight.Finding{lost, {ID: 5, Rule: "hairline", Level: preflight.LevelError}}}
	for _, process := range []string{"toner-white-for-black", "film-underbase"} {
		for _, turn := range []int{0, 90} {
			t.Run(fmt.Sprintf("%s %d", process, turn), func(t *testing.T) {
				made, err := prepare.Make(t.Context(), []prepare.Design{{Name: "moths", Scene: sceneOf(t, process, art), Copies: 1}}, prepare.Options{Turn: impose.TurnNone})
				if err != nil {
					t.Fatal(err)
				}
				at := &made.File.Sheets[0][0]
				at.TurnDeg, at.XMM, at.YMM = turn, 400*pixelMM, 700*pixelMM
				picture, err := open(t, written(t, made.File)).Page(1, ppi)
				if err != nil {
					t.Fatal(err)
				}
				picture.Await(picture.Pix.Rect.Max.Y)
				rep := &preflight.Report{
					Artwork:  preflight.ArtworkInfo{PPIX: ppi, WidthPx: sheetPx, HeightPx: sheetPx},
					Findings: []preflight.Finding{{ID: 1, Level: preflight.LevelWarning}},
				}
				made.CarryOver(0, rep, []*preflight.Report{design})
				if rep.Verdict != preflight.Hold || len(rep.Findings) != 2 || rep.Findings[0].ID != 1 || rep.Findings[1].Level != preflight.LevelWarning {
					t.Fatalf("verdict %s of %+v, want hold for one more, which comes first", rep.Verdict, rep.Findings)
				}
				b := rep.Findings[0].BoxPx
				got := image.Rect(b.X, b.Y, b.X+b.W, b.Y+b.H)
				if p := rep.Findings[0].PointPx; p == nil || !image.Pt(p.X, p.Y).In(got) {
					t.Errorf("the point %v is not in %v", p, got)
				}
				ink := func(r image.Rectangle) (n int) {
					for y := r.Min.Y; y < r.Max.Y; y++ {
						for x := r.Min.X; x < r.Max.X; x++ {
							if c := picture.Pix.NRGBAAt(x, y); c.A > 128 && (c.R < 128 || c.G < 128 || c.B < 128) {
								n++
							}
						}
					}
					return n
				}
				if inside, round := ink(got), ink(got.Inset(-3))-ink(got); inside != 0 || round != 6*(got.Dx()+got.Dy()+6) {
					t.Errorf("%v on the sheet: %d pixels print in it, and %d of %d round it", got, inside, round, 6*(got.Dx()+got.Dy()+6))
				}
			})
		}
	}
}
