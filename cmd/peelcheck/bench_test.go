package main

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"slices"
	"testing"
	"time"

	"golang.org/x/image/font/gofont/gobold"

	art "peelcheck/cmd/internal/drawing"
)

// benchPage is a page drawn for a benchmark.
type benchPage struct {
	wMM, hMM, ppi float64
	draw          func(b *testing.B, c *art.Canvas)
}

// benchFile is a page on the disk.
type benchFile struct {
	path   string
	data   []byte
	pixels int
	share  float64 // of pixels that are not wholly transparent
}

func (p benchPage) write(b *testing.B) benchFile {
	b.Helper()
	return writePix(b, p.pix(b), p.ppi)
}

func (p benchPage) pix(b *testing.B) *image.NRGBA {
	b.Helper()
	c := art.New(p.wMM, p.hMM, p.ppi)
	p.draw(b, c)
	return c.Pix
}

func writePix(b *testing.B, m *image.NRGBA, ppi float64) benchFile {
	b.Helper()
	var buf bytes.Buffer
	if err := art.WritePNG(&buf, m, ppi); err != nil {
		b.Fatal(err)
	}
	f := benchFile{path: filepath.Join(b.TempDir(), "page.png"), data: buf.Bytes(), pixels: len(m.Pix) / 4}
	for i := 3; i < len(m.Pix); i += 4 {
		if m.Pix[i] != 0 {
			f.share++
		}
	}
	f.share /= float64(f.pixels)
	if err := os.WriteFile(f.path, f.data, 0o600); err != nil {
		b.Fatal(err)
	}
	return f
}

// check runs the command over the file, report and proof written, and returns how long it took.
func (f benchFile) check(b *testing.B) time.Duration {
	b.Helper()
	out := filepath.Join(filepath.Dir(f.path), "out")
	var errs bytes.Buffer
	start := time.Now()
	code := run(b.Context(), []string{"check", "--no-cache", "--out", out, "--fail-on", "never", f.path}, terminal{out: io.Discard, err: &errs})
	took := time.Since(start)
	if code != exitClean {
		b.Fatalf("exit code %d: %s", code, errs.String())
	}
	for _, name := range []string{"page.report.json", "page.proof.png"} {
		if info, err := os.Stat(filepath.Join(out, name)); err != nil || info.Size() == 0 {
			b.Fatalf("%s was not written: %v", name, err)
		}
	}
	return took
}

// decode is what the check is measured against.
func (f benchFile) decode(b *testing.B) time.Duration {
	b.Helper()
	start := time.Now()
	if _, err := png.Decode(bytes.NewReader(f.data)); err != nil {
		b.Fatal(err)
	}
	return time.Since(start)
}

// peak returns the most memory a check holds, beyond what was held before, as a multiple of the decoded pixels.
func (f benchFile) peak(b *testing.B) float64 {
	b.Helper()
	debug.FreeOSMemory()
	before := heldBytes()
	stop, most := make(chan struct{}), make(chan uint64)
	go func() {
		tick := time.NewTicker(time.Millisecond)
		defer tick.Stop()
		top := before
		for {
			select {
			case <-stop:
				most <- top
				return
			case <-tick.C:
				top = max(top, heldBytes())
			}
		}
	}()
	f.check(b)
	close(stop)
	return float64(<-most-before) / float64(4*f.pixels)
}

// heldBytes is the memory that the Go runtime holds from the operating system.
func heldBytes() uint64 {
	held := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
	metrics.Read(held)
	return held[0].Value.Uint64() - held[1].Value.Uint64()
}

const (
	a4W, a4H = 210, 297
	a3W, a3H = 297, 420
)

var cleanPages = []struct {
	name string
	page benchPage
}{
	{"A4-300", benchPage{a4W, a4H, 300, drawClean}},
	{"A4-600", benchPage{a4W, a4H, 600, drawClean}},
	{"A3-600", benchPage{a3W, a3H, 600, drawClean}},
}

// hardPages are as large as the first of the clean pages.
var hardPages = []struct {
	name string
	page benchPage
}{
	{"10000-lines", benchPage{a4W, a4H, 300, drawLines}},
	{"dithered", benchPage{a4W, a4H, 300, drawDithered}},
	{"photograph", benchPage{a4W, a4H, 300, drawPhotograph}},
}

// turns are the times of what is run again and again, in turns with what it is compared with. The quickest turn is nearest to what the
// work itself costs; the mean also holds what else the machine did.
type turns struct {
	n            int
	total, least time.Duration
}

func (t *turns) add(d time.Duration) {
	if t.n == 0 || d < t.least {
		t.least = d
	}
	t.n, t.total = t.n+1, t.total+d
}

// report gives the ratio to what it is compared with, by the quickest turns and by the means.
func (t *turns) report(b *testing.B, than *turns, name string) {
	b.ReportMetric(float64(t.least)/float64(than.least), "x-"+name)
	b.ReportMetric(float64(t.total)/float64(than.total), "mean-x-"+name)
}

// perPixel reports what the quickest turn cost a pixel.
func (t *turns) perPixel(b *testing.B, f benchFile, name string) {
	b.ReportMetric(float64(t.least.Nanoseconds())/float64(f.pixels), name+"-ns/px")
}

// BenchmarkCheck runs the whole command beside png.Decode of the same file, in turns. The metrics are the ratio of both
// times, what each costs a pixel, and the most memory held over four bytes a pixel.
func BenchmarkCheck(b *testing.B) {
	for _, p := range cleanPages {
		b.Run(p.name, func(b *testing.B) {
			f := p.page.write(b)
			memory := f.peak(b)
			var ours, bare turns
			for b.Loop() {
				runtime.GC()
				bare.add(f.decode(b))
				runtime.GC()
				ours.add(f.check(b))
			}
			ours.report(b, &bare, "png.Decode")
			ours.perPixel(b, f, "check")
			bare.perPixel(b, f, "decode")
			b.ReportMetric(memory, "peak-x-pixels")
			b.ReportMetric(100*f.share, "%covered")
		})
	}
}

// BenchmarkCheckHard runs the command over A4 pages at 300 pixels an inch that are hard to judge, in turns with the clean page.
func BenchmarkCheckHard(b *testing.B) {
	for _, p := range hardPages {
		b.Run(p.name, func(b *testing.B) {
			clean, hard := cleanPages[0].page.write(b), p.page.write(b)
			memory := hard.peak(b)
			var easy, ours, bare turns
			for b.Loop() {
				runtime.GC()
				easy.add(clean.check(b))
				runtime.GC()
				ours.add(hard.check(b))
				runtime.GC()
				bare.add(hard.decode(b))
			}
			ours.report(b, &easy, "clean")
			ours.report(b, &bare, "png.Decode")
			ours.perPixel(b, hard, "check")
			b.ReportMetric(memory, "peak-x-pixels")
		})
	}
}

// BenchmarkLinear lays the pixels of the clean A4 page at 300 pixels an inch out 1, 4 and 8 times, as many as A4 at 300 and A4 and A3 at
// 600 have, all at 300, so that each holds as much a pixel. It checks them in turns; the metrics are what a pixel costs in the
// quickest turn of each, the ratio of the largest to the smallest, and how far apart A4 at 300 and A3 at 600 are.
func BenchmarkLinear(b *testing.B) {
	const ppi = 300
	tiles := []image.Point{{1, 1}, {2, 2}, {4, 2}}
	pages, cost := make([]benchFile, len(tiles)), make([]turns, len(tiles))
	for i, n := range tiles {
		pages[i] = writePix(b, laid(b, n, ppi), ppi)
	}
	for b.Loop() {
		for i, f := range pages {
			runtime.GC()
			cost[i].add(f.check(b))
		}
	}
	perPixel := make([]float64, len(tiles))
	for i, f := range pages {
		cost[i].perPixel(b, f, fmt.Sprintf("%dx", tiles[i].X*tiles[i].Y))
		perPixel[i] = float64(cost[i].least) / float64(f.pixels)
	}
	b.ReportMetric(slices.Max(perPixel)/slices.Min(perPixel), "largest-of-smallest")
	b.ReportMetric(max(perPixel[0]/perPixel[2], perPixel[2]/perPixel[0]), "1x-and-8x-apart")
}

// laid lays clean pages n.X across and n.Y down, each with its own words and its own grain: what repeats within a row packs smaller and
// says less about how the page reads.
func laid(b *testing.B, n image.Point, ppi float64) *image.NRGBA {
	b.Helper()
	var out *image.NRGBA
	for i := range n.X * n.Y {
		m := benchPage{a4W, a4H, ppi, drawCleanNo(i)}.pix(b)
		size := m.Rect.Size()
		if out == nil {
			out = image.NewNRGBA(image.Rect(0, 0, n.X*size.X, n.Y*size.Y))
		}
		for y := range size.Y {
			copy(out.Pix[out.PixOffset(i%n.X*size.X, i/n.X*size.Y+y):], m.Pix[y*m.Stride:][:m.Stride])
		}
	}
	return out
}

var (
	benchRed   = color.NRGBA{196, 36, 40, 255}
	benchGold  = color.NRGBA{250, 190, 40, 255}
	benchBlue  = color.NRGBA{30, 70, 160, 255}
	benchBlack = color.NRGBA{0, 0, 0, 255}
)

func drawClean(b *testing.B, c *art.Canvas) { drawCleanNo(0)(b, c) }

// cleanWords are the large and the small words of clean pages.
var cleanWords = [][2]string{
	{"LANTERN WALK", "QUILLMOOR, ALONG THE OLD CANAL AND UP THE HILL"},
	{"HERON BRIDGE", "MEET AT DUSK WHERE THE TOWPATH JOINS THE FORGE"},
	{"STEWARD CREW", "BRING A COAT, STOUT SHOES AND ONE PAPER LANTERN"},
	{"MOTH BALLAD", "SING WITH US FROM THE MILL TO THE CHAPEL GREEN"},
	{"REED CHOIR", "FOLLOW THE WHITE FLAGS PAST KILN LANE AND BACK"},
	{"FULL MOON", "NO CANDLES IN THE WOOD: GLOW STICKS ARE FREE"},
	{"HILL TORCH", "DOGS ON LEADS BEHIND THE DRUMMERS, IF YOU PLEASE"},
	{"NIGHT FAIR", "SOUP AND BREAD FOR ALL WALKERS AT QUARTER TO TEN"},
}

// drawCleanNo returns what draws one of several clean pages: it lays shapes, lettering and a photograph-like block on a transparent page,
// about 28 % of it covered.
func drawCleanNo(n int) func(b *testing.B, c *art.Canvas) {
	return func(b *testing.B, c *art.Canvas) {
		b.Helper()
		font, err := art.ParseFont(gobold.TTF)
		if err != nil {
			b.Fatal(err)
		}
		w, h := c.WidthMM(), c.HeightMM()
		c.Fill(font.TextFitted(cleanWords[n][0], 0.8*w, 0.05, w/2, 0.12*h), benchBlack)
		for i := range 4 {
			x := w * (0.14 + 0.24*float64(i))
			c.Fill(art.Circle(x, 0.24*h, 0.08*w), []color.NRGBA{benchRed, benchGold, benchBlue, benchBlack}[i])
			c.Fill(art.Circle(x, 0.24*h, 0.045*w), benchGold)
		}
		for i := range 12 {
			p := art.RoundRect(0, 0, 0.05*w, 0.12*h, 0.01*w).Transform(1, 1, float64(i*7-40), w*(0.08+0.072*float64(i)), 0.34*h)
			c.Fill(p, []color.NRGBA{benchBlue, benchRed, benchBlack}[i%3])
		}
		photograph(c, n, 0.2, 0.5, 0.6, 0.2)
		for i := range 6 {
			c.Fill(font.TextFitted(cleanWords[n][1], 0.7*w, 0.1, w/2, h*(0.79+0.03*float64(i))), benchBlack)
		}
	}
}

// photograph fills a part of the page, given in shares of it, with smooth colours under fine grain, each number its own.
func photograph(c *art.Canvas, n int, x, y, w, h float64) {
	rng := rand.New(rand.NewPCG(3, uint64(14+n)))
	size := c.Pix.Rect.Size()
	at := func(share float64, of int) int { return int(share * float64(of)) }
	waves := make([]float64, 3*64)
	for i := range waves {
		waves[i] = rng.Float64() * 2 * math.Pi
	}
	for py := at(y, size.Y); py < at(y+h, size.Y); py++ {
		v := float64(py) / float64(size.X)
		for px := at(x, size.X); px < at(x+w, size.X); px++ {
			u := float64(px) / float64(size.X)
			grain := float64(rng.UintN(13)) - 6
			level := func(k float64) uint8 {
				return uint8(128 + 70*math.Sin(9*u+k+4*math.Sin(5*v+k)) + 40*math.Sin(23*v-17*u*k) + grain)
			}
			c.Pix.SetNRGBA(px, py, color.NRGBA{level(0.4), level(1.3), level(2.1), 255})
		}
	}
}

func drawPhotograph(_ *testing.B, c *art.Canvas) { photograph(c, 0, 0, 0, 1, 1) }

// drawLines draws ten thousand lines, each too thin, at all angles.
func drawLines(_ *testing.B, c *art.Canvas) {
	for i := range 10_000 {
		x, y := 4+float64(i%100)*(c.WidthMM()-8)/100, 4+float64(i/100)*(c.HeightMM()-8)/100
		c.Fill(art.Rect(-0.1, -0.7, 0.2, 1.4).Transform(1, 1, float64(i*37%180), x+0.9, y+0.9), benchBlack)
	}
}

// drawDithered fills the page with error diffusion (Floyd and Steinberg, Proc. SID 17, 1976) of an even fade.
func drawDithered(_ *testing.B, c *art.Canvas) {
	w, h := c.Pix.Rect.Dx(), c.Pix.Rect.Dy()
	below, here := make([]float64, w+2), make([]float64, w+2)
	for y := range h {
		here, below = below, here
		clear(below)
		for x := range w {
			v := here[x+1] + float64(x+y)/float64(w+h)
			if v >= 0.5 {
				c.Pix.SetNRGBA(x, y, benchBlack)
				v--
			}
			here[x+2] += v * 7 / 16
			below[x] += v * 3 / 16
			below[x+1] += v * 5 / 16
			below[x+2] += v / 16
		}
	}
}

// pngDecode is the command that BenchmarkFresh compares with.
func pngDecode() {
	data, err := os.ReadFile(os.Args[1])
	if err == nil {
		_, err = png.Decode(bytes.NewReader(data))
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
