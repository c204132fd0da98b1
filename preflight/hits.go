package preflight

import (
	"fmt"
	"image"
	"math"

	"peelcheck/raster"
)

// ThinHits turns features into hits: what is "line" or "gap", breaks the share of the limit under which it is an error.
func (s *Scene) ThinHits(features []raster.Feature, plane Plane, what string, limit, breaks float64) []Hit {
	hits := make([]Hit, len(features))
	for i := range features {
		f := &features[i]
		width := round3(s.MM(f.WidthPx))
		hits[i] = Hit{
			Where: f.Box, At: onRuns(f.Box, f.Runs), Plane: plane, Value: width, LengthMM: s.MM(f.LengthPx), AreaMM2: s.MM2(f.AreaPx),
			Message: thinMessage(what, width, s.MM(f.LengthPx)),
		}
		if width < breaks*limit {
			hits[i].Level = LevelError
		}
	}
	return hits
}

// onRuns is the pixel of some runs in their row nearest the middle of their box, and nearest to it there; the zero point for none.
func onRuns(box image.Rectangle, runs []raster.Run) (at image.Point) {
	middle := middleOf(box)
	rows, across := math.MaxInt, math.MaxInt
	for _, r := range runs {
		p := image.Pt(min(max(middle.X, int(r.X0)), int(r.X1)-1), int(r.Y))
		dy, dx := abs(p.Y-middle.Y), abs(p.X-middle.X)
		if dy < rows || dy == rows && dx < across {
			at, rows, across = p, dy, dx
		}
	}
	return at
}

func middleOf(r image.Rectangle) image.Point {
	return image.Pt((r.Min.X+r.Max.X)/2, (r.Min.Y+r.Max.Y)/2)
}

func abs(n int) int { return max(n, -n) }

// Point is the pixel of the patch in its row nearest the middle of its box, and nearest to it there.
func (p Patch) Point() image.Point {
	middle := middleOf(p.Box)
	for dy := range p.Box.Dy() {
		for _, y := range [2]int{middle.Y - dy, middle.Y + dy} {
			for dx := range p.Box.Dx() {
				for _, x := range [2]int{middle.X - dx, middle.X + dx} {
					if p.Mask(x, y) {
						return image.Pt(x, y)
					}
				}
			}
		}
	}
	return image.Point{}
}

func thinMessage(what string, widthMM, lengthMM float64) string {
	return fmt.Sprintf("A %s %s wide over %.1f mm.", what, Amount(widthMM, "mm"), lengthMM)
}

// manySpots is how many spots close together are one hit; nearMM is how close that is, edge to edge.
const (
	manySpots = 12
	nearMM    = 2.0
)

// SpotHits turns spots into hits, many that are close together into one: what is "dot" or "hole".
func (s *Scene) SpotHits(spots []Spot, what string) []Hit {
	var hits []Hit
	for _, group := range s.gatherSpots(spots) {
		n := 0
		for _, sp := range group {
			n += sp.Count
		}
		if n >= manySpots {
			hits = append(hits, s.fieldHit(group, n, what))
			continue
		}
		for _, sp := range group {
			d := round3(s.MM(sp.DiameterPx))
			hits = append(hits, Hit{
				Where: sp.Box, At: onRuns(sp.Box, sp.Runs), Value: d, AreaMM2: s.MM2(sp.AreaPx),
				Message: fmt.Sprintf("A %s %s across.", what, Amount(d, "mm")),
			})
		}
	}
	return hits
}

// fieldHit is one hit for n spots; its value is their mean diameter.
func (s *Scene) fieldHit(group []Spot, n int, what string) Hit {
	hit := Hit{}
	sum := 0.0
	for _, sp := range group {
		hit.Where = hit.Where.Union(sp.Box)
		hit.AreaMM2 += s.MM2(sp.AreaPx)
		sum += float64(sp.Count) * s.MM(sp.DiameterPx)
	}
	middle := group[len(group)/2]
	hit.At = onRuns(middle.Box, middle.Runs)
	hit.Value = round3(sum / float64(n))
	box := s.BoxMM(hit.Where)
	hit.Message = fmt.Sprintf("%d %ss close together, about %s across, over %.0f x %.0f mm.", n, what, Amount(hit.Value, "mm"), box.W, box.H)
	return hit
}

// gatherSpots groups spots that are close together, through others too, in the order of their first.
func (s *Scene) gatherSpots(spots []Spot) [][]Spot {
	reach := max(1, int(s.Px(nearMM)))
	buckets := map[image.Point][]int{} // by squares of reach, each spot in all that it touches, those round them looked at
	squares := func(r image.Rectangle, do func(image.Point)) {
		for y := r.Min.Y / reach; y <= r.Max.Y/reach; y++ {
			for x := r.Min.X / reach; x <= r.Max.X/reach; x++ {
				do(image.Pt(x, y))
			}
		}
	}
	for i, sp := range spots {
		squares(sp.Box, func(at image.Point) { buckets[at] = append(buckets[at], i) })
	}
	seen := make([]bool, len(spots))
	var groups [][]Spot
	for first := range spots {
		var group []Spot
		for todo := []int{first}; len(todo) > 0; {
			i := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			if seen[i] {
				continue
			}
			seen[i] = true
			group = append(group, spots[i])
			near := spots[i].Box.Inset(-reach)
			squares(near, func(at image.Point) {
				rest := buckets[at][:0]
				for _, j := range buckets[at] {
					switch {
					case seen[j]:
					case spots[j].Box.Overlaps(near):
						todo = append(todo, j)
					default:
						rest = append(rest, j)
					}
				}
				buckets[at] = rest
			})
		}
		if len(group) > 0 {
			groups = append(groups, group)
		}
	}
	return groups
}

// AreaPx turns square millimetres into whole pixels.
func (s *Scene) AreaPx(mm2 float64) int { return int(mm2 / s.MM2(1)) }

// MeanOver returns the mean of a pixel's value over a patch, from at most some ten thousand of its pixels.
func (s *Scene) MeanOver(p Patch, of func(x, y int) float64) float64 {
	step := 1
	for p.Box.Dx()/step*(p.Box.Dy()/step) > 40_000 {
		step++
	}
	sum, n := 0.0, 0
	for y := p.Box.Min.Y; y < p.Box.Max.Y; y += step {
		for x := p.Box.Min.X; x < p.Box.Max.X; x += step {
			if p.Mask(x, y) {
				sum += of(x, y)
				n++
			}
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

// GroundStrength returns what the background gets of each plane, 0 to 1; zeros where there is none.
func (s *Scene) GroundStrength() [5]float64 {
	var out [5]float64
	if s.ground.Found {
		for i, v := range s.printed.pixel(s.groundIs.R, s.groundIs.G, s.groundIs.B, 255) {
			out[i] = float64(v) / 255
		}
	}
	return out
}

// GroundIsWhite reports whether the background, if there is one, is white.
func (s *Scene) GroundIsWhite() bool {
	return s.ground.Found && min(s.groundIs.R, s.groundIs.G, s.groundIs.B) >= lostWhite
}

// LostInside is the mask of what is drawn white and stays unprinted, without a white background as far as it reaches the
// picture's border.
func (s *Scene) LostInside() *raster.Bitmap { return s.lostInside() }

func (s *Scene) findLostInside() *raster.Bitmap {
	if !s.GroundIsWhite() || s.Lost() == nil {
		return s.survey.lost.mask
	}
	return raster.Enclosed(s.survey.lost.mask, raster.Four)
}

// ColouredRing returns the share of a patch's surroundings, a little way off, that prints colour rather than white alone.
func (s *Scene) ColouredRing(p Patch) float64 {
	reach := max(2, int(s.Px(0.2)))
	coloured, all := 0, 0
	look := func(x, y int) {
		if !image.Pt(x, y).In(image.Rect(0, 0, s.W, s.H)) || p.Mask(x, y) {
			return
		}
		planes := s.Strength(x, y)
		all++
		if max(planes[1], planes[2], planes[3]) > 0.2 {
			coloured++
		}
	}
	for y := p.Box.Min.Y; y < p.Box.Max.Y; y++ {
		first, last := -1, -1
		for x := p.Box.Min.X; x < p.Box.Max.X; x++ {
			if p.Mask(x, y) {
				if first < 0 {
					first = x
				}
				last = x
			}
		}
		if first >= 0 {
			look(first-reach, y)
			look(last+reach, y)
		}
	}
	if all == 0 {
		return 0
	}
	return float64(coloured) / float64(all)
}

// IsFade reports whether a patch is half-transparent by many degrees, as a shadow or glow is and a flat veil is not.
func (s *Scene) IsFade(p Patch) bool {
	const veilLevels, veilShare = 8, 0.6
	var counts [256]int
	total := 0
	for y := p.Box.Min.Y; y < p.Box.Max.Y; y++ {
		for x := p.Box.Min.X; x < p.Box.Max.X; x++ {
			if a := s.pic.Pix.Pix[y*s.pic.Pix.Stride+4*x+3]; p.Mask(x, y) {
				total++
				counts[a]++
			}
		}
	}
	window, most := 0, 0
	for a, n := range counts {
		window += n
		if a > veilLevels {
			window -= counts[a-veilLevels-1]
		}
		most = max(most, window)
	}
	return counts[255] < total/2 && float64(most) < veilShare*float64(total)
}

// ShareOfEnclosing returns how much of the box of the smallest printed piece round a patch the patch's own box takes up: a good part
// for the counter of a letter, little for lettering on a shape. It is 1 where no piece encloses the patch.
func (s *Scene) ShareOfEnclosing(p Patch) float64 {
	area := func(r image.Rectangle) float64 { return float64(r.Dx()) * float64(r.Dy()) }
	least := area(p.Box)
	smallest := math.Inf(1)
	for _, b := range s.inkBoxes() {
		if p.Box.In(b) {
			smallest = min(smallest, area(b))
		}
	}
	if math.IsInf(smallest, 1) {
		return 1
	}
	return least / smallest
}
