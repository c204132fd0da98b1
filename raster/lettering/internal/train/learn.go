package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"

	"peelcheck/raster/lettering/internal/likeness"
)

const batch = 128

func newNetwork(rng *rand.Rand) *likeness.Network {
	n := new(likeness.Network)
	for i := range n.Hidden {
		for j := range n.Hidden[i] {
			n.Hidden[i][j] = float32(rng.NormFloat64() * 0.12)
		}
	}
	for i := range n.Glyph {
		for j := range n.Glyph[i] {
			n.Glyph[i][j] = float32(rng.NormFloat64() * 0.1)
		}
	}
	for i := range n.Offset {
		n.Offset[i] = -4
	}
	return n
}

// learn fits the weights by Adam (Kingma and Ba, 2015; from memory) to the cross entropy of which glyph a shape is and how it lies, all
// eight ways and no letter competing; every shape is shown as it was drawn, upright.
func learn(n *likeness.Network, samples []sample, epochs int, number uint64) {
	rng := rand.New(rand.NewPCG(2, 1+number))
	held := samples[:0:0]
	var own []sample
	for i, s := range samples {
		if i%20 == 7 {
			held = append(held, s)
		} else {
			own = append(own, s)
		}
	}
	var step int
	parts := [2]*likeness.Network{new(likeness.Network), new(likeness.Network)}
	fit := adam{n.Flat(), new(likeness.Network).Flat(), new(likeness.Network).Flat(), parts[0].Flat(), parts[1].Flat()}
	for epoch := range epochs {
		rng.Shuffle(len(own), func(i, j int) { own[i], own[j] = own[j], own[i] })
		total := 0.0
		steps := epochs * len(own) / batch
		for i := 0; i+batch <= len(own); i += batch {
			var losses [2]float64
			var wg sync.WaitGroup
			for k := range parts {
				wg.Go(func() {
					*parts[k] = likeness.Network{}
					for _, s := range own[i+k*batch/2 : i+(k+1)*batch/2] {
						losses[k] += backward(n, s, parts[k])
					}
				})
			}
			wg.Wait()
			total += losses[0] + losses[1]
			step++
			rate := 2e-3 * 0.5 * (1 + math.Cos(math.Pi*float64(step)/float64(steps)))
			fit.update(step, rate)
		}
		fmt.Printf("epoch %d: %.4f; %s\n", epoch+1, total/float64(len(own)), judge(n, held))
	}
}

// adam holds the weights, the running means of their slopes and of the squares of these, and the slopes that each half of a batch gave.
type adam struct{ w, mean, square, a, b []*float32 }

func (f *adam) update(step int, rate float64) {
	ma, mb := float32(1/(1-math.Pow(0.9, float64(step)))), float32(1/(1-math.Pow(0.999, float64(step))))
	by := float32(rate)
	for i, w := range f.w {
		g := (*f.a[i] + *f.b[i]) / batch
		m, v := f.mean[i], f.square[i]
		*m = 0.9**m + 0.1*g
		*v = 0.999**v + 0.001*g*g
		*w -= by * (*m*ma/(float32(math.Sqrt(float64(*v*mb)))+1e-8) + 1e-4**w)
	}
}

// backward adds the gradient of a sample's loss and returns the loss.
func backward(n *likeness.Network, s sample, g *likeness.Network) float64 {
	const glyphs = len(likeness.Glyphs)
	var h likeness.Layer
	var z [likeness.Turns][glyphs]float32
	parts := s.f.Parts()
	n.Raise(parts, &h)
	most := float32(0)
	for t := range z {
		n.Likeness(&h[t], &z[t])
		for _, v := range z[t] {
			most = max(most, v)
		}
	}
	sum := math.Exp(-float64(most))
	for t := range z {
		for _, v := range z[t] {
			sum += math.Exp(float64(v - most))
		}
	}
	logSum := math.Log(sum) + float64(most)
	loss := logSum
	if s.glyph != none {
		loss -= float64(z[0][s.glyph])
	}
	for quarter := range parts {
		var sums [likeness.Parities][likeness.HiddenCount]float32
		any := false
		for _, f := range likeness.Flips[quarter] {
			var dz [glyphs]float32
			if !slopes(&z[f.Turn], logSum, f.Turn == 0, s.glyph, &dz) {
				continue
			}
			any = true
			dh := lower(n, g, &h[f.Turn], &dz)
			for p := range sums {
				for j, d := range dh {
					sums[p][j] += f.Sign[p] * d
				}
			}
		}
		if !any {
			continue
		}
		for j, d := range sums[0] {
			g.Bias[j] += d
		}
		for p := range sums {
			sum := &sums[p]
			for i := likeness.Begins[p]; i < likeness.Begins[p+1]; i++ {
				v := parts[quarter][i]
				if v == 0 {
					continue
				}
				row := &g.Hidden[i]
				for j := range row {
					row[j] += v * sum[j]
				}
			}
		}
	}
	return loss
}

// slopes are those of the loss by the outputs for one way to lie, and whether any counts.
func slopes(z *[len(likeness.Glyphs)]float32, logSum float64, upright bool, glyph int, dz *[len(likeness.Glyphs)]float32) bool {
	any := false
	for c, v := range z {
		d := float32(math.Exp(float64(v) - logSum))
		if upright && c == glyph {
			d--
		}
		if d < 2e-4 && d > -2e-4 {
			continue
		}
		any, dz[c] = true, d
	}
	return any
}

// lower adds the gradient of the second layer and returns the slopes by the hidden units.
func lower(n, g *likeness.Network, h *[likeness.HiddenCount]float32, dz *[len(likeness.Glyphs)]float32) (dh [likeness.HiddenCount]float32) {
	var counts []int
	for c, d := range dz {
		if d != 0 {
			g.Offset[c] += d
			counts = append(counts, c)
		}
	}
	for j, v := range h {
		if v == 0 {
			continue
		}
		own, row := &n.Glyph[j], &g.Glyph[j]
		for _, c := range counts {
			row[c] += dz[c] * v
			dh[j] += dz[c] * own[c]
		}
	}
	return dh
}

// judge says how well shapes that were not learnt from are told.
func judge(n *likeness.Network, held []sample) string {
	var letters, asLetter, wrong, others, asNone int
	for _, s := range held {
		w := n.Weigh(s.f)
		plain, mirrored := 0.0, 0.0
		for t, p := range w.As {
			if likeness.Turn(t)&likeness.Mirrored != 0 {
				mirrored += p
			} else {
				plain += p
			}
		}
		if s.glyph == none {
			others++
			if w.None > 0.5 {
				asNone++
			}
			continue
		}
		letters++
		if w.None < 0.5 {
			asLetter++
		}
		if mirrored > 4*plain {
			wrong++
		}
	}
	return fmt.Sprintf("letters seen as letters %.1f %%, clearly the wrong way round %.2f %%; others seen as none %.1f %%",
		100*float64(asLetter)/float64(letters), 100*float64(wrong)/float64(letters), 100*float64(asNone)/float64(others))
}
