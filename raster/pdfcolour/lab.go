package pdfcolour

import (
	"math"
	"sync"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// labSpace is CIE L*a*b* (8.6.5.4), taken for RGB through sRGB.
type labSpace struct {
	rgb   *deviceSpace
	white [3]float64
	rng   []float64     // of L*, a*, b*
	toRGB [3][3]float64 // XYZ under white to linear sRGB
}

// d65 is the white of sRGB (IEC 61966-2-1:1999).
var d65 = [3]float64{0.9505, 1, 1.0890}

// bradford turns XYZ to sharpened cone responses, in which a white is scaled to another; bradfordBack is its inverse (the transform of
// ICC.1, Annex E; figures from memory).
var (
	bradford     = [3][3]float64{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}
	bradfordBack = [3][3]float64{{0.9869929, -0.1470543, 0.1599627}, {0.4323053, 0.5183603, 0.0492912}, {-0.0085287, 0.0400428, 0.9684867}}
)

// toLinear is XYZ to linear sRGB: the inverse of the matrix of IEC 61966-2-1, from that standard.
var toLinear = [3][3]float64{{3.2406, -1.5372, -0.4986}, {-0.9689, 1.8758, 0.0415}, {0.0557, -0.2040, 1.0570}}

func times(m *[3][3]float64, v [3]float64) (out [3]float64) {
	for i := range m {
		out[i] = m[i][0]*v[0] + m[i][1]*v[1] + m[i][2]*v[2]
	}
	return out
}

func (r *Reader) labSpace(d types.Dict) (space, error) {
	s := &labSpace{rgb: r.device(3), white: d65, rng: []float64{0, 100, -100, 100, -100, 100}}
	if w := r.numbers(d["WhitePoint"]); len(w) == 3 && w[0] > 0 && w[1] > 0 && w[2] > 0 {
		s.white = [3]float64(w)
	}
	if rng := r.pairs(d["Range"]); len(rng) == 4 {
		copy(s.rng[2:], rng)
	}
	from, to := times(&bradford, s.white), times(&bradford, d65)
	for i := range 3 {
		var unit [3]float64
		unit[i] = 1
		cone := times(&bradford, unit)
		for j := range cone {
			cone[j] *= to[j] / from[j]
		}
		column := times(&bradfordBack, cone)
		for j, v := range times(&toLinear, column) {
			s.toRGB[j][i] = v
		}
	}
	return s, nil
}

func (s *labSpace) Components() int         { return 3 }
func (s *labSpace) Paint(c []float64) Paint { return paint(s, c) }
func (s *labSpace) ranges() []float64       { return s.rng }
func (s *labSpace) sets() []bool            { return s.rgb.set }

func (s *labSpace) Initial() []float64 {
	return []float64{0, clamp(0, s.rng[2], s.rng[3]), clamp(0, s.rng[4], s.rng[5])}
}

func (s *labSpace) shares(dst, c []float64) {
	rgb := s.sRGB(clamp(c[0], 0, 100), clamp(c[1], s.rng[2], s.rng[3]), clamp(c[2], s.rng[4], s.rng[5]))
	s.rgb.shares(dst, rgb[:])
}

func (s *labSpace) sRGB(l, a, b float64) [3]float64 {
	m := (l + 16) / 116
	xyz := [3]float64{s.white[0] * labInverse(m+a/500), s.white[1] * labInverse(m), s.white[2] * labInverse(m-b/200)}
	rgb, curve := times(&s.toRGB, xyz), gamma()
	for i, v := range rgb {
		v = clamp01(v) * gammaSteps
		at := min(int(v), gammaSteps-1)
		rgb[i] = curve[at] + (v-float64(at))*(curve[at+1]-curve[at])
	}
	return rgb
}

// gammaSteps is how finely the transfer curve of sRGB is tabled: with interpolation it is off by less than 0.02 levels in 255.
const gammaSteps = 4096

var gamma = sync.OnceValue(func() *[gammaSteps + 1]float64 {
	var table [gammaSteps + 1]float64
	for i := range table {
		table[i] = encodeSRGB(float64(i) / gammaSteps)
	}
	return &table
})

// encodeSRGB is the transfer curve of IEC 61966-2-1.
func encodeSRGB(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// labInverse is g of 8.6.5.4.
func labInverse(x float64) float64 {
	if x >= 6.0/29 {
		return x * x * x
	}
	return 108.0 / 841 * (x - 4.0/29)
}
