package printfile

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// side is the sheet of the tests on planes: 64 points, so that at 72 pixels an inch a pixel is a point.
const side = 64 * 25.4 / 72

func sheetOf(a Artwork) *File { return sheetsOf(a) }

// sheetsOf gives each artwork a sheet of its own.
func sheetsOf(all ...Artwork) *File {
	f := &File{SheetWidthMM: side, SheetHeightMM: side, Artworks: all}
	for i := range all {
		all[i].Name, all[i].WidthMM, all[i].HeightMM = "lantern", side, side
		f.Sheets = append(f.Sheets, []Placement{{Artwork: i}})
	}
	return f
}

func TestToneIsBlackAlone(t *testing.T) {
	ink := ramp(64, 64)
	tones := []Tone{{}, {CMYK: true}, {Opaque: true}, {CMYK: true, Opaque: true}}
	var all []Artwork
	for i := range tones {
		tones[i].Ink = ink
		all = append(all, Artwork{Tone: &tones[i]})
	}
	pdf := written(t, sheetsOf(all...))
	checkSyntax(t, pdf)
	for i, p := range separated(t, pdf) {
		p.holds(t, "Black", 1, at(t, ink))
		for _, other := range []string{"Cyan", "Magenta", "Yellow"} {
			p.holds(t, other, 0, flat(0))
		}
		if p["White"] != nil {
			t.Error("a tone has a white plate")
		}
		paper := page(t, pdf, i+1, 72).Pix.NRGBAAt(0, 32).A
		if want := map[bool]uint8{false: 0, true: 255}[tones[i].Opaque]; paper != want {
			t.Errorf("%+v: bare paper has alpha %d, want %d", tones[i], paper, want)
		}
	}
}

// TestWhitePlate goes through every way to put white and colour together. The white plate must hold the plane given, the colour plates
// theirs.
func TestWhitePlate(t *testing.T) {
	white := drawn(64, 64, func(x, y int) byte { // a third full, a third rising, a third none
		switch {
		case y < 21:
			return 255
		case y < 42:
			return byte(4 * x)
		}
		return 0
	})
	tests := pairings(white)
	var all []Artwork
	for _, tt := range tests {
		all = append(all, tt.art)
	}
	pdf := written(t, sheetsOf(all...))
	checkSyntax(t, pdf)
	pages := separated(t, pdf)
	if len(pages) != 4 || len(tests) != 4 {
		t.Fatalf("%d pages for %d pairings, want 4", len(pages), len(tests))
	}
	whiteAt := at(t, white)
	for i, tt := range tests {
		wantInk := flat(byte(tt.alpha))
		t.Run(tt.name, func(t *testing.T) {
			pages[i].holds(t, "White", 1, whiteAt)
			pages[i].holds(t, "Cyan", 1, wantInk)
			pages[i].holds(t, "Yellow", 1, wantInk)
			pages[i].holds(t, "Magenta", 0, flat(0))
			pages[i].holds(t, "Black", 0, flat(0))
		})
	}
}

// pairing is green colour, of some alpha, with white.
type pairing struct {
	name  string
	art   Artwork
	alpha int
}

func pairings(white Pixels) (all []pairing) {
	for bits := range 4 {
		cmyk, clear := bits&1 != 0, bits&2 != 0
		p := pairing{alpha: 255, name: fmt.Sprintf("cmyk=%v,alpha=%v", cmyk, clear)}
		colour := &Colour{Pixels: solid(64, 64, 0, 255, 0)}
		if cmyk {
			colour = &Colour{Pixels: solid(64, 64, 255, 0, 255, 0), CMYK: true}
		}
		if clear {
			p.alpha = 200
			alpha := solid(64, 64, 200)
			colour.Alpha = &alpha
		}
		p.art = Artwork{Colour: colour, White: &white}
		all = append(all, p)
	}
	return all
}

// TestWhiteTints: full white is 255 on the white plate and half of it 127 or 128 (a separation's tints: ISO 32000-1, 8.6.6.4).
func TestWhiteTints(t *testing.T) {
	tints := []byte{255, 127, 0}
	var all []Artwork
	for _, v := range tints {
		plane := solid(64, 64, v)
		all = append(all, Artwork{White: &plane})
	}
	pages := separated(t, written(t, sheetsOf(all...)))
	if len(pages) != len(tints) {
		t.Fatalf("%d pages", len(pages))
	}
	for i, p := range pages {
		p.holds(t, "White", 1, flat(tints[i]))
		for _, other := range []string{"Cyan", "Magenta", "Yellow", "Black"} {
			p.holds(t, other, 0, flat(0))
		}
	}
}

// TestWhiteLayer reads the marks back: the layer's entry GTS_Metadata with group White and no type (ISO 19593-1, second-hand
// from published object models), and that the white is drawn inside that layer: switched off, no white prints, the colour stays.
func TestWhiteLayer(t *testing.T) {
	full := solid(64, 64, 255)
	art := Artwork{
		Colour: &Colour{Pixels: solid(64, 64, 255, 0, 0, 0), CMYK: true},
		White:  &full,
	}
	pdf := written(t, sheetOf(art))
	root := catalog(t, pdf)
	properties, err := root.ctx.DereferenceDict(root.dict["OCProperties"])
	if err != nil {
		t.Fatal(err)
	}
	groups, err := root.ctx.DereferenceArray(properties["OCGs"])
	if err != nil || len(groups) != 1 {
		t.Fatalf("layers %v, %v", groups, err)
	}
	group, err := root.ctx.DereferenceDict(groups[0])
	if err != nil {
		t.Fatal(err)
	}
	if got, want := group.PDFString(), "<</GTS_Metadata<</GTS_ProcStepsGroup/White>>/Name(White)/Type/OCG>>"; got != want {
		t.Errorf("layer %s, want %s", got, want)
	}
	ref := groups.PDFString()
	off := bytes.Replace(pdf, []byte("/OFF[]/ON"+ref), []byte("/ON[]/OFF"+ref), 1)
	if bytes.Equal(off, pdf) {
		t.Fatal("no list of layers to switch off")
	}
	p := separated(t, off)[0]
	if p["White"] != nil {
		p.holds(t, "White", 0, flat(0))
	}
	p.holds(t, "Cyan", 0, flat(255))
}

type opened struct {
	ctx  *model.Context
	dict types.Dict
}

func catalog(t *testing.T, pdf []byte) opened {
	t.Helper()
	disableConfig()
	ctx, err := api.ReadContext(bytes.NewReader(pdf), model.NewDefaultConfiguration())
	if err != nil {
		t.Fatal(err)
	}
	dict, err := ctx.Catalog()
	if err != nil {
		t.Fatal(err)
	}
	return opened{ctx, dict}
}

// TestSheetIsExact: sizes of ISO 216 and ANSI/ASME Y14.1 in points of 1/72 inch (the latter second-hand), to the ten-thousandth.
func TestSheetIsExact(t *testing.T) {
	for _, tt := range []struct{ w, h, wantW, wantH float64 }{
		{210, 297, 595.2756, 841.8898}, {297, 420, 841.8898, 1190.5512}, {215.9, 279.4, 612, 792}, {279.4, 431.8, 792, 1224},
	} {
		pdf := written(t, &File{SheetWidthMM: tt.w, SheetHeightMM: tt.h, Sheets: [][]Placement{{}, {}}})
		checkSyntax(t, pdf)
		root := catalog(t, pdf)
		if err := root.ctx.EnsurePageCount(); err != nil || root.ctx.PageCount != 2 {
			t.Fatalf("%d pages, %v", root.ctx.PageCount, err)
		}
		_, _, inherited, err := root.ctx.PageDict(2, false)
		if err != nil {
			t.Fatal(err)
		}
		if w, h := inherited.MediaBox.Width(), inherited.MediaBox.Height(); math.Abs(w-tt.wantW) > 5e-5 || math.Abs(h-tt.wantH) > 5e-5 {
			t.Errorf("%g x %g mm: %g x %g points, want %g x %g", tt.w, tt.h, w, h, tt.wantW, tt.wantH)
		}
		if got := root.dict["ViewerPreferences"].PDFString(); got != "<</PrintScaling/None>>" {
			t.Errorf("viewer preferences %s", got)
		}
	}
}

func TestTitleAndDate(t *testing.T) {
	f := &File{Title: "Lantern Walk – shirts", SheetWidthMM: 210, SheetHeightMM: 297, Sheets: [][]Placement{{}}}
	plain := written(t, f)
	if !bytes.Equal(plain, written(t, f)) {
		t.Error("the same file gives other bytes")
	}
	if bytes.Contains(plain, []byte("Date")) {
		t.Error("a date was written unasked")
	}
	if !bytes.Contains(plain, []byte("/Title<feff004c0061006e007400650072006e")) {
		t.Errorf("no title in %q", plain)
	}
	f.Created = time.Date(2026, 11, 5, 18, 30, 0, 0, time.UTC)
	if !bytes.Contains(written(t, f), []byte("/CreationDate(D:20261105183000+00'00')")) {
		t.Error("the date given was not written")
	}
}

// TestSameBytes: the identifier follows the content, and nothing depends on the order of a map.
func TestSameBytes(t *testing.T) {
	white := ramp(64, 64)
	f := sheetOf(Artwork{Colour: &Colour{Pixels: solid(9, 9, 1, 2, 3)}, White: &white})
	first := written(t, f)
	for range 20 {
		if !bytes.Equal(first, written(t, f)) {
			t.Fatal("the same file gives other bytes")
		}
	}
	f.Mirror = true
	id := func(pdf []byte) string {
		_, after, ok := bytes.Cut(pdf, []byte("/ID["))
		if !ok {
			t.Fatal("no identifier")
		}
		return string(after[:34])
	}
	if id(first) == id(written(t, f)) {
		t.Error("another file has the same identifier")
	}
}

// TestPlacement measures the boxes of an L on its sheet as drawn, upright and turned, mirrored and not: the place of each side to 0.02 mm,
// and by its missing quarter which way round it stands.
func TestPlacement(t *testing.T) {
	const ppi = 2540 // 100 pixels a millimetre
	ell := drawn(20, 20, func(x, y int) byte {
		if x >= 10 && y < 10 {
			return 0 // the quarter at the top right
		}
		return 255
	})
	for _, art := range []Artwork{
		{Tone: &Tone{Ink: ell}},
		{Colour: &Colour{Pixels: solid(1, 1, 9, 9, 9), Alpha: &ell}},
		{White: &ell},
		{Page: openPage(t, onePage("/MediaBox [5 10 105 60] ", "5 10 50 50 re 5 10 100 25 re f"))},
	} {
		art.WidthMM, art.HeightMM = 10, 5
		for _, mirror := range []bool{false, true} {
			pdf := written(t, &File{
				SheetWidthMM: 30, SheetHeightMM: 20, Mirror: mirror, Artworks: []Artwork{art},
				Sheets: [][]Placement{{{0, 3.33, 4.44, 0}}, {{0, 21.5, 7.25, 90}}},
			})
			checkSyntax(t, pdf)
			for n, want := range []struct{ x, y, w, h, missingX, missingY float64 }{
				// The missing quarter's middle, as shares of the box.
				{3.33, 4.44, 10, 5, 0.75, 0.25},
				{21.5, 7.25, 5, 10, 0.75, 0.75}, // turned clockwise, the top right comes to the bottom right
			} {
				if mirror {
					want.x, want.missingX = 30-want.x-want.w, 1-want.missingX
				}
				pic := page(t, pdf, n+1, ppi).Pix
				box := inked(pic)
				got := [4]float64{float64(box.Min.X) / 100, float64(box.Min.Y) / 100, float64(box.Max.X) / 100, float64(box.Max.Y) / 100}
				for i, side := range [4]float64{want.x, want.y, want.x + want.w, want.y + want.h} {
					if math.Abs(got[i]-side) > 0.02 {
						t.Errorf("page %d, mirrored %v: box from %v, want %+v", n+1, mirror, got, want)
						break
					}
				}
				for _, fx := range []float64{0.25, 0.75} {
					for _, fy := range []float64{0.25, 0.75} {
						blank := pic.NRGBAAt(int(100*(want.x+fx*want.w)), int(100*(want.y+fy*want.h))).A == 0
						if blank != (fx == want.missingX && fy == want.missingY) {
							t.Errorf("page %d, mirrored %v: quarter %g %g blank is %v", n+1, mirror, fx, fy, blank)
						}
					}
				}
			}
		}
	}
}

// inked is the box of all that is at least half painted.
func inked(m *image.NRGBA) (box image.Rectangle) {
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			if m.Pix[m.PixOffset(x, y)+3] >= 128 {
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return box
}

// TestDrawnOnce: placing an artwork again costs a line of the page, not another picture.
func TestDrawnOnce(t *testing.T) {
	noise := drawn(64, 64, func(x, y int) byte { return byte(x*x*31 + y*y*17 + x*y*7) })
	f := sheetOf(Artwork{Tone: &Tone{Ink: noise}})
	f.Artworks[0].WidthMM, f.Artworks[0].HeightMM = 1, 1
	once := len(written(t, f))
	for i := range 20 {
		f.Sheets[0] = append(f.Sheets[0], Placement{XMM: float64(i)})
	}
	if many := len(written(t, f)); many > once+400 {
		t.Errorf("%d bytes placed once, %d placed 21 times", once, many)
	}
}

// TestBands writes an A4 page at 600 pixels an inch: rows are asked for once, in order, and never the whole picture is held.
func TestBands(t *testing.T) {
	const w, h = 4961, 7016
	next, most := 0, 0
	ink := Pixels{w, h, func(dst []byte, y0, y1 int) error {
		if y0 != next {
			t.Errorf("rows from %d asked for after row %d", y0, next)
		}
		next, most = y1, max(most, len(dst))
		clear(dst)
		return nil
	}}
	f := &File{SheetWidthMM: 210, SheetHeightMM: 297, Sheets: [][]Placement{{{}}},
		Artworks: []Artwork{{WidthMM: 210, HeightMM: 297, Tone: &Tone{Ink: ink}}}}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	if err := Write(io.Discard, f); err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	if next != h || most > bandBytes {
		t.Errorf("%d rows asked for, %d bytes at once", next, most)
	}
	if used := after.TotalAlloc - before.TotalAlloc; used > 8<<20 {
		t.Errorf("%d bytes taken in all for a picture of %d", used, w*h)
	}
}

func BenchmarkWriteA4(b *testing.B) {
	const w, h = 4961, 7016
	row := make([]byte, 4*w)
	for i := range row {
		row[i] = byte(i * i >> 11)
	}
	fill := func(dst []byte, _, _ int) error {
		for len(dst) > 0 {
			dst = dst[copy(dst, row):]
		}
		return nil
	}
	f := &File{SheetWidthMM: 210, SheetHeightMM: 297, Sheets: [][]Placement{{{}}}, Artworks: []Artwork{{
		WidthMM: 210, HeightMM: 297,
		Colour: &Colour{Pixels: Pixels{w, h, fill}, CMYK: true, Alpha: &Pixels{w, h, fill}},
		White:  &Pixels{w, h, fill},
	}}}
	b.SetBytes(6 * w * h)
	b.ReportAllocs()
	for b.Loop() {
		if err := Write(io.Discard, f); err != nil {
			b.Fatal(err)
		}
	}
}

func TestRefusals(t *testing.T) {
	tone := func() *Tone { return &Tone{Ink: ramp(64, 64)} }
	white := ramp(64, 64)
	fails := Pixels{9, 9, func([]byte, int, int) error { return errors.New("the disk is full") }}
	tests := []struct {
		want   string
		change func(f *File)
	}{
		{"each side must be more than 0", func(f *File) { f.SheetWidthMM = 0 }},
		{"at most 5080 mm", func(f *File) { f.SheetHeightMM = 6000 }},
		{"each side must be more than 0", func(f *File) { f.SheetWidthMM = math.NaN() }},
		{`title "shop/lantern.png" holds a path`, func(f *File) { f.Title = "shop/lantern.png" }},
		{"no sheets", func(f *File) { f.Sheets = nil }},
		{"sheet 1: no artwork 3 among 1", func(f *File) { f.Sheets[0][0].Artwork = 3 }},
		{"turn of 45 degrees", func(f *File) { f.Sheets[0][0].TurnDeg = 45 }},
		{`artwork "lantern", `, func(f *File) { f.Sheets[0][0].XMM = 1 }},
		{"reaches past the sheet's edge", func(f *File) { f.Sheets[0][0].YMM = math.NaN() }},
		{"nothing to draw", func(f *File) { f.Artworks[0].Tone = nil }},
		{"only one of", func(f *File) { f.Artworks[0].White = &white }},
		{"size of 0 x", func(f *File) { f.Artworks[0].WidthMM = 0 }},
		{"picture of 64 x 0 pixels", func(f *File) { f.Artworks[0].Tone.Ink.H = 0 }},
		{"rows 0 to 9: the disk is full", func(f *File) { f.Artworks[0].Tone.Ink = fails }},
		{"a page 22.577", func(f *File) {
			f.Artworks[0].Tone, f.Artworks[0].Page = nil, openPage(t, onePage("/MediaBox [0 0 10 20]", ""))
		}},
	}
	for _, tt := range tests {
		f := sheetOf(Artwork{Tone: tone()})
		tt.change(f)
		err := Write(io.Discard, f)
		if err == nil || !strings.HasPrefix(err.Error(), "printfile: ") || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%v, want it to say %q", err, tt.want)
		}
	}
}

type fullDisk struct{ left int }

func (f *fullDisk) Write(p []byte) (int, error) {
	if f.left -= len(p); f.left < 0 {
		return 0, errors.New("the disk is full")
	}
	return len(p), nil
}

func TestFailingWriter(t *testing.T) {
	noise := drawn(512, 512, func(x, y int) byte { return byte((x*x*31 + y*y*17 + x*y*7) >> 3) })
	for _, left := range []int{0, 70_000, 140_000} {
		if err := Write(&fullDisk{left}, sheetOf(Artwork{Tone: &Tone{Ink: noise}})); err == nil || !strings.Contains(err.Error(), "the disk is full") {
			t.Errorf("room for %d bytes: %v", left, err)
		}
	}
}
