package raster

import (
	"image"
	"math"
)

// window is a piece of coverage held in memory, sampled between pixel centres.
type window struct {
	r     image.Rectangle
	w     int
	pix   []uint8
	gap   bool
	mask  *Bitmap
	reach float64
}

// load reads the coverage of r; what lies beyond the picture has none.
func (w *window) load(q ThinQuery, r image.Rectangle) {
	w.r, w.w, w.gap, w.mask, w.reach = r, r.Dx(), q.Gap, q.Mask, q.LimitPx+2.5
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

// at returns the coverage, 0 to 1, at a point between pixel centres by bilinear interpolation; ok is false beyond the window.
func (w *window) at(x, y float64) (float64, bool) {
	x, y = x-0.5-float64(w.r.Min.X), y-0.5-float64(w.r.Min.Y)
	if x < 0 || y < 0 {
		return 0, false
	}
	ix, iy := int(x), int(y)
	if ix+1 >= w.w || (iy+2)*w.w > len(w.pix) {
		return 0, false
	}
	fx, fy := x-float64(ix), y-float64(iy)
	i := iy*w.w + ix
	top := float64(w.pix[i])*(1-fx) + float64(w.pix[i+1])*fx
	low := float64(w.pix[i+w.w])*(1-fx) + float64(w.pix[i+w.w+1])*fx
	return (top*(1-fy) + low*fy) / 255, true
}

const (
	directions = 16
	stepPx     = 0.5
	// nothing is the coverage under which a ray has left the shape; two levels in 255 of rendering noise stay under it.
	nothing = 0.02
	full    = 0.97
)

var rayX, rayY [2 * directions]float64

func init() {
	for i := range rayX {
		a := math.Pi * float64(i) / directions
		rayX[i], rayY[i] = math.Cos(a), math.Sin(a)
	}
}

// chord is a cut across a shape through one point.
type chord struct {
	width      float64
	midX, midY float64
	ax, ay     float64 // where the cut has left the shape, to either side
	bx, by     float64
	inscribed  float64 // radius of the disc round the point that stays inside the shape
}

// onRidge reports whether the point is near the middle of the shape and the cut goes straight across it. For a corner of angle
// a the ratio is cos(a/2); cuts across the square end of a bar give 0.71.
func (c chord) onRidge() bool { return c.width < 2.5 || 2*c.inscribed >= 0.8*c.width }

func (c chord) endA() image.Point { return image.Pt(int(math.Floor(c.ax)), int(math.Floor(c.ay))) }
func (c chord) endB() image.Point { return image.Pt(int(math.Floor(c.bx)), int(math.Floor(c.by))) }

// ray is one side of a cut: integral of the shape's coverage, the way to where it has left the shape, and the peak on it.
type ray struct {
	sum, way, peak float64
	closed         bool
}

// shortestChord returns the shortest cut through a point. ok is false where no cut leaves the shape within reach on both sides.
func (w *window) shortestChord(x, y float64) (chord, bool) {
	var rays [2 * directions]ray
	for i := range rays {
		if w.gap {
			rays[i] = w.gapRay(x, y, rayX[i], rayY[i])
		} else {
			rays[i] = w.inkRay(x, y, rayX[i], rayY[i])
		}
	}
	best, bestWidth, inscribed := -1, math.Inf(1), math.Inf(1)
	for i := range directions {
		a, b := rays[i], rays[i+directions]
		if a.closed {
			inscribed = min(inscribed, a.sum)
		}
		if b.closed {
			inscribed = min(inscribed, b.sum)
		}
		if !a.closed || !b.closed {
			continue
		}
		if width := width(a, b, w.gap); width < bestWidth {
			best, bestWidth = i, width
		}
	}
	if best < 0 {
		return chord{}, false
	}
	a, b := rays[best], rays[best+directions]
	mid := (a.way - b.way) / 2
	return chord{
		width: bestWidth, inscribed: inscribed,
		midX: x + mid*rayX[best], midY: y + mid*rayY[best],
		ax: x + (a.way+0.5)*rayX[best], ay: y + (a.way+0.5)*rayY[best],
		bx: x - (b.way+0.5)*rayX[best], by: y - (b.way+0.5)*rayY[best],
	}, true
}

// width is the cut's length: coverage integrated across, against the solid level reached on it. A cut too narrow to reach its
// own solid level is taken to be of full strength, which never makes a line look wider than it is.
func width(a, b ray, gap bool) float64 {
	sum := a.sum + b.sum
	peak := max(a.peak, b.peak)
	if gap || sum < 2*peak || peak >= full {
		return sum
	}
	return sum / peak
}

func (w *window) inkRay(x, y, dx, dy float64) ray {
	var r ray
	low := 1.0
	for t := stepPx / 2; t < w.reach; t += stepPx {
		c, ok := w.at(x+t*dx, y+t*dy)
		if !ok || c < nothing || c > low+0.08 && low < 0.5*r.peak {
			r.closed, r.way = true, t-stepPx/2
			return r
		}
		r.sum += c * stepPx
		r.peak = max(r.peak, c)
		low = min(low, c)
	}
	return r
}

// gapRay walks from inside a gap into what lies beside it, on to where that is full or no longer rises.
func (w *window) gapRay(x, y, dx, dy float64) ray {
	var r ray
	var sum, last float64
	entered := false
	for t := stepPx / 2; t < w.reach+1; t += stepPx {
		px, py := x+t*dx, y+t*dy
		c, ok := w.at(px, py)
		if !ok {
			return r
		}
		entered = entered || w.solid(px, py)
		if c >= full || entered && c <= last {
			r.closed, r.way = true, t-stepPx/2
			r.sum = max(0, r.way-sum/max(c, last))
			return r
		}
		sum += c * stepPx
		last = c
	}
	return r
}

// solid reports whether the pixel at a point lies in what is beside the gap; beyond the picture all is gap.
func (w *window) solid(x, y float64) bool {
	p := image.Pt(int(math.Floor(x)), int(math.Floor(y)))
	return p.In(image.Rect(0, 0, w.mask.W, w.mask.H)) && !w.mask.At(p.X, p.Y)
}
