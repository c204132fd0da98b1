package likeness

import (
	"bytes"
	"math"
	"testing"

	"pgregory.net/rapid"

	"peelcheck/raster"
)

func TestWeightsAreWhole(t *testing.T) {
	for i := range trainedCount {
		if n := len(new(Network).Flat()); len(kept(i)) != 2*n {
			t.Fatalf("network %d is kept in %d bytes, %d weights need %d", i+1, len(kept(i)), n, 2*n)
		}
		if !bytes.Equal(Trained()[i].Encode(), kept(i)) {
			t.Errorf("network %d: the weights read are not those kept", i+1)
		}
		if i > 0 && bytes.Equal(kept(i), kept(i-1)) {
			t.Errorf("networks %d and %d are one", i, i+1)
		}
	}
}

// blot is a mask of random runs.
func blot(t *rapid.T) *raster.Bitmap {
	m := raster.NewBitmap(rapid.IntRange(1, 150).Draw(t, "w"), rapid.IntRange(1, 90).Draw(t, "h"))
	for range rapid.IntRange(1, 60).Draw(t, "runs") {
		a, b := rapid.IntRange(0, m.W).Draw(t, "from"), rapid.IntRange(0, m.W).Draw(t, "to")
		m.SetRun(rapid.IntRange(0, m.H-1).Draw(t, "y"), min(a, b), max(a, b))
	}
	return m
}

// lay turns a mask as a letter that lies in one of the eight ways is turned.
func lay(m *raster.Bitmap, as Turn) *raster.Bitmap {
	w, h := m.W, m.H
	if as&1 == 1 {
		w, h = h, w
	}
	out := raster.NewBitmap(w, h)
	for y := range m.H {
		for x := range m.W {
			if !m.At(x, y) {
				continue
			}
			px, py, pw, ph := x, y, m.W, m.H
			if as&Mirrored != 0 {
				px = pw - 1 - px
			}
			for range as & 3 {
				px, py, pw, ph = ph-1-py, px, ph, pw
			}
			out.Set(px, py)
		}
	}
	return out
}

// The features of a shape turned or mirrored are those of the shape, each in its other place, to the last bit.
func TestFeaturesTurnWithTheShape(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := blot(t)
		upright := Describe(m)
		for as := range Turn(Turns) {
			laid := Describe(lay(m, as))
			for i, from := range Sources[as] {
				if laid[from] != upright[i] {
					t.Fatalf("lying as %d: feature %d is %v at %d, upright %v", as, i, laid[from], from, upright[i])
				}
			}
		}
	})
}

// A shape that lies in one of the eight ways raises for that way what it raises upright, to the last bit.
func TestLayersTurnWithTheShape(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := blot(t)
		var upright, laid Layer
		Trained()[0].Raise(Describe(m).Parts(), &upright)
		for as := range Turn(Turns) {
			Trained()[0].Raise(Describe(lay(m, as)).Parts(), &laid)
			if laid[as] != upright[0] {
				t.Fatalf("lying as %d: %v, upright %v", as, laid[as], upright[0])
			}
		}
	})
}

// Parts hold what features hold: their squares add up to the same.
func TestPartsKeepLengths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := Describe(blot(t))
		want := f.From(new(Features))
		for quarter, parts := range f.Parts() {
			if got := (*Features)(&parts).From(new(Features)); math.Abs(got-want) > 1e-4*(1+want) {
				t.Fatalf("quarter %d: squares add up to %v, of the features to %v", quarter, got, want)
			}
		}
	})
}

// The grid holds all of a shape: its sum is the share of the square that the shape covers, but for rounding down.
func TestGridHoldsTheShape(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := blot(t)
		sum := 0
		for _, row := range gridOf(m) {
			for _, v := range row {
				sum += v
			}
		}
		want := float64(m.Count()) / float64(m.W*m.H) * float64(fitted(m.W, m.H)*fitted(m.H, m.W)) * 255
		if got := float64(sum); got > want+1e-6 || got < want-gridPx*gridPx {
			t.Fatalf("%d x %d: sum %v, want %v", m.W, m.H, got, want)
		}
	})
}

func TestProbabilitiesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Trained()[0].Weigh(Describe(blot(t)))
		sum := l.None
		for _, p := range l.As {
			sum += p
		}
		if math.Abs(sum-1) > 1e-6 {
			t.Fatalf("%+v add up to %v", l, sum)
		}
	})
}

// A shape seen mirrored lies mirrored, by several looks as by one.
func TestLeaningMirrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := blot(t)
		plain, mirrored := WeighClosely(m), WeighClosely(lay(m, Mirrored))
		for way, p := range plain.As {
			other := (Turns-Turn(way))&3 | Turn(way)&Mirrored ^ Mirrored
			if math.Abs(p-mirrored.As[other]) > 1e-9 {
				t.Fatalf("%v as %d, mirrored %v as %d", p, way, mirrored.As[other], other)
			}
		}
	})
}
