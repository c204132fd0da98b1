package raster_test

import (
	"encoding/json"
	"fmt"
	"image"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"peelcheck/raster"
)

// TestDistancesAgainstScipy compares with distance_transform_edt of scipy 1.10.1 (testdata/scipy_reference.py), whole masks and
// parts of them.
func TestDistancesAgainstScipy(t *testing.T) {
	data, err := os.ReadFile("testdata/scipy_reference.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Mask    []string
		Inside  []string `json:"distance_sq"`
		Outside []string `json:"distance_sq_outside"`
	}
	if err := json.Unmarshal(data, &cases); err != nil || len(cases) == 0 {
		t.Fatalf("no reference cases: %v", err)
	}
	compared := 0
	for i, c := range cases {
		b := fromRows(c.Mask)
		all := image.Rect(0, 0, b.W, b.H)
		part := image.Rect(b.W/3, b.H/4, b.W, b.H-b.H/5)
		for outside, rows := range map[bool][]string{false: c.Inside, true: c.Outside} {
			want := squares(t, b, rows)
			for _, r := range []image.Rectangle{all, part} {
				name := fmt.Sprintf("case %d, outside %v, %v", i, outside, r)
				compared += sameDistances(t, name, b, r, want, outside, uint8(200))
				compared += sameDistances(t, name, b, r, want, outside, uint16(math.MaxUint16))
				compared += sameDistances(t, name, b, r, want, outside, uint32(math.MaxUint32))
			}
		}
	}
	if compared < 50_000 {
		t.Errorf("only %d distances compared", compared)
	}
}

// squares reads rows of numbers; there are none for a mask without a clear pixel, whose distances have no bound.
func squares(t *testing.T, b *raster.Bitmap, rows []string) []int {
	t.Helper()
	var out []int
	for _, row := range rows {
		for _, text := range strings.Fields(row) {
			n, err := strconv.Atoi(text)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, n)
		}
	}
	if b.Count() == b.W*b.H && len(rows) == 0 {
		for range b.W * b.H {
			out = append(out, math.MaxInt)
		}
	}
	if len(out) != b.W*b.H {
		t.Fatalf("%d reference distances for %d x %d pixels", len(out), b.W, b.H)
	}
	return out
}

// sameDistances compares the distances of a rectangle with those wanted of the whole mask and returns how many there were.
func sameDistances[T uint8 | uint16 | uint32](t testing.TB, name string, b *raster.Bitmap, r image.Rectangle, want []int, outside bool, bound T) int {
	got := raster.SquaredDistances(b, r, bound, outside)
	if len(got) != r.Dx()*r.Dy() {
		t.Fatalf("%s: %d distances", name, len(got))
	}
	for i, sq := range got {
		x, y := r.Min.X+i%r.Dx(), r.Min.Y+i/r.Dx()
		if w := min(want[y*b.W+x], int(bound)); int(sq) != w {
			t.Fatalf("%s, bound %d: squared distance %d at (%d,%d), want %d:\n%s", name, bound, sq, x, y, w, toRows(b))
		}
	}
	return len(got)
}

// slowDistances looks from every pixel at every clear one, and at the nearest beyond each border unless outside.
func slowDistances(b *raster.Bitmap, outside bool) []int {
	var bare []image.Point
	for y := range b.H {
		for x := range b.W {
			if !b.At(x, y) {
				bare = append(bare, image.Pt(x, y))
			}
		}
	}
	out := make([]int, b.W*b.H)
	for i := range out {
		x, y := i%b.W, i/b.W
		best := math.MaxInt
		for _, p := range bare {
			best = min(best, (x-p.X)*(x-p.X)+(y-p.Y)*(y-p.Y))
		}
		if !outside {
			near := min(x+1, y+1, b.W-x, b.H-y)
			best = min(best, near*near)
		}
		out[i] = best
	}
	return out
}

// drawSolid draws a mask that is mostly set, so that distances are large.
func drawSolid(t *rapid.T) *raster.Bitmap {
	b := drawMask(t)
	if rapid.Bool().Draw(t, "inverted") {
		return raster.Not(b)
	}
	return b
}

func drawRect(t *rapid.T, b *raster.Bitmap) image.Rectangle {
	x, y := rapid.IntRange(0, b.W).Draw(t, "rx"), rapid.IntRange(0, b.H).Draw(t, "ry")
	return image.Rect(x, y, rapid.IntRange(0, b.W).Draw(t, "rx1"), rapid.IntRange(0, b.H).Draw(t, "ry1"))
}

func TestDistanceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawSolid(t)
		outside := rapid.Bool().Draw(t, "outside")
		bound := rapid.Uint16().Draw(t, "bound")
		r := drawRect(t, b)
		want := slowDistances(b, outside)
		for i, sq := range raster.SquaredDistances(b, r, bound, outside) {
			x, y := r.Min.X+i%r.Dx(), r.Min.Y+i/r.Dx()
			if w := min(want[y*b.W+x], int(bound)); int(sq) != w {
				t.Fatalf("squared distance %d at (%d,%d), want %d:\n%s", sq, x, y, w, toRows(b))
			}
		}
	})
}

// A pixel stays in an erosion by a disc where no clear pixel is as near as its radius.
func TestErosionIsAThresholdOfDistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawSolid(t)
		outside := rapid.Bool().Draw(t, "outside")
		radius := rapid.Float64Range(0, 12).Draw(t, "radius")
		got := raster.NewBitmap(b.W, b.H)
		for i, sq := range raster.SquaredDistances(b, image.Rect(0, 0, b.W, b.H), uint8(145), outside) {
			if float64(sq) > radius*radius {
				got.Set(i%b.W, i/b.W)
			}
		}
		if toRows(got) != toRows(raster.Erode(b, radius, outside)) {
			t.Fatalf("erosion by %.3f of\n%sis\n%sthe distances give\n%s", radius, toRows(b), toRows(raster.Erode(b, radius, outside)), toRows(got))
		}
	})
}

func TestDistancesGrowWithTheMask(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawSolid(t)
		larger := raster.NewBitmap(b.W, b.H)
		copy(larger.Words, b.Words)
		for range rapid.IntRange(1, 20).Draw(t, "more") {
			larger.Set(rapid.IntRange(0, b.W-1).Draw(t, "x"), rapid.IntRange(0, b.H-1).Draw(t, "y"))
		}
		outside := rapid.Bool().Draw(t, "outside")
		all := image.Rect(0, 0, b.W, b.H)
		after := raster.SquaredDistances(larger, all, uint16(2000), outside)
		for i, sq := range raster.SquaredDistances(b, all, uint16(2000), outside) {
			if after[i] < sq || (sq == 0) != !b.At(i%b.W, i/b.W) {
				t.Fatalf("pixel %d has %d, in a larger mask %d:\n%s", i, sq, after[i], toRows(b))
			}
		}
	})
}

func TestLargestDisc(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawSolid(t)
		outside := rapid.Bool().Draw(t, "outside")
		c := raster.FindComponents(b, rapid.SampledFrom([]raster.Connectivity{raster.Four, raster.Eight}).Draw(t, "connectivity"))
		var want raster.Disc
		each := make([]raster.Disc, len(c.List))
		distances := slowDistances(b, outside)
		for _, r := range c.Runs {
			for x := int(r.X0); x < int(r.X1); x++ {
				d := raster.Disc{Centre: image.Pt(x, int(r.Y)), RadiusSq: min(distances[int(r.Y)*b.W+x], math.MaxUint32)}
				if d.RadiusSq > each[r.Component].RadiusSq {
					each[r.Component] = d
				}
				if d.RadiusSq > want.RadiusSq {
					want = d
				}
			}
		}
		if got := raster.LargestDisc(b, outside); got != want {
			t.Fatalf("largest disc %v, want %v:\n%s", got, want, toRows(b))
		}
		for i, got := range raster.LargestDiscs(b, c, outside) {
			if got != each[i] {
				t.Fatalf("component %d: largest disc %v, want %v:\n%s", i, got, each[i], toRows(b))
			}
		}
	})
}

// TestDistancesOfTallMasks crosses strips of rows, and bands, where nothing is clear near by.
func TestDistancesOfTallMasks(t *testing.T) {
	for _, h := range []int{63, 64, 65, 700} {
		b := raster.Not(raster.NewBitmap(70, h))
		for _, at := range []int{0, h / 2, h - 1} {
			b.Words[at*b.Stride] &^= 1 << 40
		}
		want := slowDistances(b, true)
		sameDistances(t, fmt.Sprintf("%d rows", h), b, image.Rect(0, 0, b.W, h), want, true, uint16(60_000))
		sameDistances(t, fmt.Sprintf("%d rows", h), b, image.Rect(60, 0, 70, h), want, true, uint32(math.MaxUint32))
		largest := raster.LargestDisc(b, true)
		if got := want[largest.Centre.Y*b.W+largest.Centre.X]; got != largest.RadiusSq {
			t.Errorf("%d rows: %v is said to be the largest disc, but a clear pixel is nearer: %d", h, largest, got)
		}
	}
}

func TestDistancesRefuseARectangleBeyondTheMask(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	raster.SquaredDistances(raster.NewBitmap(4, 4), image.Rect(0, 0, 5, 4), uint8(9), false)
}

// a4Mask is A4 at 600 ppi with discs, bars and a large solid on about a third of it.
func a4Mask() *raster.Bitmap {
	b := raster.NewBitmap(4960, 7016)
	for y := range b.H {
		if y > 4200 && y < 6700 {
			b.SetRun(y, 700, 3600)
		}
		for k := range 12 {
			cx, cy, q := 300+k*390, 400+(k*977)%3400, 60+k*25
			if d := (y - cy) * (y - cy); d < q*q {
				half := int(math.Sqrt(float64(q*q - d)))
				b.SetRun(y, max(0, cx-half), min(b.W, cx+half))
			}
		}
		if y%90 < 9 && y < 4000 {
			b.SetRun(y, 0, b.W)
		}
	}
	return b
}

func BenchmarkSquaredDistances(b *testing.B) {
	mask := a4Mask()
	all := image.Rect(0, 0, mask.W, mask.H)
	b.Run("uint8", func(b *testing.B) { benchDistances(b, mask, all, uint8(math.MaxUint8)) })
	b.Run("uint16", func(b *testing.B) { benchDistances(b, mask, all, uint16(math.MaxUint16)) })
	b.Run("uint32", func(b *testing.B) { benchDistances(b, mask, all, uint32(math.MaxUint32)) })
}

func benchDistances[T uint8 | uint16 | uint32](b *testing.B, mask *raster.Bitmap, r image.Rectangle, bound T) {
	b.SetBytes(int64(r.Dx() * r.Dy()))
	b.ReportAllocs()
	for b.Loop() {
		raster.SquaredDistances(mask, r, bound, false)
	}
}

func BenchmarkLargestDisc(b *testing.B) {
	mask := a4Mask()
	b.SetBytes(int64(mask.W * mask.H))
	b.ReportAllocs()
	for b.Loop() {
		raster.LargestDisc(mask, false)
	}
}
