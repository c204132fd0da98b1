package preflight

import (
	"image"
	"image/color"
	"math/rand/v2"
	"testing"
)

// TestEightBytesAtOnce compares each operation on eight bytes with the same on one, for every pair of bytes.
func TestEightBytesAtOnce(t *testing.T) {
	at := func(v eight, i int) int { return int(uint8(v >> (8 * i))) }
	of := func(b bool) int {
		if b {
			return 255
		}
		return 0
	}
	var halves [256]uint8
	for i := range halves {
		halves[i] = uint8(i / 2)
	}
	for a := range 256 {
		for b0 := 0; b0 < 256; b0 += 8 {
			v, u, sum := eight(0), eight(0), 0
			for i := range 8 { // unlike neighbours, so that what is carried over shows
				v |= eight((a+37*i)&255) << (8 * i)
				u |= eight(b0+i) << (8 * i)
				sum += (a + 37*i) & 255
			}
			for i := range 8 {
				p, q := (a+37*i)&255, b0+i
				for _, c := range []struct {
					name      string
					got, want int
				}{
					{"from", at(v.from(u).full(), i), of(p >= q)},
					{"most", at(v.most(u), i), max(p, q)},
					{"least", at(v.least(u), i), min(p, q)},
					{"less", at(v.less(u), i), max(0, p-q)},
					{"plus", at(v.plus(u), i), min(255, p+q)},
					{"near", at(v.near(uint8(b0), 3).full(), i), of(max(p-b0, b0-p) <= 3)},
					{"through", at(v.through(&halves), i), p / 2},
					{"scaled", at(v.scaled(u), i), (p*q + 127) / 255},
					{"scaled of equal ones", at(eightOf(uint8(a)).scaled(u), i), (a*q + 127) / 255},
					{"bits", int(v.from(u).bits() >> i & 1), of(p >= q) & 1},
				} {
					if c.got != c.want {
						t.Fatalf("%s of %d and %d: %d, want %d", c.name, p, q, c.got, c.want)
					}
				}
			}
			if v.paired().sumOfPairs() != sum {
				t.Fatalf("sum %d, want %d", v.paired().sumOfPairs(), sum)
			}
		}
	}
}

// TestFactsOfPixels compares facts with a slow, obvious twin that asks for one pixel and one trait at a time: every process and way of
// drawing white, curves that are no straight line, and a background that is left out, kept or none.
func TestFactsOfPixels(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 9))
	for _, p := range Processes() {
		for _, drawn := range []string{"black", "white"} {
			for _, choice := range []string{BackgroundAuto, BackgroundKeep} {
				for _, page := range []color.NRGBA{none, white, {250, 240, 120, 255}} {
					own := *p
					if rng.UintN(2) == 0 {
						own.BlackGeneration, own.UndercolourRemoval = Curve{{0, 0}, {1, 0.5}}, Curve{{0, 0}, {0.5, 0.1}, {1, 1}}
					}
					s := testScene(t, p.ID, fill(70, 9, page), 300, func(j *Job) { j.Process, j.WhiteDrawnAs, j.Background = &own, drawn, choice })
					compareFacts(t, rng, s)
				}
			}
		}
	}
}

func compareFacts(t *testing.T, rng *rand.Rand, s *Scene) {
	t.Helper()
	j := newSurveyor(s)
	level := func(v eight) uint8 { return uint8(v) }
	for range 300 {
		var px [32]byte
		opaque, light := rng.UintN(3) == 0, rng.UintN(8) == 0 // all eight of them
		for i := range px {
			if px[i] = uint8(rng.UintN(256)); light {
				px[i] |= 0xf8
			}
		}
		for i := 0; i < 32; i += 4 {
			switch rng.UintN(4) {
			case 0:
				copy(px[i:], []byte{s.groundIs.R - uint8(rng.UintN(2)), s.groundIs.G - uint8(rng.UintN(5)), s.groundIs.B, 255})
			case 1:
				px[i+3] = 255
			case 2:
				px[i+3] = 0
			}
			if opaque {
				px[i+3] = 255
			}
		}
		var f facts
		const group = 5
		j.separate(&f, group, channelsOf(px[:]))
		for i := range 8 {
			r, g, b, a := px[4*i], px[4*i+1], px[4*i+2], px[4*i+3]
			ink := s.printed.pixel(r, g, b, a)
			detail, light := s.detail.cover(r, g, b, a), s.detail.pixel(r, g, b, a)[inkWhite]
			ground := j.seesGround && a == 255 && s.isGround(s.groundIs, color.NRGBA{r, g, b, a})
			out := ground && s.ground.LeftOut
			if out {
				detail, light = 0, 0
			}
			most, low, high := max(ink[0], ink[1], ink[2], ink[3], ink[4]), min(r, g, b), max(r, g, b)
			at := 8*group + i
			for _, c := range []struct {
				name string
				got  uint64
				want bool
			}{
				{"prints", f.is.prints, most >= printsLevel},
				{"ink", f.is.ink, detail >= level(j.inkLevel)},
				{"solid", f.is.solid, detail >= solidLevel},
				{"white ink", f.is.whiteInk, light >= level(j.inkLevel)},
				{"prints white", f.is.printsWhite, ink[inkWhite] >= inkLevel},
				{"faint", f.is.faint, !out && most >= printsLevel && most < level(j.faintBelow)},
				{"fading", f.is.fading, a > 0 && a < opaqueLevel},
				{"lost", f.is.lost, j.fromBlack && a >= 128 && low >= lostWhite},
				{"stray", f.is.stray, j.fromBlack && a >= 128 && high-low >= strayChroma && ink[inkWhite] >= j.strayFrom[a]},
				{"own white", f.is.ownWhite, j.underbase && ink[inkWhite] >= inkLevel && max(ink[1], ink[2], ink[3], ink[4]) < max(1, scale(printsLevel, a))},
				{"ground", f.is.ground, ground},
			} {
				if c.got>>at&1 != 0 != c.want {
					t.Fatalf("%s: pixel %d %d %d %d: %s is %v, want %v", s.Job.Process.ID, r, g, b, a, c.name, !c.want, c.want)
				}
			}
			got := ink
			for n := range got {
				got[n] = f.planes[n][at]
			}
			if white := s.printed.whiteOf(color.NRGBA{r, g, b, a}); white != ink[inkWhite] {
				t.Fatalf("%s: pixel %d %d %d %d: white %d, want %d", s.Job.Process.ID, r, g, b, a, white, ink[inkWhite])
			}
			if got != ink || f.detail[at] != detail || f.white[at] != light {
				t.Fatalf("%s: pixel %d %d %d %d: planes %v, coverage %d and %d, want %v, %d and %d",
					s.Job.Process.ID, r, g, b, a, got, f.detail[at], f.white[at], ink, detail, light)
			}
		}
	}
}

// TestEachAsRuns: looking at every pixel and at runs of equal ones comes to the same.
func TestEachAsRuns(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	s := testScene(t, "toner-white-for-black", fill(64, 64, none), 300, nil)
	colours := []color.NRGBA{none, black, navy, {200, 210, 220, 255}, {90, 10, 40, 100}, white}
	for range 300 {
		pix := image.NewNRGBA(image.Rect(0, 0, 1+rng.IntN(64), 1))
		c := none
		for x := range pix.Rect.Dx() {
			if rng.UintN(3) == 0 {
				c = colours[rng.IntN(len(colours))]
			}
			pix.SetNRGBA(x, 0, c)
		}
		one, other := &stripSurvey{surveyor: newSurveyor(s)}, &stripSurvey{surveyor: newSurveyor(s)}
		var w, v words
		var tile, tile2 tilePair
		one.each(&w, pix.Pix, &tile, 1)
		other.runs(&v, pix.Pix, &tile2, 1)
		if w != v || one.sumOf != other.sumOf || one.areaOf != other.areaOf {
			t.Fatalf("%v: %+v, %v and %+v, %v", pix.Pix, w, one.sumOf, v, other.sumOf)
		}
		if (tile.all == nil) != (tile2.all == nil) {
			t.Fatalf("%v: coverage differs", pix.Pix)
		}
		if tile.all != nil {
			tile.finish()
			tile2.finish()
			if *tile.all != *tile2.all || (tile.white == nil) != (tile2.white == nil) || tile.white != nil && *tile.white != *tile2.white {
				t.Fatalf("%v: coverage differs", pix.Pix)
			}
		}
	}
}
