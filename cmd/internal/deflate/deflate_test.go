package deflate

import (
	"bytes"
	"compress/flate"
	"io"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// inflated is what compress/flate reads back from blocks and an empty last one (RFC 1951, 3.2.6).
func inflated(tb interface {
	Helper()
	Fatal(...any)
}, blocks []byte) []byte {
	tb.Helper()
	r := bytes.NewReader(append(slices.Clone(blocks), 0x03, 0x00))
	back, err := io.ReadAll(flate.NewReader(r))
	if err != nil {
		tb.Fatal(err)
	}
	if r.Len() > 0 {
		tb.Fatal(r.Len(), "bytes follow the last block")
	}
	return back
}

// drawing makes bytes with runs, repeats and noise.
func drawing(n int, seed uint64) []byte {
	rng := rand.New(rand.NewPCG(seed, 7))
	var out []byte
	for len(out) < n {
		k := 1 + rng.IntN(700)
		switch from := rng.IntN(len(out) + 1); rng.IntN(4) {
		case 0:
			out = append(out, make([]byte, k)...)
		case 1:
			out = append(out, out[from:min(len(out), from+k)]...)
		case 2:
			out = append(out, bytes.Repeat([]byte{byte(rng.Uint32())}, k)...)
		default:
			for range k / 4 {
				out = append(out, byte(rng.Uint32()>>(rng.Uint32()%8)))
			}
		}
	}
	return out[:n]
}

// encode splits src at the places given and names runs of zeros where a piece is one.
func encode(e *Encoder, src []byte, pieces []int) []byte {
	e.Reset()
	for _, n := range append(pieces, len(src)) {
		n = min(n, len(src))
		piece := src[:n]
		src = src[n:]
		if bytes.Count(piece, []byte{0}) == len(piece) {
			e.Zeros(len(piece))
			continue
		}
		e.Bytes(piece)
	}
	return e.Finish()
}

func TestRoundTrips(t *testing.T) {
	e := &Encoder{} // one for all, which must not remember
	rapid.Check(t, func(t *rapid.T) {
		src := drawing(rapid.IntRange(0, 200000).Draw(t, "n"), rapid.Uint64().Draw(t, "seed"))
		pieces := rapid.SliceOfN(rapid.IntRange(0, 3000), 0, 40).Draw(t, "pieces")
		if back := inflated(t, encode(e, src, pieces)); !bytes.Equal(back, src) {
			t.Fatalf("%d bytes came back as %d others", len(src), len(back))
		}
	})
}

func TestShortAndLongRuns(t *testing.T) {
	e := &Encoder{}
	for _, before := range [][]byte{nil, {0}, {5}} {
		for n := range 1200 {
			src := append(append(slices.Clone(before), make([]byte, n)...), 9)
			if back := inflated(t, encode(e, src, []int{len(before), n})); !bytes.Equal(back, src) {
				t.Fatalf("%d zeros after %v came back as %d bytes", n, before, len(back))
			}
		}
	}
}

// TestMatchesReachNoFurther: RFC 1951, 2: distances are at most 32768.
func TestMatchesReachNoFurther(t *testing.T) {
	word := []byte("a lantern on the hill")
	for gap := 32768 - 2*len(word); gap < 32768+len(word); gap++ {
		src := slices.Concat(word, drawing(gap, 2), word)
		if back := inflated(t, encode(&Encoder{}, src, nil)); !bytes.Equal(back, src) {
			t.Fatal(gap)
		}
	}
}

// TestNoiseHardlyGrows: what cannot be compressed becomes at most a hundredth larger.
func TestNoiseHardlyGrows(t *testing.T) {
	src := make([]byte, 300000)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range src {
		src[i] = byte(rng.Uint32())
	}
	out := encode(&Encoder{}, src, nil)
	if back := inflated(t, out); !bytes.Equal(back, src) {
		t.Error("noise came back otherwise")
	}
	if 100*len(out) > 101*len(src) {
		t.Errorf("%d bytes of noise became %d", len(src), len(out))
	}
}

// TestSymbols walks the tables of RFC 1951, 3.2.5.
func TestSymbols(t *testing.T) {
	lengthBase := []int{3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258}
	lengthBits := []uint{0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0}
	distBase := []int{1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049, 3073, 4097, 6145, 8193,
		12289, 16385, 24577}
	distBits := []uint{0, 0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 9, 10, 10, 11, 11, 12, 12, 13, 13}
	check := func(of func(int) (int, int, uint), first, most int, base []int, extraBits []uint) {
		t.Helper()
		for n := base[0]; n <= most; n++ {
			sym, extra, bits := of(n)
			k := sym - first
			if k < 0 || k >= len(base) || base[k]+extra != n || bits != extraBits[k] || extra >= 1<<bits {
				t.Fatalf("%d is symbol %d, extra %d of %d bits", n, sym, extra, bits)
			}
		}
	}
	check(lengthSymbol, 257, 258, lengthBase, lengthBits)
	check(distSymbol, 0, 32768, distBase, distBits)
}

// TestCodesAreComplete: the lengths fill the code exactly (the equality of Kraft), stay within the bound, and cost as few bits as
// Huffman's, which are the sum of all nodes' weights, where the bound does not bind.
func TestCodesAreComplete(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		most := rapid.SampledFrom([]int{mostMetaBits, mostBits}).Draw(t, "most")
		steep := rapid.IntRange(1, 31).Draw(t, "steep")
		n := rapid.IntRange(0, map[int]int{mostMetaBits: 19, mostBits: literalCodes}[most]).Draw(t, "n")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
		freq := make([]uint32, max(2, n))
		for i := range n {
			freq[i] = rng.Uint32() >> (31 - rng.IntN(steep)) >> 9
		}
		codes := make([]code, len(freq))
		(&coder{}).assign(codes, freq, most)
		kraft, cost, longest := 0.0, uint64(0), 0
		for i, c := range codes {
			if c.n > 0 {
				kraft += 1 / float64(int(1)<<c.n)
			}
			if int(c.n) > most || freq[i] > 0 && c.n == 0 {
				t.Fatalf("symbol %d, %d times, has %d bits of %d", i, freq[i], c.n, most)
			}
			longest = max(longest, int(c.n))
			cost += uint64(c.n) * uint64(freq[i])
		}
		if kraft != 1 {
			t.Fatalf("the codes fill %g of the room", kraft)
		}
		if best := huffmanCost(freq); cost < best || longest < most && cost > best {
			t.Fatalf("%d bits, Huffman's %d; the longest has %d of %d", cost, best, longest, most)
		}
	})
}

// huffmanCost joins the two lightest nodes until one is left. One symbol alone costs a bit each.
func huffmanCost(freq []uint32) (cost uint64) {
	var w []uint64
	for _, f := range freq {
		if f > 0 {
			w = append(w, uint64(f))
		}
	}
	if len(w) == 1 {
		return w[0]
	}
	for len(w) > 1 {
		slices.Sort(w)
		w[1] += w[0]
		w = w[1:]
		cost += w[0]
	}
	return cost
}

func FuzzEncode(f *testing.F) {
	f.Add([]byte("lanterns along the old canal and up the hill, lanterns along the canal"), 10, 3)
	f.Add(make([]byte, 600), 1, 270)
	f.Add(bytes.Repeat([]byte{1, 2, 3, 0, 0, 0, 0, 0}, 99), 300, 5)
	f.Fuzz(func(t *testing.T, src []byte, first, second int) {
		out := encode(&Encoder{}, src, []int{max(0, first), max(0, second)})
		if back := inflated(t, out); !bytes.Equal(back, src) {
			t.Fatalf("%v came back as %v", src, back)
		}
	})
}
