package likeness

import (
	"math"

	"peelcheck/raster"
)

// lean is how far each look at a shape leans it, as a share of its height or width.
const lean = 0.07

// WeighClosely returns how a shape lies, as the mean of what each network sees in five looks: as it is, and leaning a little each way. Where
// one look or network errs, as on a strange typeface, the others often do not (bagging; Breiman, 1996; from memory).
func WeighClosely(m *raster.Bitmap) Lies {
	looks := [5]*raster.Bitmap{m, leaning(m, lean), leaning(m, -lean), steeper(m, lean), steeper(m, -lean)}
	var out Lies
	const share = 1.0 / float64(len(looks)*trainedCount)
	for _, l := range looks {
		f := Describe(l)
		for _, n := range Trained() {
			w := n.Weigh(f)
			for t := range out.As {
				out.As[t] += w.As[t] * share
			}
			out.None += w.None * share
		}
	}
	return out
}

// leaning moves each row of a shape sideways, the further the farther it is from the middle.
func leaning(m *raster.Bitmap, by float64) *raster.Bitmap {
	most := shift(0, m.H, -math.Abs(by))
	out := raster.NewBitmap(m.W+2*most, m.H)
	for y := range m.H {
		d := most + shift(y, m.H, by)
		for x0, x1 := range runs(m.Row(y)) {
			out.SetRun(y, x0+d, x1+d)
		}
	}
	return out
}

// steeper moves each column of a shape up or down, the further the farther it is from the middle.
func steeper(m *raster.Bitmap, by float64) *raster.Bitmap {
	most := shift(0, m.W, -math.Abs(by))
	out := raster.NewBitmap(m.W, m.H+2*most)
	for y := range m.H {
		for x0, x1 := range runs(m.Row(y)) {
			for x := x0; x < x1; x++ {
				out.Set(x, y+most+shift(x, m.W, by))
			}
		}
	}
	return out
}

// shift is the same for places as far from both ends, but for the sign: math.Round rounds halves away from 0.
func shift(at, size int, by float64) int {
	return int(math.Round(by * (float64(at) - float64(size-1)/2)))
}
