package preflight

import (
	"image"
	"math"
	"slices"

	"peelcheck/raster"
)

// Spot is a small piece that stands alone, or a small hole. DiameterPx is that of the disc of the same area, measured from
// coverage.
type Spot struct {
	Box        image.Rectangle
	Count      int     // how many this stands for: 1, or a field of them, told by their number and area alone
	DiameterPx float64 // the mean of a field
	AreaPx     float64 // of all of them
	Runs       []raster.Run
}

// spotStretch is how much longer than the limit a piece may be and still be a spot rather than a line.
const spotStretch = 1.6

// A hole's deepest pixel must lack seamShare of the weakest coverage round it, a dot's strongest must exceed the strongest round
// it by as much: along an edge that two shapes share, each drawn with its own antialiasing, a quarter at worst is missing, and
// what is uneven in a fade or beside a lighter tint is less.
const seamShare = 0.3

const (
	// unevenShare is by how much what is round a hole may vary and still be one solid.
	unevenShare = 0.06
	// leastHolePx is the area of a hole that is told from noise where its pixels lack less than seamShare, being spread over several.
	leastHolePx = 0.2
	// leastLack is what a pixel must lack to count for that: as much as keeps it from being solid.
	leastLack = 1 - solidLevel/255.0
	// surePx is the area of a disc that covers some pixel wholly wherever it lies: its radius is a pixel's diagonal.
	surePx = 2 * math.Pi
)

// spotMask is where spots are looked for: the pixels set in a mask, or for holes those that are not.
type spotMask struct {
	mask  *raster.Bitmap
	holes bool
}

func (m spotMask) at(x, y int) bool { return m.mask.At(x, y) != m.holes }

// findSpots returns the pieces of what prints, or the holes in what is solid, whose disc of the same area is smaller than the limit.
func (s *Scene) findSpots(m spotMask, limit string) []Spot {
	limitPx := s.Px(s.Limit(limit))
	connected := raster.Eight
	if m.holes {
		connected = raster.Four
	}
	all := image.Rect(0, 0, s.W, s.H)
	return raster.FindSmall(raster.SmallQuery{
		Mask: m.mask, Inverted: m.holes, Connectivity: connected, LargestPx: int(spotStretch*limitPx) + 2,
	}, func(p raster.Component, runs []raster.Run) (Spot, bool) {
		if m.holes && !p.Box.Inset(-1).In(all) {
			return Spot{}, false
		}
		spot := Spot{Box: p.Box, Count: 1, Runs: runs}
		deepest := s.measureSpot(&spot, m, p.Box.Inset(-1).Intersect(all))
		if spot.DiameterPx >= limitPx || spot.DiameterPx < 0.2 || m.holes && (s.touching(m, deepest) || !s.showsHole(spot)) {
			return Spot{}, false
		}
		spot.Runs = slices.Clone(runs)
		return spot, true
	})
}

// measureSpot sums the coverage of a dot against its full strength, or what is missing in a hole against what is round it; other
// pieces of the mask that reach into the box do not count. The area stays 0 for what hardly differs from its surroundings. It
// returns the pixel with the least coverage.
func (s *Scene) measureSpot(spot *Spot, m spotMask, box image.Rectangle) (deepest image.Point) {
	v := s.view(spot, m, box)
	if m.holes {
		spot.AreaPx = v.missing(s.pic.Lossy)
	} else if float64(v.outTop) < (1-seamShare)*float64(v.inTop) {
		spot.AreaPx = float64(v.sum) / s.fullStrength(spot, v)
	}
	spot.DiameterPx = 2 * math.Sqrt(spot.AreaPx/math.Pi)
	return v.deepest
}

// spotView is the coverage of a spot and of what is round it: pixels of no piece of the mask.
type spotView struct {
	box            image.Rectangle
	cover          []uint8
	own            *raster.Bitmap // the spot's pixels
	others         *raster.Bitmap // those of other pieces
	deepest        image.Point    // pixel with the least coverage
	inTop, inLow   int
	outTop, outLow int
	sum            int // of the coverage of the spot and of what is round it
}

func (s *Scene) view(spot *Spot, m spotMask, box image.Rectangle) *spotView {
	w, h := box.Dx(), box.Dy()
	v := &spotView{box: box, cover: make([]uint8, w*h), own: raster.NewBitmap(w, h), others: raster.NewBitmap(w, h), inLow: 256, outLow: 256}
	s.survey.cover.Read(v.cover, box)
	for _, r := range spot.Runs {
		v.own.SetRun(int(r.Y)-box.Min.Y, int(r.X0)-box.Min.X, int(r.X1)-box.Min.X)
	}
	for i, c := range v.cover {
		c, x, y := int(c), i%w, i/w
		switch {
		case v.own.At(x, y):
			v.sum += c
			v.inTop = max(v.inTop, c)
			if c < v.inLow {
				v.inLow, v.deepest = c, box.Min.Add(image.Pt(x, y))
			}
		case m.at(box.Min.X+x, box.Min.Y+y):
			v.others.Set(x, y)
		default:
			v.sum += c
			v.outTop, v.outLow = max(v.outTop, c), min(v.outLow, c)
		}
	}
	return v
}

// missing is the area of a hole: what its pixels, and those round it, lack of what is round it.
func (v *spotView) missing(lossy bool) float64 {
	level := v.around()
	area, seen := 0.0, 0.0
	for i, c := range v.cover {
		if x, y := i%v.box.Dx(), i/v.box.Dx(); !v.others.At(x, y) {
			lack := max(0, 1-float64(c)/level)
			area += lack
			if lack >= leastLack {
				seen += lack
			}
		}
	}
	if float64(v.inLow) < (1-seamShare)*float64(v.outLow) || !lossy && seen >= leastHolePx && v.isolated() {
		return area
	}
	return 0
}

// around is the coverage round a hole: the mean of what is solid there, or the least if that varies.
func (v *spotView) around() float64 {
	if float64(v.outLow) <= (1-unevenShare)*float64(v.outTop) {
		return float64(v.outLow)
	}
	sum, n := 0, 0
	for i, c := range v.cover {
		if x, y := i%v.box.Dx(), i/v.box.Dx(); !v.own.At(x, y) && !v.others.At(x, y) {
			sum, n = sum+int(c), n+1
		}
	}
	return float64(sum) / float64(n)
}

// isolated reports whether all round a hole is solid.
func (v *spotView) isolated() bool {
	return v.others.Count() == 0 && float64(v.outLow) > (1-unevenShare)*float64(v.outTop)
}

// fullStrength is the coverage, in 255ths, that a dot's pixels would have if it covered them wholly. A dot that is smaller than
// about three pixels across may cover none; it is taken to be of the strength of its colour.
func (s *Scene) fullStrength(spot *Spot, v *spotView) float64 {
	if float64(v.sum) >= surePx*float64(v.inTop) {
		return float64(v.inTop)
	}
	tint := 0
	for _, r := range spot.Runs {
		for x := r.X0; x < r.X1; x++ {
			tint = max(tint, int(s.tint(image.Pt(int(x), int(r.Y)))))
		}
	}
	if tint > 0 {
		return float64(max(tint, v.inTop))
	}
	return 255
}

// touching reports whether a hole, at its deepest pixel, is only the passage between two colours that touch there.
func (s *Scene) touching(hole spotMask, deepest image.Point) bool {
	const widestPx = 4 // no passage is wider
	for _, d := range []image.Point{{1, 0}, {0, 1}, {1, 1}, {1, -1}} {
		var path []image.Point
		for i := -widestPx; i <= widestPx; i++ {
			p := deepest.Add(d.Mul(i))
			if i < 0 && !hole.at(p.X, p.Y) {
				path = path[:0]
			}
			path = append(path, p)
			if i > 0 && !hole.at(p.X, p.Y) {
				break
			}
		}
		if first, last := path[0], path[len(path)-1]; !hole.at(first.X, first.Y) && !hole.at(last.X, last.Y) && s.blend(path) {
			return true
		}
	}
	return false
}

// setSpots sets the pixels of spots in a mask, or clears them.
func setSpots(b *raster.Bitmap, spots []Spot, set bool) *raster.Bitmap {
	for _, sp := range spots {
		for _, r := range sp.Runs {
			if set {
				b.SetRun(int(r.Y), int(r.X0), int(r.X1))
			} else {
				b.ClearRun(int(r.Y), int(r.X0), int(r.X1))
			}
		}
	}
	return b
}
