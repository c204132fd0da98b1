package raster_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"peelcheck/preflight"
	"peelcheck/raster"
	. "peelcheck/raster/rastertest"
)

// The limits in millimetres that cells are drawn for. Widths keep clearMM off them.
const (
	lineLimit, gapLimit, dotLimit, holeLimit = 0.35, 0.35, 0.6, 0.5
	clearMM                                  = 0.05
)

// What a cell must raise.
const (
	nothing = ""
	line    = "line"
	gap     = "gap"
	dot     = "dot"
	hole    = "hole"
)

// cell is one shape, or some letters, of known geometry about the origin in millimetres, and what must be found of it.
type cell struct {
	shape   Field
	text    string  // drawn from the font instead of a shape
	emMM    float64 // the text's size
	sideMM  float64 // of the picture; 7 if left 0
	want    string
	count   int     // features of that kind, 1 if left 0
	width   float64 // their least width or diameter, 0 if it is not compared
	typical bool    // width is the typical one
	endsAt  float64 // of a taper: how far along y, before it is turned, it is too thin
	slope   float64 // of a taper: width gained a length, 0 for other shapes
}

func (c cell) features() int {
	if c.want == nothing {
		return 0
	}
	return max(1, c.count)
}

// maker draws the parameters of one kind of cell.
type maker struct {
	kind string
	make func(r *dice) cell
}

// dice draws parameters at random.
type dice struct{ *rand.Rand }

func (r *dice) in(low, high float64) float64 { return low + r.Float64()*(high-low) }

// thin and safe are widths under and over the limit of lines and gaps.
func (r *dice) thin() float64 { return r.in(0.08, lineLimit-clearMM) }
func (r *dice) safe() float64 { return r.in(lineLimit+clearMM, 0.9) }

func thinLine(shape Field, w float64) cell { return cell{shape: shape, want: line, width: w} }
func thinGap(shape Field, w float64) cell  { return cell{shape: shape, want: gap, width: w} }
func solid(shape Field) cell               { return cell{shape: shape} }

// arc is part of a ring. It and the shapes up to bend have strokes w wide throughout.
func arc(r *dice, w float64) Field {
	return All(Annulus(r.in(1.5, 2.4), w), Sector(r.in(70, 300)))
}

func sCurve(r *dice, w float64) Field {
	q := r.in(0.8, 1.2)
	half := All(Annulus(q, w), Sector(180))
	return Any(half.Moved(0, q), half.Turned(180).Moved(0, -q))
}

func slantedCross(r *dice, w float64) Field { return Any(Box(w, 4), Box(w, 4).Turned(r.in(50, 80))) }

func tJoin(_ *dice, w float64) Field { return Any(Box(4, w), Box(w, 2).Moved(0, 1)) }

func threeArms(r *dice, w float64) Field {
	arm := Box(2, w).Moved(1, 0)
	return Any(arm, arm.Turned(r.in(100, 130)), arm.Turned(-r.in(100, 130)))
}

func bend(r *dice, w float64) Field {
	arm := Box(2.4, w).Moved(1.2-w/2, 0)
	return Any(arm, arm.Turned(r.in(60, 140)))
}

// slanted is a line whose ends are cut off at an angle of deg to its sides.
func slanted(w, length, deg float64) Field {
	x, y, cut := w/2, length/2, w/2/math.Tan(deg*math.Pi/180)
	return Corners([2]float64{-x, -y - cut}, [2]float64{x, -y + cut}, [2]float64{x, y + cut}, [2]float64{-x, y - cut})
}

// twoBlocks lie w apart.
func twoBlocks(w float64) Field {
	return Any(Box(1.5, 4).Moved(-0.75-w/2, 0), Box(1.5, 4).Moved(0.75+w/2, 0))
}

// neck is a block with a round bite from either side that leave w between them.
func neck(r *dice, w float64) Field {
	q := r.in(0.8, 1.5)
	return Except(Box(3, 4.4), Any(Circle(2*q).Moved(q+w/2, 0), Circle(2*q).Moved(-q-w/2, 0)))
}

var thinMakers = []maker{
	{"line", func(r *dice) cell { w := r.thin(); return thinLine(Box(w, r.in(3, 5)), w) }},
	{"short line", func(r *dice) cell { w := r.thin(); return thinLine(Box(w, r.in(2, 2.6)), w) }},
	{"slanted ends", func(r *dice) cell { w := r.thin(); return thinLine(slanted(w, r.in(3, 5), r.in(20, 75)), w) }},
	{"ring", func(r *dice) cell { w := r.thin(); return thinLine(Annulus(r.in(1.2, 2.2), w), w) }},
	{"arc", func(r *dice) cell { w := r.thin(); return thinLine(arc(r, w), w) }},
	{"s-curve", func(r *dice) cell { w := r.thin(); return thinLine(sCurve(r, w), w) }},
	{"cross", func(r *dice) cell { w := r.thin(); return thinLine(Any(Box(w, 4), Box(4, w)), w) }},
	{"slanted cross", func(r *dice) cell { w := r.thin(); return thinLine(slantedCross(r, w), w) }},
	{"t-join", func(r *dice) cell { w := r.thin(); return thinLine(tJoin(r, w), w) }},
	{"three arms", func(r *dice) cell { w := r.thin(); return thinLine(threeArms(r, w), w) }},
	{"bend", func(r *dice) cell { w := r.thin(); return thinLine(bend(r, w), w) }},
	{"whisker", func(r *dice) cell {
		w := r.thin()
		return thinLine(Any(Box(2, 2), Box(w, 2.4).Moved(r.in(-0.6, 0.6), 1.2)), w)
	}},
	{"bridge", func(r *dice) cell {
		w := r.thin()
		return thinLine(Any(Box(1.5, 1.5).Moved(0, 1.75), Box(1.5, 1.5).Moved(0, -1.75), Box(w, 3)), w)
	}},
	{"neck", func(r *dice) cell { w := r.thin(); return thinLine(neck(r, w), w) }},
	{"gap", func(r *dice) cell { w := r.thin(); return thinGap(twoBlocks(w), w) }},
	{"slot", func(r *dice) cell {
		w := r.thin()
		return thinGap(Except(Box(3, 3), Box(w, 4).Moved(r.in(-0.6, 0.6), r.in(1.5, 2.4))), w)
	}},
	{"closed slot", func(r *dice) cell { w := r.thin(); return thinGap(Except(Box(3, 4.5), Box(w, r.in(2, 3))), w) }},
	{"ring gap", func(r *dice) cell { w := r.thin(); return thinGap(Except(Circle(4.4), Annulus(r.in(1, 1.4), w)), w) }},
	{"gap cross", func(r *dice) cell { w := r.thin(); return thinGap(Except(Box(4, 4), Any(Box(w, 6), Box(6, w))), w) }},
}

// sideOf is the side of the square that has the area of a disc.
func sideOf(diameter float64) float64 { return diameter * math.Sqrt(math.Pi) / 2 }

var spotMakers = []maker{
	{"dot", func(r *dice) cell {
		d := r.in(0.12, dotLimit-clearMM)
		return cell{shape: Circle(d), want: dot, width: d}
	}},
	{"square dot", func(r *dice) cell {
		d := r.in(0.12, dotLimit-clearMM)
		return cell{shape: Box(sideOf(d), sideOf(d)), want: dot, width: d}
	}},
	{"hole", func(r *dice) cell {
		d := r.in(0.12, holeLimit-clearMM)
		return cell{shape: Except(Box(3, 3), Circle(d)), want: hole, width: d}
	}},
	{"hole in a disc", func(r *dice) cell {
		d := r.in(0.12, holeLimit-clearMM)
		return cell{shape: Except(Circle(3), Circle(d).Moved(r.in(0, 0.6), 0)), want: hole, width: d}
	}},
}

// widening is a trapezoid along y whose width grows from one value at -length/2, which may be 0, to another at length/2.
func widening(from, to, length float64) Field {
	y := length / 2
	if from == 0 {
		return Corners([2]float64{0, -y}, [2]float64{to / 2, y}, [2]float64{-to / 2, y})
	}
	return Corners([2]float64{-from / 2, -y}, [2]float64{from / 2, -y}, [2]float64{to / 2, y}, [2]float64{-to / 2, y})
}

// reaches is where along y a widening shape is as wide as the limit.
func reaches(limit, from, to, length float64) float64 {
	return -length/2 + length*(limit-from)/(to-from)
}

func taper(want string, limit, from, to, length float64) cell {
	shape := widening(from, to, length)
	if want == gap {
		shape = Except(Box(4, length), shape)
	}
	return cell{shape: shape, want: want, sideMM: 11, endsAt: reaches(limit, from, to, length), slope: (to - from) / length}
}

// tapering gives the length over which a shape widens by dw at an angle in degrees.
func tapering(deg, dw float64) float64 { return dw / (2 * math.Tan(deg/2*math.Pi/180)) }

var taperMakers = []maker{
	{"needle", func(r *dice) cell {
		to := r.in(0.6, 0.7)
		return taper(line, lineLimit, 0, to, tapering(r.in(5, 9), to))
	}},
	{"taper", func(r *dice) cell {
		from, to := r.in(0.1, 0.25), r.in(0.5, 0.6)
		return taper(line, lineLimit, from, to, tapering(r.in(4, 8), to-from))
	}},
	{"widening gap", func(r *dice) cell {
		from, to := r.in(0.1, 0.25), r.in(0.5, 0.6)
		return taper(gap, gapLimit, from, to, tapering(r.in(4, 8), to-from))
	}},
}

// tip is a triangle with an apex of deg at (0, -height/2).
func tip(deg, height float64) Field {
	return widening(0, 2*height*math.Tan(deg/2*math.Pi/180), height)
}

// pointed is a star whose points have an angle of deg.
func pointed(points int, outer, deg float64) Field {
	turn := math.Pi / float64(points)
	half := deg / 2 * math.Pi / 180
	inner := outer * math.Sin(half) / math.Sin(half+turn)
	corners := make([][2]float64, 2*points)
	for i := range corners {
		q := outer
		if i%2 == 1 {
			q = inner
		}
		s, c := math.Sincos(turn * float64(i))
		corners[i] = [2]float64{q * s, -q * c}
	}
	return Corners(corners...)
}

func serifs(r *dice) Field {
	stem, slab, over := r.in(0.5, 0.9), r.safe(), r.in(0.3, 0.6)
	foot := Box(stem+2*over, slab)
	return Any(Box(stem, 4), foot.Moved(0, 2-slab/2), foot.Moved(0, -2+slab/2))
}

var safeMakers = []maker{
	{"safe line", func(r *dice) cell { return solid(Box(r.safe(), r.in(2, 5))) }},
	{"safe slanted ends", func(r *dice) cell { return solid(slanted(r.safe(), r.in(2, 5), r.in(20, 75))) }},
	{"safe ring", func(r *dice) cell { return solid(Annulus(r.in(1.2, 2.2), r.safe())) }},
	{"safe arc", func(r *dice) cell { return solid(arc(r, r.safe())) }},
	{"safe s-curve", func(r *dice) cell { return solid(sCurve(r, r.in(lineLimit+clearMM, 0.7))) }},
	{"safe cross", func(r *dice) cell { return solid(slantedCross(r, r.safe())) }},
	{"safe t-join", func(r *dice) cell { return solid(tJoin(r, r.safe())) }},
	{"safe bend", func(r *dice) cell { return solid(bend(r, r.safe())) }},
	{"safe neck", func(r *dice) cell { return solid(neck(r, r.safe())) }},
	{"safe gap", func(r *dice) cell { return solid(twoBlocks(r.safe())) }},
	{"safe slot", func(r *dice) cell { return solid(Except(Box(4, 3), Box(r.safe(), 4).Moved(0, 2))) }},
	{"safe disc", func(r *dice) cell { return solid(Circle(r.in(dotLimit+clearMM, 2.5))) }},
	{"safe hole", func(r *dice) cell { return solid(Except(Box(4, 4), Circle(r.in(holeLimit+clearMM, 1.8)))) }},
	{"square hole", func(r *dice) cell {
		side := sideOf(r.in(holeLimit+clearMM, 1.8))
		return solid(Except(Box(4, 4), Box(side, side)))
	}},
	{"rectangle", func(r *dice) cell { return solid(Box(r.in(0.6, 3), r.in(0.6, 3))) }},
	{"rounded", func(r *dice) cell { return solid(Box(r.in(0.2, 2), r.in(0.2, 2)).Grown(r.in(0.25, 0.8))) }},
	{"triangle", func(r *dice) cell { return solid(tip(r.in(30, 90), r.in(2, 3))) }},
	{"pie", func(r *dice) cell { return solid(All(Circle(r.in(3, 5)), Sector(r.in(30, 90)))) }},
	{"half disc", func(r *dice) cell { return solid(All(Circle(r.in(1.5, 4)), Sector(180))) }},
	{"star", func(r *dice) cell { return solid(pointed(5+r.IntN(4), r.in(1.6, 2.4), r.in(30, 60))) }},
	{"star as a hole", func(r *dice) cell {
		return solid(Except(Box(5.5, 5.5), pointed(5+r.IntN(4), r.in(1.6, 2.4), r.in(30, 60))))
	}},
	{"notch", func(r *dice) cell {
		return solid(Except(Box(4, 4), tip(r.in(30, 90), 2).Moved(0, 1.1)))
	}},
	{"serifs", func(r *dice) cell { return solid(serifs(r)) }},
	{"touching corners", func(r *dice) cell {
		return solid(Any(Box(1.5, 1.5).Moved(-0.6, -0.6), Box(1.5, 1.5).Moved(0.6, 0.6)))
	}},
}

const (
	// manyLetters leaves out K and k, whose arms meet the stem in a point, a join thinner than any limit, and m, whose arches meet the
	// stems in about 0.046 em: 0.32 mm at 7 mm an em, which is thinner than the limit and rightly found.
	manyLetters = "ABCDEFGHJLMNOPQRSTUVWXYZabcdefghjnopqrstuvwxyz023456789"
	// stemLetters consist, for the most part of their length, of stems of one width.
	stemLetters = "lLH"
)

var letterMakers = []maker{
	{"large letter", func(r *dice) cell {
		em := r.in(7, 10)
		return cell{text: r.letters(1), emMM: em, sideMM: 2 * em}
	}},
	{"large letters", func(r *dice) cell {
		em := r.in(7, 10)
		return cell{text: r.letters(2), emMM: em, sideMM: 3 * em}
	}},
	{"small letter", func(r *dice) cell {
		text := string(stemLetters[r.IntN(len(stemLetters))])
		em := r.in(1.9, 2.8)
		return cell{text: text, emMM: em, want: line, width: em * stemOf(text), typical: true}
	}},
	{"small letters", func(r *dice) cell {
		em := r.in(1.9, 2.8)
		return cell{text: stemLetters, emMM: em, sideMM: 12, want: line, count: len(stemLetters)}
	}},
}

func (r *dice) letters(n int) string {
	out := make([]byte, n)
	for i := range out {
		out[i] = manyLetters[r.IntN(len(manyLetters))]
	}
	return string(out)
}

var makers = slices.Concat(thinMakers, spotMakers, taperMakers, safeMakers, letterMakers)

// regular is Go Regular, whose outlines tell the true widths of its stems.
var regular = func() *sfnt.Font {
	f, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		panic(err)
	}
	return f
}()

type point struct{ x, y float64 }

// outlines returns a text's closed outlines in ems on the baseline, y down, curves as short straights.
func outlines(text string, track float64) [][]point {
	var buf sfnt.Buffer
	em := fixed.I(int(regular.UnitsPerEm()))
	var out [][]point
	pen := 0.0
	for _, letter := range text {
		i, err := regular.GlyphIndex(&buf, letter)
		if err != nil || i == 0 {
			panic(fmt.Sprintf("no glyph %q: %v", letter, err))
		}
		segments, err := regular.LoadGlyph(&buf, i, em, nil)
		if err != nil {
			panic(err)
		}
		at := func(p fixed.Point26_6) point {
			return point{pen + float64(p.X)/float64(em), float64(p.Y) / float64(em)}
		}
		for _, s := range segments {
			switch s.Op {
			case sfnt.SegmentOpMoveTo:
				out = append(out, []point{at(s.Args[0])})
			case sfnt.SegmentOpLineTo:
				out[len(out)-1] = append(out[len(out)-1], at(s.Args[0]))
			case sfnt.SegmentOpQuadTo:
				out[len(out)-1] = appendQuad(out[len(out)-1], at(s.Args[0]), at(s.Args[1]))
			default:
				panic("a TrueType font has no cubic curves")
			}
		}
		advance, err := regular.GlyphAdvance(&buf, i, em, 0)
		if err != nil {
			panic(err)
		}
		pen += float64(advance)/float64(em) + track
	}
	return out
}

func appendQuad(to []point, b, c point) []point {
	const steps = 16
	a := to[len(to)-1]
	for i := 1; i <= steps; i++ {
		t := float64(i) / steps
		u := 1 - t
		to = append(to, point{u*u*a.x + 2*u*t*b.x + t*t*c.x, u*u*a.y + 2*u*t*b.y + t*t*c.y})
	}
	return to
}

// stemOf is the width in ems of a letter's first stem, cut halfway up its capitals.
func stemOf(letter string) float64 {
	const half = -0.3
	var cuts []float64
	for _, con := range outlines(letter, 0) {
		for i, p := range con {
			if q := con[(i+1)%len(con)]; (p.y > half) != (q.y > half) {
				cuts = append(cuts, p.x+(q.x-p.x)*(half-p.y)/(q.y-p.y))
			}
		}
	}
	slices.Sort(cuts)
	return cuts[1] - cuts[0]
}

// placing turns a cell and moves its origin into a picture; (x, y) and side are pixels, perMM pixels a millimetre.
type placing struct {
	side              int
	perMM, x, y, turn float64
}

func (p placing) draw(c cell) *image.Gray {
	if c.text == "" {
		return Cover(p.side, p.side, p.perMM, c.shape.Turned(p.turn).Moved(p.x/p.perMM, p.y/p.perMM))
	}
	contours := outlines(c.text, 0.3)
	low, high := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, con := range contours {
		for _, q := range con {
			low, high = point{min(low.x, q.x), min(low.y, q.y)}, point{max(high.x, q.x), max(high.y, q.y)}
		}
	}
	z := vector.NewRasterizer(p.side, p.side)
	sin, cos := math.Sincos(p.turn * math.Pi / 180)
	k := c.emMM * p.perMM
	for _, con := range contours {
		for i, q := range con {
			x, y := (q.x-(low.x+high.x)/2)*k, (q.y-(low.y+high.y)/2)*k
			if px, py := float32(p.x+x*cos-y*sin), float32(p.y+x*sin+y*cos); i == 0 {
				z.MoveTo(px, py)
			} else {
				z.LineTo(px, py)
			}
		}
		z.ClosePath()
	}
	mask := image.NewAlpha(image.Rect(0, 0, p.side, p.side))
	z.Draw(mask, mask.Rect, image.Opaque, image.Point{})
	return &image.Gray{Pix: mask.Pix, Stride: mask.Stride, Rect: mask.Rect}
}

// along is where the end of a feature lies on the y axis of the shape before it was turned, in millimetres.
func (p placing) along(f raster.Feature) float64 {
	sin, cos := math.Sincos(p.turn * math.Pi / 180)
	end := math.Inf(-1)
	for _, r := range f.Runs {
		for x := r.X0; x < r.X1; x++ {
			dx, dy := float64(x)+0.5-p.x, float64(r.Y)+0.5-p.y
			end = max(end, (dy*cos-dx*sin)/p.perMM)
		}
	}
	return end
}

// finding is a feature or a spot, as a report would hold it.
type finding struct {
	kind    string
	width   float64 // pixels
	typical float64
	feature raster.Feature
}

// judge looks for everything at once, as a check of artwork does.
func judge(t *testing.T, pic *raster.Picture) []finding {
	t.Helper()
	process, err := preflight.ProcessByID("toner-white-for-black")
	if err != nil {
		t.Fatal(err)
	}
	limits, err := process.ResolveLimits(nil, "", map[string]float64{line: lineLimit, gap: gapLimit, dot: dotLimit, hole: holeLimit})
	if err != nil {
		t.Fatal(err)
	}
	job := preflight.Job{Process: process, Limits: limits, Background: preflight.BackgroundAuto}
	s, err := preflight.NewScene(preflight.Artwork{Picture: pic}, job)
	if err != nil {
		t.Fatal(err)
	}
	var out []finding
	for _, f := range slices.Concat(s.ThinLines(), s.ThinWhite()) {
		out = append(out, finding{line, f.WidthPx, f.TypicalPx, f})
	}
	for _, f := range s.ThinGaps() {
		out = append(out, finding{gap, f.WidthPx, f.TypicalPx, f})
	}
	for _, sp := range s.Pieces() {
		out = append(out, finding{kind: dot, width: sp.DiameterPx})
	}
	for _, sp := range s.Holes() {
		out = append(out, finding{kind: hole, width: sp.DiameterPx})
	}
	return out
}

// ink is a way to draw the coverage of a shape as artwork.
type ink struct {
	name  string
	paint func(g *image.Gray) *raster.Picture
	lossy bool
}

// onClear is black on a transparent ground.
var onClear = ink{"black on nothing", func(g *image.Gray) *raster.Picture {
	m := image.NewNRGBA(g.Rect)
	for i, v := range g.Pix {
		m.Pix[4*i+3] = v
	}
	return &raster.Picture{Pix: m, HasAlpha: true}
}, false}

// inks are the other ways, each judged like the first.
var inks = []ink{
	{"black on white", opaque(color.NRGBA{A: 255}, color.NRGBA{255, 255, 255, 255}), false},
	{"red on white", opaque(color.NRGBA{200, 20, 30, 255}, color.NRGBA{255, 255, 255, 255}), false},
	{"black on cream", opaque(color.NRGBA{A: 255}, color.NRGBA{255, 240, 205, 255}), false},
	{"fade on nothing", fade, false},
	{"JPEG, quality 95", jpegOf(95), true},
	{"JPEG, quality 75", jpegOf(75), true},
	{"JPEG, quality 60", jpegOf(60), true},
}

func opaque(top, ground color.NRGBA) func(g *image.Gray) *raster.Picture {
	return func(g *image.Gray) *raster.Picture {
		m := image.NewNRGBA(g.Rect)
		for i, v := range g.Pix {
			mix := func(t, u uint8) uint8 { return uint8((int(t)*int(v) + int(u)*(255-int(v)) + 127) / 255) }
			copy(m.Pix[4*i:], []uint8{mix(top.R, ground.R), mix(top.G, ground.G), mix(top.B, ground.B), 255})
		}
		return &raster.Picture{Pix: m}
	}
}

// fade is black at the left that fades to a lighter grey at the right.
func fade(g *image.Gray) *raster.Picture {
	pic := onClear.paint(g)
	for i := range g.Pix {
		grey := uint8(80 * (i % g.Stride) / g.Stride)
		copy(pic.Pix.Pix[4*i:4*i+3], []uint8{grey, grey, grey})
	}
	return pic
}

func jpegOf(quality int) func(g *image.Gray) *raster.Picture {
	return func(g *image.Gray) *raster.Picture {
		pic := opaque(color.NRGBA{A: 255}, color.NRGBA{255, 255, 255, 255})(g)
		var buf bytes.Buffer
		if err := jpeg.Encode(&buf, pic.Pix, &jpeg.Options{Quality: quality}); err != nil {
			panic(err)
		}
		m, err := jpeg.Decode(&buf)
		if err != nil {
			panic(err)
		}
		draw.Draw(pic.Pix, pic.Pix.Rect, m, image.Point{}, draw.Src)
		pic.Lossy = true
		return pic
	}
}

// tally is one row of the table.
type tally struct {
	ink                               string
	ppi                               float64
	cells, right                      int
	solids, flagged, repeated, widths int
	squares, worst                    float64
	tapers                            int
	ends                              float64 // squares of how far off tapers end, in millimetres
	failures                          map[string][]string
}

func (a *tally) rms() float64 { return math.Sqrt(a.squares / float64(max(1, a.widths))) }

// add judges a cell by what was found of it.
func (a *tally) add(number int, kind string, c cell, p placing, found []finding) {
	a.cells++
	if c.want == nothing {
		a.solids++
		a.flagged += min(1, len(found))
	} else if len(found) > c.features() {
		a.repeated++
	}
	wrong := len(found) != c.features()
	for _, f := range found {
		wrong = wrong || f.kind != c.want
	}
	note := ""
	if !wrong && c.slope > 0 {
		off := p.along(found[0].feature) - c.endsAt
		wrong = math.Abs(off)*c.slope > clearMM
		note = fmt.Sprintf(" ends %.2f mm off", off)
		a.tapers++
		a.ends += off * off
	}
	if !wrong && c.width > 0 {
		a.measure(number, kind, c, p, found[0])
	}
	if !wrong {
		a.right++
		return
	}
	for _, f := range found {
		note += fmt.Sprintf(" %s %.2f", f.kind, f.width)
	}
	a.fail(kind, fmt.Sprintf("#%d %s%.2f px:%s", number, c.text, c.width*p.perMM, note))
}

func (a *tally) measure(number int, kind string, c cell, p placing, f finding) {
	got := f.width
	if c.typical {
		got = f.typical
	}
	off := got - c.width*p.perMM
	a.widths++
	a.squares += off * off
	a.worst = max(a.worst, math.Abs(off))
	if math.Abs(off) > 0.25 {
		a.fail(kind+", width", fmt.Sprintf("#%d %.2f px is %.2f", number, c.width*p.perMM, got))
	}
}

func (a *tally) fail(kind, what string) { a.failures[kind] = append(a.failures[kind], what) }

// accuracySeed is a seed that no other test uses. Tune the code on others, given by ACCURACY_SEED.
const accuracySeed = 7411

// number reads an environment variable that holds a whole number.
func number(t *testing.T, name string, unset, least int) int {
	t.Helper()
	text := os.Getenv(name)
	if text == "" {
		return unset
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < least {
		t.Fatalf("%s: %q is no whole number from %d up", name, text, least)
	}
	return n
}

// accuracyOf judges n cells, as many of each kind. Cell i is the same in every run, whatever n is.
func accuracyOf(t *testing.T, how ink, ppi float64, n int) *tally {
	t.Helper()
	a := &tally{ink: how.name, ppi: ppi, failures: map[string][]string{}}
	seed := uint64(number(t, "ACCURACY_SEED", accuracySeed, 0))
	for i := range n {
		rng := &dice{rand.New(rand.NewPCG(seed+uint64(ppi), uint64(i)))}
		m := makers[i%len(makers)]
		c := m.make(rng)
		p := placing{perMM: ppi / 25.4, turn: rng.in(0, 360)}
		if c.sideMM == 0 {
			c.sideMM = 7
		}
		p.side = int(c.sideMM * p.perMM)
		p.x, p.y = float64(p.side)/2+rng.Float64(), float64(p.side)/2+rng.Float64()
		pic := how.paint(p.draw(c))
		pic.PPIX, pic.PPIY, pic.PPIFrom = ppi, ppi, "pHYs"
		a.add(i, m.kind, c, p, judge(t, pic))
	}
	return a
}

const tableHead = `
| drawn as | ppi | cells | right | solid wrongly flagged | more than once | width error, rms | worst | tapers' ends, rms |
| --- | --- | --- | --- | --- | --- | --- | --- | --- |
`

func (a *tally) row() string {
	return fmt.Sprintf("| %s | %.0f | %d | %d | %d of %d | %d | %.3f px of %d | %.2f px | %.2f mm of %d |\n",
		a.ink, a.ppi, a.cells, a.right, a.flagged, a.solids, a.repeated, a.rms(), a.widths, a.worst,
		math.Sqrt(a.ends/float64(max(1, a.tapers))), a.tapers)
}

// reasons lists what went wrong by kind of cell, a few of each.
func (a *tally) reasons() string {
	const most = 6
	var out strings.Builder
	for _, m := range makers {
		for _, kind := range []string{m.kind, m.kind + ", width"} {
			if list := a.failures[kind]; len(list) > 0 {
				some := strings.Join(list[:min(len(list), most)], "; ")
				fmt.Fprintf(&out, "%s, %.0f ppi, %s, %d: %s\n", a.ink, a.ppi, kind, len(list), some)
			}
		}
	}
	return out.String()
}

// demand fails the test where fewer cells are right, or widths are farther off, than is accepted today.
func (a *tally) demand(t *testing.T, leastRight, mostRMS float64) {
	t.Helper()
	if float64(a.right) < leastRight*float64(a.cells) || a.rms() > mostRMS {
		t.Errorf("%s, %.0f ppi: %d of %d right, want %.0f %%; widths are off by %.3f px rms, want %.2f",
			a.ink, a.ppi, a.right, a.cells, 100*leastRight, a.rms(), mostRMS)
	}
}

// TestAccuracy prints how well features of known size are found and measured. ACCURACY is the number of cells a resolution.
// The goal is all cells right and 0.10 px rms; the test fails where one cell in 200 is wrong or widths are farther off than 0.05 px.
func TestAccuracy(t *testing.T) {
	n := number(t, "ACCURACY", 4*len(makers), len(makers))
	table, reasons := tableHead, ""
	for _, ppi := range []float64{150, 300, 600} {
		a := accuracyOf(t, onClear, ppi, n)
		table, reasons = table+a.row(), reasons+a.reasons()
		a.demand(t, 0.995, 0.05)
	}
	t.Logf("%s\n%s", table, reasons)
}

// TestAccuracyOfInks prints the same for artwork drawn in other ways, on a quarter of the cells. The goal is the same; the test
// fails below what is accepted today: 97 % and 0.10 px; after lossy compression 0.12 px, and 95 % at 150 pixels an inch.
func TestAccuracyOfInks(t *testing.T) {
	n := max(len(makers), number(t, "ACCURACY", 4*len(makers), len(makers))/4)
	table, reasons := tableHead, ""
	for _, how := range inks {
		for _, ppi := range []float64{150, 300, 600} {
			a := accuracyOf(t, how, ppi, n)
			table, reasons = table+a.row(), reasons+a.reasons()
			right, rms := 0.97, 0.1
			if how.lossy {
				rms = 0.12
			}
			if how.lossy && ppi == 150 {
				right = 0.95
			}
			a.demand(t, right, rms)
		}
	}
	t.Logf("%s\n%s", table, reasons)
}
