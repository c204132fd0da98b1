package outfile_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"pgregory.net/rapid"

	"peelcheck/cmd/internal/outfile"
	"peelcheck/preflight"
	"peelcheck/preflight/proof"
	"peelcheck/preflight/rules"
	"peelcheck/raster"
)

// decoded is what image/png, which checks every chunk's CRC and the Adler-32 of all rows, reads back.
func decoded(t interface {
	Helper()
	Fatal(...any)
}, m image.Image) image.Image {
	t.Helper()
	var out bytes.Buffer
	if err := outfile.EncodePNG(&out, m); err != nil {
		t.Fatal(err)
	}
	if !outfile.Stamped(out.Bytes()) {
		t.Fatal("the file bears no stamp")
	}
	back, err := png.Decode(&out)
	if err != nil {
		t.Fatal(err)
	}
	if out.Len() > 0 {
		t.Fatal(out.Len(), "bytes follow the end")
	}
	return back
}

// firstDifference compares with what m is on white.
func firstDifference(back, m image.Image) error {
	b := m.Bounds()
	want := image.NewRGBA(image.Rectangle{Max: b.Size()})
	draw.Draw(want, want.Rect, image.White, image.Point{}, draw.Src)
	draw.Draw(want, want.Rect, m, b.Min, draw.Over)
	if back.Bounds() != want.Rect {
		return fmt.Errorf("%v came back as %v", want.Rect, back.Bounds())
	}
	got := image.NewRGBA(want.Rect)
	draw.Draw(got, got.Rect, back, image.Point{}, draw.Src)
	if bytes.Equal(got.Pix, want.Pix) {
		return nil
	}
	for y := range b.Dy() {
		for x := range b.Dx() {
			if got, want := got.RGBAAt(x, y), want.RGBAAt(x, y); got != want {
				return fmt.Errorf("pixel (%d,%d) is %v, want %v", x, y, got, want)
			}
		}
	}
	panic("unequal pictures with equal pixels")
}

// scribble fills a picture with flat runs, ramps and noise.
func scribble(m *image.RGBA, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := 0; i < len(m.Pix); {
		k, step := rng.Uint32(), rng.Uint32()&0x030303
		if rng.IntN(2) == 0 {
			step = 0
		}
		for n := rng.IntN(1000); n >= 0 && i < len(m.Pix); n-- {
			m.Pix[i], m.Pix[i+1], m.Pix[i+2], m.Pix[i+3] = byte(k), byte(k>>8), byte(k>>16), 255
			k += step
			i += 4
		}
	}
}

func TestEncodePNGRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 700).Draw(t, "w"), rapid.IntRange(1, 400).Draw(t, "h")
		m := image.NewRGBA(image.Rect(0, 0, w, h).Add(image.Pt(rapid.IntRange(-9, 9).Draw(t, "x"), rapid.IntRange(-9, 9).Draw(t, "y"))))
		scribble(m, rapid.Uint64().Draw(t, "seed"))
		if err := firstDifference(decoded(t, m), m); err != nil {
			t.Fatal(err)
		}
	})
}

// TestEncodePNGOddShapes has pictures of one row, of one column, of rows longer than a band, and of as many rows as bands hold.
func TestEncodePNGOddShapes(t *testing.T) {
	for _, size := range []image.Point{{1, 1}, {2, 1}, {1, 7}, {70001, 3}, {70000, 1}, {1, 70001}, {5, 24577}, {5, 12287}, {5, 12288}, {3, 19661}} {
		m := image.NewRGBA(image.Rectangle{Max: size})
		scribble(m, 3)
		if err := firstDifference(decoded(t, m), m); err != nil {
			t.Errorf("%v: %v", size, err)
		}
	}
	for _, size := range []image.Point{{0, 0}, {0, 5}, {5, 0}} {
		if err := outfile.EncodePNG(io.Discard, image.NewRGBA(image.Rectangle{Max: size})); err == nil {
			t.Errorf("a picture of %v was written", size)
		}
	}
}

func TestEncodePNGLaysOnWhite(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 30, 20))
	m.SetNRGBA(3, 4, color.NRGBA{1, 2, 3, 200})
	m.SetNRGBA(5, 4, color.NRGBA{1, 2, 3, 255})
	if err := firstDifference(decoded(t, m), m); err != nil {
		t.Error(err)
	}
}

// painter is a picture that cannot be looked at, only painted.
type painter struct {
	*image.RGBA
	fault any
}

func (p painter) At(int, int) color.Color { panic("looked at") }

func (p painter) Paint(dst *image.RGBA) {
	if p.fault != nil && dst.Rect.Max.Y == p.Rect.Max.Y {
		panic(p.fault)
	}
	draw.Draw(dst, dst.Rect, p.RGBA, dst.Rect.Min, draw.Src)
}

func TestEncodePNGPaints(t *testing.T) {
	m := image.NewRGBA(image.Rect(0, 0, 501, 700))
	scribble(m, 4)
	if err := firstDifference(decoded(t, painter{m, nil}), m); err != nil {
		t.Error(err)
	}
	defer func() {
		if r := recover(); r != "paint ran out" {
			t.Errorf("recovered %v", r)
		}
	}()
	outfile.EncodePNG(io.Discard, painter{m, "paint ran out"})
	t.Error("a panic was lost")
}

// full takes so many bytes.
type full struct{ left int }

var errFull = errors.New("full")

func (f *full) Write(p []byte) (int, error) {
	if f.left -= len(p); f.left < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func TestEncodePNGTellsOfAFullDisk(t *testing.T) {
	m := image.NewRGBA(image.Rect(0, 0, 301, 300))
	scribble(m, 5)
	var out bytes.Buffer
	if err := outfile.EncodePNG(&out, m); err != nil {
		t.Fatal(err)
	}
	for room := 0; room < out.Len(); room += 1 + room/7 {
		if err := outfile.EncodePNG(&full{room}, m); !errors.Is(err, errFull) {
			t.Fatalf("with room for %d of %d bytes the error is %v", room, out.Len(), err)
		}
	}
}

// The chunk is found by walking the file as PNG (Third Edition), 5.3 lays it out; 600 ppi are 23622 pixels per metre by the inch of 25.4 mm.
func TestDensity(t *testing.T) {
	m := image.NewGray(image.Rect(0, 0, 7, 5))
	for ppi, want := range map[float64]uint32{0: 0, 72: 2835, 300: 11811, 600: 23622} {
		var out bytes.Buffer
		if err := outfile.EncodePNGAt(&out, m, ppi); err != nil {
			t.Fatal(err)
		}
		if !outfile.Stamped(out.Bytes()) {
			t.Errorf("%g ppi: the file bears no stamp", ppi)
		}
		var got uint32
		pixels := false
		for data := out.Bytes()[8:]; len(data) > 0; {
			n := binary.BigEndian.Uint32(data)
			switch kind := string(data[4:8]); kind {
			case "IDAT":
				pixels = true
			case "pHYs":
				x, y, unit := binary.BigEndian.Uint32(data[8:]), binary.BigEndian.Uint32(data[12:]), data[16]
				if pixels || n != 9 || x != y || unit != 1 {
					t.Errorf("%g ppi: pHYs of %d bytes says %d x %d, unit %d; after the pixels: %v", ppi, n, x, y, unit, pixels)
				}
				got = x
			}
			data = data[12+n:]
		}
		if got != want {
			t.Errorf("%g ppi: %d pixels per metre, want %d", ppi, got, want)
		}
		if _, err := png.Decode(&out); err != nil {
			t.Errorf("%g ppi: %v", ppi, err)
		}
	}
	for _, ppi := range []float64{-1, math.NaN(), math.Inf(1), 1e9} {
		if err := outfile.EncodePNGAt(io.Discard, m, ppi); err == nil {
			t.Errorf("%g ppi was written", ppi)
		}
	}
}

func FuzzEncodePNG(f *testing.F) {
	f.Add([]byte{0}, uint16(1))
	f.Add([]byte("lanterns along the old canal and up the hill"), uint16(5))
	f.Add(bytes.Repeat([]byte{255, 128, 0}, 400), uint16(33))
	f.Fuzz(func(t *testing.T, pix []byte, width uint16) {
		w := 1 + int(width)
		h := 1 + len(pix)/(3*w)
		m := image.NewRGBA(image.Rect(0, 0, w, min(h, 1+1<<20/w)))
		for i := 0; i < len(m.Pix); i += 4 {
			var p [3]byte
			copy(p[:], pix[min(len(pix), i/4*3):])
			m.Pix[i], m.Pix[i+1], m.Pix[i+2], m.Pix[i+3] = p[0], p[1], p[2], 255
		}
		if err := firstDifference(decoded(t, m), m); err != nil {
			t.Fatal(err)
		}
	})
}

// proofs are pages that this program draws.
func proofs(tb testing.TB) map[string]*image.RGBA {
	tb.Helper()
	files, err := filepath.Glob("../../../preflight/proof/testdata/*.png")
	if err != nil || len(files) == 0 {
		tb.Fatalf("no proofs: %v", err)
	}
	pages := map[string]*image.RGBA{}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			tb.Fatal(err)
		}
		m, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			tb.Fatal(err)
		}
		page := image.NewRGBA(m.Bounds())
		draw.Draw(page, page.Rect, m, image.Point{}, draw.Src)
		pages[filepath.Base(name)] = page
	}
	return pages
}

// quickest is image/png at its quickest.
func quickest(tb testing.TB, m image.Image) int {
	tb.Helper()
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&out, m); err != nil {
		tb.Fatal(err)
	}
	return out.Len()
}

// TestProofsStaySmall: no proof is more than 15 % larger than image/png makes it at its quickest.
func TestProofsStaySmall(t *testing.T) {
	for name, m := range proofs(t) {
		var out bytes.Buffer
		if err := outfile.EncodePNG(&out, m); err != nil {
			t.Fatal(err)
		}
		if want := quickest(t, m); 100*out.Len() > 115*want {
			t.Errorf("%s has %d bytes, image/png makes it %d", name, out.Len(), want)
		}
	}
}

// BenchmarkEncodePNG tells how long a proof takes, and how large it is, as shares of what image/png needs at its quickest.
func BenchmarkEncodePNG(b *testing.B) {
	m := proofs(b)["many-findings.png"]
	var ours, theirs time.Duration
	var out bytes.Buffer
	size := 0
	for b.Loop() {
		out.Reset()
		start := time.Now()
		if err := outfile.EncodePNG(&out, painter{m, nil}); err != nil {
			b.Fatal(err)
		}
		middle := time.Now()
		size = quickest(b, m)
		ours, theirs = ours+middle.Sub(start), theirs+time.Since(middle)
	}
	b.ReportMetric(ours.Seconds()/theirs.Seconds(), "of-image/png-time")
	b.ReportMetric(float64(out.Len())/float64(size), "of-image/png-size")
}

// judgedPage is a page of A4 at 600 pixels an inch, a quarter of it covered, with a few faults.
func judgedPage(b *testing.B) (*preflight.Scene, *preflight.Report) {
	b.Helper()
	process, err := preflight.ProcessByID("toner-white-for-black")
	if err != nil {
		b.Fatal(err)
	}
	sheet, err := preflight.SheetByName("a4", process, nil)
	if err != nil {
		b.Fatal(err)
	}
	limits, err := process.ResolveLimits(nil, "", nil)
	if err != nil {
		b.Fatal(err)
	}
	const w, h = 4960, 7016
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	drawn := raster.NewBitmap((w+63)/64, h)
	for i, k := range []color.NRGBA{{0, 0, 0, 255}, {230, 160, 0, 255}, {0, 140, 130, 255}, {180, 60, 60, 255}, {0, 0, 0, 128}, {60, 90, 180, 255}} {
		for _, r := range []image.Rectangle{
			image.Rect(600+i%2*1900, 700+i/2*1900, 2300+i%2*1900, 1600+i/2*1900),
			image.Rect(700, 1700+300*i, 4200, 1703+300*i), image.Rect(650+600*i, 6300, 653+600*i, 6303),
		} {
			draw.Draw(m, r, image.NewUniform(k), image.Point{}, draw.Src)
			for y := r.Min.Y; y < r.Max.Y; y++ {
				drawn.SetRun(y, r.Min.X/64, (r.Max.X+63)/64)
			}
		}
	}
	art := preflight.Artwork{File: "walk.png", Page: 1, PageCount: 1,
		Picture: &raster.Picture{Pix: m, Drawn: drawn, HasAlpha: true, PPIX: 600, PPIY: 600, PPIFrom: "pHYs"}}
	garment := preflight.Garment{Name: "black", Colour: color.NRGBA{0, 0, 0, 255}}
	rep, scene, err := preflight.Judge(art, preflight.Job{Process: process, Sheet: sheet, Garment: garment, Limits: limits}, rules.All())
	if err != nil {
		b.Fatal(err)
	}
	return scene, rep
}

// BenchmarkProof draws and encodes the proof of a judged page. It tells the time as a share of what image/png alone needs to encode
// that proof at its quickest, and all memory taken on the way as a share of the page's pixels.
func BenchmarkProof(b *testing.B) {
	scene, rep := judgedPage(b)
	var ours, theirs time.Duration
	var before, after runtime.MemStats
	taken := uint64(0)
	for b.Loop() {
		runtime.ReadMemStats(&before)
		start := time.Now()
		page := proof.DrawJudged(scene.Appearance(), &scene.Job, rep)
		if err := outfile.EncodePNG(io.Discard, page); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(start)
		runtime.ReadMemStats(&after)
		taken = after.TotalAlloc - before.TotalAlloc
		whole := image.NewRGBA(page.Bounds())
		page.Paint(whole)
		start = time.Now()
		quickest(b, whole)
		theirs += time.Since(start)
	}
	b.ReportMetric(ours.Seconds()/theirs.Seconds(), "of-image/png-time")
	b.ReportMetric(float64(taken)/float64(4*scene.W*scene.H), "of-pixels-taken")
}
