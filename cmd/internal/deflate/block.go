package deflate

import (
	"cmp"
	"encoding/binary"
	"math/bits"
	"slices"
)

const (
	endOfBlock   = 256
	literalCodes = 286
	distCodes    = 30
	mostBits     = 15 // of a code, RFC 1951, 3.2.7
	mostMetaBits = 7  // of a code for the lengths of codes
)

// code is a Huffman code, its first bit lowest, and how many bits it has.
type code struct {
	bits uint16
	n    uint8
}

// coder writes blocks with codes of their own.
type coder struct {
	freq    [literalCodes]uint32
	dfreq   [distCodes]uint32
	literal [literalCodes]code
	dist    [distCodes]code
	order   []symbol
}

type symbol struct {
	value  int
	weight uint32
}

// block writes tokens as a block with dynamic codes, RFC 1951, 3.2.7.
func (c *coder) block(w *bitWriter, tokens []token) {
	const header, most = 1000, 6 // bytes at most, of the block and of a token
	w.to = slices.Grow(w.to, header+most*len(tokens))
	c.count(tokens)
	c.assign(c.literal[:], c.freq[:], mostBits)
	c.assign(c.dist[:], c.dfreq[:], mostBits)
	w.reserve()
	w.write(0b100, 3) // not the last; dynamic
	c.header(w)
	for _, t := range tokens {
		w.reserve()
		if t < 256 {
			k := c.literal[t]
			w.write(uint64(k.bits), uint(k.n))
			continue
		}
		n, d := int(t>>16), int(t&0xffff)
		sym, extra, extraBits := lengthSymbol(n)
		k := c.literal[sym]
		w.write(uint64(k.bits)|uint64(extra)<<k.n, uint(k.n)+extraBits)
		sym, extra, extraBits = distSymbol(d)
		k = c.dist[sym]
		w.write(uint64(k.bits)|uint64(extra)<<k.n, uint(k.n)+extraBits)
	}
	k := c.literal[endOfBlock]
	w.reserve()
	w.write(uint64(k.bits), uint(k.n))
}

func (c *coder) count(tokens []token) {
	clear(c.freq[:])
	clear(c.dfreq[:])
	for _, t := range tokens {
		if t < 256 {
			c.freq[t]++
			continue
		}
		sym, _, _ := lengthSymbol(int(t >> 16))
		c.freq[sym]++
		sym, _, _ = distSymbol(int(t & 0xffff))
		c.dfreq[sym]++
	}
	c.freq[endOfBlock] = 1
}

// lengthSymbol is the symbol of a match's length and what bits follow it, RFC 1951, 3.2.5: four symbols for each number of extra bits.
func lengthSymbol(n int) (sym, extra int, extraBits uint) {
	v := n - 3
	switch {
	case n == mostMatch:
		return 285, 0, 0
	case v < 8:
		return 257 + v, 0, 0
	}
	e := bits.Len(uint(v)) - 3
	return 257 + 4*e + v>>e, v & (1<<e - 1), uint(e)
}

// distSymbol is the same for a distance, with two symbols for each number of extra bits.
func distSymbol(d int) (sym, extra int, extraBits uint) {
	v := d - 1
	if v < 4 {
		return v, 0, 0
	}
	e := bits.Len(uint(v)) - 2
	return 2*e + v>>e, v & (1<<e - 1), uint(e)
}

// assign gives each symbol that occurs a canonical code, RFC 1951, 3.2.2, of at most most bits.
func (c *coder) assign(codes []code, freq []uint32, most int) {
	c.order = c.order[:0]
	for v, f := range freq {
		codes[v] = code{}
		if f > 0 {
			c.order = append(c.order, symbol{v, f})
		}
	}
	if len(c.order) < 2 { // a code that lacks a second symbol is not complete, which some inflaters refuse
		for v := 0; len(c.order) < 2; v++ {
			if freq[v] == 0 {
				c.order = append(c.order, symbol{v, 1})
			}
		}
	}
	slices.SortFunc(c.order, func(a, b symbol) int { return cmp.Or(cmp.Compare(a.weight, b.weight), a.value-b.value) })
	perLength := lengths(c.order, most)
	rank := 0
	for n := most; n > 0; n-- { // the rarest symbols get the longest codes
		for range perLength[n] {
			codes[c.order[rank].value].n = uint8(n)
			rank++
		}
	}
	var next [mostBits + 2]uint16
	for n := 1; n <= most; n++ {
		next[n+1] = (next[n] + uint16(perLength[n])) << 1
	}
	for v := range codes {
		if n := codes[v].n; n > 0 {
			codes[v].bits = bits.Reverse16(next[n]) >> (16 - n)
			next[n]++
		}
	}
}

// lengths returns how many codes of each length a Huffman code for symbols of rising weight has, cut to most bits.
func lengths(order []symbol, most int) (perLength [mostBits + 1]int) {
	n := len(order)
	weight := make([]uint32, 2*n-1) // the symbols, then the nodes above them in the order they are made
	parent := make([]int, 2*n-1)
	for i, s := range order {
		weight[i] = s.weight
	}
	leaf, node := 0, n
	for made := n; made < 2*n-1; made++ {
		for range 2 {
			i := &leaf
			if leaf >= n || node < made && weight[node] < weight[leaf] {
				i = &node
			}
			weight[made] += weight[*i]
			parent[*i] = made
			*i++
		}
	}
	depth := make([]int, 2*n-1)
	full := 0 // the sum of 2^-length over all codes, in units of 2^-most
	for i := 2*n - 3; i >= 0; i-- {
		depth[i] = depth[parent[i]] + 1
		if i < n {
			d := min(depth[i], most)
			perLength[d]++
			full += 1 << (most - d)
		}
	}
	for ; full > 1<<most; full-- { // a code one bit longer makes room for one of the longest beside it
		d := most - 1
		for perLength[d] == 0 {
			d--
		}
		perLength[d]--
		perLength[d+1] += 2
		perLength[most]--
	}
	return perLength
}

// header writes the lengths of both codes, RFC 1951, 3.2.7.
func (c *coder) header(w *bitWriter) {
	nl, nd := literalCodes, distCodes
	for nl > 257 && c.literal[nl-1].n == 0 {
		nl--
	}
	for nd > 1 && c.dist[nd-1].n == 0 {
		nd--
	}
	var all [literalCodes + distCodes]uint8
	for i := range nl {
		all[i] = c.literal[i].n
	}
	for i := range nd {
		all[nl+i] = c.dist[i].n
	}
	type meta struct{ sym, extra, extraBits uint8 }
	var metas []meta
	var freq [19]uint32
	put := func(sym, extra, extraBits int) {
		metas = append(metas, meta{uint8(sym), uint8(extra), uint8(extraBits)})
		freq[sym]++
	}
	for i := 0; i < nl+nd; {
		v, run := all[i], 1
		for i+run < nl+nd && all[i+run] == v {
			run++
		}
		switch {
		case v == 0 && run >= 11:
			run = min(run, 138)
			put(18, run-11, 7)
		case v == 0 && run >= 3:
			put(17, run-3, 3)
		case v != 0 && run >= 4:
			run = min(run, 7)
			put(int(v), 0, 0)
			put(16, run-4, 2)
		default:
			run = 1
			put(int(v), 0, 0)
		}
		i += run
	}
	var codes [19]code
	c.assign(codes[:], freq[:], mostMetaBits)
	order := [19]int{16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15}
	nm := 19
	for nm > 4 && codes[order[nm-1]].n == 0 {
		nm--
	}
	w.reserve()
	w.write(uint64(nl-257)|uint64(nd-1)<<5|uint64(nm-4)<<10, 14)
	for _, v := range order[:nm] {
		w.reserve()
		w.write(uint64(codes[v].n), 3)
	}
	for _, m := range metas {
		w.reserve()
		k := codes[m.sym]
		w.write(uint64(k.bits)|uint64(m.extra)<<k.n, uint(k.n)+uint(m.extraBits))
	}
}

// bitWriter writes bits, the lowest first.
type bitWriter struct {
	to   []byte
	held uint64
	n    uint // bits held
}

// reserve makes room for 48 bits, as many as the longest match takes. There must be eight bytes of capacity left.
func (w *bitWriter) reserve() {
	if w.n >= 16 {
		at := len(w.to)
		binary.LittleEndian.PutUint64(w.to[at:at+8], w.held)
		w.to = w.to[:at+int(w.n/8)]
		w.held >>= w.n &^ 7
		w.n &= 7
	}
}

func (w *bitWriter) write(v uint64, n uint) {
	w.held |= v << w.n
	w.n += n
}

// emptyStored writes an empty stored block, RFC 1951, 3.2.4, which ends on a byte.
func (w *bitWriter) emptyStored() {
	w.to = slices.Grow(w.to, 32)
	w.reserve()
	w.write(0, 3)
	w.n = (w.n + 7) &^ 7
	w.reserve()
	w.write(0xffff0000, 32)
	w.reserve()
	for ; w.n > 0; w.n -= 8 {
		w.to = append(w.to, byte(w.held))
		w.held >>= 8
	}
}
