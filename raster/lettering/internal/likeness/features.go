package likeness

import (
	"iter"
	"math"
	"math/bits"

	"peelcheck/raster"
)

const (
	gridPx     = 24 // a shape is brought to this size
	zones      = 5  // gradients are gathered in zones x zones places
	directions = 8
	coarse     = 8 // and coverage in coarse x coarse

	FeatureCount = zones*zones*directions + coarse*coarse + 2
)

// Features describe a shape as it lies in its picture: how much of it lies where, which way its edges face, and its proportions.
type Features [FeatureCount]float32

// grid is a shape's coverage on gridPx x gridPx places, 0 to 255: scaled to fit and put in the middle. Sums are whole numbers, so that
// turning or mirroring a shape turns or mirrors its grid to the last bit.
type grid [gridPx][gridPx]int

// fitted is how many places a side takes beside a longer one; an even number, so that both margins are whole. Slim shapes are widened, as
// the root of the sine of their proportion, so that condensed letters keep their detail (aspect ratio adaptive normalization; Liu,
// Nakashima, Sako and Fujisawa, 2004; from memory).
func fitted(side, other int) int {
	if side >= other {
		return gridPx
	}
	r := float64(side) / float64(other)
	return max(2, 2*int(math.Round(gridPx/2*math.Sqrt(math.Sin(math.Pi/2*r)))))
}

func gridOf(m *raster.Bitmap) *grid {
	// A pixel is across x down units, a place of the grid m.W x m.H.
	across, down := fitted(m.W, m.H), fitted(m.H, m.W)
	left, top := (gridPx-across)/2*m.W, (gridPx-down)/2*m.H
	var sums [gridPx][gridPx]int
	var columns [gridPx]int
	for y := range m.H {
		for x0, x1 := range runs(m.Row(y)) {
			a, b := left+x0*across, left+x1*across
			for gx := a / m.W; gx < gridPx && gx*m.W < b; gx++ {
				columns[gx] += min(b, (gx+1)*m.W) - max(a, gx*m.W)
			}
		}
		a, b := top+y*down, top+(y+1)*down
		for gy := a / m.H; gy < gridPx && gy*m.H < b; gy++ {
			share := min(b, (gy+1)*m.H) - max(a, gy*m.H)
			for gx, c := range columns {
				sums[gy][gx] += share * c
			}
		}
		columns = [gridPx]int{}
	}
	var out grid
	for y := range sums {
		for x, v := range sums[y] {
			out[y][x] = v * 255 / (m.W * m.H)
		}
	}
	return &out
}

// runs yields the begin and end of every unbroken run of a row of a mask.
func runs(row []uint64) iter.Seq2[int, int] {
	return func(yield func(x0, x1 int) bool) {
		from := -1
		for i, w := range row {
			for x := 0; x < 64; {
				rest := w >> x
				if from >= 0 {
					rest = ^rest
				}
				n := bits.TrailingZeros64(rest)
				if x+n >= 64 {
					break
				}
				x += n
				if from < 0 {
					from = i*64 + x
					continue
				}
				if !yield(from, i*64+x) {
					return
				}
				from = -1
			}
		}
		if from >= 0 {
			yield(from, len(row)*64)
		}
	}
}

// Describe gathers a shape's features. Edges are gradients split between the two nearest of eight directions (Liu, Nakashima, Sako and
// Fujisawa, Handwritten digit recognition: investigation of normalization and feature extraction techniques, Pattern Recognition 37,
// 2004), in overlapping zones, like histograms of oriented gradients (Dalal and Triggs, CVPR 2005); both from memory.
func Describe(m *raster.Bitmap) *Features {
	g := gridOf(m)
	var sums [zones][zones][directions]int
	at := func(x, y int) int {
		if x < 0 || y < 0 || x >= gridPx || y >= gridPx {
			return 0
		}
		return g[y][x]
	}
	for y := -1; y <= gridPx; y++ {
		for x := -1; x <= gridPx; x++ {
			gx := at(x+1, y-1) + 2*at(x+1, y) + at(x+1, y+1) - at(x-1, y-1) - 2*at(x-1, y) - at(x-1, y+1)
			gy := at(x-1, y+1) + 2*at(x, y+1) + at(x+1, y+1) - at(x-1, y-1) - 2*at(x, y-1) - at(x+1, y-1)
			if gx == 0 && gy == 0 {
				continue
			}
			d0, v0, d1, v1 := split(gx, gy)
			for zy := range zones {
				wy := zoneWeight(zy, y)
				if wy == 0 {
					continue
				}
				for zx := range zones {
					if w := wy * zoneWeight(zx, x); w != 0 {
						sums[zy][zx][d0] += w * v0
						sums[zy][zx][d1] += w * v1
					}
				}
			}
		}
	}
	var f Features
	norm := 0
	for _, row := range sums {
		for _, z := range row {
			for _, v := range z {
				norm += v
			}
		}
	}
	i := 0
	for _, row := range sums {
		for _, z := range row {
			for _, v := range z {
				f[i] = float32(math.Sqrt(float64(v) / float64(max(1, norm)) * zones * zones))
				i++
			}
		}
	}
	const side = gridPx / coarse
	for cy := range coarse {
		for cx := range coarse {
			sum := 0
			for y := range side {
				for x := range side {
					sum += g[cy*side+y][cx*side+x]
				}
			}
			f[i] = float32(sum) / (side * side * 255)
			i++
		}
	}
	long := float32(max(m.W, m.H))
	f[i], f[i+1] = float32(m.W)/long, float32(m.H)/long
	return &f
}

// split parts a gradient between the two of eight directions next to it: 0 is to the right, 2 down, and so on round. Diagonal parts
// are in units of 7/10 of their length.
func split(gx, gy int) (d0, v0, d1, v1 int) {
	ax, ay := max(gx, -gx), max(gy, -gy)
	straight, diagonal := ax-ay, ay
	d0 = 0
	if gx < 0 {
		d0 = 4
	}
	if ay > ax {
		straight, diagonal = ay-ax, ax
		d0 = 2
		if gy < 0 {
			d0 = 6
		}
	}
	switch {
	case gx >= 0 && gy >= 0:
		d1 = 1
	case gx < 0 && gy >= 0:
		d1 = 3
	case gx < 0:
		d1 = 5
	default:
		d1 = 7
	}
	return d0, 10 * straight, d1, 14 * diagonal
}

// zoneWeight is how much place p of a grid counts in a zone: all in its middle, nothing a zone and a half away.
func zoneWeight(zone, p int) int {
	const width = 2 * gridPx // of a zone, in units of which 2*zones make a place
	d := (2*p+1)*zones - (2*zone+1)*gridPx
	return max(0, 3*width/2-max(d, -d))
}

// Turn is one of the eight ways in which a letter may lie: bits 0 and 1 are quarter turns clockwise, bit 2 is set where it was mirrored
// left to right before.
type Turn int

const (
	Turns    = 8
	Mirrored = Turn(4)
)

// Sources says, for each way to lie, where each feature of the letter set upright is found among those of the letter as it lies.
var Sources = func() (out [Turns][FeatureCount]int) {
	for t := range Turns {
		i := 0
		for y := range zones {
			for x := range zones {
				for d := range directions {
					sx, sy := Turn(t).place(x, y, zones)
					out[t][i] = (sy*zones+sx)*directions + Turn(t).direction(d)
					i++
				}
			}
		}
		base := i
		for y := range coarse {
			for x := range coarse {
				sx, sy := Turn(t).place(x, y, coarse)
				out[t][i] = base + sy*coarse + sx
				i++
			}
		}
		out[t][i], out[t][i+1] = i, i+1
		if t&1 == 1 {
			out[t][i], out[t][i+1] = i+1, i
		}
	}
	return out
}()

// place says where the place (x, y) of an upright square of n x n comes to lie.
func (t Turn) place(x, y, n int) (int, int) {
	if t&Mirrored != 0 {
		x = n - 1 - x
	}
	for range t & 3 {
		x, y = n-1-y, x
	}
	return x, y
}

// direction says what a direction of an upright letter becomes.
func (t Turn) direction(d int) int {
	if t&Mirrored != 0 {
		d = (12 - d) % 8
	}
	return (d + 2*int(t&3)) % 8
}

// From is how far two shapes are apart: the squared distance of their features.
func (f *Features) From(o *Features) float64 {
	sum := 0.0
	for i, v := range f {
		d := float64(v - o[i])
		sum += d * d
	}
	return sum
}
