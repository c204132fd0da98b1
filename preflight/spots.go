package preflight

import (
	"cmp"
	"image"
	"math"
	"slices"

	"peelcheck/raster"
)

// Spot is a small piece that stands alone, or a small hole. DiameterPx is that of the disc of the same area, measured from
// coverage.
type Spot struct {
	Box        image.Rectangle
	DiameterPx float64
	AreaPx     float64
	Runs       []raster.Run
}

// spotStretch is how much longer than the limit a piece may be and still be a spot rather than a line.
const spotStretch = 1.6

// A hole's deepest pixel must lack seamShare of the weakest coverage round it, a dot's strongest must exceed the strongest round
// it by as much: along an edge that two shapes share, each drawn with its own antialiasing, a quarter at worst is missing, and
// what is uneven in a fade or beside a lighter tint is less.
const seamShare = 0.3

// findSpots returns the pieces of a mask, or the holes, whose disc of the same area is smaller than the limit.
func (s *Scene) findSpots(mask *raster.Bitmap, c raster.Connectivity, limit string, hole bool) []Spot {
	limitPx := s.Px(s.Limit(limit))
	largest := int(spotStretch*limitPx) + 2
	pieces := raster.FindComponents(mask, c)
	runs := pieces.ByComponent()
	all := image.Rect(0, 0, s.W, s.H)
	var out []Spot
	for i, p := range pieces.List {
		if p.Box.Dx() > largest || p.Box.Dy() > largest || hole && !p.Box.Inset(-1).In(all) {
			continue
		}
		spot := Spot{Box: p.Box}
		for _, j := range runs[i] {
			spot.Runs = append(spot.Runs, pieces.Runs[j])
		}
		deepest := s.measureSpot(&spot, mask, p.Box.Inset(-1).Intersect(all), hole)
		if spot.DiameterPx >= limitPx || spot.DiameterPx < 0.2 || hole && s.touching(mask, deepest) {
			continue
		}
		out = append(out, spot)
	}
	return out
}

// measureSpot sums the coverage of a dot against its own strongest, or what is missing in a hole against the weakest round it;
// other pieces of the mask that reach into the box do not count. The area stays 0 for what hardly differs from its surroundings.
// It returns the pixel with the least coverage.
func (s *Scene) measureSpot(spot *Spot, mask *raster.Bitmap, box image.Rectangle, hole bool) (deepest image.Point) {
	buf := make([]uint8, box.Dx()*box.Dy())
	s.survey.cover.Read(buf, box)
	own := raster.NewBitmap(box.Dx(), box.Dy())
	for _, r := range spot.Runs {
		own.SetRun(int(r.Y)-box.Min.Y, int(r.X0)-box.Min.X, int(r.X1)-box.Min.X)
	}
	inTop, inLow, outTop, outLow, sum := 0, 256, 0, 256, 0
	for i, c := range buf {
		v, x, y := int(c), i%box.Dx(), i/box.Dx()
		switch {
		case own.At(x, y):
			sum += v
			inTop = max(inTop, v)
			if v < inLow {
				inLow, deepest = v, box.Min.Add(image.Pt(x, y))
			}
		case !mask.At(box.Min.X+x, box.Min.Y+y):
			if !hole {
				sum += v
			}
			outTop, outLow = max(outTop, v), min(outLow, v)
		}
	}
	switch {
	case hole && float64(inLow) < (1-seamShare)*float64(outLow):
		for i, c := range buf {
			if x, y := i%box.Dx(), i/box.Dx(); own.At(x, y) || !mask.At(box.Min.X+x, box.Min.Y+y) {
				spot.AreaPx += max(0, 1-float64(c)/float64(outLow))
			}
		}
	case !hole && float64(outTop) < (1-seamShare)*float64(inTop):
		// A dot too small to reach its full strength anywhere is taken to be of full strength.
		if sum < 3*inTop {
			inTop = 255
		}
		spot.AreaPx = float64(sum) / float64(inTop)
	}
	spot.DiameterPx = 2 * math.Sqrt(spot.AreaPx/math.Pi)
	return deepest
}

// touching reports whether a hole, at its deepest pixel, is only the passage between two colours that touch there.
func (s *Scene) touching(hole *raster.Bitmap, deepest image.Point) bool {
	const widestPx = 4 // no passage is wider
	for _, d := range []image.Point{{1, 0}, {0, 1}, {1, 1}, {1, -1}} {
		var path []image.Point
		for i := -widestPx; i <= widestPx; i++ {
			p := deepest.Add(d.Mul(i))
			if i < 0 && !hole.At(p.X, p.Y) {
				path = path[:0]
			}
			path = append(path, p)
			if i > 0 && !hole.At(p.X, p.Y) {
				break
			}
		}
		if first, last := path[0], path[len(path)-1]; !hole.At(first.X, first.Y) && !hole.At(last.X, last.Y) && s.blend(path) {
			return true
		}
	}
	return false
}

func spotMask(w, h int, spots []Spot) *raster.Bitmap {
	b := raster.NewBitmap(w, h)
	for _, sp := range spots {
		for _, r := range sp.Runs {
			b.SetRun(int(r.Y), int(r.X0), int(r.X1))
		}
	}
	return b
}

// Patch is one connected place of a mask, its pieces joined where they lie close together.
type Patch struct {
	Box    image.Rectangle
	AreaPx int
	Mask   func(x, y int) bool
}

// Patches gathers the pixels of a mask into places: what is less than about openPx thick is dropped, pieces nearer than joinPx
// to each other count as one, and places of less than leastPx are left out.
func Patches(mask *raster.Bitmap, openPx, joinPx float64, leastPx int) []Patch {
	if mask.Count() == 0 {
		return nil
	}
	body := mask
	if openPx > 0 {
		body = raster.Open(mask, openPx, false)
	}
	joined := body
	if joinPx > 0 {
		joined = raster.Dilate(body, joinPx/2)
	}
	groups := raster.FindComponents(joined, raster.Eight)
	out := make([]Patch, len(groups.List))
	for _, r := range groups.Runs {
		add(&out[r.Component], body, r)
	}
	out = slices.DeleteFunc(out, func(p Patch) bool { return p.AreaPx < max(1, leastPx) })
	for i := range out {
		box := out[i].Box
		out[i].Mask = func(x, y int) bool { return image.Pt(x, y).In(box) && body.At(x, y) }
	}
	return out
}

func add(p *Patch, body *raster.Bitmap, r raster.Run) {
	first, last := -1, -1
	for x := int(r.X0); x < int(r.X1); x++ {
		if body.At(x, int(r.Y)) {
			if first < 0 {
				first = x
			}
			last = x
			p.AreaPx++
		}
	}
	if first >= 0 {
		p.Box = p.Box.Union(image.Rect(first, int(r.Y), last+1, int(r.Y)+1))
	}
}

const mostRegions = 200

// findWhiteRegions lists the connected pieces of what prints white.
func (s *Scene) findWhiteRegions() ([]WhiteRegion, int) {
	comps := raster.FindComponents(s.white, raster.Eight)
	order := make([]int, len(comps.List))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(comps.List[b].AreaPx, comps.List[a].AreaPx) })
	order = order[:min(len(order), mostRegions)]
	runs := comps.ByComponent()
	out := make([]WhiteRegion, len(order))
	for i, at := range order {
		c := comps.List[at]
		out[i] = WhiteRegion{
			ID: i + 1, BoxPx: boxPx(c.Box), BoxMM: s.BoxMM(c.Box),
			AreaMM2: round3(s.MM2(float64(c.AreaPx))), MeanStrength: round3(s.meanWhite(comps.Runs, runs[at], c.AreaPx)),
		}
	}
	return out, len(comps.List)
}

func (s *Scene) meanWhite(runs []raster.Run, which []int32, area int) float64 {
	sum := 0
	var last [4]uint8
	var value uint8
	for _, i := range which {
		r := runs[i]
		row := s.pic.Pix.Pix[int(r.Y)*s.pic.Pix.Stride:]
		for x := r.X0; x < r.X1; x++ {
			p := [4]uint8(row[4*x : 4*x+4])
			if p != last {
				last, value = p, s.printed.pixel(p[0], p[1], p[2], p[3])[inkWhite]
			}
			sum += int(value)
		}
	}
	return float64(sum) / 255 / float64(area)
}

func boxPx(r image.Rectangle) BoxPx { return BoxPx{r.Min.X, r.Min.Y, r.Dx(), r.Dy()} }
