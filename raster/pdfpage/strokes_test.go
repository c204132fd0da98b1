package pdfpage

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"peelcheck/preflight"
	"peelcheck/preflight/rules/hairline"
	"peelcheck/raster"
	"peelcheck/raster/pdftest"
)

// The widths of strokes are compared with those in the content stream at strokePPI. Cells are squares on the page with one stroke
// each; lengths are millimetres as printed.
const (
	strokePPI     = 600
	strokeLimit   = 0.35
	thinnest      = 0.03
	thickestThin  = 0.34
	thinnestSafe  = 0.36
	thickestSafe  = 0.9
	cellMM        = 12
	columns, rows = 6, 5
)

// matrix is a transformation without its translation: (x, y) becomes (a x + c y, b x + d y), as cm has it (ISO 32000-1, 8.3.3).
type matrix struct{ a, b, c, d float64 }

func (m matrix) at(p [2]float64) [2]float64 {
	return [2]float64{m.a*p[0] + m.c*p[1], m.b*p[0] + m.d*p[1]}
}
func (m matrix) det() float64 { return math.Abs(m.a*m.d - m.b*m.c) }

// after is m applied to what n gives.
func (m matrix) after(n matrix) matrix {
	x, y := m.at([2]float64{n.a, n.b}), m.at([2]float64{n.c, n.d})
	return matrix{x[0], x[1], y[0], y[1]}
}

func turnedBy(deg float64) matrix {
	s, c := math.Sincos(deg * math.Pi / 180)
	return matrix{c, s, -s, c}
}

func scaledBy(x, y float64) matrix { return matrix{x, 0, 0, y} }

// stroke is one stroked path about the origin in the units of its own space, which unit turns into millimetres.
type stroke struct {
	path   []step
	closed bool
	dash   []float64 // on and off, by turns
	cap    int
	w      float64 // as the content stream gives it
	unit   matrix  // no cm is written where it is the zero value
	pieces int     // that lie apart
	length float64 // painted, along the path, in its own units
	width  float64 // the truth: the least width in millimetres, 0 where nothing must be raised
}

// step is a point of a path, with the two control points of the curve that leads to it where it is one.
type step struct {
	curve bool
	p     [3][2]float64
}

func to(x, y float64) step { return step{p: [3][2]float64{2: {x, y}}} }

func curveTo(a, b, c [2]float64) step { return step{true, [3][2]float64{a, b, c}} }

// area is what the stroke paints, in square millimetres: butt caps add nothing, mitred joins of a closed path neither.
func (s stroke) area() float64 {
	ends := 0.0
	if !s.closed {
		ends = []float64{0, math.Pi / 4, 1}[s.cap] * s.w * s.w
	}
	return (s.w*s.length + ends) * s.own().det()
}

func (s stroke) own() matrix {
	if s.unit == (matrix{}) {
		return scaledBy(1, 1)
	}
	return s.unit
}

// content writes the stroke turned by deg about (x, y) of the page, with perMM units of the page a millimetre.
func (s stroke) content(deg, x, y, perMM float64) string {
	place := turnedBy(deg).after(scaledBy(perMM, perMM))
	var out strings.Builder
	pos := func(p [2]float64) string { return fmt.Sprintf("%.5f %.5f", p[0], p[1]) }
	if s.unit != (matrix{}) {
		m := place.after(s.unit)
		fmt.Fprintf(&out, "q %.7f %.7f %.7f %.7f %.5f %.5f cm %.6f w ", m.a, m.b, m.c, m.d, x, y, s.w)
	} else {
		fmt.Fprintf(&out, "q %.6f w ", s.w*perMM)
		pos = func(p [2]float64) string {
			q := place.at(p)
			return fmt.Sprintf("%.5f %.5f", q[0]+x, q[1]+y)
		}
	}
	fmt.Fprintf(&out, "%d J [", s.cap)
	for _, d := range s.dash {
		if s.unit == (matrix{}) {
			d *= perMM
		}
		fmt.Fprintf(&out, "%.5f ", d)
	}
	out.WriteString("] 0 d ")
	for i, st := range s.path {
		switch {
		case i == 0:
			fmt.Fprintf(&out, "%s m ", pos(st.p[2]))
		case st.curve:
			fmt.Fprintf(&out, "%s %s %s c ", pos(st.p[0]), pos(st.p[1]), pos(st.p[2]))
		default:
			fmt.Fprintf(&out, "%s l ", pos(st.p[2]))
		}
	}
	if s.closed {
		out.WriteString("s Q\n")
	} else {
		out.WriteString("S Q\n")
	}
	return out.String()
}

type strokeDice struct{ *rand.Rand }

func (r strokeDice) in(low, high float64) float64 { return low + r.Float64()*(high-low) }

func (r strokeDice) thin() float64 { return r.in(thinnest, thickestThin) }

// straight is a line of the given length in its own units.
func straight(length, w float64) stroke {
	return stroke{path: []step{to(-length/2, 0), to(length/2, 0)}, w: w, pieces: 1, length: length, width: w}
}

// bent is a cubic curve; its length is summed along it.
func bent(r strokeDice, w float64) stroke {
	a, d := [2]float64{-r.in(2.5, 4), 0}, [2]float64{r.in(2.5, 4), 0}
	b, c := [2]float64{a[0] + 1.5, r.in(-3, 3)}, [2]float64{d[0] - 1.5, r.in(-3, 3)}
	length, last := 0.0, a
	const parts = 2000
	for i := 1; i <= parts; i++ {
		t := float64(i) / parts
		u := 1 - t
		var p [2]float64
		for k := range p {
			p[k] = u*u*u*a[k] + 3*u*u*t*b[k] + 3*u*t*t*c[k] + t*t*t*d[k]
		}
		length += math.Hypot(p[0]-last[0], p[1]-last[1])
		last = p
	}
	return stroke{path: []step{to(a[0], a[1]), curveTo(b, c, d)}, w: w, pieces: 1, length: length, width: w}
}

// ring is a circle of four cubic curves, off by less than a thousandth.
func ring(radius, w float64) stroke {
	const k = 0.5522847
	q, h := radius, k*radius
	return stroke{closed: true, w: w, pieces: 1, length: 2 * math.Pi * radius, width: w, path: []step{
		to(q, 0),
		curveTo([2]float64{q, h}, [2]float64{h, q}, [2]float64{0, q}),
		curveTo([2]float64{-h, q}, [2]float64{-q, h}, [2]float64{-q, 0}),
		curveTo([2]float64{-q, -h}, [2]float64{-h, -q}, [2]float64{0, -q}),
		curveTo([2]float64{h, -q}, [2]float64{q, -h}, [2]float64{q, 0}),
	}}
}

func box(w, h, lineWidth float64) stroke {
	return stroke{closed: true, w: lineWidth, pieces: 1, length: 2 * (w + h), width: lineWidth,
		path: []step{to(-w/2, -h/2), to(w/2, -h/2), to(w/2, h/2), to(-w/2, h/2)}}
}

func dashed(r strokeDice, w, units float64) stroke {
	const n = 3
	on, off := r.in(2.1, 2.5)/units, r.in(0.7, 0.9)/units
	s := straight(n*(on+off)-off, w/units)
	s.pieces, s.length, s.width = n, n*on, w
	s.dash = []float64{on, off}
	return s
}

// uneven is a line under a cm that scales its two directions unlike, so that its width depends on its own direction: the normal to
// the line is scaled by det/|M u| for a line along u.
func uneven(r strokeDice, w float64) stroke {
	m := scaledBy(r.in(0.3, 3), r.in(0.3, 3)).after(turnedBy(r.in(0, 180)))
	along := math.Hypot(m.a, m.b)
	s := straight(r.in(5, 8)/along, w*along/m.det())
	s.unit, s.width = m, w
	return s
}

// unevenRing is an ellipse whose stroke is thinnest where the circle is scaled least; where it is over the limit elsewhere, two
// pieces are thin.
func unevenRing(r strokeDice, w float64) stroke {
	x := r.in(0.6, 1)
	for math.Abs(w/x-strokeLimit) < 0.02 {
		x = r.in(0.6, 1)
	}
	s := ring(r.in(2.5, 3.5), w/x)
	s.unit, s.width = scaledBy(x, 1), w
	if w/x > strokeLimit {
		s.pieces = 2
	}
	return s
}

func under(s stroke, m matrix) stroke {
	s.unit = m
	return s
}

// strokeKinds make strokes; the width they are given is under the limit, or over it for what must not be raised.
var strokeKinds = []struct {
	name string
	make func(r strokeDice, w float64) stroke
}{
	{"line", func(r strokeDice, w float64) stroke { return straight(r.in(4, 9), w) }},
	{"line, round or square caps", func(r strokeDice, w float64) stroke {
		s := straight(r.in(4, 9), w)
		s.cap = 1 + r.IntN(2)
		return s
	}},
	{"upright or level line", func(r strokeDice, w float64) stroke { return straight(r.in(4, 9), w) }},
	{"curve", bent},
	{"ring", func(r strokeDice, w float64) stroke { return ring(r.in(1.5, 4), w) }},
	{"box", func(r strokeDice, w float64) stroke { return box(r.in(3, 5), r.in(3, 5), w) }},
	{"dashes", func(r strokeDice, w float64) stroke { return dashed(r, w, 1) }},
	{"line under cm", func(r strokeDice, w float64) stroke {
		k := math.Exp(r.in(-3, 3))
		s := straight(r.in(4, 9)/k, w/k)
		s.width = w
		return under(s, scaledBy(k, k))
	}},
	{"mirrored curve under cm", func(r strokeDice, w float64) stroke { return under(bent(r, w), scaledBy(-1, 1)) }},
	{"dashes under cm", func(r strokeDice, w float64) stroke {
		k := math.Exp(r.in(-2, 2))
		return under(dashed(r, w, k), scaledBy(k, k))
	}},
	{"line under uneven cm", uneven},
	{"ring under uneven cm", unevenRing},
}

// strokePages are the ways of putting strokes on a page.
var strokePages = []struct {
	name   string
	turn   int // Rotate, degrees clockwise
	unit   float64
	form   bool
	before string
}{
	{name: "black", unit: 1, before: "0 G"},
	{name: "Rotate 90", turn: 90, unit: 1},
	{name: "UserUnit 2.5", unit: 2.5},
	{name: "form XObject", unit: 1, form: true},
	{name: "red", unit: 1, before: "0.8 0.1 0.1 RG"},
	{name: "CMYK black", unit: 1, before: "0 0 0 1 K"},
	{name: "Rotate 270 and UserUnit 0.5", turn: 270, unit: 0.5},
	{name: "blue", unit: 1, before: "0 0.2 0.7 RG"},
}

// placed is a stroke and where on the page its cell is, in cells from the left and from the bottom.
type placed struct {
	stroke
	kind      string
	narrowest float64 // its least width in millimetres, over the limit or not
	col, line int
}

// strokePage makes a page of strokes of all kinds. Every fifth is over the limit.
func strokePage(number int) ([]byte, []placed) {
	page := strokePages[number%len(strokePages)]
	r := strokeDice{rand.New(rand.NewPCG(20260, uint64(number)))}
	perMM := 72 / 25.4 / page.unit
	var content strings.Builder
	var strokes []placed
	content.WriteString(page.before + "\n")
	for i := range columns * rows {
		kind := strokeKinds[(number*columns*rows+i)%len(strokeKinds)]
		w := r.thin()
		if i%5 == 4 {
			w = r.in(thinnestSafe, thickestSafe)
		}
		s := placed{kind.make(r, w), kind.name, w, i % columns, i / columns}
		if i%5 == 4 {
			s.width = 0
		}
		turn := r.in(0, 360)
		if kind.name == "upright or level line" {
			turn = float64(90 * r.IntN(2))
		}
		x, y := (float64(s.col)+0.5)*cellMM+r.in(-0.3, 0.3), (float64(s.line)+0.5)*cellMM+r.in(-0.3, 0.3)
		content.WriteString(s.content(turn, x*perMM, y*perMM, perMM))
		strokes = append(strokes, s)
	}
	keys := fmt.Sprintf("/MediaBox [0 0 %.4f %.4f] /Rotate %d /UserUnit %g", columns*cellMM*perMM, rows*cellMM*perMM, page.turn, page.unit)
	if !page.form {
		return onePage(keys, content.String()), strokes
	}
	form := pdftest.Stream("/Type /XObject /Subtype /Form /BBox [-9 -9 999 999] /Matrix [0.5 0 0 0.5 0 0]", content.String())
	return onePage(keys+" /Resources << /XObject << /F 5 0 R >> >>", "2 0 0 2 0 0 cm /F Do", form), strokes
}

// cell is where a stroke's cell lies in the picture of a page that is turned by so many degrees.
func (p placed) cell(pic *raster.Picture, turn int) image.Rectangle {
	size := pic.Pix.Rect.Max
	if turn%180 != 0 {
		size.X, size.Y = size.Y, size.X
	}
	at := func(col, line int) image.Point {
		x, y := size.X*col/columns, size.Y-size.Y*line/rows
		switch turn {
		case 90:
			return image.Pt(size.Y-y, x)
		case 270:
			return image.Pt(y, size.X-x)
		}
		return image.Pt(x, y)
	}
	a, b := at(p.col, p.line), at(p.col+1, p.line+1)
	return image.Rect(a.X, a.Y, b.X, b.Y)
}

// inked is how much of a part of the picture is covered, in pixels.
func inked(pic *raster.Picture, r image.Rectangle) float64 {
	sum := 0
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			sum += int(pic.Pix.Pix[pic.Pix.PixOffset(x, y)+3])
		}
	}
	return float64(sum) / 255
}

// strokeErrors are those of one kind of stroke, in pixels.
type strokeErrors struct {
	n, right        int
	drawn, measured []float64
}

func rmsAndWorst(errors []float64) (rms, worst float64) {
	for _, e := range errors {
		rms += e * e
		worst = max(worst, math.Abs(e))
	}
	return math.Sqrt(rms / float64(max(1, len(errors)))), worst
}

func (e *strokeErrors) row(name string) string {
	drawn, worstDrawn := rmsAndWorst(e.drawn)
	measured, worst := rmsAndWorst(e.measured)
	return fmt.Sprintf("| %s | %d | %d | %.3f px | %.3f px | %.3f px | %.3f px |\n", name, e.n, e.right, drawn, worstDrawn, measured, worst)
}

// add compares a stroke with what was found of it.
func (e *strokeErrors) add(s placed, drawn float64, found []raster.Feature, scene *preflight.Scene) {
	e.n++
	if len(found) == s.wanted() {
		e.right++
	}
	e.drawn = append(e.drawn, drawn)
	if s.width > 0 {
		for _, f := range found {
			e.measured = append(e.measured, f.WidthPx-scene.Px(s.width))
		}
	}
}

func (s stroke) wanted() int {
	if s.width == 0 {
		return 0
	}
	return s.pieces
}

// judgeStrokes judges a picture for thin lines as a check does; the report's findings are the features that the scene has.
func judgeStrokes(t *testing.T, pic *raster.Picture) (*preflight.Report, *preflight.Scene, []raster.Feature) {
	t.Helper()
	process, err := preflight.ProcessByID("toner-white-for-black")
	if err != nil {
		t.Fatal(err)
	}
	limits, err := process.ResolveLimits(nil, "", map[string]float64{"line": strokeLimit})
	if err != nil {
		t.Fatal(err)
	}
	job := preflight.Job{Process: process, Limits: limits, Background: preflight.BackgroundAuto}
	report, scene, err := preflight.Judge(preflight.Artwork{Picture: pic}, job, []*preflight.Rule{hairline.Rule})
	if err != nil {
		t.Fatal(err)
	}
	features := slices.Concat(scene.ThinLines(), scene.ThinWhite())
	var reported, measured []string
	for _, f := range report.Findings {
		reported = append(reported, fmt.Sprintf("%.3f", f.Measure.Value))
	}
	for _, f := range features {
		measured = append(measured, fmt.Sprintf("%.3f", scene.MM(f.WidthPx)))
	}
	slices.Sort(reported)
	slices.Sort(measured)
	if !slices.Equal(reported, measured) {
		t.Errorf("reported widths %v, measured %v", reported, measured)
	}
	return report, scene, features
}

const strokeHead = `
| stroke | strokes | right | width drawn, rms | worst | width measured, rms | worst |
| --- | --- | --- | --- | --- | --- | --- |
`

// TestStrokes compares the widths of strokes with those in the content stream and prints how far they are off by kind of stroke and
// by kind of page: as drawn, by the area that is covered, and as measured. Right is a stroke of which as many pieces are found thin as
// there are, none where it is over the limit. All must be right and no width off by more than 0.1 px.
func TestStrokes(t *testing.T) {
	const pages = 16
	byKind, byPage, all := map[string]*strokeErrors{}, map[string]*strokeErrors{}, &strokeErrors{}
	for number := range pages {
		page := strokePages[number%len(strokePages)]
		data, strokes := strokePage(number)
		pic := render(t, data, strokePPI)
		_, scene, features := judgeStrokes(t, pic)
		for _, s := range strokes {
			cell := s.cell(pic, page.turn)
			found := within(features, cell)
			area := s.area() * scene.Px(1) * scene.Px(1)
			drawn := (inked(pic, cell)/area - 1) * scene.Px(s.narrowest)
			for _, e := range []*strokeErrors{entry(byKind, s.kind), entry(byPage, page.name), all} {
				e.add(s, drawn, found, scene)
			}
			if math.Abs(drawn) > 0.03 {
				t.Errorf("page %d (%s), %s of %.3f mm at %v is drawn %.3f px too wide", number, page.name, s.kind, s.narrowest, cell, drawn)
			}
			if len(found) != s.wanted() {
				t.Errorf("page %d (%s), %s of %.3f mm at %v: %d found, want %d", number, page.name, s.kind, s.narrowest, cell, len(found), s.wanted())
			}
		}
	}
	table := strokeHead
	for _, k := range strokeKinds {
		table += byKind[k.name].row(k.name)
	}
	for _, p := range strokePages {
		table += byPage[p.name].row("all, on a page: " + p.name)
	}
	t.Log(table + all.row("all"))
	if _, worst := rmsAndWorst(all.measured); worst > 0.1 || all.right < all.n {
		t.Errorf("%d of %d strokes right, widths off by up to %.3f px; want all, 0.1 px", all.right, all.n, worst)
	}
}

func entry(m map[string]*strokeErrors, name string) *strokeErrors {
	if m[name] == nil {
		m[name] = &strokeErrors{}
	}
	return m[name]
}

func within(features []raster.Feature, r image.Rectangle) (in []raster.Feature) {
	for _, f := range features {
		if f.Box.Min.Add(f.Box.Max).Div(2).In(r) {
			in = append(in, f)
		}
	}
	return in
}

// Filled bars cover what their corners say, upright or not, alone in a path or not, however they lie between pixels.
func TestRectangles(t *testing.T) {
	r := strokeDice{rand.New(rand.NewPCG(20261, 1))}
	for _, content := range []string{
		"%[1]f 10.3 %[2]f 50 re f",
		"0 1 -1 0 72 0 cm %[1]f 10.3 %[2]f 50 re f*",
		"%[1]f 10.3 m %[3]f 10.3 l %[3]f 60.3 l %[1]f 60.3 l h f",
		"%[1]f 10.3 m %[3]f 10.3 l %[3]f 60.3 l %[1]f 60.3 l f",
		"0.96 0.28 -0.28 0.96 0 0 cm %[1]f 10.3 %[2]f 50 re f",
		"0.5 0 0 0.5 5 0 cm /F Do",
	} {
		for range 6 {
			x, w := 36+r.in(-1, 1), r.in(0.05, 0.6)*72/25.4
			bar, form := fmt.Sprintf(content, x, w, x+w), ""
			if !strings.Contains(content, "re") && strings.HasSuffix(content, "Do") {
				bar, form = content, fmt.Sprintf("%f 20.6 %f 100 re f", x, 2*w)
			}
			pic := render(t, onePage(square+"/Resources << /XObject << /F 5 0 R >> >>", bar, pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 144 144]", form)), strokePPI)
			want := w * strokePPI / 72
			if got := inked(pic, pic.Pix.Rect) / (50.0 * strokePPI / 72); math.Abs(got-want) > 0.03 {
				t.Errorf("%s: drawn %.3f px wide, want %.3f", bar+form, got, want)
			}
		}
	}
}

// A width of 0 is the thinnest line that can be drawn (ISO 32000-1, 8.4.3.2), a pixel; a narrow one is drawn half a pixel wide at
// least, so that it is reported however faint it would be. A stroke of a pattern keeps its pattern.
func TestNarrowestStrokes(t *testing.T) {
	const pattern = "/Resources << /Pattern << /P 5 0 R >> >>"
	for _, test := range []struct {
		content string
		wantPx  float64
	}{
		{"0 w", 1}, {"0.0001 w", leastStrokePx}, {"0.03 w", leastStrokePx}, {"0.0840 w", 0.7}, {"/Pattern CS /P SCN 0.0840 w", 1},
	} {
		data := onePage(square+pattern, test.content+" 10.3 10.3 m 60 50 l S",
			pdftest.Stream("/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 99 99] /XStep 99 /YStep 99 /Resources << >>", "1 0 0 rg 0 0 99 99 re f"))
		pic := render(t, data, strokePPI)
		length := math.Hypot(49.7, 39.7) * strokePPI / 72
		if got := inked(pic, pic.Pix.Rect) / length; math.Abs(got-test.wantPx) > 0.03 {
			t.Errorf("%s: drawn %.3f px wide, want %.3f", test.content, got, test.wantPx)
		}
		report, _, _ := judgeStrokes(t, pic)
		if len(report.Findings) != 1 || report.Findings[0].Level != preflight.LevelError {
			t.Errorf("%s: findings %v, want one error", test.content, report.Findings)
		}
		for i := 0; i < len(pic.Pix.Pix); i += 4 {
			if p := pic.Pix.Pix[i : i+4]; p[3] > 0 && (p[0] > 250) != strings.Contains(test.content, "/P ") {
				t.Fatalf("%s: a pixel is %v", test.content, p)
			}
		}
	}
}
