package raster

import (
	"cmp"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// lowBands makes bands of a few rows, so that masks of a size to be checked slowly have many seams.
func lowBands(t *testing.T) {
	usual := bandRows
	bandRows = 8
	t.Cleanup(func() { bandRows = usual })
}

// drawSparse draws a mask of up to six words and 400 rows, with areas that are empty, full, ragged and finely drawn.
func drawSparse(t *rapid.T) *Bitmap {
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	w, h := 1+rng.IntN(380), 1+rng.IntN(400)
	switch rng.IntN(6) {
	case 0:
		w = 64 * (1 + rng.IntN(5))
	case 1:
		h = 1 + rng.IntN(12)
	}
	b := NewBitmap(w, h)
	for range rng.IntN(14) {
		drawShape(b, rng)
	}
	return b
}

// drawShape sets, or clears, one shape of a random kind.
func drawShape(b *Bitmap, rng *rand.Rand) {
	x, y, size := rng.IntN(b.W), rng.IntN(b.H), 1+rng.IntN(max(b.W, b.H))
	run := b.SetRun
	if rng.IntN(3) == 0 {
		run = b.ClearRun
	}
	part := func(y, x0, x1 int) {
		if x0, x1 = max(0, x0), min(b.W, x1); y >= 0 && y < b.H && x0 < x1 {
			run(y, x0, x1)
		}
	}
	switch rng.IntN(6) {
	case 0: // box
		for i := range size {
			part(y+i, x, x+size)
		}
	case 1: // disc
		r := size/3 + 1
		for i := -r; i <= r; i++ {
			half := int(math.Sqrt(float64(r*r - i*i)))
			part(y+i, x-half, x+half+1)
		}
	case 2: // crossing lines
		thick, lean := 1+rng.IntN(12), rng.IntN(7)-3
		for i := range size {
			part(y+i, x+i*lean/2, x+i*lean/2+thick)
			part(y+size/2+i*lean/4, x-size/2, x+size/2)
		}
	case 3: // dots
		for range size {
			at := x + rng.IntN(60)
			part(y+rng.IntN(60), at, at+1+rng.IntN(3))
		}
	case 4: // small discs
		for range size / 4 {
			at, r := image.Pt(rng.IntN(b.W), rng.IntN(b.H)), rng.IntN(9)
			for i := -r; i <= r; i++ {
				part(at.Y+i, at.X-(r*r-i*i)/max(1, r), at.X+(r*r-i*i)/max(1, r)+1)
			}
		}
	default: // rows of bars
		for i := range size {
			for at := 0; at < 200; at += 13 {
				part(y+i, x+at, x+at+2+(i/40)%7)
			}
		}
	}
}

// drawRadius returns the radius of a disc of less than a pixel, of a few, or of more than a word.
func drawRadius(t *rapid.T) float64 {
	return rapid.OneOf(
		rapid.Float64Range(0, 12),
		rapid.SampledFrom([]float64{0, 1, 1.5, 2, 2.5, 5, 5.25, 31, 32, 33, 63, 64, 65}),
		rapid.Float64Range(12, 150),
	).Draw(t, "radius")
}

func sameMask(t *rapid.T, what string, got, want *Bitmap) {
	t.Helper()
	if got.W != want.W || got.H != want.H || got.Stride != want.Stride {
		t.Fatalf("%s: %d x %d pixels, want %d x %d", what, got.W, got.H, want.W, want.H)
	}
	for y := range got.H {
		for i, w := range got.Row(y) {
			if d := w ^ want.Row(y)[i]; d != 0 {
				t.Fatalf("%s: row %d, word %d is %064b, want %064b", what, y, i, w, want.Row(y)[i])
			}
		}
	}
}

func TestSparseMorphology(t *testing.T) {
	lowBands(t)
	rapid.Check(t, func(t *rapid.T) {
		b, r, outside := drawSparse(t), drawRadius(t), rapid.Bool().Draw(t, "outside")
		what := func(op string) string { return fmt.Sprintf("%s by %v of %d x %d", op, r, b.W, b.H) }
		sameMask(t, what("dilation"), Dilate(b, r), slowDilate(b, r, false))
		sameMask(t, what("erosion"), Erode(b, r, outside), slowErode(b, r, outside))
		open := Open(b, r, outside)
		sameMask(t, what("opening"), open, slowOpen(b, r, outside))
		sameMask(t, what("second opening"), Open(open, r, outside), open)
		sameMask(t, what("dual of dilation"), Not(Erode(Not(b), r, true)), Dilate(b, r))
	})
}

// TestSheetsAgainstScipy compares masks with large empty and full areas with scipy 1.10.1's ndimage, by count and checksum;
// testdata/scipy_sheets.py made the values.
func TestSheetsAgainstScipy(t *testing.T) {
	type sums struct {
		Count int
		CRC   uint32
	}
	type pieces struct{ Pieces, Largest int }
	var cases []struct {
		W, H                      int
		Radius                    float64
		Shapes                    [][6]int // x, y, half width, half height, round, set
		Mask, Erode, Dilate, Open sums
		ErodeOutside              sums `json:"erode_outside"`
		Four, Eight, Background   pieces
	}
	data, err := os.ReadFile("testdata/scipy_sheets.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &cases); err != nil || len(cases) == 0 {
		t.Fatalf("no reference cases: %v", err)
	}
	for i, c := range cases {
		b := NewBitmap(c.W, c.H)
		for _, s := range c.Shapes {
			drawReference(b, s)
		}
		for _, k := range []struct {
			name string
			got  *Bitmap
			want sums
		}{
			{"mask", b, c.Mask},
			{"erosion", Erode(b, c.Radius, false), c.Erode},
			{"erosion, outside set", Erode(b, c.Radius, true), c.ErodeOutside},
			{"dilation", Dilate(b, c.Radius), c.Dilate},
			{"opening", Open(b, c.Radius, false), c.Open},
		} {
			if got := (sums{k.got.Count(), checksum(k.got)}); got != k.want {
				t.Errorf("case %d, %s by %v: %+v, want %+v", i, k.name, c.Radius, got, k.want)
			}
		}
		for _, k := range []struct {
			name string
			got  *Components
			want pieces
		}{
			{"by edges", FindComponents(b, Four), c.Four},
			{"by edges and corners", FindComponents(b, Eight), c.Eight},
			{"of the background", FindComponents(Not(b), Four), c.Background},
		} {
			got := pieces{Pieces: len(k.got.List)}
			for _, p := range k.got.List {
				got.Largest = max(got.Largest, p.AreaPx)
			}
			if got != k.want {
				t.Errorf("case %d, components %s: %+v, want %+v", i, k.name, got, k.want)
			}
		}
	}
}

// drawReference sets or clears a disc or box as scipy_sheets.py does.
func drawReference(b *Bitmap, s [6]int) {
	for y := max(0, s[1]-s[3]); y <= min(b.H-1, s[1]+s[3]); y++ {
		half := s[2]
		if s[4] != 0 {
			half = int(math.Sqrt(float64(s[2]*s[2] - (y-s[1])*(y-s[1]))))
		}
		run := b.SetRun
		if s[5] == 0 {
			run = b.ClearRun
		}
		run(y, max(0, s[0]-half), min(b.W, s[0]+half+1))
	}
}

// checksum is the CRC-32 of the rows, each in whole bytes whose lowest bits come first.
func checksum(b *Bitmap) uint32 {
	crc := uint32(0)
	for y := range b.H {
		var row []byte
		for _, w := range b.Row(y) {
			row = binary.LittleEndian.AppendUint64(row, w)
		}
		crc = crc32.Update(crc, crc32.IEEETable, row[:(b.W+7)/8])
	}
	return crc
}

func TestSetOperations(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawSparse(t)
		b := Dilate(a, 3)
		c := slowly(a, b, func(p, q bool) bool { return p != q })
		sameMask(t, "and", And(b, c), slowly(b, c, func(p, q bool) bool { return p && q }))
		sameMask(t, "and not", AndNot(b, a), slowAndNot(b, a))
		sameMask(t, "or", Or(a, c), slowly(a, c, func(p, q bool) bool { return p || q }))
		sameMask(t, "not", Not(a), slowNot(a))
	})
}

func TestSparseComponents(t *testing.T) {
	lowBands(t)
	rapid.Check(t, func(t *rapid.T) {
		b := drawSparse(t)
		c := rapid.SampledFrom([]Connectivity{Four, Eight}).Draw(t, "connectivity")
		want, runs := slowPieces(b, c)
		got := FindComponents(b, c)
		if !slices.Equal(got.List, want) {
			t.Fatalf("%d components, want %d: %v, want %v", len(got.List), len(want), got.List, want)
		}
		if !slices.IsSortedFunc(got.Runs, func(p, q Run) int { return cmp.Or(cmp.Compare(p.Y, q.Y), cmp.Compare(p.X0, q.X0)) }) {
			t.Fatal("runs are out of order")
		}
		own := make([][]Run, len(want))
		for _, r := range got.Runs {
			own[r.Component] = append(own[r.Component], Run{Y: r.Y, X0: r.X0, X1: r.X1})
		}
		for i := range own {
			if !slices.Equal(own[i], runs[i]) {
				t.Fatalf("component %d has runs %v, want %v", i, own[i], runs[i])
			}
		}
		list, weights := ListComponents(b, c, func(y, x0, x1 int) int { return y * (x1 - x0) })
		if !slices.Equal(list, want) {
			t.Fatalf("%d components without runs, want %d", len(list), len(want))
		}
		for i, own := range runs {
			sum := 0
			for _, r := range own {
				sum += int(r.Y * (r.X1 - r.X0))
			}
			if weights[i] != sum {
				t.Fatalf("component %d weighs %d, want %d", i, weights[i], sum)
			}
		}
	})
}

func TestFindSmall(t *testing.T) {
	type found struct {
		Component
		runs []Run
	}
	lowBands(t)
	rapid.Check(t, func(t *rapid.T) {
		q := SmallQuery{
			Mask: drawSparse(t), Inverted: rapid.Bool().Draw(t, "inverted"), LargestPx: rapid.IntRange(0, 60).Draw(t, "largest"),
			Connectivity: rapid.SampledFrom([]Connectivity{Four, Eight}).Draw(t, "connectivity"),
		}
		mask := q.Mask
		if q.Inverted {
			mask = slowNot(mask)
		}
		list, runs := slowPieces(mask, q.Connectivity)
		var want []found
		for i, c := range list {
			if c.Box.Dx() <= q.LargestPx && c.Box.Dy() <= q.LargestPx && c.AreaPx != 3 {
				want = append(want, found{c, runs[i]})
			}
		}
		got := FindSmall(q, func(c Component, lent []Run) (found, bool) {
			own := slices.Clone(lent)
			for i := range own {
				own[i].Component = 0
			}
			return found{c, own}, c.AreaPx != 3
		})
		if !slices.EqualFunc(got, want, func(p, q found) bool { return p.Component == q.Component && slices.Equal(p.runs, q.runs) }) {
			t.Fatalf("largest %d, %d-connected: %v, want %v", q.LargestPx, q.Connectivity, got, want)
		}
	})
}

// drawThin draws a query for lines or gaps.
func drawThin(t *rapid.T) ThinQuery {
	b := drawSparse(t)
	limit := rapid.OneOf(rapid.Float64Range(0.5, 4), rapid.Float64Range(4, 12), rapid.Float64Range(12, 60)).Draw(t, "limit")
	q := ThinQuery{Mask: b, LimitPx: limit, Coverage: coverageOf(b)}
	if q.Gap = rapid.Bool().Draw(t, "gap"); q.Gap {
		q.Mask = Not(b)
	}
	return q
}

func TestCandidatesBandByBand(t *testing.T) {
	lowBands(t)
	rapid.Check(t, func(t *rapid.T) {
		q := drawThin(t)
		got := findCandidates(q, q.LimitPx/2+edgeMarginPx)
		_, runs, alone := slowCandidates(q)
		if !slices.Equal(got.alone, alone) {
			t.Fatalf("%d candidates, want %d: %v, want %v", len(got.alone), len(alone), got.alone, alone)
		}
		for i, want := range runs {
			if !sameRuns(got.piece(i), want) {
				t.Fatalf("candidate %d of limit %v is %v, want %v", i, q.LimitPx, got.piece(i), want)
			}
		}
	})
}

// TestThinBandByBand: what FindThin finds band by band is what it finds on whole masks, to the last bit.
func TestThinBandByBand(t *testing.T) {
	lowBands(t)
	features, parts := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		q := drawThin(t)
		got := FindThin(q)
		want, slowParts := slowThin(q)
		if len(got) != len(want) {
			t.Fatalf("%d features thinner than %v, want %d", len(got), q.LimitPx, len(want))
		}
		for i := range got {
			g, w := got[i], want[i]
			if g.Box != w.Box || g.WidthPx != w.WidthPx || g.TypicalPx != w.TypicalPx || g.LengthPx != w.LengthPx || g.AreaPx != w.AreaPx {
				t.Fatalf("feature %d of limit %v:\n%+v, want\n%+v", i, q.LimitPx, g, w)
			}
			if !sameRuns(g.Runs, w.Runs) {
				t.Fatalf("feature %d of limit %v has other pixels", i, q.LimitPx)
			}
		}
		features, parts = features+len(got), parts+slowParts
	})
	if features == 0 || parts == features {
		t.Errorf("%d features of %d parts: nothing was found, or nothing joined", features, parts)
	}
}

func sameRuns(a, b []Run) bool {
	return slices.EqualFunc(a, b, func(p, q Run) bool { return p.Y == q.Y && p.X0 == q.X0 && p.X1 == q.X1 })
}

// coverageOf is full where a mask is set.
func coverageOf(b *Bitmap) Coverage {
	return func(dst []uint8, r image.Rectangle) {
		for i := range dst {
			dst[i] = 0
			if b.At(r.Min.X+i%r.Dx(), r.Min.Y+i/r.Dx()) {
				dst[i] = 255
			}
		}
	}
}

// TestJointAtSeams hangs two thin legs from a small disc at every height: together they are one feature, wherever bands meet.
func TestJointAtSeams(t *testing.T) {
	lowBands(t)
	for top := 5; top < 300; top++ {
		b := NewBitmap(60, 360)
		drawDisc(b, 30, top+5, 5)
		for y := top + 8; y < top+45; y++ {
			b.SetRun(y, 25, 28)
			b.SetRun(y, 33, 36)
		}
		q := ThinQuery{Mask: b, LimitPx: 6, Coverage: coverageOf(b)}
		if n := len(findCandidates(q, q.LimitPx/2+edgeMarginPx).alone); n != 2 {
			t.Fatalf("disc at row %d: %d legs, want 2", top, n)
		}
		if got := FindThin(q); len(got) != 1 {
			t.Fatalf("disc at row %d: %d features, want 1: %+v", top, len(got), got)
		}
	}
}
