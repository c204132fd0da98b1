// Package likeness tells how a shape lies if it is a letter: upright, turned or mirrored, from how like the glyphs of many
// typefaces it is.
package likeness

import (
	"embed"
	"encoding/binary"
	"fmt"
	"math"
	"sync"
)

// Glyphs are the letters and digits that shapes are compared with.
const Glyphs = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"

// HiddenCount is the number of hidden units.
const HiddenCount = 160

// Network says how like each glyph a shape is that stands upright: one hidden layer of rectified sums (a perceptron of two layers;
// Bishop, Pattern Recognition and Machine Learning, 2006, chapter 5; from memory). What it returns are logarithms of odds against "no letter".
// Its first layer weighs a shape's parts.
type Network struct {
	Hidden [FeatureCount][HiddenCount]float32
	Bias   [HiddenCount]float32
	Glyph  [HiddenCount][len(Glyphs)]float32
	Offset [len(Glyphs)]float32
}

//go:generate go run ../train -faces ../train/faces.txt -families ../train/families.txt -npm $NPM -openmoji $OPENMOJI -out weights1.bin
//go:generate go run ../train -faces ../train/faces.txt -families ../train/families.txt -npm $NPM -openmoji $OPENMOJI -number 2 -out weights2.bin
//go:generate go run ../train -faces ../train/faces.txt -families ../train/families.txt -npm $NPM -openmoji $OPENMOJI -number 3 -out weights3.bin

//go:embed weights*.bin
var weights embed.FS

// trainedCount is how many networks go with the program.
const trainedCount = 3

// Trained are the networks that go with the program, which differ in the artworks that they were made from. internal/train makes them. The
// first alone is for a first look, all of them for a closer one.
var Trained = sync.OnceValue(func() (all [trainedCount]*Network) {
	for i := range all {
		all[i] = new(Network)
		all[i].decode(kept(i))
	}
	return all
})

// kept are the weights of one network as they are kept.
func kept(i int) []byte {
	b, err := weights.ReadFile(fmt.Sprintf("weights%d.bin", i+1))
	if err != nil {
		panic(err) // it is part of the program
	}
	return b
}

// each visits all weights in the order in which they are kept.
func (n *Network) each(visit func(v *float32)) {
	row := func(r []float32) {
		for i := range r {
			visit(&r[i])
		}
	}
	for i := range n.Hidden {
		row(n.Hidden[i][:])
	}
	row(n.Bias[:])
	for i := range n.Glyph {
		row(n.Glyph[i][:])
	}
	row(n.Offset[:])
}

func (n *Network) decode(b []byte) {
	n.each(func(v *float32) {
		*v = math.Float32frombits(uint32(binary.LittleEndian.Uint16(b)) << 16)
		b = b[2:]
	})
}

// Layer holds the hidden units of a shape for each of the eight ways in which it may lie.
type Layer [Turns][HiddenCount]float32

// Raise is the hidden layer for the parts of a shape. Every part is weighed once for each quarter turn: for a shape seen mirrored or upside
// down the sums over odd parts only change their sign.
func (n *Network) Raise(parts *[2]Parts, h *Layer) {
	for quarter := range parts {
		var sums [Parities][HiddenCount]float32
		sums[0] = n.Bias
		for p := range sums {
			sum, end := &sums[p], Begins[p+1]
			for i := Begins[p]; i < end; i += 2 { // two rows at a time, the second of them none at an odd end
				k := min(i+1, end-1)
				v, w := parts[quarter][i], parts[quarter][k]
				if k == i {
					w = 0
				}
				if v == 0 && w == 0 {
					continue
				}
				a, b := &n.Hidden[i], &n.Hidden[k]
				for j := range sum {
					sum[j] += v*a[j] + w*b[j]
				}
			}
		}
		for _, t := range Flips[quarter] {
			out := &h[t.Turn]
			for j := range out {
				out[j] = max(0, sums[0][j]+t.Sign[1]*sums[1][j]+t.Sign[2]*sums[2][j]+t.Sign[3]*sums[3][j])
			}
		}
	}
}

// Likeness returns, for each glyph, the logarithm of the odds that it is this rather than no letter.
func (n *Network) Likeness(h *[HiddenCount]float32, out *[len(Glyphs)]float32) {
	*out = n.Offset
	for j, v := range h {
		if v == 0 {
			continue
		}
		row := &n.Glyph[j]
		for c := range out {
			out[c] += v * row[c]
		}
	}
}

// Lies holds how probable it is that a shape is a letter lying in each of the eight ways, and that it is none.
type Lies struct {
	As   [Turns]float64
	None float64
}

// Weigh returns how a shape lies.
func (n *Network) Weigh(f *Features) Lies {
	var z [Turns][len(Glyphs)]float32
	var h Layer
	n.Raise(f.Parts(), &h)
	most := float32(0)
	for t := range z {
		n.Likeness(&h[t], &z[t])
		for _, v := range z[t] {
			most = max(most, v)
		}
	}
	out := Lies{None: math.Exp(-float64(most))}
	total := out.None
	for t := range z {
		for _, v := range z[t] {
			out.As[t] += math.Exp(float64(v - most))
		}
		total += out.As[t]
	}
	for t := range out.As {
		out.As[t] /= total
	}
	out.None /= total
	return out
}

// Flat lists all weights in the order in which they are kept.
func (n *Network) Flat() []*float32 {
	var out []*float32
	n.each(func(v *float32) { out = append(out, v) })
	return out
}

// Encode returns the weights as they are kept: the upper half of each number's bits, rounded.
func (n *Network) Encode() []byte {
	var out []byte
	n.each(func(v *float32) {
		out = binary.LittleEndian.AppendUint16(out, uint16((math.Float32bits(*v)+0x8000)>>16))
	})
	return out
}
