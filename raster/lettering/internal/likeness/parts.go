package likeness

import "math"

// Parities counts the ways in which a part may be even or odd: bit 0 is set where it changes its sign with the shape mirrored left to right,
// bit 1 where it does with the shape mirrored top to bottom.
const Parities = 4

// Parts are a shape's features as even and odd parts: sums and differences of what lies in mirrored places. They hold the same as the features,
// and mirroring the shape either way changes nothing but signs, to the last bit.
type Parts [FeatureCount]float32

// part says of which features a part is made, and its scale, with which the change is orthonormal.
type part struct {
	from  [4]int // as the shape lies, mirrored left to right, mirrored top to bottom, and turned by half
	scale float32
}

const (
	leftRight = Mirrored
	topBottom = Mirrored | 2
	half      = Turn(2)
)

var (
	partList, Begins = partsByParity()
	Flips            = [2][4]Flip{flipsOf(0), flipsOf(1)}
)

// partsByParity lists all parts, those of a parity together, and where each parity begins and the last ends.
func partsByParity() (out [FeatureCount]part, begins [Parities + 1]int) {
	n := 0
	for p := range Parities {
		for i := range FeatureCount {
			from := [4]int{i, Sources[leftRight][i], Sources[topBottom][i], Sources[half][i]}
			if i != min(from[0], from[1], from[2], from[3]) {
				continue // a place mirrored from one before
			}
			same, vanishes := 0, false
			for k, at := range from {
				if at == i {
					same++
					vanishes = vanishes || sign(p, k) < 0
				}
			}
			if !vanishes {
				out[n] = part{from, float32(1 / (2 * math.Sqrt(float64(same))))}
				n++
			}
		}
		begins[p+1] = n
	}
	return out, begins
}

// sign is that of the kth of a part's four places.
func sign(parity, k int) float32 {
	if odd := parity & k; odd == 1 || odd == 2 {
		return -1
	}
	return 1
}

// Flip is a way to lie, and the sign of the sums over parts of each parity for it.
type Flip struct {
	Turn Turn
	Sign [Parities]float32
}

// flipsOf lists the ways to lie that are a quarter turn, or none, and a flip.
func flipsOf(quarter Turn) (out [4]Flip) {
	for k, flip := range [4]Turn{0, leftRight, topBottom, half} {
		for p := range Parities {
			out[k].Sign[p] = sign(p, k)
		}
		for t := range Turn(Turns) {
			if composed(t, quarter, flip) {
				out[k].Turn = t
			}
		}
	}
	return out
}

// composed reports whether a shape that lies as t is set upright by undoing first a, then b.
func composed(t, a, b Turn) bool {
	for i, from := range Sources[t] {
		if from != Sources[a][Sources[b][i]] {
			return false
		}
	}
	return true
}

// Parts returns the parts of a shape as it lies, and as if turned back by a quarter.
func (f *Features) Parts() *[2]Parts {
	var out [2]Parts
	for quarter := range out {
		at := &Sources[quarter]
		for p := range Parities {
			for i := Begins[p]; i < Begins[p+1]; i++ {
				from := &partList[i].from
				a, b, c, d := f[at[from[0]]], f[at[from[1]]], f[at[from[2]]], f[at[from[3]]]
				if p&1 != 0 {
					b, d = -b, -d
				}
				if p&2 != 0 {
					c, d = -c, -d
				}
				out[quarter][i] = partList[i].scale * ((a + b) + (c + d))
			}
		}
	}
	return &out
}
