package raster_test

import (
	"encoding/json"
	"image"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"peelcheck/raster"
)

func fromRows(rows []string) *raster.Bitmap {
	b := raster.NewBitmap(len(rows[0]), len(rows))
	for y, row := range rows {
		for x := range row {
			if row[x] == '#' {
				b.Set(x, y)
			}
		}
	}
	return b
}

func toRows(b *raster.Bitmap) string {
	var out strings.Builder
	for y := range b.H {
		for x := range b.W {
			if b.At(x, y) {
				out.WriteByte('#')
			} else {
				out.WriteByte('.')
			}
		}
		out.WriteByte('\n')
	}
	return out.String()
}

func join(rows []string) string { return strings.Join(rows, "\n") + "\n" }

// TestAgainstScipy compares with scipy 1.10.1's ndimage; testdata/scipy_reference.py made the values.
func TestAgainstScipy(t *testing.T) {
	data, err := os.ReadFile("testdata/scipy_reference.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Radius                    float64
		Mask, Erode, Dilate, Open []string
		ErodeOutside              []string `json:"erode_outside"`
		Four, Eight               int
	}
	if err := json.Unmarshal(data, &cases); err != nil || len(cases) == 0 {
		t.Fatalf("no reference cases: %v", err)
	}
	for i, c := range cases {
		b := fromRows(c.Mask)
		for _, k := range []struct {
			name string
			got  *raster.Bitmap
			want []string
		}{
			{"erode", raster.Erode(b, c.Radius, false), c.Erode},
			{"erode, outside set", raster.Erode(b, c.Radius, true), c.ErodeOutside},
			{"dilate", raster.Dilate(b, c.Radius), c.Dilate},
			{"open", raster.Open(b, c.Radius, false), c.Open},
		} {
			if got := toRows(k.got); got != join(k.want) {
				t.Errorf("case %d, %s by %.1f:\n%s\nwant\n%s", i, k.name, c.Radius, got, join(k.want))
			}
		}
		if got := len(raster.FindComponents(b, raster.Four).List); got != c.Four {
			t.Errorf("case %d: %d components by edges, want %d", i, got, c.Four)
		}
		if got := len(raster.FindComponents(b, raster.Eight).List); got != c.Eight {
			t.Errorf("case %d: %d components by edges and corners, want %d", i, got, c.Eight)
		}
	}
}

// TestComponentCounts uses small masks whose counts were computed with scipy.ndimage.label (1.10.1).
func TestComponentCounts(t *testing.T) {
	tests := []struct {
		name        string
		rows        []string
		four, eight int
	}{
		{"P", []string{"##..#", "..#..", ".#..#", "#..##", "#...."}, 6, 3},
		{"checkerboard", []string{"#.#.", ".#.#", "#.#.", ".#.#"}, 8, 1},
		{"letter A", []string{".###.", "#...#", "#####", "#...#"}, 2, 1},
		{"background of A", []string{"#...#", ".###.", ".....", ".###."}, 4, 2},
	}
	for _, tt := range tests {
		b := fromRows(tt.rows)
		if got := len(raster.FindComponents(b, raster.Four).List); got != tt.four {
			t.Errorf("%s: %d by edges, want %d", tt.name, got, tt.four)
		}
		if got := len(raster.FindComponents(b, raster.Eight).List); got != tt.eight {
			t.Errorf("%s: %d by edges and corners, want %d", tt.name, got, tt.eight)
		}
	}
}

// TestDiscAreas checks the discs against the Gauss circle problem: lattice points with x*x + y*y <= r*r (OEIS A000328).
func TestDiscAreas(t *testing.T) {
	for r, want := range []int{1, 5, 13, 29, 49, 81, 113, 149, 197, 253, 317} {
		b := raster.NewBitmap(41, 41)
		b.Set(20, 20)
		if got := raster.Dilate(b, float64(r)).Count(); got != want {
			t.Errorf("disc of radius %d holds %d pixels, want %d", r, got, want)
		}
	}
}

func drawMask(t *rapid.T) *raster.Bitmap {
	w, h := rapid.IntRange(1, 140).Draw(t, "w"), rapid.IntRange(1, 60).Draw(t, "h")
	b := raster.NewBitmap(w, h)
	for range rapid.IntRange(0, 12).Draw(t, "boxes") {
		x, y := rapid.IntRange(0, w-1).Draw(t, "x"), rapid.IntRange(0, h-1).Draw(t, "y")
		x1, y1 := min(w, x+rapid.IntRange(1, 40).Draw(t, "bw")), min(h, y+rapid.IntRange(1, 30).Draw(t, "bh"))
		for ; y < y1; y++ {
			b.SetRun(y, x, x1)
		}
	}
	return b
}

func TestMorphologyProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawMask(t)
		r := rapid.Float64Range(0, 7).Draw(t, "radius")
		outside := rapid.Bool().Draw(t, "outside")
		open := raster.Open(b, r, outside)
		if raster.AndNot(open, b).Count() != 0 {
			t.Fatalf("opening by %.2f grew the mask:\n%s", r, toRows(b))
		}
		if toRows(raster.Open(open, r, outside)) != toRows(open) {
			t.Fatalf("opening by %.2f twice differs:\n%s", r, toRows(b))
		}
		if toRows(raster.Erode(b, r, true)) != toRows(raster.Not(raster.Dilate(raster.Not(b), r))) {
			t.Fatalf("erosion and dilation by %.2f are not dual:\n%s", r, toRows(b))
		}
	})
}

func TestComponentsAgainstFloodFill(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawMask(t)
		c := rapid.SampledFrom([]raster.Connectivity{raster.Four, raster.Eight}).Draw(t, "connectivity")
		got := raster.FindComponents(b, c)
		want := floodFill(b, c)
		if len(got.List) != len(want) {
			t.Fatalf("%d components, flood fill finds %d:\n%s", len(got.List), len(want), toRows(b))
		}
		for i, comp := range got.List {
			if comp.Box != want[i].Box || comp.AreaPx != want[i].AreaPx {
				t.Fatalf("component %d is %v with %d pixels, want %v with %d", i, comp.Box, comp.AreaPx, want[i].Box, want[i].AreaPx)
			}
		}
	})
}

// floodFill is the slow, obvious twin of FindComponents.
func floodFill(b *raster.Bitmap, c raster.Connectivity) []raster.Component {
	seen := raster.NewBitmap(b.W, b.H)
	var out []raster.Component
	for y := range b.H {
		for x := range b.W {
			if !b.At(x, y) || seen.At(x, y) {
				continue
			}
			var comp raster.Component
			todo := []image.Point{{X: x, Y: y}}
			seen.Set(x, y)
			for len(todo) > 0 {
				p := todo[len(todo)-1]
				todo = todo[:len(todo)-1]
				comp.AreaPx++
				comp.Box = comp.Box.Union(image.Rect(p.X, p.Y, p.X+1, p.Y+1))
				for dy := -1; dy <= 1; dy++ {
					for dx := -1; dx <= 1; dx++ {
						q := p.Add(image.Pt(dx, dy))
						if c == raster.Four && dx*dy != 0 || !b.At(q.X, q.Y) || seen.At(q.X, q.Y) {
							continue
						}
						seen.Set(q.X, q.Y)
						todo = append(todo, q)
					}
				}
			}
			out = append(out, comp)
		}
	}
	return out
}

func TestCountAndBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawMask(t)
		x, y := rapid.IntRange(-3, b.W).Draw(t, "rx"), rapid.IntRange(-3, b.H).Draw(t, "ry")
		r := image.Rect(x, y, x+rapid.IntRange(0, 90).Draw(t, "rw"), y+rapid.IntRange(0, 40).Draw(t, "rh"))
		n, bounds := 0, image.Rectangle{}
		for y := range b.H {
			for x := range b.W {
				if b.At(x, y) {
					bounds = bounds.Union(image.Rect(x, y, x+1, y+1))
					if image.Pt(x, y).In(r) {
						n++
					}
				}
			}
		}
		if got := b.CountIn(r); got != n {
			t.Fatalf("%d pixels in %v, want %d", got, r, n)
		}
		if want := n == r.Dx()*r.Dy(); b.AllIn(r) != want {
			t.Fatalf("all in %v: %t, want %t", r, !want, want)
		}
		if got := b.Bounds(); got != bounds {
			t.Fatalf("bounds %v, want %v", got, bounds)
		}
	})
}

func TestEnclosed(t *testing.T) {
	b := fromRows([]string{"#......", ".##..#.", ".##.##.", ".......", "..#...#"})
	want := ".......\n.##..#.\n.##.##.\n.......\n.......\n"
	if got := toRows(raster.Enclosed(b, raster.Four)); got != want {
		t.Errorf("enclosed by edges:\n%swant\n%s", got, want)
	}
	if got := raster.Enclosed(b, raster.Eight).At(1, 1); got {
		t.Error("a piece that touches the border by a corner counts as enclosed")
	}
}
