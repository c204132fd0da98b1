package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"

	"peelcheck/raster/lettering/internal/likeness"
)

const batch = 64

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
		n.Offset[i] = -4
	}
	return n
}

// learn fits the weights by Adam (Kingma and Ba, 2015; from memory) to the cross entropy of which glyph a shape is and how it lies, all
// eight ways and no letter competing; every shape is shown as it was drawn, upright.
func learn(n *likeness.Network, samples []sample, epochs int) {
	rng := rand.New(rand.NewPCG(2, 2))
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
	var m, v likeness.Network
	parts := [2]*likeness.Network{new(likeness.Network), new(likeness.Network)}
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
			update(n, parts, &m, &v, step, rate)
		}
		fmt.Printf("epoch %d: %.4f; %s\n", epoch+1, total/float64(len(own)), judge(n, held))
	}
}

func update(n *likeness.Network, parts [2]*likeness.Network, m, v *likeness.Network, step int, rate float64) {
	a, b := 1-math.Pow(0.9, float64(step)), 1-math.Pow(0.999, float64(step))
	mw, vw, g0, g1 := m.Flat(), v.Flat(), parts[0].Flat(), parts[1].Flat()
	for i, w := range n.Flat() {
		g := (*g0[i] + *g1[i]) / batch
		*mw[i] = 0.9**mw[i] + 0.1*g
		*vw[i] = 0.999**vw[i] + 0.001*g*g
		*w -= float32(rate * (float64(*mw[i])/a/(math.Sqrt(float64(*vw[i])/b)+1e-8) + 1e-4*float64(*w)))
	}
}

// backward adds the gradient of a sample's loss and returns the loss.
func backward(n *likeness.Network, s sample, g *likeness.Network) float64 {
	const glyphs = len(likeness.Glyphs)
	var h [likeness.Turns][likeness.HiddenCount]float32
	var z [likeness.Turns][glyphs]float32
	most := float32(0)
	for t := range z {
		n.Raise(s.f, likeness.Turn(t), &h[t])
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
	for t := range z {
		var dh [likeness.HiddenCount]float32
		any := false
		for c, v := range z[t] {
			d := float32(math.Exp(float64(v) - logSum))
			if t == 0 && c == s.glyph {
				d--
			}
			if d < 2e-4 && d > -2e-4 {
				continue
			}
			any = true
			g.Offset[c] += d
			row, own := &g.Glyph[c], &n.Glyph[c]
			for j := range dh {
				row[j] += d * h[t][j]
				dh[j] += d * own[j]
			}
		}
		if !any {
			continue
		}
		for j := range dh {
			if h[t][j] == 0 {
				dh[j] = 0
			}
			g.Bias[j] += dh[j]
		}
		for i, from := range likeness.Sources[t] {
			v := s.f[from]
			if v == 0 {
				continue
			}
			row := &g.Hidden[i]
			for j := range dh {
				row[j] += v * dh[j]
			}
		}
	}
	return loss
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
