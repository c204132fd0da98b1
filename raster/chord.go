package raster

import (
	"encoding/binary"
	"image"
	"math"
	"slices"
)

// window is a piece of coverage held in memory, sampled between pixel centres.
type window struct {
	r     image.Rectangle
	w     int
	pix   []uint8
	gap   bool
	mask  *Bitmap
	tint  func(p image.Point) uint8
	steps int // of a ray at most
}

// rayLength is how many steps a ray has at most; into a gap there are gapSteps more.
func rayLength(limitPx float64) int { return int((limitPx + reachPx) / stepPx) }

// load reads the coverage of r; what lies beyond the picture has none.
func (w *window) load(q ThinQuery, r image.Rectangle) {
	w.r, w.w, w.gap, w.mask, w.tint, w.steps = r, r.Dx(), q.Gap, q.Mask, q.Tint, rayLength(q.LimitPx)
	n := r.Dx() * r.Dy()
	if cap(w.pix) < n {
		w.pix = make([]uint8, n)
	}
	w.pix = w.pix[:n]
	in := r.Intersect(image.Rect(0, 0, q.Mask.W, q.Mask.H))
	if in == r {
		q.Coverage(w.pix, r)
		return
	}
	clear(w.pix)
	part := make([]uint8, in.Dx()*in.Dy())
	q.Coverage(part, in)
	for y := in.Min.Y; y < in.Max.Y; y++ {
		copy(w.pix[(y-r.Min.Y)*w.w+in.Min.X-r.Min.X:], part[(y-in.Min.Y)*in.Dx():(y-in.Min.Y+1)*in.Dx()])
	}
}

// shape returns how much of a pixel belongs to what is measured: the shape, or the gap.
func (w *window) shape(x, y int) int {
	v := int(w.pix[(y-w.r.Min.Y)*w.w+x-w.r.Min.X])
	if w.gap {
		return 255 - v
	}
	return v
}

// uphill returns the pixel with the most of the shape among a pixel and its neighbours: one step leads from an edge of
// partial coverage onto the ridge of a line however thin, or to where it is full.
func (w *window) uphill(p image.Point) image.Point {
	best, at := w.shape(p.X, p.Y), p
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			q := p.Add(image.Pt(dx, dy))
			if !q.In(w.r) {
				continue
			}
			if v := w.shape(q.X, q.Y); v > best {
				best, at = v, q
			}
		}
	}
	return at
}

// Points between pixels are held in 1/65536 pixel, coverage there in 1/256 of a level.
const (
	one       = 1 << 16
	fullCover = 255 << 8
)

// mix returns the coverage, 0 to fullCover, at a point by bilinear interpolation between two pixels of a row, as they lie in memory, and
// the two below them. It is as short as it must be for the compiler to put it into the loops along rays.
func mix(top, low uint16, x, y int) int {
	const each = 0xff | 0xff<<32
	four, fx, fy := uint64(top)|uint64(low)<<32, uint64(x>>8&255), y>>8&255
	both := four&each*(256-fx) + four>>8&each*fx // one row in each half
	t, l := int(both&math.MaxUint32), int(both>>32)
	return t + (l-t)*fy>>8
}

const (
	// reachPx is how much longer than the limit a cut may be.
	reachPx    = 2.5
	directions = 16
	stepPx     = 0.5
	// nothing is the coverage under which a ray has left the shape; rendering noise of a few levels in 255 stays under it.
	nothing = fullCover / 50
	full    = fullCover * 97 / 100
	// endless is more than any ray's sum.
	endless = 1 << 40
	// sharpPx is the width from which coverage tells the middle of a cut better than where it is left does.
	sharpPx = 2
	// narrowPx is the width of a gap under which a place a pixel off its middle is no longer in it.
	narrowPx = 1.4
)

// rayX and rayY are steps of stepPx in all directions, opposite ones directions apart.
var rayX, rayY [2 * directions]int

func init() {
	for i := range rayX {
		s, c := math.Sincos(math.Pi * float64(i) / directions)
		rayX[i], rayY[i] = int(math.Round(c*stepPx*one)), int(math.Round(s*stepPx*one))
	}
}

// unit is the direction of a ray, of length 1.
func unit(direction int) (x, y float64) {
	return float64(rayX[direction]) / (stepPx * one), float64(rayY[direction]) / (stepPx * one)
}

// chord is a cut across a shape through one point.
type chord struct {
	width      float64
	midX, midY float64
	dir        int     // of the cut
	half       float64 // of the way along it to where it leaves the shape
	inscribed  float64 // radius of the disc round the point that stays inside the shape
	tint       float64 // that lengths were taken against
}

// ridgeShare is how much of a cut the disc round its point must be for the cut to go straight across a ridge.
const ridgeShare = 0.8

// onRidge reports whether the point is near the middle of the shape and the cut goes straight across it. For a corner of angle
// a the ratio is cos(a/2); cuts across the square end of a bar give 0.71. Half a pixel is left to shapes too small to tell.
func (c *chord) onRidge() bool {
	spare := 0.0
	if c.width < 2.5 {
		spare = 0.5
	}
	return 2*c.inscribed+spare >= ridgeShare*c.width
}

// appendPath appends the pixels along a cut through a point, as far as reach to both sides.
func appendPath(to []image.Point, x, y float64, dir int, reach float64) []image.Point {
	ux, uy := unit(dir)
	n := int(2*reach/0.7) + 1
	step := 2 * reach / float64(n)
	to = slices.Grow(to, n+1)[:len(to)+n+1]
	part := to[len(to)-n-1:]
	for i := range part {
		t := float64(i)*step - reach
		part[i] = pixelAt(x+t*ux, y+t*uy)
	}
	return to
}

// ray is one side of a cut: the integral of what is measured, in fullCover steps of stepPx; how many steps lead to where it ends; the
// most coverage on it and, for gaps, the least. A ray that is not closed gave up.
type ray struct {
	sum, steps, peak, low int
	edge                  int // how many steps lead to just within what lies beside a gap
	closed                bool
}

// sumPx is the width in pixels that a ray's sum of 1 stands for.
const sumPx = stepPx / fullCover

// dips reports whether coverage falls between both sides of a gap; a step from a strong tint to a lighter one is none.
func dips(a, b *ray) bool { return 20*min(a.low, b.low) < 17*min(a.peak, b.peak) }

// unlike reports whether what lies to both sides of a gap prints differently.
func unlike(a, b *ray) bool { return 20*min(a.peak, b.peak) < 19*max(a.peak, b.peak) }

// holds reports whether a point is at least so far within the window.
func (w *window) holds(x, y, within float64) bool {
	return x-within > float64(w.r.Min.X) && y-within > float64(w.r.Min.Y) && x+within < float64(w.r.Max.X) && y+within < float64(w.r.Max.Y)
}

// fixed turns a point into the window's own units.
func (w *window) fixed(x, y float64) (int, int) {
	return int((x - 0.5 - float64(w.r.Min.X)) * one), int((y - 0.5 - float64(w.r.Min.Y)) * one)
}

// shortestChord returns the shortest cut through a pixel's middle, trying every direction or every other one, without the inscribed disc. ok is
// false where no cut leaves the shape within reach on both sides. Directions that see tells to lead to no gap are left out, if it is not nil.
func (w *window) shortestChord(to *chord, at image.Point, every int, see *sight) (ok bool) {
	return w.chordAmong(to, float64(at.X)+0.5, float64(at.Y)+0.5, cuts{0, directions, every, false, see, at})
}

// chordFrom returns the shortest cut through a point, begun at a likely direction, so that most others need not be followed to their ends.
func (w *window) chordFrom(to *chord, x, y float64, likely int) (ok bool) {
	return w.chordAmong(to, x, y, cuts{likely, likely + directions, 1, true, nil, image.Point{}})
}

// chordNear returns the shortest of the cuts through a point whose directions are up to so many turns from a given one, without the inscribed disc.
func (w *window) chordNear(to *chord, x, y float64, dir, turns int) (ok bool) {
	return w.chordAmong(to, x, y, cuts{dir + directions - turns, dir + directions + turns + 1, 1, false, nil, image.Point{}})
}

// cuts are which directions are tried, whether the inscribed disc is wanted, and what tells of directions that cannot do.
type cuts struct {
	from, to, every int
	disc            bool
	see             *sight
	at              image.Point // the pixel that see looks from
}

// chordAmong returns the shortest of some cuts. Along a ray it goes as far as it must to tell that the cut is not the shortest and, if the
// inscribed disc is wanted, that the ray is not either. Rays stay where they were written: reading them at once to copy them would have to wait.
func (w *window) chordAmong(c *chord, x, y float64, s cuts) (ok bool) {
	px, py := w.fixed(x, y)
	disc := s.disc
	best, shortest, inscribed := -1, endless, 0
	if disc {
		inscribed = endless
	}
	var rays [2][2]ray
	spare := 0 // the pair that the next cut has; the other is that of the best one
	for d := s.from; d < s.to; d += s.every {
		i := d % directions
		if s.see != nil && !s.see.across(w, s.at, i) {
			continue
		}
		a, b := &rays[spare][0], &rays[spare][1]
		w.cast(a, px, py, i, max(shortest, inscribed))
		if disc && a.closed {
			inscribed = min(inscribed, a.sum)
		}
		if !disc && !a.closed {
			continue
		}
		w.cast(b, px, py, i+directions, max(shortest-a.sum, inscribed))
		if disc && b.closed {
			inscribed = min(inscribed, b.sum)
		}
		if !a.closed || !b.closed {
			continue
		}
		if sum := a.sum + b.sum; (sum < shortest || sum == shortest && i < best) && (!w.gap || dips(a, b)) {
			best, shortest, spare = i, sum, 1-spare
		}
	}
	if best < 0 {
		return false
	}
	bestA, bestB := &rays[1-spare][0], &rays[1-spare][1]
	c.width, c.inscribed, c.tint, c.dir = float64(shortest)*sumPx, float64(inscribed)*sumPx, 1, best
	c.half = float64(bestA.steps+bestB.steps) * stepPx / 2
	ux, uy := unit(best)
	mid := float64(bestA.steps-bestB.steps) * stepPx / 2
	peak := max(bestA.peak, bestB.peak)
	if !w.gap && c.width >= sharpPx {
		mid = float64(bestA.sum-bestB.sum) * stepPx / float64(2*peak)
	}
	if w.gap && c.width < narrowPx && unlike(bestA, bestB) { // one ray went deep into a tint to learn its level
		mid = float64(bestA.edge-bestB.edge) * stepPx / 2
	}
	c.midX, c.midY = x+mid*ux, y+mid*uy
	if !w.gap && peak < full {
		w.level(c, px+bestA.steps*rayX[best], py+bestA.steps*rayY[best], bestA.steps+bestB.steps)
	}
	return true
}

// turned is the direction across a cut that is nearer to a heading.
func turned(cut, heading int) int {
	a := (cut + directions/2) % (2 * directions)
	if d := (a - heading + 2*directions) % (2 * directions); d > directions/2 && d < 3*directions/2 {
		a = (a + directions) % (2 * directions)
	}
	return a
}

// ahead returns how much of the shape is left in a direction, and whether that is so little that the shape ends there.
func (w *window) ahead(c *chord, heading int) (left float64, ends bool) {
	px, py := w.fixed(c.midX, c.midY)
	enough := int(c.width / sumPx)
	if !w.gap {
		enough = int(ridgeShare / 2 * c.width * c.tint / sumPx)
	}
	var a ray
	w.cast(&a, px, py, heading, enough)
	c.inscribed = float64(a.sum) * sumPx / c.tint
	return c.inscribed, a.closed && !c.onRidge()
}

// cast walks along a ray from a point.
func (w *window) cast(to *ray, x, y, direction, enough int) {
	if w.gap {
		w.gapRay(to, x, y, direction, enough)
	} else {
		w.inkRay(to, x, y, direction, enough)
	}
}

// level takes a cut's integral of coverage against the strongest pixel beside it, where the cut is so wide that this is the shape's
// own tint, or against the tint that its partly transparent pixels tell. Where neither is known the cut is taken to be of full
// strength, which never makes a line look wider than it is.
func (w *window) level(c *chord, x, y, steps int) {
	const sure, wide, veil = 0.9, 2, 3
	peak := w.peakAlong(x, y, c.dir, steps)
	if int(peak)<<8 >= full {
		return
	}
	if top := float64(peak) / 255; c.width >= veil*top {
		c.tint = top
	} else if told := w.tintAlong(x, y, c.dir, steps); c.width >= wide*top && top >= sure*told {
		c.tint = top
	} else if told > 0 {
		c.tint = max(top, told)
	}
	c.width /= c.tint
	c.inscribed /= c.tint
}

// peakAlong is the strongest pixel beside some steps against a direction, at least 1.
func (w *window) peakAlong(x, y, dir, steps int) uint8 {
	peak := uint8(1)
	for range steps {
		i := (y>>16)*w.w + x>>16
		peak = max(peak, w.pix[i], w.pix[i+1], w.pix[i+w.w], w.pix[i+w.w+1])
		x, y = x-rayX[dir], y-rayY[dir]
	}
	return peak
}

// tintAlong is the most that partly transparent pixels on some steps against a direction tell of the shape's tint, 0 to 1.
func (w *window) tintAlong(x, y, dir, steps int) float64 {
	tint := uint8(0)
	for n := 0; w.tint != nil && n < steps && tint < 255; n += 2 {
		tint = max(tint, w.tint(w.r.Min.Add(image.Pt((x+one/2)>>16, (y+one/2)>>16))))
		x, y = x-2*rayX[dir], y-2*rayY[dir]
	}
	return float64(tint) / 255
}

// inkRay walks until the shape is left: no coverage, or, after it has fallen, more again. It gives up beyond the window's reach
// or once its sum is enough to tell that it is not the shortest.
func (w *window) inkRay(to *ray, x, y, direction, enough int) {
	pix, across, steps := w.pix, w.w, w.steps
	dx, dy := rayX[direction], rayY[direction]
	low, peak, sum := fullCover, 0, 0
	x, y = x+dx/2, y+dy/2
	for n := range steps {
		four := pix[(y>>16)*across+x>>16:]
		c := mix(binary.LittleEndian.Uint16(four), binary.LittleEndian.Uint16(four[across:]), x, y)
		if c < nothing || c > low+fullCover/12 && 2*low < peak {
			to.sum, to.steps, to.peak, to.closed = sum, n, peak, true
			return
		}
		sum += c
		if sum > enough {
			break
		}
		peak, low = max(peak, c), min(low, c)
		x, y = x+dx, y+dy
	}
	to.sum, to.steps, to.peak, to.closed = sum, 0, peak, false
}

// A ray into a gap goes settleSteps deep into what lies beside it, and marginSteps beyond what would be enough.
const (
	settleSteps, marginSteps = 3, int(1 / stepPx)
	gapSteps                 = settleSteps + marginSteps
)

// gapRay walks from inside a gap until it is settleSteps steps deep in what lies beside it, or until that falls off again; the gap is what
// is missing on the way to the strongest level met there. Where the mask has something beside the gap but nothing is printed, it gives up.
func (w *window) gapRay(to *ray, x, y, direction, enough int) {
	pix, across := w.pix, w.w
	dx, dy := rayX[direction], rayY[direction]
	sum, last, level, low, inside := 0, 0, 0, fullCover, 0
	x, y = x+dx/2, y+dy/2
	for n := range w.steps + gapSteps {
		four := pix[(y>>16)*across+x>>16:]
		c := mix(binary.LittleEndian.Uint16(four), binary.LittleEndian.Uint16(four[across:]), x, y)
		if inside > 0 || w.solid(x, y) {
			inside++
			level = max(level, c)
		}
		if c >= full || inside > settleSteps || inside > 1 && c < last {
			if level = max(level, last, min(c, full)); level == 0 {
				break
			}
			edge := n
			if 32*c > 31*level { // in an even tint, not at a corner
				edge -= max(0, inside-2)
			}
			to.sum, to.steps, to.edge = max(0, n*fullCover-sum*fullCover/level), n, edge
			to.peak, to.low, to.closed = level, min(low, c), true
			return
		}
		sum += c
		low = min(low, c)
		if inside == 0 && n*fullCover-sum > enough+marginSteps*fullCover {
			break
		}
		last = c
		x, y = x+dx, y+dy
	}
	to.sum, to.closed = w.steps*fullCover, false
}

// solid reports whether the pixel at a point lies in what is beside the gap; beyond the picture all is gap.
func (w *window) solid(x, y int) bool {
	return w.beside(w.r.Min.X+(x+one/2)>>16, w.r.Min.Y+(y+one/2)>>16)
}

// solidAt is solid for a point of the picture.
func (w *window) solidAt(x, y float64) bool {
	return w.beside(int(math.Floor(x)), int(math.Floor(y)))
}

func (w *window) beside(x, y int) bool {
	m := w.mask
	return uint(x) < uint(m.W) && uint(y) < uint(m.H) && m.Words[y*m.Stride+x>>6]>>(x&63)&1 == 0
}
