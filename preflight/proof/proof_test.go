package proof

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"peelcheck/preflight"
)

func TestGoldens(t *testing.T) {
	update := os.Getenv("UPDATE") == "1"
	all := cases()
	for name, in := range all {
		t.Run(name, func(t *testing.T) {
			got := drawn(in)
			path := filepath.Join("testdata", name+".png")
			if update {
				writePNG(t, path, got)
				return
			}
			compare(t, got, readPNG(t, path))
		})
	}
	files, err := filepath.Glob("testdata/*.png")
	if err != nil || len(files) == 0 {
		t.Fatalf("no goldens: %v", err)
	}
	for _, f := range files {
		if _, ok := all[strings.TrimSuffix(filepath.Base(f), ".png")]; !ok {
			t.Errorf("%s belongs to no case", f)
		}
	}
}

// drawn is the whole proof at once.
func drawn(in Input) *image.RGBA {
	p := Draw(in)
	m := image.NewRGBA(p.Bounds())
	p.Paint(m)
	return m
}

func writePNG(t *testing.T, path string, m image.Image) {
	t.Helper()
	var buf bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&buf, m); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, buf.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

func readPNG(t *testing.T, path string) image.Image {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// compare allows one level of difference a channel: processors round products and sums differently.
func compare(t *testing.T, got *image.RGBA, want image.Image) {
	t.Helper()
	if got.Rect != want.Bounds() {
		t.Fatalf("the proof is %v, want %v", got.Rect, want.Bounds())
	}
	for y := range got.Rect.Dy() {
		for x := range got.Rect.Dx() {
			g, w := got.RGBAAt(x, y), color.RGBAModel.Convert(want.At(x, y)).(color.RGBA)
			if differ(g.R, w.R) || differ(g.G, w.G) || differ(g.B, w.B) || g.A != w.A {
				path := filepath.Join(t.ArtifactDir(), "got.png")
				writePNG(t, path, got)
				t.Fatalf("first difference at (%d,%d): %v, want %v; see %s", x, y, g, w, path)
			}
		}
	}
}

func differ(a, b uint8) bool { return max(a, b)-min(a, b) > 1 }

// painted lays out and paints an input and returns both.
func painted(in Input) (*page, *canvas) {
	p := newPage(in)
	return p, p.paint()
}

func TestTagsDoNotOverlapOrHideFaults(t *testing.T) {
	for name, in := range cases() {
		p, c := painted(in)
		if len(p.tags) != len(p.clusters) {
			t.Errorf("%s: %d tags for %d lines", name, len(p.tags), len(p.clusters))
		}
		view := p.pictures.look.moved(p.top())
		for i, a := range p.tags {
			if !a.box.Inset(-tagHalo).In(c.bounds) {
				t.Errorf("%s: tag %d at %v leaves the picture", name, a.cluster.tag, a.box)
			}
			for _, b := range p.tags[:i] {
				if a.box.Overlaps(b.box) {
					t.Errorf("%s: tags %d and %d overlap: %v, %v", name, a.cluster.tag, b.cluster.tag, a.box, b.box)
				}
			}
			for j, box := range p.boxes {
				shown := view.shown(box)
				hidden := a.box.Intersect(shown)
				if small := shown.Dx()*shown.Dy() < 2000; small && !hidden.Empty() || 5*hidden.Dx()*hidden.Dy() > 4*shown.Dx()*shown.Dy() {
					t.Errorf("%s: tag %d hides finding %d", name, a.cluster.tag, j+1)
				}
			}
		}
	}
}

// top is where the pictures begin.
func (p *page) top() int { return edge + p.head.h + blockGap }

// TestEveryFindingIsPointedAt: each finding is in one cluster with a tag, its outline frames its box's middle, and the tag's
// leader ends on the outline of the cluster's worst.
func TestEveryFindingIsPointedAt(t *testing.T) {
	for name, in := range cases() {
		p, _ := painted(in)
		view := p.pictures.look.moved(p.top())
		times := map[int]int{}
		for _, tag := range p.tags {
			for _, i := range tag.cluster.members {
				times[i]++
				f := p.rep.Findings[i]
				if f.Rule != tag.cluster.rule || f.Level != tag.cluster.level {
					t.Errorf("%s: finding %d is %s %s, its tag says %s %s", name, i+1, f.Rule, f.Level, tag.cluster.rule, tag.cluster.level)
				}
			}
			worst := view.outlined(p.boxes[tag.cluster.members[0]])
			outer := worst.Inset(-outlineGrow)
			if worst != tag.target || !tag.tip.In(image.Rectangle{outer.Min, outer.Max.Add(image.Pt(1, 1))}) || tag.tip.In(worst) {
				t.Errorf("%s: tag %d points at %v, its worst finding is outlined at %v", name, tag.cluster.tag, tag.tip, worst)
			}
		}
		for i, f := range p.rep.Findings {
			if times[i] != 1 {
				t.Errorf("%s: finding %d has %d tags", name, i+1, times[i])
			}
			x := view.x((float64(f.BoxPx.X) + float64(f.BoxPx.W)/2) * p.scene.mmPerPx)
			y := view.y((float64(f.BoxPx.Y) + float64(f.BoxPx.H)/2) * p.scene.mmPerPx)
			if box := view.outlined(p.boxes[i]); !image.Pt(x, y).In(box) || box.Dx() < leastBoxPx || box.Dy() < leastBoxPx {
				t.Errorf("%s: finding %d has its middle at (%d,%d), its outline at %v", name, i+1, x, y, box)
			}
		}
	}
}

func TestTextStaysInThePictureAndApart(t *testing.T) {
	for name, in := range cases() {
		_, c := painted(in)
		if len(c.texts) < 10 {
			t.Errorf("%s: only %d texts", name, len(c.texts))
		}
		if c.bounds.Dx() > pageMaxH || c.bounds.Dy() > pageMaxH {
			t.Errorf("%s: the proof is %v", name, c.bounds)
		}
		checkTexts(t, name, c)
	}
}

func checkTexts(t *testing.T, name string, c *canvas) {
	t.Helper()
	for i, a := range c.texts {
		if !a.In(c.bounds) {
			t.Errorf("%s: text at %v leaves %v", name, a, c.bounds)
		}
		for _, b := range c.texts[:i] {
			// Lines under one another may share the room of strokes that neither has.
			if o := a.Intersect(b); o.Dx() > 0 && o.Dy() > 6 {
				t.Errorf("%s: texts at %v and %v overlap", name, a, b)
			}
		}
	}
}

// TestOddNamesAndWords: what a file may be called, and the longest of messages, neither leave the page nor overlap.
func TestOddNamesAndWords(t *testing.T) {
	for _, odd := range []string{"", "\x00\x1b[31m\n.png", "\xff\xfe.png", "灯笼漫步.png", "مسيرة الفوانيس.pdf", "\u202egnp.exe", "🏮🏮🏮.png",
		strings.Repeat("lanterns", 200), strings.Repeat("灯", 3000), "a" + strings.Repeat("\u0301", 500)} {
		rep := capArt.report()
		rep.Artwork.File = odd
		rep.Job.Garment, rep.Job.Fabric, rep.Job.Sheet.Name, rep.Tool.Version = odd, odd, odd, odd
		rep.Skipped = []preflight.Skipped{{Rule: odd, Reason: odd}}
		capArt.found(rep, "odd-rule", preflight.LevelNote, 1, 1, 2, 2, preflight.Measure{Value: 1, Limit: 2, Unit: odd}, odd, odd)
		in := bare(rep)
		in.ProcessTitle = odd
		_, c := painted(in)
		checkTexts(t, strconv.QuoteToASCII(odd[:min(12, len(odd))]), c)
		if h := c.bounds.Dy(); h > pageMaxH {
			t.Errorf("%+q: the proof is %d px high", odd[:min(12, len(odd))], h)
		}
	}
}

// TestOddShapes: reports at the limits of what can be judged give a page all the same.
func TestOddShapes(t *testing.T) {
	tests := map[string]func(*preflight.Report){
		"nothing prints":       func(r *preflight.Report) { r.Artwork.PrintedBoxMM = preflight.BoxMM{} },
		"no sheet":             func(r *preflight.Report) { r.Job.Sheet = preflight.SheetInfo{} },
		"no millimetres":       func(r *preflight.Report) { r.Artwork.WidthMM, r.Artwork.HeightMM, r.Artwork.PPIX = 0, 0, 0 },
		"one pixel":            func(r *preflight.Report) { r.Artwork.WidthPx, r.Artwork.HeightPx = 1, 1 },
		"margin over the half": func(r *preflight.Report) { r.Job.Sheet.MarginMM = 200 },
		"ribbon":               func(r *preflight.Report) { r.Artwork.HeightPx = 1; r.Artwork.PrintedBoxMM = preflight.BoxMM{} },
		"a box far off": func(r *preflight.Report) {
			capArt.line(r, preflight.LevelError, 500, 700, 4, 4, 0.1)
			capArt.line(r, preflight.LevelError, -80, -90, 4, 4, 0.1)
		},
		"a finding without a place": func(r *preflight.Report) {
			r.Findings = append(r.Findings, preflight.Finding{Rule: "font-missing", Level: preflight.LevelWarning, Message: "A font is missing.", Remedy: "Embed it."})
		},
	}
	for name, change := range tests {
		rep := capArt.report()
		change(rep)
		_, c := painted(bare(rep))
		checkTexts(t, name, c)
		if c.bounds.Dy() > pageMaxH {
			t.Errorf("%s: %d px high", name, c.bounds.Dy())
		}
	}
}

// TestSmallestMarkIsSeen: a speck of a tenth of a millimetre gets an outline with its level's colour on all four sides.
func TestSmallestMarkIsSeen(t *testing.T) {
	for level, want := range map[preflight.Level]color.RGBA{
		preflight.LevelError: vermillion, preflight.LevelWarning: orange, preflight.LevelNote: blue,
	} {
		rep := shirt.report()
		shirt.line(rep, level, 60, 30, 0.1, 0.1, 0.1)
		p, c := painted(bare(rep))
		box := p.pictures.look.moved(p.top()).outlined(p.boxes[0])
		for side, r := range map[string]image.Rectangle{
			"top": image.Rect(box.Min.X, box.Min.Y-linePx, box.Max.X, box.Min.Y), "bottom": image.Rect(box.Min.X, box.Max.Y, box.Max.X, box.Max.Y+linePx),
			"left": image.Rect(box.Min.X-linePx, box.Min.Y, box.Min.X, box.Max.Y), "right": image.Rect(box.Max.X, box.Min.Y, box.Max.X+linePx, box.Max.Y),
		} {
			n := 0
			m := image.NewRGBA(r)
			c.paint(m)
			for y := r.Min.Y; y < r.Max.Y; y++ {
				for x := r.Min.X; x < r.Max.X; x++ {
					if m.RGBAAt(x, y) == want {
						n++
					}
				}
			}
			if n*3 < r.Dx()*r.Dy() {
				t.Errorf("%s: %s side shows %d of %d pixels in colour", level, side, n, r.Dx()*r.Dy())
			}
		}
	}
}

func TestDrawIsRepeatableAndConcurrent(t *testing.T) {
	in := tinyCap()
	want := drawn(in)
	var wg sync.WaitGroup
	for range 6 {
		wg.Go(func() {
			if got := drawn(in); !bytes.Equal(got.Pix, want.Pix) {
				t.Error("two proofs of one input differ")
			}
		})
	}
	wg.Wait()
}

// TestPartsEqualTheWhole: bands of odd heights and parts narrower than the page hold what the whole page holds there.
func TestPartsEqualTheWhole(t *testing.T) {
	for name, in := range cases() {
		p := Draw(in)
		whole := image.NewRGBA(p.Bounds())
		p.Paint(whole)
		var wg sync.WaitGroup
		for y := 0; y < whole.Rect.Max.Y; y += 37 {
			wg.Go(func() { samePart(t, name, p, whole, image.Rect(0, y, whole.Rect.Max.X, min(y+37, whole.Rect.Max.Y))) })
		}
		wg.Go(func() { samePart(t, name, p, whole, image.Rect(333, 401, 790, 1207)) })
		wg.Wait()
		if got, want := p.At(400, 500), whole.At(400, 500); got != want {
			t.Errorf("%s: one pixel alone is %v, want %v", name, got, want)
		}
	}
}

// samePart allows for the antialiasing, which hands what it rounds off on from row to row.
func samePart(t *testing.T, name string, p *Proof, whole *image.RGBA, r image.Rectangle) {
	const rounding = 4 // levels
	part := image.NewRGBA(r)
	p.Paint(part)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		got, want := part.Pix[part.PixOffset(r.Min.X, y):][:4*r.Dx()], whole.Pix[whole.PixOffset(r.Min.X, y):][:4*r.Dx()]
		for i := range got {
			if max(got[i], want[i])-min(got[i], want[i]) > rounding {
				t.Errorf("%s: row %d of the part %v differs from the whole page at column %d: %v %v", name, y, r, r.Min.X+i/4, got[i], want[i])
				return
			}
		}
	}
}

// TestWideNumbersKeepApart: numbers of six digits in the list do not lie over the words beside them.
func TestWideNumbersKeepApart(t *testing.T) {
	rep := shirt.report()
	shirt.stems(rep, preflight.LevelWarning)
	for i := range rep.Findings {
		rep.Findings[i].ID += 123456
	}
	p, c := painted(bare(rep))
	for _, cl := range p.clusters {
		if edge+2+p.set.tagWidth(cl.tag)+tagHalo >= edge+levelX+p.pushed {
			t.Errorf("tag %d reaches to %d, the words begin at %d", cl.tag, edge+2+p.set.tagWidth(cl.tag)+tagHalo, edge+levelX+p.pushed)
		}
	}
	checkTexts(t, "wide numbers", c)
}

// TestListCounts: every finding is in a line of the list or counted as left to the report.
func TestListCounts(t *testing.T) {
	for name, in := range cases() {
		p := newPage(in)
		listed := 0
		for i, cl := range p.clusters {
			listed += len(cl.members)
			if i > 0 && cl.tag <= p.clusters[i-1].tag {
				t.Errorf("%s: number %d comes after %d", name, cl.tag, p.clusters[i-1].tag)
			}
			if cl.tag != cl.worst.ID {
				t.Errorf("%s: line %d has tag %d, its worst finding is %d", name, i+1, cl.tag, cl.worst.ID)
			}
		}
		if listed+p.unlisted != len(p.rep.Findings) {
			t.Errorf("%s: %d listed and %d more, of %d", name, listed, p.unlisted, len(p.rep.Findings))
		}
		if len(p.clusters) > maxListLines {
			t.Errorf("%s: %d lines", name, len(p.clusters))
		}
	}
}

func BenchmarkDraw(b *testing.B) {
	for _, name := range []string{"clean", "many-findings", "ten-thousand-findings"} {
		in := cases()[name]
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				drawn(in)
			}
		})
	}
}
