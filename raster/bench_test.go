package raster

import (
	"image"
	"math"
	"strconv"
	"testing"
	"time"
)

// drawnPage is an A4 page at 600 ppi, 28 % covered: blocks, discs, a ring and rows of bars as small as lettering.
func drawnPage() *Bitmap {
	b := NewBitmap(4960, 7016)
	box := func(x, y, w, h int) {
		for i := range h {
			b.SetRun(y+i, x, x+w)
		}
	}
	for i := range 4 {
		box(300+1150*i, 300, 900, 1300)
	}
	for i := range 12 {
		drawDisc(b, 500+790*(i%6), 2100+700*(i/6), 130+12*i)
	}
	drawRing(b, 2480, 4500, 1200, 700)
	for row := range 24 {
		for i := range 90 {
			x, y := 250+50*i, 5800+45*row
			box(x, y, 8, 32)
			box(x+8, y+12*(i%3), 16, 8)
			box(x+24, y+8, 7, 24)
		}
	}
	return b
}

func drawDisc(b *Bitmap, cx, cy, r int) { drawRing(b, cx, cy, r, -1) }

// drawRing sets what lies within outer and not within inner of a point.
func drawRing(b *Bitmap, cx, cy, outer, inner int) {
	for y := max(0, cy-outer); y < min(b.H, cy+outer+1); y++ {
		for x := max(0, cx-outer); x < min(b.W, cx+outer+1); x++ {
			if d := (x-cx)*(x-cx) + (y-cy)*(y-cy); d <= outer*outer && (inner < 0 || d > inner*inner) {
				b.Set(x, y)
			}
		}
	}
}

// linesPage is an A4 page at 300 ppi with 10,000 lines 2 pixels thick.
func linesPage() *Bitmap {
	b := NewBitmap(2480, 3508)
	for i := range 10000 {
		x, y := 40+48*(i%50), 20+17*(i/50)
		if i%2 == 0 {
			b.SetRun(y, x, x+40)
			b.SetRun(y+1, x, x+40)
			continue
		}
		for j := range 12 {
			b.SetRun(y+j, x+3*j, x+3*j+5)
		}
	}
	return b
}

// ditheredPage is an A4 page at 300 ppi under a screen of 136,000 dots that grow down the page until they close.
func ditheredPage() *Bitmap {
	b := NewBitmap(2480, 3508)
	for y := range b.H {
		for x := range b.W {
			if dx, dy := x%8-3, y%8-3; dx*dx+dy*dy <= 22*y/b.H {
				b.Set(x, y)
			}
		}
	}
	return b
}

var pages = []struct {
	name string
	draw func() *Bitmap
	line float64 // limit in pixels
	gap  float64
}{
	{"drawn A4 600 ppi", drawnPage, 8.3, 7.1},
	{"10000 lines A4 300 ppi", linesPage, 4.1, 3.5},
	{"dithered A4 300 ppi", ditheredPage, 4.1, 3.5},
}

// eachPage runs a benchmark on every page and gives its time in passes, of which one counts the pixels of the
// mask.
func eachPage(b *testing.B, work func(page, not *Bitmap, i int)) {
	for i, p := range pages {
		b.Run(p.name, func(b *testing.B) {
			page := p.draw()
			not := Not(page)
			b.ReportAllocs()
			for b.Loop() {
				work(page, not, i)
			}
			perOp := b.Elapsed().Seconds() / float64(b.N)
			pass := math.Inf(1)
			for range 50 {
				start := time.Now()
				page.Count()
				pass = min(pass, time.Since(start).Seconds())
			}
			b.ReportMetric(perOp/pass, "passes")
		})
	}
}

// BenchmarkCandidates is what FindThin does for lines and for gaps before it measures.
func BenchmarkCandidates(b *testing.B) {
	eachPage(b, func(page, not *Bitmap, i int) {
		findCandidates(ThinQuery{Mask: page, LimitPx: pages[i].line}, pages[i].line/2+edgeMarginPx)
		findCandidates(ThinQuery{Mask: not, LimitPx: pages[i].gap, Gap: true}, pages[i].gap/2+edgeMarginPx)
	})
}

func BenchmarkComponents(b *testing.B) {
	eachPage(b, func(page, _ *Bitmap, _ int) { FindComponents(page, Eight) })
}

func BenchmarkComponentsOfNot(b *testing.B) {
	eachPage(b, func(_, not *Bitmap, _ int) { FindComponents(not, Four) })
}

func BenchmarkListComponents(b *testing.B) {
	eachPage(b, func(page, _ *Bitmap, _ int) { ListComponents(page, Eight, nil) })
}

func BenchmarkSmall(b *testing.B) {
	eachPage(b, func(page, _ *Bitmap, _ int) {
		q := SmallQuery{Mask: page, Inverted: true, Connectivity: Four, LargestPx: 20}
		FindSmall(q, func(c Component, _ []Run) (Component, bool) { return c, true })
	})
}

// BenchmarkDilate2 grows by two pixels, as pores are closed.
func BenchmarkDilate2(b *testing.B) {
	eachPage(b, func(page, _ *Bitmap, _ int) { Dilate(page, 2) })
}

func BenchmarkErode(b *testing.B) {
	eachPage(b, func(page, _ *Bitmap, _ int) { Erode(page, 5.2, false) })
}

func BenchmarkErodeFar(b *testing.B) {
	eachPage(b, func(page, _ *Bitmap, _ int) { Erode(page, 47, false) })
}

func BenchmarkAndNot(b *testing.B) {
	eachPage(b, func(page, _ *Bitmap, _ int) { AndNot(page, page) })
}

// combPage is a square of lines that are thin and a little wider than the limit of 4.1 pixels by turns, joined by a line at their
// left to one piece, and how many thin parts it has.
func combPage(side int) (b *Bitmap, parts int) {
	const row, thin, period, wide = 28, 16, 44, 6
	b = NewBitmap(side, side)
	for y := row / 2; y+wide < side; y += row {
		for x := 20; x+period <= side; x += period {
			for i := range wide {
				if i >= 2 && i < 4 {
					b.SetRun(y+i, x, x+thin)
				}
				b.SetRun(y+i, x+thin, x+period)
			}
			parts++
		}
		for i := range wide {
			b.SetRun(y+i, 0, 20)
		}
	}
	for y := range side {
		b.SetRun(y, 8, 8+wide)
	}
	return b, parts
}

// heldCoverage is coverageOf held in memory, so that reading it costs little.
func heldCoverage(page *Bitmap) Coverage {
	pix := make([]uint8, page.W*page.H)
	for i := range pix {
		if page.At(i%page.W, i/page.W) {
			pix[i] = 255
		}
	}
	return func(dst []uint8, r image.Rectangle) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			copy(dst[(y-r.Min.Y)*r.Dx():][:r.Dx()], pix[y*page.W+r.Min.X:])
		}
	}
}

// BenchmarkOnePiece finds many thin parts of one piece: what one costs must not grow with their number.
func BenchmarkOnePiece(b *testing.B) {
	for _, side := range []int{1200, 2400, 4800} {
		b.Run(strconv.Itoa(side), func(b *testing.B) {
			page, parts := combPage(side)
			q := ThinQuery{Mask: page, LimitPx: 4.1, Coverage: heldCoverage(page)}
			for b.Loop() {
				if got := len(FindThin(q)); got != parts {
					b.Fatalf("%d thin parts, want %d", got, parts)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*parts), "ns/feature")
		})
	}
}
